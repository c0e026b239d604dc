"""Worked examples for the help, each worked by the functions that work out the real thing.

Nothing is written down but the inputs; so an example cannot say what the sums no longer say.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from math import degrees, radians

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from maintenance.rules import due, electrical, usage
from maintenance.rules import sheet as rule_sheet
from maintenance.rules.sheet import RuleSheet
from maintenance.rules.words import day_text
from plant.contents.workout import told
from plant.contents.workout_pictures import Picture, pictures
from plant.drives import geometry, identify, lengths, tension, wear
from plant.drives.doubt import Doubtful
from plant.drives.lengths import System
from plant.drives.workout import DriveGiven, work_out
from plant.help_texts import FILE
from plant.length_words import as_kept
from plant.length_words import length_text as mm


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the working: what, by which formula, with which figures, what comes out."""

    what: str
    formula: str
    figures: str
    result: str
    source: str


@dataclass(frozen=True, slots=True)
class Example:
    """One example a person can repeat. results: the figures [SI] that a test holds against others.

    checked: against what, outside this program, the test holds them.
    """

    key: str
    title: str
    asks: str
    care: str
    inputs: tuple[tuple[str, str], ...]
    lines: tuple[Line, ...]
    answer: str
    checked: str
    results: Mapping[str, object]
    picture: Picture | None = None


def worked() -> tuple[Example, ...]:
    """All of them in the language that is shown, worked out once for each."""
    return _worked(get_language())


@cache
def _worked(language: str | None) -> tuple[Example, ...]:
    """All of them, worked once a process, in millimetres as their sources have them."""
    # The sheet that comes with the program; a depot's own may be a later one.
    text = FILE.with_name("rule_sheet_gb.json").read_text(encoding="utf-8")
    limits = electrical_limits(rule_sheet.read(json.loads(text)))
    with as_kept():
        return (worn_belt(), tension_set(), hours_or_months(), limits, blank_belt())


def worn_belt() -> Example:
    """A worn belt: how deep it sits, and whether the slot can still tighten it."""
    new, now, travel = 13.0e-3, 10.4e-3, 12.0e-3
    small, large, length, depth = 80e-3, 180e-3, 690e-3, 8.7e-3
    below = lengths.below_cord("A").value
    angles = {"motor pulley": radians(34), "driven pulley": radians(38)}
    lines, held = [], []
    for name, angle in angles.items():
        free = wear.drop(width_new=new, width_now=now, groove_angle=angle)
        drop = wear.capped_drop(drop=free, groove_depth=depth, below_cord=below)
        held.append(drop)
        lines.append(
            Line(_("drop, {name}").format(name=_(name)),
                 _("(new width − width now) / (2 tan(groove angle / 2))"),
                 f"({mm(new)} − {mm(now)}) / (2 tan({degrees(angle) / 2:.0f}°))", mm(free, 2),
                 _("geometry of a wedge"))
        )  # fmt: skip
        lines.append(
            Line(
                _("held by the floor, {name}").format(name=_(name)),
                _("the lesser of drop and depth − cord to base"),
                _("{free}, and {depth} − {below}").format(
                    free=mm(free, 2), depth=mm(depth), below=mm(below, 2)
                ),
                mm(drop, 2),
                _("groove depth: least of ISO 4183:1995, from memory"),
            )
        )
    worn = wear.worn_drive(
        small=small, large=large, length=length, drop_small=held[0], drop_large=held[1]
    )
    slot = wear.take_up(travel=Doubtful(travel, 0.0), extra=Doubtful(worn.extra_centres, 0.0))
    lines += [
        Line(
            _("centre distance, new belt"),
            _("exact length of an open belt, solved"),
            f"{mm(small)}, {mm(large)}, {mm(length)}",
            mm(geometry.open_centres(small=small, large=large, length=length), 2),
            _("plane geometry"),
        ),
        Line(
            _("take-up that the wear uses"),
            _("the same with each pulley smaller by 2 × drop"),
            _("drops {one} and {other}").format(one=mm(held[0], 2), other=mm(held[1], 2)),
            mm(worn.extra_centres, 2),
            _("plane geometry"),
        ),
        Line(
            _("take-up left"),
            _("room of a new belt − what the wear uses"),
            f"{mm(travel)} − {mm(worn.extra_centres, 2)}",
            mm(slot.left.value, 2),
            _("difference of two lengths"),
        ),
    ]
    given = DriveGiven(
        section="A",
        length=length,
        driver=small,
        driven=large,
        driver_angle=angles["motor pulley"],
        driven_angle=angles["driven pulley"],
        driver_depth=depth,
        driven_depth=depth,
        width_new=new,
        width_now=now,
    )
    return Example(
        key="worn-belt",
        title=_("A belt that is worn, and a slot that is used up"),
        asks=_("An A belt, 13.0 mm wide when new, measures 10.4 mm. Can it be tightened again?"),
        care=_("The belt can pull fingers in. Isolate before the guard comes off."),
        inputs=(
            (
                _("motor pulley, driven pulley"),
                _("{small}, {large} datum diameter").format(small=mm(small), large=mm(large)),
            ),
            (_("groove angles"), "34° and 38°"),
            (_("groove depth below the datum line"), mm(depth)),
            (_("datum length of the belt"), mm(length, 0)),
            (_("room in the slot with a new belt"), mm(travel)),
        ),
        lines=tuple(lines),
        answer=_("{slot} It would need {extra_centres} and the slot gives {travel}.").format(
            slot=slot.words, extra_centres=mm(worn.extra_centres, 2), travel=mm(travel)
        ),
        checked=_(
            "the length of an open belt written down again and solved by a general root-finder"
        ),
        results={
            "drop_free": wear.drop(width_new=new, width_now=now, groove_angle=radians(34)),
            "drop_small": held[0],
            "drop_large": held[1],
            "extra": worn.extra_centres,
            "left": slot.left.value,
            "ended": slot.ended,
        },
        picture=pictures(told(work_out(given)))[0],
    )


