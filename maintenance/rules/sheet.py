"""Reads a dated rule sheet, and picks what a machine is asked: questions, and readings of tests."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from maintenance.rules.check import LEVELS, Item, Level
from maintenance.rules.electrical import Asked, EarthRule, Form, Limit, RcdProfile, TripRow
from plant.translate import gettext as _

TRUST: tuple[str, ...] = ("seen", "secondary", "from memory", "common practice, no source")
# What a competent person does at the depot: the long list, and that with the isolated part.
LOOK_OVER, INSPECTION = "look-over", "inspection"
PARTS: tuple[str, ...] = (LOOK_OVER, INSPECTION)
FIGURE_UNITS: tuple[str, ...] = ("V", "Hz", "L/min", "mm", "s")
LONGEST_QUESTION = 14
LONGEST_SHORT = 3
LONGEST_KEY = 30
# What a test is asked whatever its form: no reading may take these names.
RESERVED = frozenset(
    {
        "entry", "instrument", "profile", "rated_current", "rcd_type", "lead_length", "lead_core",
        "not_tested", "note",
    }
)  # fmt: skip
_KEY = re.compile(rf"[a-z][a-z0-9_]{{0,{LONGEST_KEY - 1}}}")


class SheetRefused(ValueError):
    """A rule sheet that cannot be used, and what is wrong with it."""


@dataclass(frozen=True, kw_only=True)
class Question:
    """One question of a check, and the machines that it is asked of (None: of all)."""

    key: str
    short: str
    words: str
    level: Level
    supplies: frozenset[str] | None
    families: frozenset[str] | None
    needs_belt: bool
    source: str
    trust: str
    drawing: str

    def item(self) -> Item:
        """The part that judging an answer needs."""
        return Item(key=self.key, level=self.level, short=self.short)


@dataclass(frozen=True, kw_only=True)
class Point:
    """One point of a look-over or an inspection: answered in a word, or by a figure with limits.

    asked: in which of PARTS; isolated: only once the machine is isolated; may_lack: a machine of
    this kind may not have it; unit: "" where it is answered in a word; least, most: [unit].
    """

    key: str
    group: str
    short: str
    words: str
    level: Level
    asked: frozenset[str]
    supplies: frozenset[str] | None
    families: frozenset[str] | None
    needs_belt: bool
    isolated: bool
    may_lack: bool
    unit: str
    least: float | None
    most: float | None
    source: str
    trust: str
    drawing: str

    def item(self) -> Item:
        """The part that judging an answer needs."""
        return Item(key=self.key, level=self.level, short=self.short)

    @property
    def limit(self) -> str:
        """The limit in words, as it stands beside the box; empty where there is none."""
        least, most = (None if end is None else f"{end:g}" for end in (self.least, self.most))
        if least and most:
            return _("{least} to {most} {unit}").format(least=least, most=most, unit=self.unit)
        if least:
            return _("{least} {unit} or more").format(least=least, unit=self.unit)
        return _("{most} {unit} or less").format(most=most, unit=self.unit) if most else ""

    @property
    def cited(self) -> str:
        return cited(self.source, self.trust)


def cited(source: str, trust: str) -> str:
    """Where a figure is from and how far that was seen, said once where the two say the same."""
    return source if source.lower() == trust else f"{source}, {trust}"


@dataclass(frozen=True, kw_only=True)
class LookOver:
    """The long list: its groups in their order, and which plan lines a passed one completes."""

    groups: tuple[str, ...] = ()
    points: tuple[Point, ...] = ()
    completes: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class Interval:
    """How often something is done, by supply and place."""

    key: str
    words: str
    what: str
    supplies: frozenset[str] | None
    place: str
    every_days: int | None
    every_months: int | None
    before_first_use: bool
    source: str
    trust: str


@dataclass(frozen=True, kw_only=True)
class RuleSheet:
    """Everything of one dated sheet."""

    name: str
    dated: date
    questions: tuple[Question, ...]
    look_over: LookOver
    rcd: tuple[RcdProfile, ...]
    rcd_sets: Mapping[str, tuple[float, ...]]
    earth: EarthRule
    limits: tuple[Limit, ...]
    intervals: tuple[Interval, ...]
    # A sheet given out before there were any has none.
    test_forms: tuple[Form, ...] = ()

    def questions_for(self, *, family: str, supply: str, belt_driven: bool) -> tuple[Question, ...]:
        """What is asked before use, in the order asked."""
        return tuple(
            each
            for each in self.questions
            if _asked_of(each, family=family, supply=supply, belt_driven=belt_driven)
        )

    def points_for(
        self, part: str, *, family: str, supply: str, belt_driven: bool
    ) -> tuple[Point, ...]:
        """What a look-over or an inspection asks, in the order asked: the isolated part last."""
        found = [
            each
            for each in self.look_over.points
            if part in each.asked
            and _asked_of(each, family=family, supply=supply, belt_driven=belt_driven)
        ]
        order = {group: n for n, group in enumerate(self.look_over.groups)}
        return tuple(sorted(found, key=lambda each: (each.isolated, order[each.group])))

    def look_interval(self, supply: str) -> Interval | None:
        """How often a machine of this supply is looked over; None: before issue and after return
        alone."""
        for each in self.intervals:
            regular = each.what == LOOK_OVER and each.place == "site"
            if regular and (each.supplies is None or supply in each.supplies):
                return each
        return None

    def test_forms_for(
        self, *, family: str, supply: str, protection: str, power_w: float | None
    ) -> tuple[Form, ...]:
        """The electrical tests of a machine, the one of the machine itself first."""
        return tuple(
            each
            for each in self.test_forms
            if each.fits(family=family, supply=supply, protection=protection, power_w=power_w)
        )

    def test_form(self, key: str) -> Form:
        """One form of test by its key.

        Raises:
            KeyError: the sheet does not hold it.
        """
        for each in self.test_forms:
            if each.key == key:
                return each
        raise KeyError(key)

    def profile(self, key: str) -> RcdProfile:
        """One device standard by its key.

        Raises:
            KeyError: the sheet does not hold it.
        """
        for each in self.rcd:
            if each.key == key:
                return each
        raise KeyError(key)


def read(data: Mapping[str, Any]) -> RuleSheet:
    """Reads a rule sheet from its file's content.

    Raises:
        SheetRefused: something is missing, of the wrong kind, or without source and trust.
    """
    try:
        limits = tuple(_limit(each) for each in data["limits"])
        rcd = tuple(_profile(each) for each in data["rcd"])
        sheet = RuleSheet(
            name=str(data["name"]),
            dated=date.fromisoformat(data["dated"]),
            questions=tuple(_question(each) for each in data["items"]),
            # Sheets from before look-overs have none; records made under them stay readable.
            look_over=_look_over(data["look_over"]) if "look_over" in data else LookOver(),
            rcd=rcd,
            rcd_sets={k: tuple(map(float, v["factors"])) for k, v in data["rcd_sets"].items()},
            earth=_earth(data["earth"]),
            limits=limits,
            intervals=tuple(_interval(each) for each in data["intervals"]),
            test_forms=tuple(
                _test_form(each, limits={limit.key: limit for limit in limits}, rcd=rcd)
                for each in data.get("test_forms", ())
            ),
        )
    except KeyError as missing:
        raise SheetRefused(_("the rule sheet lacks {missing}").format(missing=missing)) from missing
    except (TypeError, AttributeError) as odd:
        raise SheetRefused(
            _("the rule sheet is not laid out as expected: {odd}").format(odd=odd)
        ) from odd
    except SheetRefused:
        raise
    except ValueError as odd:
        raise SheetRefused(_("the rule sheet has an odd value: {odd}").format(odd=odd)) from odd
    keys = [each.key for each in sheet.questions]
    if len(set(keys)) != len(keys):
        raise SheetRefused(_("two questions share a key"))
    keys = [each.key for each in sheet.look_over.points]
    if len(set(keys)) != len(keys):
        raise SheetRefused(_("two points of the look-over share a key"))
    forms = [each.key for each in sheet.test_forms]
    if len(set(forms)) != len(forms):
        raise SheetRefused(_("two forms of test share a key"))
    return sheet


def _question(row: Mapping[str, Any]) -> Question:
    key, level = row["key"], row["level"]
    if level not in LEVELS:
        raise SheetRefused(
            _("{key}: level must be one of {levels}, not {level}").format(
                key=key, levels=", ".join(LEVELS), level=f"{level!r}"
            )
        )
    if len(row["words"].split()) > LONGEST_QUESTION:
        raise SheetRefused(
            _("{key}: a question has {longest_question} words at most").format(
                key=key, longest_question=LONGEST_QUESTION
            )
        )
    if len(row["short"].split()) > LONGEST_SHORT:
        raise SheetRefused(
            _("{key}: the short form has {longest_short} words at most").format(
                key=key, longest_short=LONGEST_SHORT
            )
        )
    return Question(
        key=key,
        short=row["short"],
        words=row["words"],
        level=level,
        supplies=_some(row["supplies"]),
        families=_some(row["families"]),
        needs_belt=bool(row["needs_belt"]),
        drawing=row["drawing"],
        **_trust(row, key),
    )


def _look_over(part: Mapping[str, Any]) -> LookOver:
    groups = tuple(part["groups"])
    points = tuple(_point(each, groups) for each in part["items"])
    return LookOver(groups=groups, points=points, completes=frozenset(part["completes"]))


def _point(row: Mapping[str, Any], groups: tuple[str, ...]) -> Point:
    plain = _question(row)
    asked, unit, least, most = _some(row["asked"]), row["unit"], row["least"], row["most"]
    if row["group"] not in groups:
        raise SheetRefused(
            _("{key}: {group} is none of the groups").format(
                key=plain.key, group=f"{row['group']!r}"
            )
        )
    if asked is None or not asked <= set(PARTS):
        raise SheetRefused(
            _("{key}: asked in one of {parts}").format(key=plain.key, parts=", ".join(PARTS))
        )
    if row["isolated"] and LOOK_OVER in asked:
        raise SheetRefused(
            _("{key}: what needs isolation is asked in an inspection alone").format(key=plain.key)
        )
    if bool(unit) != (least is not None or most is not None):
        raise SheetRefused(
            _("{key}: a figure, and nothing else, has a unit and a limit").format(key=plain.key)
        )
    if unit and unit not in FIGURE_UNITS:
        raise SheetRefused(
            _("{key}: the unit must be one of {figure_units}").format(
                key=plain.key, figure_units=", ".join(FIGURE_UNITS)
            )
        )
    if least is not None and most is not None and float(least) >= float(most):
        raise SheetRefused(_("{key}: the least is not below the most").format(key=plain.key))
    return Point(
        key=plain.key,
        group=row["group"],
        short=plain.short,
        words=plain.words,
        level=plain.level,
        asked=asked,
        supplies=plain.supplies,
        families=plain.families,
        needs_belt=plain.needs_belt,
        isolated=bool(row["isolated"]),
        may_lack=bool(row["may_lack"]),
        unit=unit,
        least=None if least is None else float(least),
        most=None if most is None else float(most),
        source=plain.source,
        trust=plain.trust,
        drawing=plain.drawing,
    )


def _asked_of(each: Question | Point, *, family: str, supply: str, belt_driven: bool) -> bool:
    return (
        (each.families is None or family in each.families)
        and (each.supplies is None or supply in each.supplies)
        and (belt_driven or not each.needs_belt)
    )


def _profile(row: Mapping[str, Any]) -> RcdProfile:
    return RcdProfile(
        key=row["key"],
        name=row["name"],
        portable=bool(row.get("portable_protection", True)),
        rows=tuple(
            TripRow(
                factor=float(each["factor"]),
                must_trip=each["must_trip"],
                hold_ms=each["hold_ms"],
                min_ms=each["min_ms"],
                max_ms=each["max_ms"],
                **_trust(each, row["key"]),
            )
            for each in row["rows"]
        ),
    )


def _earth(row: Mapping[str, Any]) -> EarthRule:
    cores = {float(each["core_mm2"]): float(each["ohm_per_m"]) for each in row["conductors"]}
    for each in row["conductors"]:
        _trust(each, _("conductor {size}").format(size=each["core_mm2"]))
    return EarthRule(base_ohm=float(row["base_ohm"]), ohm_per_m=cores, **_trust(row, "earth"))


def _limit(row: Mapping[str, Any]) -> Limit:
    return Limit(
        key=row["key"],
        words=row["words"],
        least=row["least"],
        most=row["most"],
        unit=row["unit"],
        **_trust(row, row["key"]),
    )


def _test_form(
    row: Mapping[str, Any], *, limits: Mapping[str, Limit], rcd: tuple[RcdProfile, ...]
) -> Form:
    key = row["key"]
    without = row["without_families"]
    form = Form(
        key=_name(key),
        name=row["name"],
        item=row["item"],
        hint=row["hint"],
        families=_some(row["families"]),
        without_families=_some(without) or frozenset() if without else frozenset(),
        supplies=_some(row["supplies"]),
        protections=_some(row["protections"]),
        least_w=row["least_w"],
        portable_only=bool(row["portable_only"]),
        plan=tuple(row["plan"]),
        asked=tuple(_asked(each, form=key, limits=limits) for each in row["readings"]),
        **_trust(row, key),
    )
    if form.has_trips and not form.devices(rcd):
        raise SheetRefused(
            _("{key}: no device standard has limits for all its currents").format(key=key)
        )
    return form


def _asked(row: Mapping[str, Any], *, form: str, limits: Mapping[str, Limit]) -> Asked:
    name = f"{form}, {row['key']}"
    limit = row["limit"]
    if limit is not None and limit not in limits:
        raise SheetRefused(
            _("{name}: there is no limit {limit}").format(name=name, limit=f"{limit!r}")
        )
    return Asked(
        key=_reading_name(row["key"], form=form),
        kind=row["kind"],
        words=row["words"],
        hint=row["hint"],
        limit=limits[limit] if limit is not None else None,
        factor=None if row["factor"] is None else float(row["factor"]),
        may_lack=bool(row["may_lack"]),
        **_trust(row, name),
    )


def _reading_name(key: object, *, form: str) -> str:
    name = _name(key)
    if name in RESERVED:
        raise SheetRefused(
            _("{form}: a reading cannot be called {name}").format(form=form, name=name)
        )
    return name


def _name(key: object) -> str:
    """A key of small letters, figures and underscores: it names a field of a page."""
    if not isinstance(key, str) or not _KEY.fullmatch(key):
        raise SheetRefused(
            _("a key has 1 to {longest_key} small letters, not {key}").format(
                longest_key=LONGEST_KEY, key=f"{key!r}"
            )
        )
    return key


def _interval(row: Mapping[str, Any]) -> Interval:
    return Interval(
        key=row["key"],
        words=row["words"],
        what=row["what"],
        supplies=_some(row["supplies"]),
        place=row["place"],
        every_days=row["every_days"],
        every_months=row["every_months"],
        before_first_use=bool(row["before_first_use"]),
        **_trust(row, row["key"]),
    )


def _some(names: object) -> frozenset[str] | None:
    if names == "all":
        return None
    if not isinstance(names, list) or not names:
        raise SheetRefused(
            _("a list of names or 'all' is needed, not {names}").format(names=f"{names!r}")
        )
    return frozenset(names)


def _trust(row: Mapping[str, Any], name: str) -> dict[str, str]:
    if not row["source"] or row["trust"] not in TRUST:
        raise SheetRefused(
            _("{name}: every figure needs its source and one of {trust}").format(
                name=name, trust=TRUST
            )
        )
    return {"source": row["source"], "trust": row["trust"]}
