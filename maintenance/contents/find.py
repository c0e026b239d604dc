"""Finding anything by a word: machines, belts, parts, instruments, jobs and records, each with why.

Nothing is copied into an index of its own: what is looked through are the columns that pages show,
so a result is never older than the page that it opens, and a name that is erased is gone from here
too. Each group is the same query as the list page that shows all of it.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar
from urllib.parse import urlencode

from django.db.models import Case, Count, IntegerField, Model, Q, QuerySet, Value, When, Window
from django.utils.translation import gettext

from maintenance.contents.belts import belt_drives
from maintenance.contents.fitness import due_state_of_many, fitness_of_many
from maintenance.contents.rack import SAME_M, equal_sections, stock_of
from maintenance.contents.sought import (
    JOB_NUMBER,
    LEAST_KEY,
    MACHINE_FIELDS,
    OWN_SERIAL,
    Sought,
    drives_fitting,
    instruments_with,
    job_key,
    job_numbered,
    jobs_with,
    key_of,
    machines_fitting,
    parts_fitting,
    places_of,
    runs_one_of,
)
from maintenance.models import Instrument, Job, Part, PartNumber, Stay
from plant.contents.workout import VERDICTS
from plant.drives.outcome import Verdict
from plant.models import Depot, Drive, Machine, Place, Record, User
from plant.models.machine import SHORT_CODE_LETTERS
from plant.rights import Right

M = TypeVar("M", bound=Model)
LONGEST = 100
# Of each group so many stand on the page; its list shows the rest.
SHOWN = 6
NEAR_SHOWN = 6
# Numbers of these lengths are tried with one slip; a longer one would ask for too many.
SLIP_LENGTHS = range(3, 13)
_LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, kw_only=True)
class Hit:
    """One thing found. page, key: its address; why: which words of it fit; states: its marks."""

    page: str
    key: Any
    name: str
    what: str
    why: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Group:
    """Things of one sort, the most telling first. list_page, query: the list of them all."""

    title: str
    noun: str
    nouns: str
    hits: tuple[Hit, ...]
    total: int
    list_page: str
    query: tuple[tuple[str, str], ...] = ()

    @property
    def more(self) -> int:
        return self.total - len(self.hits)

    @property
    def address(self) -> str:
        """The query that shows all of them on their list."""
        return urlencode(self.query)


@dataclass(frozen=True, kw_only=True)
class Found:
    """All that was found. exact: what carries just this number or code; near: numbers that differ
    by one slip, where no machine has this one."""

    exact: tuple[Hit, ...]
    groups: tuple[Group, ...]
    near: tuple[Hit, ...] = ()

    @property
    def only(self) -> Hit | None:
        """What is opened at once: the one thing that has this number or code."""
        return self.exact[0] if len(self.exact) == 1 else None

    @property
    def total(self) -> int:
        exact = {(hit.page, hit.key) for hit in self.exact}
        shown = {(hit.page, hit.key) for group in self.groups for hit in group.hits}
        return sum(group.total for group in self.groups) + len(exact - shown)


def find(user: User, words: str, *, on: date, codes: bool = True) -> Found:
    """Everything of the person's depots that the words fit.

    Args:
        words: as they were typed, cleaned; at most LONGEST characters.
        codes: whether the four characters of a label are looked up too.
    """
    if not key_of(words) and not words.strip():
        return Found(exact=(), groups=())
    sought = Sought.of(user, words)
    exact_machines = _exact_machines(user, sought, codes=codes)
    machines = _machines(user, sought, on=on, gone=False)
    jobs = _jobs(user, sought)
    parts = _parts(user, sought, on=on)
    groups = (
        machines,
        _belts(user, sought),
        parts,
        _instruments(user, sought),
        jobs,
        _machines(user, sought, on=on, gone=True),
    )
    exact = [
        *_machine_hits(exact_machines, sought, on=on),
        # Bare figures are the usual way to a machine; they mean a job where no machine has them.
        *_exact_jobs(user, sought, bare=not machines.total),
        *_exact_records(user, sought),
        *_exact_parts(user, sought, on=on),
    ]
    near: tuple[Hit, ...] = ()
    if not exact and not any(_by_number(hit) for hit in machines.hits):
        near = _near(user, sought, on=on)
    return Found(exact=tuple(exact), groups=tuple(each for each in groups if each.total), near=near)


# --- Machines ----------------------------------------------------------------------------------


def _exact_machines(user: User, sought: Sought, *, codes: bool) -> list[Machine]:
    """Those of just this number, else of these figures, and those with this code on the label."""
    if not sought.key:
        return []
    seen = Machine.objects.visible_to(user).select_related("kind", "depot")
    meant = Q(number_key__in=sought.numbers)
    if codes and is_code(sought.key):
        meant |= Q(short_code=sought.key)
    found = list(seen.filter(meant).order_by("number_key"))
    just = [each for each in found if sought.key in (each.number_key, each.short_code)]
    if just or found:
        return just or found[:SHOWN]
    if sought.key.isdigit() and len(sought.key) >= LEAST_KEY:
        # The figures of a number are how it is said: "203" for MX-203.
        ends = seen.in_fleet().filter(number_key__endswith=sought.key)
        figures = re.compile(rf"[A-Z]+0*{sought.key.lstrip('0') or '0'}")
        near = ends.order_by("number_key")[: 5 * SHOWN]
        return [each for each in near if figures.fullmatch(each.number_key)][:SHOWN]
    return []


def is_code(key: str) -> bool:
    """Whether it may be the four characters of a label."""
    return len(key) == 4 and set(key) <= set(SHORT_CODE_LETTERS)


def _machines(user: User, sought: Sought, *, on: date, gone: bool) -> Group:
    seen = Machine.objects.visible_to(user)
    seen = seen.filter(place=Place.GONE) if gone else seen.in_fleet()
    key = sought.key
    ranks = []
    if key:
        ranks = [
            When(number_key__in=sought.numbers, then=Value(0)),
            When(number_key__endswith=key, then=Value(1)),
            When(number_key__startswith=key, then=Value(2)),
            When(number_key__contains=key, then=Value(3)),
        ]
    for word in sought.words:
        ranks.append(When(serial__iexact=word, then=Value(4)))
        ranks.append(When(nickname__icontains=word, then=Value(5)))
    rank = Case(*ranks, default=Value(6), output_field=IntegerField())
    pks, total = _first(machines_fitting(seen, sought), rank, "number_key")
    rows = _in_order(Machine.objects.select_related("kind", "depot"), pks)
    where = {"q": " ".join(sought.words)} | ({"place": Place.GONE.value} if gone else {})
    return Group(
        title=gettext("Machines that are gone") if gone else gettext("Machines"),
        noun="machine", nouns="machines",
        hits=tuple(_machine_hits(rows, sought, on=on)),
        total=total, list_page="maintenance:machine_list", query=tuple(where.items()),
    )  # fmt: skip


def _first(rows: QuerySet[Any], rank: Any, then: str) -> tuple[list[int], int]:
    """The keys of the first few and how many there are in all, in one walk of the table."""
    counted = rows.annotate(rank=rank, total=Window(Count("*"))).order_by("rank", then)
    first = list(counted.values_list("pk", "total")[:SHOWN])
    return [pk for pk, _ in first], first[0][1] if first else 0


def _in_order(rows: QuerySet[M], pks: Sequence[int]) -> list[M]:
    found = {row.pk: row for row in rows.filter(pk__in=pks)} if pks else {}
    return [found[pk] for pk in pks if pk in found]


def _machine_hits(machines: Sequence[Machine], sought: Sought, *, on: date) -> list[Hit]:
    if not machines:
        return []
    fitness, due = fitness_of_many(machines, on), due_state_of_many(machines, on)
    stays = {
        stay.machine_id: stay
        for stay in Stay.objects.open().filter(machine__in=machines).select_related("hirer")
    }
    own: dict[int, set[str]] = {}
    tested = OWN_SERIAL.filter(machine__in=machines).values_list("machine", "item_serial")
    for pk, serial in tested.distinct():
        own.setdefault(pk, set()).add(serial)
    return [
        Hit(
            page="maintenance:machine",
            key=machine.pk,
            name=machine.number,
            what=f"{machine.kind.name}, {machine.nickname}"
            if machine.nickname
            else machine.kind.name,
            why=_why(machine, stays.get(machine.pk), own.get(machine.pk, ()), sought),
            states=(machine.place, fitness[machine.pk].mark, due[machine.pk]),
            note=machine.site,
        )
        for machine in machines
    ]


def _why(
    machine: Machine, stay: Stay | None, own: Iterable[str], sought: Sought
) -> tuple[str, ...]:
    """Which of its words fit, the most telling first."""
    why = []
    key = sought.key
    if key and machine.short_code == key:
        why.append(gettext("code {short_code} on its label").format(short_code=machine.short_code))
    if key and (key in machine.number_key or machine.number_key in sought.numbers):
        why.append("number")
    serial = key_of(machine.serial)
    for word in sought.words:
        low = word.casefold()
        if not why and key_of(word) and key_of(word) in machine.number_key:
            why.append("number")
        for field, called in MACHINE_FIELDS.items():
            value = str(getattr(machine, field))
            bare = field == "serial" and len(key) >= LEAST_KEY and key in serial
            if low in value.casefold() or bare:
                why.append(f"{called} {value}")
        for each in sorted(own):
            if low in each.casefold() or (len(key) >= LEAST_KEY and key in key_of(each)):
                why.append(gettext("serial {serial} of what was tested").format(serial=each))
        if machine.kind_id in sought.kinds[word]:
            nearly = machine.kind_id in sought.near_kinds
            why.append(
                gettext("kind, spelt nearly like “{word}”").format(word=word) if nearly else "kind"
            )
        if machine.depot_id in sought.depots[word]:
            why.append(gettext("depot {depot}").format(depot=machine.depot.name))
        if stay is not None and stay.hirer is not None and low in stay.hirer.name.casefold():
            why.append(gettext("out with {hirer}").format(hirer=stay.hirer.name))
        if machine.place in places_of(word):
            why.append(gettext("where it is: {label}").format(label=Place(machine.place).label))
    return tuple(dict.fromkeys(why))


def _by_number(hit: Hit) -> bool:
    return any(each == "number" or each.startswith("code ") for each in hit.why)


def _near(user: User, sought: Sought, *, on: date) -> tuple[Hit, ...]:
    """Machines whose number is one slip away: a sign more, fewer, another, or two changed over."""
    key = sought.key
    if len(key) not in SLIP_LENGTHS or not any(each.isdigit() for each in key):
        return ()
    seen = Machine.objects.visible_to(user).select_related("kind", "depot")
    found = list(seen.filter(number_key__in=_slips(key)).order_by("number_key")[:NEAR_SHOWN])
    return tuple(_machine_hits(found, sought, on=on))


def _slips(key: str) -> set[str]:
    """All that is one slip from it: the optimal string alignment distance is 1."""
    cut = [(key[:n], key[n:]) for n in range(len(key) + 1)]
    slips = {a + b[1:] for a, b in cut if b}
    slips |= {a + b[1] + b[0] + b[2:] for a, b in cut if len(b) > 1}
    slips |= {a + each + b[1:] for a, b in cut if b for each in _LETTERS}
    slips |= {a + each + b for a, b in cut for each in _LETTERS}
    return slips - {key, ""}


# --- Belts, parts ------------------------------------------------------------------------------


def _belts(user: User, sought: Sought) -> Group:
    seen = Drive.objects.visible_to(user).filter(kind=Drive.Kind.BELT)
    seen = seen.exclude(machine__place=Place.GONE)
    ranks = [When(belt_mark__iexact=" ".join(sought.words), then=Value(0))]
    if sought.belts:
        ranks.append(When(runs_one_of(sought.belts), then=Value(1)))
    rank = Case(*ranks, default=Value(2), output_field=IntegerField())
    pks, total = _first(drives_fitting(seen, sought), rank, "machine__number_key")
    drives = _in_order(belt_drives(user, among=pks), pks) if pks else []
    hits = tuple(
        Hit(
            page="maintenance:drive",
            key=drive.pk,
            name=str(drive),
            what=drive.machine.kind.name,
            why=_why_belt(drive, sought),
            note=_verdict(drive),
        )
        for drive in drives
    )
    return Group(
        title=gettext("Belts on machines"), noun="belt", nouns="belts", hits=hits, total=total,
        list_page="maintenance:belts", query=(("q", " ".join(sought.words)),),
    )  # fmt: skip


def _why_belt(drive: Drive, sought: Sought) -> tuple[str, ...]:
    if sought.key and sought.key in key_of(drive.belt_mark):
        return (gettext("mark {belt_mark}").format(belt_mark=drive.belt_mark),)
    if any(
        drive.section in equal_sections(section)
        and abs((drive.belt_datum_m or 0.0) - length) <= SAME_M
        for section, length in sought.belts
    ):
        return (
            gettext("the same belt, marked {belt_mark}").format(belt_mark=drive.belt_mark)
            if drive.belt_mark
            else gettext("the same belt"),
        )
    return (gettext("number of its machine"),)


def _verdict(drive: Any) -> str:
    if not drive.verdict:
        return gettext("Not measured yet")
    return gettext(VERDICTS[Verdict(drive.verdict)][0])


def _parts(user: User, sought: Sought, *, on: date) -> Group:
    fits = parts_fitting(Part.objects.visible_to(user).kept(), sought)
    rank = Case(
        When(name_key__startswith=sought.key, then=Value(0)) if sought.key else When(pk=0, then=0),
        default=Value(1),
        output_field=IntegerField(),
    )
    pks, total = _first(fits, rank, "name")
    rows = Part.objects.select_related("depot").prefetch_related("numbers")
    return Group(
        title=gettext("Parts"), noun="part", nouns="parts",
        hits=tuple(_part_hits(_in_order(rows, pks), sought, on=on)), total=total,
        list_page="maintenance:rack", query=(("q", " ".join(sought.words)),),
    )  # fmt: skip


def _part_hits(parts: Sequence[Part], sought: Sought, *, on: date) -> list[Hit]:
    stock = stock_of(parts, on=on) if parts else {}
    return [
        Hit(
            page="maintenance:part",
            key=part.pk,
            name=part.name,
            what=part.depot.name,
            why=_why_part(part, sought),
            note=gettext("{total} here").format(total=stock[part.pk].total)
            if stock[part.pk].total > 0
            else gettext("none here"),
        )
        for part in parts
    ]


def _why_part(part: Part, sought: Sought) -> tuple[str, ...]:
    words = " ".join(sought.words).casefold()
    why = [
        gettext("number {number}").format(number=each.number)
        for each in part.numbers.all()
        if sought.key and sought.key in each.key
    ]
    if words in part.name.casefold() or (sought.key and sought.key in part.name_key):
        why.insert(0, "name")
    if words in part.bought_from.casefold() and part.bought_from:
        why.append(gettext("bought from {bought_from}").format(bought_from=part.bought_from))
    return tuple(why) or (gettext("the same belt"),)


def _exact_parts(user: User, sought: Sought, *, on: date) -> list[Hit]:
    """The parts of which this is the whole name or a whole number, with a figure in it."""
    if len(sought.key) < LEAST_KEY or not any(each.isdigit() for each in sought.key):
        return []
    numbers = PartNumber.objects.filter(key=sought.key).values("part")
    parts = Part.objects.visible_to(user).kept().filter(pk__in=numbers)
    rows = parts.select_related("depot").prefetch_related("numbers").order_by("name", "pk")
    return _part_hits(list(rows[:SHOWN]), sought, on=on)


# --- Instruments -------------------------------------------------------------------------------


def _instruments(user: User, sought: Sought) -> Group:
    """Those in use, of the depots where the person works with them."""
    words = " ".join(sought.words)
    seen = Instrument.objects.visible_to(user, Right.WORK).in_use()
    rank = Case(
        When(serial__iexact=words, then=Value(0)), default=Value(1), output_field=IntegerField()
    )
    pks, total = _first(instruments_with(seen, words), rank, "name")
    return Group(
        title=gettext("Test instruments"), noun="instrument", nouns="instruments",
        hits=tuple(
            Hit(
                page="maintenance:instrument", key=each.pk, name=each.name,
                what=each.depot.name, why=_why_instrument(each, sought),
            )
            for each in _in_order(Instrument.objects.select_related("depot"), pks)
        ),
        total=total, list_page="maintenance:instrument_list", query=(("q", words),),
    )  # fmt: skip


def _why_instrument(instrument: Instrument, sought: Sought) -> tuple[str, ...]:
    words = " ".join(sought.words).casefold()
    why = []
    if words in instrument.serial.casefold() or (
        len(sought.key) >= LEAST_KEY and sought.key in key_of(instrument.serial)
    ):
        why.append(gettext("serial {serial}").format(serial=instrument.serial))
    if words in instrument.name.casefold():
        why.append(gettext("name"))
    if words in instrument.description.casefold():
        why.append(instrument.description)
    return tuple(why)


# --- Jobs and records --------------------------------------------------------------------------

# As on paper: the depot's code and the number in its chain.
_RECORD = re.compile(
    r"\s*([A-Z0-9_-]{1,12})-([0-9]{1,15})\s*|\s*([A-Z_-]{1,12})\s*([0-9]{1,15})\s*",
    re.IGNORECASE | re.ASCII,
)


def _jobs(user: User, sought: Sought) -> Group:
    words = " ".join(sought.words)
    numbered = When(job_numbered(words), then=Value(0))
    rank = Case(numbered, default=Value(1), output_field=IntegerField())
    fits = jobs_with(Job.objects.visible_to(user).open(), words)
    pks, total = _first(fits, rank, "-pk")
    rows = _in_order(Job.objects.select_related("machine", "given_to"), pks)
    return Group(
        title=gettext("Open jobs"), noun="job", nouns="jobs",
        hits=tuple(_job_hit(each, sought) for each in rows), total=total,
        list_page="maintenance:job_list", query=(("q", words),),
    )  # fmt: skip


def _job_hit(job: Job, sought: Sought) -> Hit:
    why = []
    if job_key(" ".join(sought.words)) == job.pk:
        why.append("number")
    if sought.key and sought.key in job.machine.number_key:
        why.append(gettext("machine {machine}").format(machine=job.machine.number))
    if sought.words and all(each.casefold() in job.title.casefold() for each in sought.words):
        why.append(gettext("what is to be done"))
    return Hit(
        page="maintenance:job",
        key=job.pk,
        name=job.number,
        what=f"{job.title}, {job.machine.number}",
        why=tuple(why),
        states=(job.state,),
        note=gettext("with {given_to}").format(given_to=job.given_to.name) if job.given_to else "",
    )


def _exact_jobs(user: User, sought: Sought, *, bare: bool) -> list[Hit]:
    words = " ".join(sought.words)
    told = JOB_NUMBER.fullmatch(words)
    if told is None or not (told[1] or bare):
        return []
    jobs = Job.objects.visible_to(user).select_related("machine", "given_to")
    return [_job_hit(each, sought) for each in jobs.filter(job_numbered(words))]


def _exact_records(user: User, sought: Sought) -> list[Hit]:
    """The record of this number: the number that stands on a sheet, a tag, a passport."""
    told = _RECORD.fullmatch(" ".join(sought.words))
    if told is None:
        return []
    code, seq = told[1] or told[3], int(told[2] or told[4])
    depots = Depot.objects.filter(code__iexact=code.strip("-"))
    records = Record.objects.visible_to(user).filter(depot__in=depots, seq=seq)
    return [
        Hit(
            page="maintenance:record",
            key=record.pk,
            name=record.number,
            what=record.get_kind_display()
            + (f", {record.machine.number}" if record.machine else ""),
            why=(gettext("record number"),),
        )
        for record in records.select_related("depot", "machine")[:SHOWN]
    ]