def tension_set() -> Example:
    """How hard to press a span for a wanted tension."""
    small, large, centres, wanted, factor = 80e-3, 180e-3, 140e-3, 72.0, 1.3
    span = geometry.span(small=small, large=large, centres=centres)
    depth = tension.deflection(span=span)
    stiff = tension.stiffness(section="A", form="GB/T")
    force = tension.deflection_force(
        tension=wanted, span=span, length=690e-3, stiffness=stiff.value, form="GB/T", factor=factor
    )
    return Example(
        key="tension",
        title=_("Tension by pressing the span"),
        asks=_("An A belt that has run in should carry 72 N in each strand. How hard is that?"),
        care=_("Never press a belt that can start. Isolate first, guard back after."),
        inputs=(
            (_("pulleys, centre distance"), f"{mm(small)}, {mm(large)}, {mm(centres)}"),
            (_("static tension wanted, F0"), f"{wanted:.0f} N"),
            (_("factor of a belt that has run in, k"), f"{factor:g}"),
            (_("stiffness term of section A, dF0"), f"{stiff.value:.0f} N"),
        ),
        lines=(
            Line(_("span"), "√(C² − ((D − d) / 2)²)",
                 "√(140² − 50²) mm", mm(span), _("right-angled triangle")),
            Line(_("press it in by"), "span / 64", f"{mm(span)} / 64", mm(depth),
                 "US Army TM 5-4310-339-15, section 5-5, seen"),
            Line(_("force at mid-span"), "(k F0 + dF0) / 16",
                 f"({factor:g} × {wanted:.0f} + {stiff.value:.0f}) / 16 N", f"{force:.2f} N",
                 _("GB/T 13575.1, from memory")),
        ),
        answer=_("Press the middle of the span in by {depth}: it should take "
"{force} N. Less means slack, more means too tight.").format(depth=mm(depth), force=f'{force:.1f}'),
        checked=_("a calculation by hand, with the span from the theorem of Pythagoras"),
        results={"span": span, "deflection": depth, "force": force},
    )  # fmt: skip


def hours_or_months() -> Example:
    """A service by hours or months, whichever comes first."""
    rule = due.DueRule(every_tenths=1500, every_months=12)
    done = ((date(2026, 5, 4), 215),)
    start = date(2025, 5, 4)
    point = due.next_due(rule, start_on=start, start_tenths=0, done=done)
    readings = [(0.0, 1365), (30 * 86400.0, 1575), (45 * 86400.0, 1680)]
    pace = usage.rate(readings)
    read_on, shown = date(2026, 11, 25), 1680
    assert point.tenths is not None
    assert point.on is not None
    coming = usage.forecast(due_tenths=point.tenths, last=(read_on, shown), rate=pace)
    assert coming is not None
    plan = usage.plan_day(due_on=point.on, forecast=coming)
    month_end = due.add_months(date(2026, 1, 31), 1)
    return Example(
        key="hours-or-months",
        title=_("A due date by hours against months"),
        asks=_(
            "A service is wanted every 150 h or 12 months. It was done on 4 May 2026 at 21.5 h; "
            "on 25 Nov 2026 the meter shows 168.0 h. When is the next one?"
        ),
        care="",
        inputs=(
            (_("last done"), "4 May 2026 at 21.5 h"),
            (_("meter figures"), _("136.5 h, 30 days on 157.5 h, 15 days on 168.0 h")),
        ),
        lines=(
            Line(
                _("due by hours"),
                _("figure when done + interval"),
                "21.5 h + 150 h",
                f"{point.tenths / 10:.1f} h",
                _("the plan line"),
            ),
            Line(
                _("due by months"),
                _("the same day of the month, 12 months on"),
                "4 May 2026",
                day_text(point.on),
                _("the plan line"),
            ),
            Line(
                _("use"),
                _("middle of the slopes between all pairs of figures"),
                "21.0 h / 30 d; 31.5 h / 45 d; 10.5 h / 15 d",
                f"{pace.likely:.2f} h a day",
                _("Sen 1968, from memory"),
            ),
            Line(
                _("hours likely up"),
                _("whole days until the hours are run"),
                f"({point.tenths / 10:.1f} h − {shown / 10:.1f} h) / {pace.likely:.2f} h a day",
                day_text(coming.likely),
                _("our own rule"),
            ),
            Line(
                _("a short month"),
                _("31 Jan + 1 month: the last day stands in"),
                "31 Jan 2026",
                day_text(month_end),
                "common practice, no source",
            ),
        ),
        answer=_("The hours come first: plan it for {plan}. ").format(
            plan=day_text(plan or coming.likely)
        )
        + due.sentence(
            rule,
            point,
            start_on=start,
            start_tenths=0,
            done=done,
            a_day=pace.likely,
            likely_on=coming.likely,
        ),
        checked=_("a calculation by hand, and the months by a general-purpose date library"),
        results={
            "tenths": point.tenths,
            "on": point.on,
            "likely": coming.likely,
            "a_day": pace.likely,
            "month_end": month_end,
        },
    )


