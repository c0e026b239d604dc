"""Reads the fault finding of a dated rule sheet: symptoms, causes, tests, odds and chances."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import isclose
from typing import Any

from maintenance.rules.finding import COULD_NOT, ISOLATED, OTHER, WAYS, Cause, Ends, Test, some
from maintenance.rules.sheet import TRUST, SheetRefused, cited
from plant.translate import gettext

READINGS: tuple[str, ...] = ("", "width", "tension", "slot", "alignment", "groove", "turns")
MOST_ANSWERS = 4
LONGEST_CAUTION = 15
LONGEST_DO = 30
_KEY = re.compile(r"[a-z][a-z_]{0,29}")


@dataclass(frozen=True, kw_only=True)
class Starting:
    """Odds to start from, for some families (None: all)."""

    families: frozenset[str] | None
    odds: Mapping[str, float]
    source: str
    trust: str


@dataclass(frozen=True, kw_only=True)
class Symptom:
    """What is seen, and of which machines it is asked."""

    key: str
    words: str
    needs_belt: bool
    starting: tuple[Starting, ...]


@dataclass(frozen=True, kw_only=True)
class Kind:
    """What decides which part of the list is asked of a machine."""

    family: str
    supply: str
    belt_driven: bool


@dataclass(frozen=True, kw_only=True)
class FindingList:
    """The whole of it. A sheet from before there was any has no symptoms.

    isolate_minutes: [min]; least_bits: [bit] below which a test tells nothing; enough: closed jobs
    from which the depot's own count; strength: [jobs] that the stated odds then stand for.
    """

    causes: Mapping[str, Cause]
    symptoms: tuple[Symptom, ...]
    tests: tuple[Test, ...]
    isolate_minutes: float
    least_bits: float
    enough: int
    strength: float
    ends: Ends
    cited: str

    def symptoms_for(self, kind: Kind) -> tuple[Symptom, ...]:
        """The symptoms that such a machine can have, in the order in which they are shown."""
        return tuple(
            each
            for each in self.symptoms
            # Where nothing but "something else" is left, there is nothing to find.
            if (kind.belt_driven or not each.needs_belt)
            and len(self.stated_for(each.key, kind)) > 1
        )

    def symptom(self, key: str) -> Symptom:
        """One symptom by its key.

        Raises:
            KeyError: the list does not hold it.
        """
        return next((each for each in self.symptoms if each.key == key), None) or _missing(key)

    def stated_for(self, symptom: str, kind: Kind) -> dict[str, float]:
        """The stated odds of the causes that such a machine can have; empty where none are.

        Returns:
            Cause to its odds, adding up to 1.
        """
        found = self.starting_for(symptom, kind)
        if found is None:
            return {}
        can = {key: odds for key, odds in found.odds.items() if self._fits(key, kind)}
        whole = sum(can.values())
        return {key: odds / whole for key, odds in can.items()}

    def starting_for(self, symptom: str, kind: Kind) -> Starting | None:
        """The starting odds that hold for the family, with their source; None where none do."""
        rows = self.symptom(symptom).starting
        return next((each for each in rows if some(each.families, kind.family)), None)

    def tests_for(self, symptom: str, kind: Kind) -> tuple[Test, ...]:
        """The tests that may tell something of this symptom on such a machine."""
        return tuple(
            each
            for each in self.tests
            if symptom in each.symptoms
            and some(each.families, kind.family)
            and some(each.supplies, kind.supply)
        )

    def _fits(self, cause: str, kind: Kind) -> bool:
        found = self.causes[cause]
        return some(found.families, kind.family) and some(found.supplies, kind.supply)


NONE = FindingList(
    causes={}, symptoms=(), tests=(), isolate_minutes=0, least_bits=0, enough=0, strength=0,
    ends=Ends(share=1, times=1), cited="",
)  # fmt: skip


def read(data: Mapping[str, Any] | None) -> FindingList:
    """Reads the part ``finding`` of a rule sheet; None gives an empty list.

    Raises:
        SheetRefused: something is missing or odd, without source and trust, or would let a hand
            near a drive that is not isolated.
    """
    if data is None:
        return NONE
    try:
        return _read(data)
    except KeyError as missing:
        raise SheetRefused(
            gettext("the fault finding lacks {missing}").format(missing=missing)
        ) from missing
    except (TypeError, AttributeError) as odd:
        raise SheetRefused(
            gettext("the fault finding is not laid out as expected: {odd}").format(odd=odd)
        ) from odd
    except SheetRefused:
        raise
    except ValueError as odd:
        raise SheetRefused(
            gettext("the fault finding has an odd value: {odd}").format(odd=odd)
        ) from odd


def _read(data: Mapping[str, Any]) -> FindingList:
    causes = {_key(row["key"]): _cause(row) for row in data["causes"]}
    symptoms = tuple(_symptom(row, causes) for row in data["symptoms"])
    tests = tuple(
        _test(row, causes, frozenset(each.key for each in symptoms)) for row in data["tests"]
    )
    for name, keys in (
        ("cause", [row["key"] for row in data["causes"]]),
        ("symptom", [each.key for each in symptoms]),
        ("test", [each.key for each in tests]),
    ):
        if len(set(keys)) != len(keys):
            raise SheetRefused(gettext("one key for two: {name}").format(name=name))
    if OTHER not in causes or causes[OTHER].families or causes[OTHER].supplies:
        raise SheetRefused(
            gettext("every machine needs the cause {other}").format(other=f"{OTHER!r}")
        )
    rules = data["rules"]
    source, trust = _source(rules, "rules")
    share, times = float(rules["ends_at_share"]), float(rules["ends_at_times"])
    positive = (rules["isolate_minutes"], rules["least_bits"], rules["enough"], rules["strength"])
    if not (0.5 < share < 1 and times >= 1 and all(each > 0 for each in positive)):
        raise SheetRefused(gettext("the rules of fault finding are out of range"))
    return FindingList(
        causes=causes,
        symptoms=symptoms,
        tests=tests,
        isolate_minutes=float(rules["isolate_minutes"]),
        least_bits=float(rules["least_bits"]),
        enough=int(rules["enough"]),
        strength=float(rules["strength"]),
        ends=Ends(share=share, times=times),
        cited=cited(source, trust),
    )


def _cause(row: Mapping[str, Any]) -> Cause:
    return Cause(
        key=row["key"],
        words=row["words"],
        then=row["then"],
        page=row["page"],
        supplies=_some(row["supplies"]),
        families=_some(row["families"]),
    )


def _symptom(row: Mapping[str, Any], causes: Mapping[str, Cause]) -> Symptom:
    key = _key(row["key"])
    return Symptom(
        key=key,
        words=row["words"],
        needs_belt=bool(row["needs_belt"]),
        starting=tuple(_starting(each, causes, key) for each in row["starting"]),
    )


def _starting(row: Mapping[str, Any], causes: Mapping[str, Cause], symptom: str) -> Starting:
    odds = {cause: float(value) for cause, value in row["odds"]}
    if set(odds) - set(causes):
        raise SheetRefused(
            gettext("{symptom}: no such cause: {sorted}").format(
                symptom=symptom, sorted=sorted(set(odds) - set(causes))
            )
        )
    if OTHER not in odds or min(odds.values()) <= 0:
        raise SheetRefused(
            gettext("{symptom}: odds above nought are needed, {other} among them").format(
                symptom=symptom, other=f"{OTHER!r}"
            )
        )
    source, trust = _source(row, symptom)
    return Starting(families=_some(row["families"]), odds=odds, source=source, trust=trust)


def _test(row: Mapping[str, Any], causes: Mapping[str, Cause], symptoms: frozenset[str]) -> Test:
    key = _key(row["key"])
    answers = tuple((_key(each["key"]), str(each["words"])) for each in row["answers"])
    chances = {name: _chances(each, len(answers), key) for name, each in row["chances"].items()}
    source, trust = _source(row, key)
    test = Test(
        key=key,
        short=row["short"],
        do=row["do"],
        way=row["way"],
        opens_guard=bool(row["opens_guard"]),
        touches=bool(row["touches"]),
        caution=row["caution"],
        minutes=float(row["minutes"]),
        answers=answers,
        group=row["group"],
        reading=row["reading"],
        verdicts=dict(row["verdicts"]),
        likelihoods={name: each for name, each in chances.items() if name != "else"},
        otherwise=chances["else"],
        symptoms=frozenset(row["symptoms"]),
        supplies=_some(row["supplies"]),
        families=_some(row["families"]),
        source=source,
        trust=trust,
        # A sheet from before it was told apart has none.
        needs_supply=bool(row.get("needs_supply", False)),
    )
    _refuse(test, causes, symptoms)
    return test


def _refuse(test: Test, causes: Mapping[str, Cause], symptoms: frozenset[str]) -> None:
    keys = {key for key, _ in test.answers}
    if test.way not in WAYS:
        raise SheetRefused(
            gettext("{key}: done one of these ways: {ways}").format(
                key=test.key, ways=", ".join(WAYS)
            )
        )
    if (test.opens_guard or test.touches) and test.way != ISOLATED:
        raise SheetRefused(
            gettext("{key}: what opens a guard or touches the drive is done isolated").format(
                key=test.key
            )
        )
    if test.needs_supply and test.way == ISOLATED:
        raise SheetRefused(
            gettext("{key}: what needs the supply is not done isolated").format(key=test.key)
        )
    if not test.caution or len(test.caution.split()) > LONGEST_CAUTION:
        raise SheetRefused(
            gettext("{key}: a caution of {longest_caution} words at most is needed").format(
                key=test.key, longest_caution=LONGEST_CAUTION
            )
        )
    if len(test.do.split()) > LONGEST_DO:
        raise SheetRefused(
            gettext("{key}: what to do has {longest_do} words at most").format(
                key=test.key, longest_do=LONGEST_DO
            )
        )
    if not 2 <= len(keys) <= MOST_ANSWERS or len(keys) != len(test.answers) or COULD_NOT in keys:
        raise SheetRefused(
            gettext("{key}: 2 to {most_answers} different answers are needed").format(
                key=test.key, most_answers=MOST_ANSWERS
            )
        )
    if not 0 < test.minutes <= 60:
        raise SheetRefused(
            gettext("{key}: minutes are above 0 and at most 60").format(key=test.key)
        )
    if set(test.likelihoods) - set(causes):
        raise SheetRefused(
            gettext("{key}: no such cause: {sorted}").format(
                key=test.key, sorted=sorted(set(test.likelihoods))
            )
        )
    if not test.symptoms or test.symptoms - symptoms:
        raise SheetRefused(
            gettext("{key}: no such symptom: {symptoms}").format(
                key=test.key, symptoms=sorted(test.symptoms)
            )
        )
    if test.reading not in READINGS or set(test.verdicts.values()) - keys:
        raise SheetRefused(
            gettext("{key}: a verdict names an answer, a reading one of {readings}").format(
                key=test.key, readings=READINGS
            )
        )


def _chances(row: list[float], answers: int, test: str) -> tuple[float, ...]:
    chances = tuple(map(float, row))
    well = len(chances) == answers and all(0 <= each <= 1 for each in chances)
    if not well or not isclose(sum(chances), 1, abs_tol=1e-9):
        raise SheetRefused(
            gettext("{test}: the chances of the answers add up to 1").format(test=test)
        )
    return chances


def _source(row: Mapping[str, Any], name: str) -> tuple[str, str]:
    if not row["source"] or row["trust"] not in TRUST:
        raise SheetRefused(
            gettext("{name}: every figure needs its source and one of {trust}").format(
                name=name, trust=TRUST
            )
        )
    return str(row["source"]), str(row["trust"])


def _some(names: object) -> frozenset[str] | None:
    if names == "all":
        return None
    if not isinstance(names, list) or not names:
        raise SheetRefused(
            gettext("a list of names or 'all' is needed, not {names}").format(names=f"{names!r}")
        )
    return frozenset(names)


def _key(key: object) -> str:
    """A key of small letters and underscores: it names an answer of a page."""
    if not isinstance(key, str) or not _KEY.fullmatch(key):
        raise SheetRefused(
            gettext("a key has 1 to 30 small letters, not {key}").format(key=f"{key!r}")
        )
    return key


def _missing(key: str) -> Symptom:
    raise KeyError(key)
