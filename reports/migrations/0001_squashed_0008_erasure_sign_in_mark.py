"""Everything up to here in one step: a new database is made without what was changed on the way.

A database that holds all that it replaces goes on from it.
"""

import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [
        ('reports', '0001_initial'),
        ('reports', '0002_labels_and_passports'),
        ('reports', '0003_notes_and_calendars'),
        ('reports', '0004_calendars_and_job_sheets'),
        ('reports', '0005_paper_of_records_people_and_depots'),
        ('reports', '0006_erasures'),
        ('reports', '0007_printed_by_itself'),
        ('reports', '0008_erasure_sign_in_mark'),
    ]

    initial = True

    dependencies = [
        ('maintenance', '0001_squashed_0021_old_due_lines'),
        ('plant', '0001_squashed_0012_keep_and_erase'),
    ]

    operations = [
        migrations.CreateModel(
            name='Erasure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='erasures', to=settings.AUTH_USER_MODEL)),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='plant.depot')),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('asked_at', models.DateTimeField()),
                ('reason', models.CharField(blank=True, max_length=400)),
                ('dropped_at', models.DateTimeField(blank=True, null=True)),
                ('dropped_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('done_at', models.DateTimeField(blank=True, null=True)),
                ('own_words', models.BooleanField(default=False, verbose_name='with the words that the person wrote')),
                ('others_words', models.BooleanField(default=False, verbose_name='with words of others that name the person')),
                ('files', models.BooleanField(default=False, verbose_name='with kept files that name the person')),
                ('sign_in_mark', models.CharField(blank=True, db_default='', max_length=64)),
                ('record', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='erasure', to='plant.record')),
            ],
            options={
                'ordering': ('-asked_at', '-pk'),
                'constraints': [models.UniqueConstraint(condition=models.Q(('done_at__isnull', True), ('dropped_at__isnull', True)), fields=('person',), name='erasure_asked_once_at_a_time')],
            },
        ),
        migrations.CreateModel(
            name='Feed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='feeds', to=settings.AUTH_USER_MODEL)),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='feeds', to='plant.depot')),
                ('what', models.CharField(choices=[('all', 'Due work and all jobs given out'), ('mine', 'Only jobs given out to me')], default='all', max_length=4)),
                ('made_at', models.DateTimeField()),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ('-made_at', '-pk'),
            },
        ),
        migrations.CreateModel(
            name='WeeklyNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='weekly_notes', to=settings.AUTH_USER_MODEL)),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='weekly_notes', to='plant.depot')),
                ('week_of', models.DateField(verbose_name='the Monday')),
                ('made_at', models.DateTimeField()),
                ('lines', models.JSONField(default=list)),
                ('left_out', models.PositiveIntegerField(default=0)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ('-week_of', '-pk'),
                'constraints': [models.UniqueConstraint(fields=('person', 'depot', 'week_of'), name='note_once_a_week'), models.UniqueConstraint(condition=models.Q(('withdrawn_at__isnull', True)), fields=('person',), name='one_open_note_a_person')],
            },
        ),
        migrations.CreateModel(
            name='Batch',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='plant.depot')),
                ('asked_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('asked_at', models.DateTimeField()),
                ('state', models.CharField(choices=[('asked', 'Waiting its turn'), ('working', 'Under way'), ('done', 'Done'), ('failed', 'Failed')], db_index=True, default='asked', max_length=8)),
                ('lease_until', models.DateTimeField(blank=True, null=True)),
                ('attempts', models.PositiveSmallIntegerField(default=0)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('why', models.CharField(blank=True, max_length=400, verbose_name='what went wrong')),
                ('kind', models.CharField(choices=[('service', 'Service sheets'), ('passport', 'Passports'), ('label', 'Labels, 50 x 30 mm, one a page'), ('label sheet', 'Labels, 50 x 30 mm, on A4 to cut'), ('inspection', 'Inspection records'), ('test', 'Electrical test records'), ('fail tag', 'Tags of failed tests'), ('stop tag', 'Do not use tags'), ('job list', 'Job lists, one a person'), ('board', 'Wall board'), ('folder', 'Folder, a page a machine'), ('bundle', "Inspector's bundles")], default='service', max_length=12)),
                ('title', models.CharField(max_length=120)),
                ('file', models.FileField(blank=True, upload_to='paper/')),
                ('sha256', models.CharField(blank=True, max_length=64)),
                ('first_day', models.DateField(blank=True, null=True)),
                ('last_day', models.DateField(blank=True, null=True)),
                ('issue', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='passport_batch', to='plant.record')),
            ],
            options={
                'verbose_name_plural': 'batches',
                'ordering': ('-asked_at', '-pk'),
            },
        ),
        migrations.CreateModel(
            name='TimedPrint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='timed_prints', to='plant.depot')),
                ('kind', models.CharField(choices=[('service', 'Service sheets of what falls due in the next 7 days'), ('job list', 'Job lists of the day, one a person'), ('board', 'Wall board of the day')], max_length=12, verbose_name='what is printed')),
                ('weekdays', models.CharField(max_length=7)),
                ('at', models.TimeField(verbose_name='time of day')),
                ('set_up_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_up_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('why', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ('ended_at', 'at', 'pk'),
            },
        ),
        migrations.CreateModel(
            name='FeedEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('feed', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='events', to='reports.feed')),
                ('uid', models.CharField(max_length=255)),
                ('digest', models.CharField(max_length=32)),
                ('revision', models.PositiveIntegerField(default=0)),
                ('changed_at', models.DateTimeField()),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('feed', 'uid'), name='event_once_a_calendar')],
            },
        ),
        migrations.CreateModel(
            name='Sheet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='plant.depot')),
                ('asked_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('asked_at', models.DateTimeField()),
                ('state', models.CharField(choices=[('asked', 'Waiting its turn'), ('working', 'Under way'), ('done', 'Done'), ('failed', 'Failed')], db_index=True, default='asked', max_length=8)),
                ('lease_until', models.DateTimeField(blank=True, null=True)),
                ('attempts', models.PositiveSmallIntegerField(default=0)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('why', models.CharField(blank=True, max_length=400, verbose_name='what went wrong')),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='sheets', to='reports.batch')),
                ('position', models.PositiveIntegerField()),
                ('machine', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sheets', to='plant.machine')),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sheets', to='maintenance.job')),
                ('about', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='shown_on', to='plant.record')),
                ('person', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('record', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sheet_row', to='plant.record')),
                ('content', models.JSONField(blank=True, null=True)),
                ('erased_with', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='plant.record')),
                ('pages', models.PositiveSmallIntegerField(default=0)),
                ('file', models.FileField(blank=True, upload_to='paper/')),
                ('sha256', models.CharField(blank=True, max_length=64)),
            ],
            options={
                'ordering': ('batch', 'position'),
                'constraints': [models.UniqueConstraint(fields=('batch', 'position'), name='place_once_a_batch'), models.UniqueConstraint(condition=models.Q(('about', None), ('person', None)), fields=('batch', 'machine'), name='machine_once_a_batch'), models.UniqueConstraint(fields=('batch', 'about'), name='record_once_a_batch'), models.UniqueConstraint(fields=('batch', 'person'), name='person_once_a_batch')],
            },
        ),
        migrations.CreateModel(
            name='TimedTurn',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('timed', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='turns', to='reports.timedprint')),
                ('day', models.DateField()),
                ('at', models.DateTimeField()),
                ('batch', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='turn', to='reports.batch')),
                ('why', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ('-day',),
                'constraints': [models.UniqueConstraint(fields=('timed', 'day'), name='one_turn_a_day')],
            },
        ),
    ]
