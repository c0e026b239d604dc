"""What keeps a person from being erased, where the name stands, and which files hold it."""

import json
import re
from collections.abc import Collection, Iterator
from typing import Any

from django.apps import apps
from django.db.models import (
    CharField,
    FileField,
    ForeignKey,
    JSONField,
    Model,
    Q,
    QuerySet,
    TextField,
)
from django.db.models.functions import Cast
from django.utils.translation import gettext

from maintenance.contents.derived import COPIES
from maintenance.models import Job, KeepHold, Stop
from plant.models import Depot, Membership, Record, RecordPhoto, RecordText, Role, User
from plant.models.record import ErasableQuerySet
from plant.rights import Right, depots_where
from reports.models import Batch, Sheet, TimedPrint, TimedTurn

# Names that the system put into a record by itself, beside who signed it.
_BESIDE = r"^(person|learner_\d+|step_\d+_\d+_by|finding_\d+_by)$"
_SEALED = ("plant.Record", "plant.RecordText", "plant.RecordPhoto")
# Tables of the firm, that no one depot may write into, and the columns that name things.
_SHARED = (
    "plant.Depot",
    "plant.MachineKind",
    "maintenance.RuleSheet",
    "maintenance.KindSheet",
    "maintenance.PlanLine",
)
_NAMES_THINGS = {"plant.Machine": ("number", "number_key")}
# On which way a row belongs to a depot: the first that it has, one that no row lacks before others.
_WAYS = (
    "depot", "machine", "drive", "job", "record", "step", "timed", "batch", "from_depot",
    "instrument", "part", "place", "hirer", "fitting", "stop", "run", "file", "finding", "feed",
)  # fmt: skip
_DEEP = 4
MOST_SHOWN = 5


def hindrances(person: User, *, by: User) -> list[str]:
    """Why the person cannot be erased now, each with what to do first; empty when nothing is."""
    found = []
    real = Job.objects.open().filter(machine__depot__practice_of=None)
    jobs = real.filter(
        Q(given_to=person) | Q(has_it=person) | Q(isolated_by=person, isolated_at__isnull=False)
    )
    seen = depots_where(by, Right.SEE)
    for job in jobs.filter(machine__depot__in=seen).select_related("machine")[:MOST_SHOWN]:
        stopped = job.stops.standing().exists()
        machine = (
            gettext("{machine}, which is stopped").format(machine=job.machine)
            if stopped
            else str(job.machine)
        )
        found.append(
            gettext("{job} on {machine} is theirs. Give it to somebody else or close it.").format(
                job=job.number, machine=machine
            )
        )
    waiting = real.filter(countersign_wanted=True, labour__person=person).distinct()
    for job in waiting.filter(machine__depot__in=seen)[:MOST_SHOWN]:
        found.append(
            gettext("{job} waits to be countersigned. Have it looked at first.").format(
                job=job.number
            )
        )
    if any(each.exclude(machine__depot__in=seen).exists() for each in (jobs, waiting)):
        found.append(
            gettext("They have work on hand in a depot that is not yours. It is given up first.")
        )
    held = Membership.objects.filter(user=person).select_related("depot")
    mine = depots_where(by, Right.ERASE)
    elsewhere = False
    for each in held:
        if each.role in (Role.MANAGER, Role.ADMINISTRATOR):
            others = Membership.objects.filter(
                depot=each.depot, role=each.role, user__is_active=True
            ).exclude(user=person)
            if not others.exists() and each.depot_id in seen:
                found.append(
                    gettext("No other {role} is left at {depot}. Name one first.").format(
                        role=each.role, depot=each.depot
                    )
                )
        elsewhere |= each.depot_id not in mine
    if elsewhere and mine:
        found.append(
            gettext("They have a role in a depot that is not yours. It is ended there first.")
        )
    return list(dict.fromkeys(found))


