"""What keeps a person from being erased, where the name stands, and which files hold it."""

import json
import re
from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db.models import CharField, FileField, JSONField, Model, Q, QuerySet, TextField
from django.db.models.functions import Cast

from maintenance.contents.derived import COPIES
from maintenance.models import Job
from plant.models import Membership, Record, RecordPhoto, RecordText, Role, User
from plant.models.record import ErasableQuerySet
from plant.rights import Right, depots_where
from reports.models import Sheet

# Names that the system put into a record by itself, beside who signed it.
_BESIDE = r"^(person|learner_\d+|step_\d+_\d+_by|finding_\d+_by)$"
_SEALED = ("plant.Record", "plant.RecordText", "plant.RecordPhoto")
MOST_SHOWN = 5


def hindrances(person: User, *, by: User) -> list[str]:
    """Why the person cannot be erased now, each with what to do first; empty when nothing is."""
    found = []
    jobs = Job.objects.open().filter(
        Q(given_to=person) | Q(has_it=person) | Q(isolated_by=person, isolated_at__isnull=False)
    )
    for job in jobs.select_related("machine")[:MOST_SHOWN]:
        stopped = job.stops.standing().exists()
        machine = f"{job.machine}, which is stopped" if stopped else str(job.machine)
        found.append(f"{job.number} on {machine} is theirs. Give it to somebody else or close it.")
    waiting = Job.objects.open().filter(countersign_wanted=True, labour__person=person).distinct()
    for job in waiting[:MOST_SHOWN]:
        found.append(f"{job.number} waits to be countersigned. Have it looked at first.")
    held = Membership.objects.filter(user=person).select_related("depot")
    mine = depots_where(by, Right.ERASE)
    elsewhere = False
    for each in held:
        if each.role in (Role.MANAGER, Role.ADMINISTRATOR):
            others = Membership.objects.filter(
                depot=each.depot, role=each.role, user__is_active=True
            ).exclude(user=person)
            if not others.exists():
                found.append(f"No other {each.role} is left at {each.depot}. Name one first.")
        elsewhere |= each.depot_id not in mine
    if elsewhere and mine:
        found.append("They have a role in a depot that is not yours. It is ended there first.")
    return list(dict.fromkeys(found))


def extent(person: User) -> list[tuple[str, str]]:
    """How much of the person there is, by what can be chosen."""
    paper = sheets_naming(person.name).count()
    beside = sum(1 for _ in rows_naming(person.name))
    others = naming_texts(person.name).exclude(pk__in=identity_texts(person)).count()
    return [
        ("Records signed, which stay", str(Record.objects.filter(by=person).count())),
        ("Names in records, which go", str(identity_texts(person).count())),
        (
            "Words and photos of their own",
            f"{own_texts(person).exclude(name='by_name').count()} and {own_photos(person).count()}",
        ),
        ("Words of anybody with the whole name", f"{others} in records, {beside} beside them"),
        ("Printed sheets that hold the name", str(paper)),
    ]


def identity_texts(person: User) -> ErasableQuerySet:
    """Texts of records that hold the person's name or certificates, whoever signed."""
    beside = Q(name__regex=_BESIDE, text=person.name)
    if User.objects.filter(name=person.name).exclude(pk=person.pk).exists():
        # Another person bears the name: only where the record gives this one's account number.
        beside &= Q(record__content__contains=f'"{person.pk}"')
    competence = Q(
        record__kind=Record.Kind.COMPETENCE,
        record__content__contains=f'"account":"{person.pk}"',
    )
    return RecordText.objects.standing().filter(
        Q(record__by=person, name="by_name") | beside | competence
    )


def own_texts(person: User) -> ErasableQuerySet:
    return RecordText.objects.standing().exclude(text="").filter(record__by=person)


def own_photos(person: User) -> ErasableQuerySet:
    return RecordPhoto.objects.standing().filter(record__by=person)


def naming_texts(name: str) -> ErasableQuerySet:
    """Texts of records in which anybody wrote the whole name."""
    likely = RecordText.objects.standing().filter(text__icontains=name)
    found = [pk for pk, text in likely.values_list("pk", "text") if _pattern(name).search(text)]
    return RecordText.objects.filter(pk__in=found)


def sheets_naming(name: str) -> QuerySet[Sheet]:
    """Printed sheets whose frozen content holds the name."""
    seen = Sheet.objects.filter(content__isnull=False).annotate(
        written=Cast("content", TextField())
    )
    escaped = json.dumps(name)[1:-1]
    found: QuerySet[Sheet] = seen.filter(
        Q(written__contains=name) | Q(written__contains=escaped)
    ).order_by("pk")
    return found


def rows_naming(
    name: str, *, only: tuple[type[Model], ...] = ()
) -> Iterator[tuple[type[Model], Any, dict[str, Any]]]:
    """Rows beside the records with the whole name in their words: the table, the key, the values.

    Args:
        only: these tables; all of them where none is given.
    """
    escaped = json.dumps(name)[1:-1]
    for model in only or apps.get_models():
        label = model._meta.label
        if model._meta.app_label not in ("plant", "maintenance", "reports"):
            continue
        if label in (*_SEALED, "plant.User", "reports.Sheet"):
            continue
        fields = [
            field
            for field in model._meta.concrete_fields
            if isinstance(field, CharField | TextField | JSONField)
            and not isinstance(field, FileField)
            and not getattr(field, "choices", None)
            and not field.primary_key
            # Sealed data say the same, and cannot be rewritten.
            and field.name not in (COPIES[model].columns if model in COPIES else ())
        ]
        if not fields:
            continue
        rows = model._default_manager.all()
        wanted = Q()
        for n, field in enumerate(fields):
            if isinstance(field, JSONField):
                rows = rows.annotate(**{f"written_{n}": Cast(field.name, TextField())})
                wanted |= Q(**{f"written_{n}__icontains": name})
                wanted |= Q(**{f"written_{n}__icontains": escaped})
            else:
                wanted |= Q(**{f"{field.name}__icontains": name})
        names = [field.name for field in fields]
        for row in rows.filter(wanted).order_by().values("pk", *names):
            held = {key: row[key] for key in names if _holds(row[key], name)}
            if held:
                yield model, row["pk"], held


def renamed(value: Any, name: str, label: str) -> Any:
    """The value with the label in the place of the whole name, in lists and maps too."""
    if isinstance(value, str):
        return _pattern(name).sub(label, value)
    if isinstance(value, list):
        return [renamed(each, name, label) for each in value]
    if isinstance(value, dict):
        return {
            renamed(key, name, label): renamed(each, name, label) for key, each in value.items()
        }
    return value


def _holds(value: Any, name: str) -> bool:
    return bool(value) and renamed(value, name, "") != value


def _pattern(name: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", re.IGNORECASE)
