"""What is looked for, and what fits it: said once for the find box and for the lists."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, TypeVar

from django.db.models import Func, Q, QuerySet, Value
from django.db.models.functions import Replace, Upper

from maintenance.contents.rack import SAME_M, belts_like, equal_sections
from maintenance.models import ElectricalTest, Part, Stay
from maintenance.models.job import FIRST_NUMBER, JobQuerySet
from maintenance.rules.belt import kept_length
from plant.drives import marks
from plant.drives.errors import DriveError
from plant.drives.sections import System
from plant.models import MachineKind, Place, User
from plant.rights import depots_of

Rows = TypeVar("Rows", bound=QuerySet[Any])
# A serial or a mark is compared without its dashes from so many letters and figures on.
LEAST_KEY = 3
# Words after these are left out: nobody types more to find one thing.
MOST_WORDS = 8
_NOUGHTS = 6
# Tests of a part with a plate of its own, such as an RCD: its machine is found by that serial too.
OWN_SERIAL = ElectricalTest.objects.filter(item_serial__gt="")
# Field of a machine: what it is called in the reason.
MACHINE_FIELDS = {
    "serial": "serial",
    "nickname": "nickname",
    "maker": "maker",
    "type_name": "type",
    "site": "at",
}
JOB_NUMBER = re.compile(
    r"\s*((?P<practice>P[\s-]*)?J)?[\s-]*(?P<number>[0-9]{1,12})\s*", re.IGNORECASE | re.ASCII
)


def key_of(words: str) -> str:
    """Letters and figures alone, in capitals: "mx 203" and "MX-203" are one."""
    return "".join(each for each in words.upper() if each.isascii() and each.isalnum())


@dataclass(frozen=True, kw_only=True)
class Sought:
    """What is looked for: the words, what they have in common as a number, and their kinds."""

    words: tuple[str, ...]
    key: str
    numbers: tuple[str, ...]
    kinds: dict[str, frozenset[int]]
    near_kinds: frozenset[int]
    depots: dict[str, frozenset[int]]
    belts: tuple[tuple[str, float], ...]

    @classmethod
    def of(cls, user: User, words: str) -> "Sought":
        parts = tuple(dict.fromkeys(words.split()))[:MOST_WORDS]
        key = key_of(words)
        names = {kind.pk: kind.name.casefold() for kind in MachineKind.objects.all()}
        depots = {depot.pk: depot.name.casefold() for depot in depots_of(user)}
        kinds: dict[str, frozenset[int]] = {}
        near_kinds: set[int] = set()
        for word in parts:
            fits = frozenset(pk for pk, name in names.items() if word.casefold() in name)
            if not fits:
                fits = _spelt_nearly(word, names)
                near_kinds |= fits
            kinds[word] = fits
        system = next((System(depot.length_system) for depot in depots_of(user)), System.ISO_DIN)
        return cls(
            words=parts,
            key=key,
            numbers=_with_noughts(key),
            kinds=kinds,
            near_kinds=frozenset(near_kinds),
            depots={
                word: frozenset(pk for pk, name in depots.items() if word.casefold() in name)
                for word in parts
            },
            belts=belts_of(words, system),
        )


def _spelt_nearly(word: str, names: dict[int, str]) -> frozenset[int]:
    """Kinds of which one word differs from this by a slip or so: "mixr", "compacter"."""
    if len(word) < 4:
        return frozenset()
    return frozenset(
        pk
        for pk, name in names.items()
        if get_close_matches(word.casefold(), re.split(r"[\s,/()-]+", name), n=1, cutoff=0.78)
    )


def _with_noughts(key: str) -> tuple[str, ...]:
    """The number with more or fewer noughts before its figures: MX203, MX0203, MX00203."""
    told = re.fullmatch(r"([A-Z]*)0*([1-9][0-9]*)", key)
    if told is None:
        return (key,) if key else ()
    before, figures = told.groups()
    return tuple(
        dict.fromkeys((key, *(f"{before}{'0' * n}{figures}" for n in range(_NOUGHTS + 1))))
    )


def belts_of(words: str, system: System) -> tuple[tuple[str, float], ...]:
    """The belts, by section and length [m], that the words can mean as a mark; mostly none."""
    try:
        found = marks.read(words, system=system)
    except DriveError:
        return ()
    lengths = {
        (each.section, length)
        for each in found.readings
        if (length := kept_length(each)) is not None
    }
    return tuple(sorted(lengths))


def machines_with(machines: Rows, user: User, words: str) -> Rows:
    """Of these machines those whose number holds the words, or that hold each word somewhere."""
    return machines_fitting(machines, Sought.of(user, words))


def drives_with(drives: Rows, user: User, words: str) -> Rows:
    """Of these drives those whose machine's number or belt mark holds the words, and those that
    run the belt which the words name in any form."""
    return drives_fitting(drives, Sought.of(user, words))


def jobs_with(jobs: JobQuerySet, words: str) -> JobQuerySet:
    """Of these jobs the one of that number, those of a machine of which the number holds the words,
    and those that hold each word in what is to be done."""
    return jobs.filter(_job_fits(words))


def parts_with(parts: Rows, user: User, words: str) -> Rows:
    """Of these parts those of which the name or any number holds the words, or that are the belt
    which the words name in any form."""
    return parts_fitting(parts, Sought.of(user, words))


def instruments_with(instruments: Rows, words: str) -> Rows:
    """Of these instruments those of which name, description or serial holds the words."""
    found = Q()
    for field in ("name", "description", "serial"):
        found |= Q(**{f"{field}__icontains": words})
    if len(key := key_of(words)) >= LEAST_KEY:
        instruments = instruments.alias(bare_serial=_bare("serial"))
        found |= Q(bare_serial__contains=key)
    return instruments.filter(found)


def machines_fitting(machines: Rows, sought: Sought) -> Rows:
    each_word = Q()
    for word in sought.words:
        fits = Q(number_key__contains=key_of(word)) if key_of(word) else Q(pk__in=())
        for field in MACHINE_FIELDS:
            fits |= Q(**{f"{field}__icontains": word})
        if sought.kinds[word]:
            fits |= Q(kind__in=sought.kinds[word])
        if sought.depots[word]:
            fits |= Q(depot__in=sought.depots[word])
        if places := places_of(word):
            fits |= Q(place__in=places)
        with_hirer = Stay.objects.open().filter(hirer__name__icontains=word)
        fits |= Q(pk__in=with_hirer.values("machine"))
        fits |= Q(pk__in=OWN_SERIAL.filter(item_serial__icontains=word).values("machine"))
        each_word &= fits
    found = each_word
    if sought.key:
        found |= Q(number_key__contains=sought.key) | Q(number_key__in=sought.numbers)
    if len(sought.key) >= LEAST_KEY:
        machines = machines.alias(bare_serial=_bare("serial"))
        found |= Q(bare_serial__contains=sought.key)
        own = OWN_SERIAL.alias(bare_serial=_bare("item_serial"))
        found |= Q(pk__in=own.filter(bare_serial__contains=sought.key).values("machine"))
    return machines.filter(found)


def drives_fitting(drives: Rows, sought: Sought) -> Rows:
    found = Q(belt_mark__icontains=" ".join(sought.words))
    if sought.key:
        found |= Q(machine__number_key__contains=sought.key)
    if len(sought.key) >= LEAST_KEY:
        drives = drives.alias(bare_mark=_bare("belt_mark"))
        found |= Q(bare_mark__contains=sought.key)
    return drives.filter(found | runs_one_of(sought.belts))


def runs_one_of(belts: Iterable[tuple[str, float]]) -> Q:
    """Drives on which one of these belts runs, by section or one of equal size."""
    found = Q(pk__in=())
    for section, length in belts:
        near = (length - SAME_M, length + SAME_M)
        found |= Q(section__in=equal_sections(section), belt_datum_m__range=near)
    return found


def _job_fits(words: str) -> Q:
    each_word = Q()
    for word in words.split()[:MOST_WORDS]:
        each_word &= Q(title__icontains=word)
    key = key_of(words)
    return each_word | job_numbered(words) | (Q(machine__number_key__contains=key) if key else Q())


def job_numbered(words: str) -> Q:
    return Q(pk__in=[pk] if (pk := job_key(words)) else ())


def job_key(words: str) -> int:
    """The key of the job of which this is the number; 0 where it is none."""
    told = JOB_NUMBER.fullmatch(words)
    number = int(told["number"]) if told else 0
    return -number if told and told["practice"] else max(0, number - FIRST_NUMBER)


def parts_fitting(parts: Rows, sought: Sought) -> Rows:
    found = Q(pk__in=Part.objects.matching(" ".join(sought.words)).values("pk"))
    for section, length in sought.belts:
        found |= Q(pk__in=belts_like(section, length).values("pk"))
    return parts.filter(found)


def places_of(word: str) -> list[str]:
    return [value for value, label in Place.choices if word.casefold() in label.casefold().split()]


def _bare(field: str) -> Func:
    """The column without what people leave out or put in: dashes, spaces, strokes and points."""
    said: Func = Upper(field)
    for mark in "- /.":
        said = Replace(said, Value(mark), Value(""))
    return said