def electrical_limits(sheet: RuleSheet) -> Example:
    """Readings of an RCD, an earth path and insulation against their limits."""
    device = sheet.profile("general_61008")
    form = sheet.test_form("class_1_mains")
    insulation = next(each for each in form.asked if each.key == "insulation").limit
    assert insulation is not None
    five = electrical.judge_trip(device, factor=5, trip_ms=28)
    once = electrical.judge_trip(device, factor=1, trip_ms=310)
    earth = electrical.judge_earth_path(sheet.earth, ohms=0.21, length_m=10, core_mm2=1.5)
    apart = electrical.judge_limit(insulation, 0.8)
    most = electrical.earth_path_limit(sheet.earth, length_m=10, core_mm2=1.5)
    judged = (
        (_("RCD at five times its current"), "28 ms", five),
        (_("RCD at its rated current"), "310 ms", once),
        (_("earth path with a lead of 10 m, 1.5 mm²"), "0.21 ohm", earth),
        (_("insulation resistance, class I"), "0.8 Mohm", apart),
    )
    return Example(
        key="test-limits",
        title=_("Electrical readings against their limits"),
        asks=_("A class I machine for 230 V and its RCD were tested. Which readings pass?"),
        care=_("Live parts can kill. Isolate, prove dead. Only a competent person tests."),
        inputs=(("device", device.name), ("lead", _("10 m long, earth core 1.5 mm²"))),
        lines=tuple(
            Line(what, each.limit, reading, "passed" if each.passed else "failed",
                 f"{each.source}, {each.trust}")
            for what, reading, each in judged
        ),
        answer=_("Two fail, so the whole test fails and the machine is stopped: "
"{first} {second}").format(first=once.reason, second=apart.reason),
        checked=_("the printed tables of tripping times and of conductor resistance"),
        results={"five": five.passed, "once": once.passed, "earth": earth.passed,
                 "insulation": apart.passed, "earth_most": most},
    )  # fmt: skip


def blank_belt() -> Example:
    """A belt without a mark, told by three measures."""
    measured = {
        "top width": (12.2e-3, 0.3e-3), "height": (8.0e-3, 0.3e-3),
        "outside length": (711e-3, 2e-3),
    }  # fmt: skip
    found = identify.identify(measured, system=System.ISO_DIN, cogged=False, most=3)
    first = found.candidates[0]
    inside, datum, outside = first.inside, first.datum, first.outside
    assert inside is not None
    assert datum is not None
    assert outside is not None
    return Example(
        key="blank-belt",
        title=_("A belt told by measuring it"),
        asks=_("Nothing can be read on a used belt without cogs. Which one is it?"),
        care=_("Measure it off the machine. Never roll a belt over a rim."),
        inputs=(
            (_("top width, with a calliper"), "12.2 ± 0.6 mm"),
            (_("height, with a calliper"), "8.0 ± 0.6 mm"),
            (_("outside length, with a tape"), "711 ± 4 mm"),
        ),
        lines=(
            Line(
                _("inside length"),
                _("inches of the mark × 25.4 mm"),
                "26 × 25.4 mm",
                mm(inside),
                _("the inch, 25.4 mm"),
            ),
            Line(
                _("datum length"),
                _("inside + 30 mm for section A"),
                f"{mm(inside)} + 30 mm",
                mm(datum),
                "DIN 2215 and ISO 4184",
            ),
            Line(
                _("outside length"),
                _("datum + 2π × cord below the top"),
                _("from {datum}").format(datum=mm(datum)),
                mm(outside),
                "DIN 2215 and ISO 4184",
            ),
            *(
                Line(
                    _("odds of {mark}").format(mark=each.mark),
                    _("Bayes’ rule over all belts that are kept"),
                    "",
                    _("{odds} in 100").format(odds=f"{each.odds * 100:.0f}"),
                    "common practice, no source",
                )
                for each in found.candidates
            ),
        ),
        answer=found.words,
        checked=_(
            "the length printed for A26 in the tables, and how a belt of that size must rank"
        ),
        results={"mark": first.mark, "datum": datum, "outside": outside, "odds": first.odds},
    )
