"""Everything up to here in one step: a new database is made without what was changed on the way.

A database that holds all that it replaces goes on from it.
"""

import django.db.models.deletion
import django.db.models.functions.text
import plant.models.machine
import plant.models.people
import uuid
from django.conf import settings
from django.db import migrations, models
from plant import seals


class Migration(migrations.Migration):

    replaces = [
        ('plant', '0001_initial'),
        ('plant', '0002_seals'),
        ('plant', '0003_more_record_kinds'),
        ('plant', '0004_machine_looked_over'),
        ('plant', '0005_shared_phones'),
        ('plant', '0006_messages'),
        ('plant', '0007_record_kinds_of_belt_work'),
        ('plant', '0008_passed_up'),
        ('plant', '0009_belt_lead_days'),
        ('plant', '0010_counters'),
        ('plant', '0011_chain_checks'),
        ('plant', '0012_keep_and_erase'),
    ]

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='SignInAttempt',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name_key', models.CharField(max_length=64)),
                ('address', models.CharField(max_length=45)),
                ('at', models.DateTimeField(db_index=True)),
            ],
            options={
                'indexes': [models.Index(fields=['name_key', 'at'], name='attempt_by_name'), models.Index(fields=['address', 'at'], name='attempt_by_address')],
            },
        ),
        migrations.CreateModel(
            name='Depot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.SlugField(max_length=12, unique=True)),
                ('name', models.CharField(max_length=80)),
                ('address', models.CharField(blank=True, max_length=200)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('time_zone', models.CharField(default='Europe/London', max_length=64, validators=[plant.models.people.is_time_zone])),
                ('checks_by_label', models.BooleanField(default=True, help_text="Anybody holding a machine's label may check it and report a fault.")),
                ('one_person', models.BooleanField(default=False, help_text='One person may act where two are asked for; the record says why in writing.')),
                ('length_system', models.CharField(choices=[('ISO/DIN', 'ISO/DIN (A: datum = inside + 30 mm)'), ('RMA', 'RMA (A: datum = inside + 1.3 in)')], default='ISO/DIN', max_length=8)),
                ('belt_lead_days', models.PositiveSmallIntegerField(default=14, verbose_name='days to get a belt')),
            ],
            options={
                'ordering': ('name',),
            },
        ),
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('sign_in', models.CharField(max_length=40, unique=True, verbose_name='sign-in name')),
                ('name', models.CharField(max_length=80)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('is_active', models.BooleanField(default=True)),
            ],
            options={
                'ordering': ('name',),
                'constraints': [models.UniqueConstraint(django.db.models.functions.text.Lower('sign_in'), name='sign_in_name_once_in_any_case')],
            },
        ),
        migrations.CreateModel(
            name='Heartbeat',
            fields=[
                ('name', models.CharField(max_length=40, primary_key=True, serialize=False)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='MachineKind',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.SlugField(max_length=40, unique=True)),
                ('name', models.CharField(max_length=80)),
                ('family', models.SlugField(help_text='Chooses the questions of the check.', max_length=40)),
                ('belt_driven', models.BooleanField(default=False)),
                ('has_meter', models.BooleanField(default=False)),
                ('usual_supplies', models.JSONField(blank=True, default=list)),
            ],
            options={
                'ordering': ('name',),
            },
        ),
        migrations.CreateModel(
            name='LeftFile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=200, unique=True)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='Membership',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='memberships', to=settings.AUTH_USER_MODEL)),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='memberships', to='plant.depot')),
                ('role', models.CharField(choices=[('operator', 'Operator'), ('desk', 'Desk'), ('fitter', 'Fitter'), ('foreman', 'Foreman'), ('manager', 'Manager'), ('administrator', 'Administrator')], max_length=16)),
                ('learner', models.BooleanField(default=False, help_text="Works under somebody's eye; never releases a machine alone.")),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('user', 'depot', 'role'), name='role_once_a_depot')],
            },
        ),
        migrations.CreateModel(
            name='Machine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='machines', to='plant.depot')),
                ('kind', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='machines', to='plant.machinekind')),
                ('number', models.CharField(max_length=32, verbose_name='machine number')),
                ('number_key', models.CharField(editable=False, max_length=32, unique=True)),
                ('nickname', models.CharField(blank=True, max_length=80)),
                ('maker', models.CharField(blank=True, max_length=80)),
                ('type_name', models.CharField(blank=True, max_length=80, verbose_name='type')),
                ('serial', models.CharField(blank=True, max_length=80)),
                ('year', models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='year made')),
                ('supply', models.CharField(choices=[('e230', '230 V single phase'), ('e110', '110 V centre-tapped'), ('e400', '400 V three phase'), ('petrol', 'Petrol'), ('diesel', 'Diesel'), ('gas', 'LP gas'), ('oil', 'Oil fired'), ('air', 'Compressed air'), ('hydraulic', 'Hydraulic'), ('battery', 'Battery')], max_length=9)),
                ('protection', models.CharField(blank=True, choices=[('', 'not electrical'), ('I', 'Class I (earthed)'), ('II', 'Class II (double insulated)'), ('III', 'Class III (extra-low voltage)')], default='', max_length=3)),
                ('power_w', models.FloatField(blank=True, null=True, verbose_name='power')),
                ('speed_rpm', models.FloatField(blank=True, null=True, verbose_name='motor speed')),
                ('mass_kg', models.FloatField(blank=True, null=True, verbose_name='mass')),
                ('plate_typed', models.JSONField(blank=True, default=dict, help_text='Figures as they were typed.')),
                ('photo', models.FileField(blank=True, upload_to='machines/')),
                ('note', models.CharField(blank=True, max_length=2000)),
                ('place', models.CharField(choices=[('yard', 'In yard'), ('workshop', 'In workshop'), ('out', 'Out'), ('moving', 'Moving'), ('laid up', 'Laid up'), ('missing', 'Missing'), ('gone', 'Gone')], default='yard', max_length=8)),
                ('site', models.CharField(blank=True, max_length=120, verbose_name='where it is out')),
                ('look_wanted_at', models.DateTimeField(blank=True, null=True)),
                ('looked_at', models.DateTimeField(blank=True, null=True)),
                ('check_wanted_at', models.DateTimeField(blank=True, null=True)),
                ('passed_at', models.DateTimeField(blank=True, null=True)),
                ('hours_tenths', models.PositiveIntegerField(blank=True, null=True)),
                ('hours_at', models.DateTimeField(blank=True, null=True)),
                ('meter_broken_at', models.DateTimeField(blank=True, null=True)),
                ('label_code', models.CharField(default=plant.models.machine.new_label_code, max_length=22, unique=True)),
                ('short_code', models.CharField(default=plant.models.machine.new_short_code, max_length=4, unique=True)),
                ('added_at', models.DateTimeField()),
            ],
            options={
                'ordering': ('number_key',),
                'indexes': [models.Index(fields=['depot', 'number_key'], name='machine_by_depot_and_number'), models.Index(fields=['depot', 'place'], name='machine_by_depot_and_place')],
                'constraints': [models.CheckConstraint(condition=models.Q(('number_key', ''), _negated=True), name='machine_has_a_number')],
            },
        ),
        migrations.CreateModel(
            name='MachineImport',
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
                ('step', models.CharField(choices=[('read', 'Reading the file'), ('ask', 'Waiting for your yes'), ('save', 'Saving'), ('saved', 'Saved'), ('dropped', 'Dropped, nothing was saved')], default='read', max_length=8)),
                ('file', models.FileField(upload_to='imports/')),
                ('file_name', models.CharField(max_length=120)),
                ('columns', models.JSONField(blank=True, default=dict)),
                ('headings', models.JSONField(blank=True, default=list)),
                ('sha256', models.CharField(blank=True, max_length=64, verbose_name='SHA-256 of the file')),
                ('questions', models.JSONField(blank=True, default=dict)),
                ('answers', models.JSONField(blank=True, default=dict)),
                ('said_yes_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('-asked_at',),
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='MessageChoice',
            fields=[
                ('user', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='message_choice', serialize=False, to=settings.AUTH_USER_MODEL)),
                ('proved_key', models.CharField(blank=True, max_length=64)),
                ('proved_at', models.DateTimeField(blank=True, null=True)),
                ('morning', models.BooleanField(default=True)),
                ('when_well', models.BooleanField(default=False)),
                ('at_once_from', models.DateTimeField(blank=True, null=True, verbose_name='at once, since it was chosen')),
                ('passed_up', models.BooleanField(db_default=True, default=True, verbose_name='stops that nobody has')),
                ('weekly_for', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='plant.depot')),
            ],
        ),
        migrations.CreateModel(
            name='Message',
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
                ('uid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('kind', models.CharField(choices=[('proof', 'Proof of an address'), ('stopped', 'Stopped, told at once'), ('nobody', 'Nobody has it, passed up'), ('morning', 'Morning message'), ('weekly', 'Weekly note')], max_length=8)),
                ('thing', models.CharField(help_text="The day, the record, or the address's key", max_length=80)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('turn', models.PositiveSmallIntegerField()),
                ('due_at', models.DateTimeField(verbose_name='not before')),
                ('sent_at', models.DateTimeField(blank=True, null=True)),
                ('refused_since', models.DateTimeField(blank=True, null=True)),
                ('refusals', models.PositiveSmallIntegerField(default=0)),
                ('address_refused', models.BooleanField(default=False, verbose_name='this address is refused, not all mail')),
            ],
            options={
                'ordering': ('turn', 'due_at', 'pk'),
                'indexes': [models.Index(condition=models.Q(('state__in', ('asked', 'working'))), fields=['turn', 'due_at'], name='messages_to_send')],
                'constraints': [models.UniqueConstraint(fields=('kind', 'thing', 'person'), name='message_once_a_thing_and_person')],
            },
        ),
        migrations.CreateModel(
            name='Phone',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='phones', to='plant.depot')),
                ('name', models.CharField(max_length=40)),
                ('asked_at', models.DateTimeField()),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('link_hash', models.CharField(blank=True, max_length=64)),
                ('link_until', models.DateTimeField()),
                ('key_hash', models.CharField(blank=True, max_length=64, null=True, unique=True)),
                ('enrolled_at', models.DateTimeField(blank=True, null=True)),
                ('last_seen_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('depot__name', 'name', 'pk'),
                'constraints': [models.UniqueConstraint(condition=models.Q(('withdrawn_at__isnull', True)), fields=('depot', 'name'), name='phone_name_once_a_depot')],
            },
        ),
        migrations.CreateModel(
            name='PhoneCode',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('user', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='phone_code', to=settings.AUTH_USER_MODEL)),
                ('code', models.CharField(max_length=128)),
                ('set_at', models.DateTimeField()),
                ('first_until', models.DateTimeField(blank=True, null=True)),
                ('wrong', models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name='Chain',
            fields=[
                ('depot', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, serialize=False, to='plant.depot')),
                ('head_seq', models.PositiveBigIntegerField(default=0)),
                ('head_hash', models.CharField(default='0000000000000000000000000000000000000000000000000000000000000000', max_length=64)),
            ],
        ),
        migrations.CreateModel(
            name='ChainCheck',
            fields=[
                ('depot', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, serialize=False, to='plant.depot')),
                ('read_at', models.DateTimeField()),
                ('count', models.PositiveBigIntegerField()),
                ('bad_seq', models.PositiveBigIntegerField(blank=True, null=True)),
                ('what', models.CharField(blank=True, max_length=400)),
            ],
        ),
        migrations.CreateModel(
            name='Counter',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('machine', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='counters', to='plant.machine')),
                ('measure', models.CharField(choices=[('hours', 'Running hours'), ('starts', 'Starts'), ('strokes', 'Strokes'), ('drops', 'Drops'), ('lifts', 'Lifts'), ('cycles', 'Cycles')], max_length=8)),
                ('total_tenths', models.PositiveIntegerField(blank=True, null=True)),
                ('total_at', models.DateTimeField(blank=True, null=True)),
                ('broken_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ('measure',),
                'constraints': [models.UniqueConstraint(fields=('machine', 'measure'), name='counter_once_a_machine'), models.CheckConstraint(condition=models.Q(('measure', 'hours'), _negated=True), name='hours_stand_on_the_machine')],
            },
        ),
        migrations.CreateModel(
            name='Meter',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('machine', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='meters', to='plant.machine')),
                ('fitted_at', models.DateTimeField()),
                ('removed_at', models.DateTimeField(blank=True, null=True)),
                ('measure', models.CharField(choices=[('hours', 'Running hours'), ('starts', 'Starts'), ('strokes', 'Strokes'), ('drops', 'Drops'), ('lifts', 'Lifts'), ('cycles', 'Cycles')], default='hours', max_length=8)),
                ('offset_tenths', models.IntegerField(default=0)),
                ('blind_tenths', models.PositiveIntegerField(blank=True, null=True)),
                ('broken_at', models.DateTimeField(blank=True, null=True)),
                ('since_broken_tenths', models.PositiveIntegerField(blank=True, null=True)),
                ('since_broken_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ('fitted_at',),
                'constraints': [models.UniqueConstraint(condition=models.Q(('removed_at__isnull', True)), fields=('machine', 'measure'), name='one_meter_at_a_time')],
            },
        ),
        migrations.CreateModel(
            name='Drive',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('machine', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='drives', to='plant.machine')),
                ('stage', models.PositiveSmallIntegerField(default=1, help_text='1 is next to the motor.')),
                ('name', models.CharField(default='Belt drive', max_length=60)),
                ('kind', models.CharField(choices=[('belt', 'Belt'), ('gear', 'Gears')], default='belt', max_length=4)),
                ('entries', models.JSONField(blank=True, default=dict)),
                ('motor_power_w', models.FloatField(blank=True, null=True)),
                ('motor_speed_rpm', models.FloatField(blank=True, null=True)),
                ('load', models.CharField(choices=[('light', 'Even: fan, centrifugal pump, small generator'), ('medium', 'Some shock: saw, screen, lightly loaded mixer'), ('heavy', 'Shock: concrete mixer, compactor, piston compressor'), ('extra heavy', 'Heavy shock: crusher, hoist, breaker')], default='medium', max_length=12)),
                ('hard_start', models.BooleanField(default=False, verbose_name='high starting torque')),
                ('hours_a_day', models.FloatField(default=8)),
                ('driver_m', models.FloatField(blank=True, null=True, verbose_name='motor pulley, datum diameter')),
                ('driven_m', models.FloatField(blank=True, null=True, verbose_name='driven pulley, datum diameter')),
                ('driver_angle_rad', models.FloatField(blank=True, null=True, verbose_name='groove angle, motor pulley')),
                ('driven_angle_rad', models.FloatField(blank=True, null=True, verbose_name='groove angle, driven pulley')),
                ('driver_depth_m', models.FloatField(blank=True, null=True, verbose_name='groove depth, motor pulley')),
                ('driven_depth_m', models.FloatField(blank=True, null=True, verbose_name='groove depth, driven pulley')),
                ('centres_m', models.FloatField(blank=True, null=True, verbose_name='centre distance now')),
                ('slot_in_m', models.FloatField(blank=True, null=True, verbose_name='slot: room back inwards from here')),
                ('slot_out_m', models.FloatField(blank=True, null=True, verbose_name='slot: room left outwards from here')),
                ('belt_mark', models.CharField(blank=True, max_length=200, verbose_name='mark on the belt')),
                ('section', models.CharField(blank=True, max_length=8, verbose_name='belt section')),
                ('length_system', models.CharField(blank=True, max_length=8)),
                ('belt_datum_m', models.FloatField(blank=True, null=True, verbose_name='datum length of the belt')),
                ('belts', models.PositiveSmallIntegerField(default=1, verbose_name='number of belts')),
                ('belt_new_width_m', models.FloatField(blank=True, null=True, verbose_name='top width when new')),
                ('belt_new_width_u_m', models.FloatField(blank=True, null=True)),
                ('belt_fitted_on', models.DateField(blank=True, null=True)),
                ('belt_fitted_tenths', models.PositiveIntegerField(blank=True, null=True)),
                ('teeth_in', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('teeth_out', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('changed_at', models.DateTimeField(auto_now=True)),
            ],
            options={
                'ordering': ('machine', 'stage'),
                'constraints': [models.UniqueConstraint(fields=('machine', 'stage'), name='stage_once_a_machine')],
            },
        ),
        migrations.CreateModel(
            name='MachineImportRow',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('row', models.PositiveIntegerField(verbose_name='row in the file')),
                ('number', models.CharField(blank=True, max_length=64)),
                ('reasons', models.JSONField(blank=True, default=list)),
                ('values', models.JSONField(blank=True, default=dict)),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='rows', to='plant.machineimport')),
                ('verdict', models.CharField(choices=[('ready', 'Ready'), ('same', 'Same machine twice'), ('clash', 'Clash'), ('ask', 'Needs an answer'), ('unreadable', 'Cannot be read')], max_length=10)),
                ('machine', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, to='plant.machine')),
            ],
            options={
                'ordering': ('row',),
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('run', 'row'), name='row_once_a_run')],
            },
        ),
        migrations.CreateModel(
            name='Record',
            fields=[
                ('id', models.UUIDField(editable=False, primary_key=True, serialize=False)),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='records', to='plant.depot')),
                ('seq', models.PositiveBigIntegerField()),
                ('kind', models.CharField(choices=[('check', 'Check'), ('fault', 'Fault report'), ('meter', 'Meter figure'), ('width', 'Belt width reading'), ('tension', 'Belt tension reading'), ('ride', 'Belt ride or slot reading'), ('alignment', 'Pulley alignment reading'), ('pulley', 'Pulley condition'), ('drive', 'Drive data'), ('belt', 'Belt fitted'), ('finding', 'Fault finding'), ('test', 'Electrical test'), ('decision', 'Decision on a fault'), ('stop', 'Stopped by a person'), ('job', 'Job done'), ('release', 'Release check'), ('place', 'Move'), ('inspection', 'Look-over or inspection'), ('answer', 'Answer to a report'), ('competence', 'Competence of a person'), ('instrument', 'Test instrument'), ('label', 'Label replaced'), ('put off', 'Work put off'), ('plan', 'Plan of a machine changed'), ('stock', 'Parts counted or moved'), ('sheet', 'Printed sheet'), ('held', 'Records held back'), ('erased', 'Words and photos erased'), ('import', 'Brought in from a file'), ('correction', 'Correction')], max_length=12)),
                ('machine', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='records', to='plant.machine')),
                ('corrects', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='plant.record')),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='records', to=settings.AUTH_USER_MODEL)),
                ('role', models.CharField(blank=True, max_length=16)),
                ('happened_at', models.DateTimeField()),
                ('received_at', models.DateTimeField()),
                ('content', models.TextField()),
                ('content_hash', models.CharField(max_length=64)),
                ('previous_hash', models.CharField(max_length=64)),
                ('hash', models.CharField(max_length=64)),
            ],
            options={
                'ordering': ('-happened_at', '-seq'),
                'indexes': [models.Index(fields=['machine', '-happened_at'], name='record_by_machine')],
                'constraints': [models.UniqueConstraint(fields=('depot', 'seq'), name='record_number_once_a_depot')],
            },
        ),
        migrations.CreateModel(
            name='RecordText',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='texts', to='plant.record')),
                ('name', models.CharField(max_length=40)),
                ('text', models.TextField(blank=True)),
                ('salt', models.CharField(blank=True, max_length=64)),
                ('erased_at', models.DateTimeField(blank=True, null=True)),
                ('erased_with', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='plant.record')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('record', 'name'), name='text_once_a_record')],
            },
        ),
        migrations.CreateModel(
            name='RecordPhoto',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='plant.record')),
                ('name', models.CharField(max_length=40)),
                ('file', models.FileField(blank=True, upload_to='photos/')),
                ('salt', models.CharField(blank=True, max_length=64)),
                ('erased_at', models.DateTimeField(blank=True, null=True)),
                ('erased_with', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='plant.record')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('record', 'name'), name='photo_once_a_record')],
            },
        ),
        # The seals: the database itself refuses to change a sealed record.
        migrations.RunPython(
            lambda apps, editor: seals.lay(editor.connection),
            lambda apps, editor: seals.lift(editor.connection),
        ),
    ]