def words_stay(person: User, *, own: bool, others: bool, depots: Collection[int]) -> list[str]:
    """Why the person's own words, or those of others, cannot go now; empty when nothing speaks
    against it.

    Args:
        depots: whose words go.
    """
    found = []
    holds = KeepHold.objects.standing()
    held = Q(pk__in=())
    if own:
        held |= Q(machine__records__by=person)
        stops = Stop.objects.standing().filter(
            Q(record__by=person) | Q(decided_by__by=person), machine__depot__in=depots
        )
        for stop in stops.select_related("machine")[:MOST_SHOWN]:
            found.append(
                gettext(
                    "What stands against {machine} is told in their words. Free it or "
                    "decide it first."
                ).format(machine=stop.machine)
            )
        told = Job.objects.open().filter(
            opened_by_record__by=person, machine__depot__in=depots
        ).exclude(symptom="")  # fmt: skip
        for job in told.select_related("machine")[:MOST_SHOWN]:
            found.append(
                gettext(
                    "{job} on {machine} is open and told in their words. Close it first."
                ).format(job=job.number, machine=job.machine)
            )
    if others:
        if is_ambiguous(person):
            found.append(
                gettext(
                    "Others' words cannot go: another account "
                    "has the same name, or the name is one "
                    "word alone, so nobody can tell who is meant."
                )
            )
        else:
            texts = naming_texts(person.name, depots=depots)
            held |= Q(machine__records__in=texts.order_by().values("record"))
    for hold in holds.filter(held).select_related("machine").distinct()[:MOST_SHOWN]:
        where = (
            str(hold.machine) if hold.machine.depot_id in depots else gettext("a machine elsewhere")
        )
        found.append(
            gettext("The records of {where} are held back. Release them first.").format(where=where)
        )
    return list(dict.fromkeys(found))


def practised_in(person: User) -> set[int]:
    """The practice depots of the person: what was written there is theirs, and nobody's proof."""
    return set(person.practice_depots.values_list("pk", flat=True))


def is_ambiguous(person: User) -> bool:
    """Whether the name alone does not tell who is meant: others have it too, or it is one word."""
    if " " not in person.name.strip():
        return True
    pattern = _pattern(person.name)
    likely = User.objects.filter(name__icontains=person.name).exclude(pk=person.pk)
    return any(pattern.search(name) for name in likely.values_list("name", flat=True))


def extent(person: User, *, depots: Collection[int]) -> list[tuple[str, str]]:
    """How much of the person there is in these depots, by what can be chosen."""
    paper = len(sheets_naming(person, depots=depots))
    beside = sum(1 for _ in rows_naming(person.name, depots=depots))
    naming = naming_texts(person.name, depots=depots)
    others = naming.exclude(pk__in=identity_texts(person)).count()
    own = own_texts(person, depots=depots).exclude(name="by_name").count()
    return [
        (gettext("Records signed, which stay"), str(Record.objects.filter(by=person).count())),
        (gettext("Names in records, which go"), str(identity_texts(person).count())),
        (
            gettext("Words and photos of their own"),
            gettext("{own} and {count}").format(
                own=own, count=own_photos(person, depots=depots).count()
            ),
        ),
        (
            gettext("Words of anybody with the whole name"),
            gettext("cannot be told from another's")
            if is_ambiguous(person)
            else gettext("{others} in records, {beside} beside them").format(
                others=others, beside=beside
            ),
        ),
        (gettext("Printed sheets that hold the name"), str(paper)),
    ]


def identity_texts(person: User) -> ErasableQuerySet:
    """Texts of records that hold the person's name or certificates, whoever signed."""
    beside = Q(name__regex=_BESIDE, text=person.name)
    if User.objects.filter(name=person.name).exclude(pk=person.pk).exists():
        # Another person bears the name: only where the record gives this one's account number.
        beside &= Q(record__content__contains=f'"{person.pk}"')
    competence = Q(
        record__kind__in=(Record.Kind.COMPETENCE, Record.Kind.ACCESS),
        record__content__contains=f'"account":"{person.pk}"',
    )
    return RecordText.objects.standing().filter(
        Q(record__by=person, name="by_name") | beside | competence
    )


def own_texts(person: User, *, depots: Collection[int]) -> ErasableQuerySet:
    own = RecordText.objects.standing().filter(record__by=person, record__depot__in=depots)
    return own.exclude(text="")


def own_photos(person: User, *, depots: Collection[int]) -> ErasableQuerySet:
    return RecordPhoto.objects.standing().filter(record__by=person, record__depot__in=depots)


def naming_texts(name: str, *, depots: Collection[int]) -> ErasableQuerySet:
    """Texts of these depots' records in which anybody wrote the whole name."""
    likely = RecordText.objects.standing().filter(
        text__icontains=name, record__depot__in=depots
    )  # fmt: skip
    found = [pk for pk, text in likely.values_list("pk", "text") if _pattern(name).search(text)]
    return RecordText.objects.filter(pk__in=found)


def sheets_naming(person: User, *, depots: Collection[int]) -> list[int]:
    """Keys of these depots' printed sheets whose frozen content holds the whole name.

    Where the name alone does not tell who is meant, only those that the person asked for, that
    hold the person's jobs, or that show a record which the person signed.
    """
    seen: QuerySet[Sheet] = Sheet.objects.filter(content__isnull=False, depot__in=depots)
    if is_ambiguous(person):
        seen = seen.filter(Q(asked_by=person) | Q(person=person) | Q(about__by=person))
    escaped = json.dumps(person.name)[1:-1]
    likely = seen.annotate(written=Cast("content", TextField())).filter(
        Q(written__icontains=person.name) | Q(written__icontains=escaped)
    )
    rows = likely.order_by("pk").values_list("pk", "content")
    return [pk for pk, content in rows.iterator(chunk_size=50) if _holds(content, person.name)]


def system_rows(person: User) -> dict[type[Model], Q]:
    """The rows into whose words the system itself puts names; of namesakes only the certain ones.

    What a sheet was printed from is not among their words.
    """
    if not is_ambiguous(person):
        return dict.fromkeys((Batch, Sheet, TimedPrint, TimedTurn), Q())
    return {
        Batch: Q(asked_by=person) | Q(pk__in=Sheet.objects.filter(person=person).values("batch")),
        Sheet: Q(asked_by=person) | Q(person=person),
        TimedPrint: Q(set_up_by=person),
        TimedTurn: Q(timed__set_up_by=person),
    }


def rows_naming(
    name: str,
    *,
    only: dict[type[Model], Q] | None = None,
    depots: Collection[int] | None = None,
) -> Iterator[tuple[type[Model], Any, dict[str, Any]]]:
    """Rows beside the records with the whole name in their words: the table, the key, the values.

    Args:
        only: these tables, and which of their rows; all tables of the depots where none is given.
        depots: rows of these alone, and of no table that belongs to no depot.
    """
    escaped = json.dumps(name)[1:-1]
    for model in only or apps.get_models():
        label = model._meta.label
        if model._meta.app_label not in ("plant", "maintenance", "reports"):
            continue
        if label in (*_SEALED, *_SHARED, "plant.User"):
            continue
        way = _way(model)
        if depots is not None and not way:
            continue
        fields = [
            field
            for field in model._meta.concrete_fields
            if isinstance(field, CharField | TextField | JSONField)
            and not isinstance(field, FileField)
            and not getattr(field, "choices", None)
            and not field.primary_key
            and field.name not in _NAMES_THINGS.get(label, ())
            and (model, field.name) != (Sheet, "content")  # it goes whole, by sheets_naming
            # Sealed data say the same, and cannot be rewritten.
            and field.name not in (COPIES[model].columns if model in COPIES else ())
        ]
        if not fields:
            continue
        rows = model._default_manager.filter(only[model] if only else Q())
        if depots is not None:
            rows = rows.filter(**{f"{way}__in": depots})
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


def _way(model: type[Model], deep: int = 0) -> str:
    """The look-up from a row to its depot; empty for a table that belongs to none."""
    if model is Depot:
        return "pk"
    keys = {
        field.name: field.related_model
        for field in model._meta.concrete_fields
        if isinstance(field, ForeignKey)
    }
    ways = sorted(_WAYS, key=lambda name: name in keys and model._meta.get_field(name).null)
    for name in ways if deep < _DEEP else ():
        if name in keys and (rest := _way(keys[name], deep + 1)):
            return name if rest == "pk" else f"{name}__{rest}"
    return ""


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
