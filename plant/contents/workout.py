"""How a drive's work-out is told, on screen and on paper alike: the answer, why, what to do."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.utils.translation import gettext, gettext_noop

from plant import units
from plant.contents.workout_pictures import band_shown, grooves_shown, layout_shown
from plant.contents.workout_results import ToldResult, doubt_text, range_text, results, with_doubt
from plant.drawings.pictures import BandPicture, GroovePicture, LayoutPicture
from plant.drives.doubt import Doubtful, odds_words
from plant.drives.formula import FormulaLine
from plant.drives.outcome import (
    DriveGiven,
    DriveWorkout,
    Missing,
    Setting,
    TensionPart,
    Used,
    Verdict,
    WearPart,
)
from plant.length_words import MM, both_text, length_text, length_unit, spread_text
from plant.units import ANGLE, FORCE, FREQUENCY, POWER, SPEED, Measure

# How a figure is known, as it is written everywhere.
KNOWN = {
    "measured": gettext_noop("measured"), "plate": gettext_noop("from plate"),
    "guess": gettext_noop("guess"),
}  # fmt: skip
# The answer in one sentence, and how strong it is: "fine", "care" or "stop".
VERDICTS: dict[Verdict, tuple[str, str]] = {
    Verdict.FIT_ON: (gettext_noop("The belt may stay on."), "fine"),
    Verdict.WATCH: (gettext_noop("The belt may stay on. Watch it."), "care"),
    Verdict.TIGHTEN: (gettext_noop("Tighten the belt."), "care"),
    Verdict.CHANGE: (gettext_noop("Change the belt now."), "stop"),
    Verdict.AGAIN: (gettext_noop("Not certain. Measure again."), "care"),
}
# As they stand in the working.
SYMBOLS = {
    "driver": "d1",
    "driven": "d2",
    "driver_angle": "α1",
    "driven_angle": "α2",
    "driver_depth": "h1",
    "driven_depth": "h2",
    "length": "L",
    "width_new": "W",
    "width_now": "w",
    "centres": "A",
    "slot_out": "o",
    "motor_power": "P",
    "motor_speed": "n",
    "friction": "μ",
    "slip": "s",
}
_MEASURES: dict[str, tuple[Measure, int | None]] = {
    "rad": (ANGLE, 1),
    "W": (POWER, 2),
    "rad/s": (SPEED, 0),
    "N": (FORCE, 1),
    "Hz": (FREQUENCY, 1),
}


@dataclass(frozen=True, slots=True)
class ToldInput:
    """One figure that the sums start from, with its unit.

    field: of DriveGiven; value, doubt: "80.0 mm", "± 0.6 mm"; known: "measured", "from plate" or
    "guess"; note: what was typed, or where an assumed figure comes from.
    """

    field: str
    name: str
    value: str
    known: str
    doubt: str = ""
    symbol: str = ""
    note: str = ""

    @property
    def figure(self) -> str:
        """Value and doubt with the unit once: "80.0 ± 0.6 mm"."""
        return with_doubt(self.value, self.doubt)


@dataclass(frozen=True, slots=True)
class ToldDrive:
    """A work-out in words and ready figures, in the order in which they are told.

    belt: what is fitted; verdict: the answer; tone: "fine", "care" or "stop"; because: why;
    in_short: the slot, the floor, the ratio, the speed and the grip, each in a line;
    to_do: what to do now, in order; guesses: names of figures that are guesses;
    missing: each with what it would settle, and what the sums took in its place.
    """

    belt: str
    verdict: str
    tone: str
    because: tuple[str, ...]
    in_short: tuple[tuple[str, str], ...]
    to_do: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    inputs: tuple[ToldInput, ...]
    results: tuple[ToldResult, ...]
    missing: tuple[Missing, ...]
    guesses: tuple[str, ...]
    lines: tuple[FormulaLine, ...]
    sums_version: str
    grooves: tuple[GroovePicture, ...]
    layout: LayoutPicture | None
    band: BandPicture | None

    def result(self, key: str) -> ToldResult | None:
        """The answer of that name, if the figures allowed it."""
        return next((each for each in self.results if each.key == key), None)


def told(workout: DriveWorkout) -> ToldDrive:
    """Puts a work-out into words. Page and sheet both use this, so that their figures are equal.

    Every doubt is twice the standard uncertainty: about 19 in 20.
    """
    verdict, tone = gettext(VERDICTS[workout.verdict][0]), VERDICTS[workout.verdict][1]
    given = workout.given
    inputs = tuple(_input(used) for used in workout.used)
    return ToldDrive(
        belt=belt_words(given),
        verdict=verdict,
        tone=tone,
        because=tuple(words for words in workout.verdict_words if words != verdict),
        in_short=tuple(_in_short(workout)),
        to_do=tuple(_to_do(workout)),
        warnings=workout.warnings,
        cautions=workout.cautions,
        inputs=inputs,
        results=tuple(results(workout)),
        missing=workout.missing,
        guesses=tuple(each.name for each in inputs if each.known == "guess"),
        lines=tuple(for_reader(line) for line in workout.lines),
        sums_version=workout.sums_version,
        grooves=grooves_shown(workout),
        layout=layout_shown(workout),
        band=band_shown(workout.tension),
    )


def for_reader(line: FormulaLine) -> FormulaLine:
    """A line of working, whose sum is in millimetres as its source is, with its result in inches
    beside it for who reads them."""
    if line.unit != MM or length_unit() == MM:
        return line
    doubt = f"{line.doubt} ({spread_text(_printed(line.doubt))})" if line.doubt else ""
    result = f"{line.result} ({length_text(_printed(line.result), 2)})"
    return replace(line, result=result, doubt=doubt)


def _printed(millimetres: str) -> float:
    """[m] a printed figure of the working."""
    number = millimetres.removeprefix("± ").removesuffix(f" {MM}").replace("\u2212", "-")
    return float(number) / 1e3


def belt_words(given: DriveGiven) -> str:
    """What belt is meant: "A, datum length 690 mm (ISO/DIN)", with how many where more than one."""
    if not given.section:
        return gettext("belt not known")
    words = given.section
    if given.length is not None:
        name = given.label("length").removesuffix(" of the belt")
        words += f", {name} {both_text(given.length)} ({given.length_system})"
    return f"{given.belts} × {words}" if given.belts > 1 else words


def _input(used: Used) -> ToldInput:
    value, doubt = _figure(used)
    notes = [used.note] if used.note else []
    if used.trust:
        notes.append(used.trust)
    if used.typed and _differs(used.typed, value):
        notes.append(gettext("typed {typed}").format(typed=used.typed))
    return ToldInput(
        field=used.field,
        name=gettext(used.label),
        value=value,
        known=KNOWN[used.mark],
        doubt=doubt,
        symbol=SYMBOLS.get(used.field, ""),
        note=", ".join(notes),
    )


def _figure(used: Used) -> tuple[str, str]:
    if used.unit == "m":
        return length_text(used.value), doubt_text(Doubtful(used.value, used.u)) if used.u else ""
    if used.unit not in _MEASURES:
        return f"{used.value:.3g}", ""
    measure, places = _MEASURES[used.unit]
    value = units.show(used.value, measure, decimals=places)
    doubt = ""
    if used.u:
        doubt = f"± {units.show(used.value, measure, doubt=2 * used.u).partition('± ')[2]}"
    return value.replace(" deg", "°"), doubt.replace(" deg", "°")


def _differs(typed: str, value: str) -> bool:
    """Whether what was typed is not just the same figure written another way."""
    try:
        return float(typed.split(" ")[0]) != float(value.rstrip("°").split(" ")[0])
    except ValueError:
        return True


def _in_short(workout: DriveWorkout) -> Iterable[tuple[str, str]]:
    worn, shape, turned, pulled = workout.wear, workout.geometry, workout.driven, workout.tension
    if worn is not None:
        if slot := _slot_words(worn):
            yield gettext("Slot"), slot
        yield gettext("Floor"), _floor_words(worn)
    if shape is not None:
        ratio = gettext("{new} with a new belt").format(new=f"{shape.ratio_new:.2f}")
        if shape.ratio_now is not None:
            ratio = gettext("{now} now, {new}").format(now=f"{shape.ratio_now:.2f}", new=ratio)
        yield gettext("Ratio"), ratio
    if turned is not None:
        yield gettext("Driven shaft"), _speeds(turned.driven_now, turned.driven_new)
        if workout.given.gears:
            yield gettext("Working part"), _speeds(turned.output_now, turned.output_new)
    if pulled is not None:
        yield gettext("Grip"), _grip_words(pulled)


def _slot_words(worn: WearPart) -> str:
    slot = worn.take_up
    if slot is None:
        if worn.extra is None:
            return ""
        used = with_doubt(length_text(worn.extra.value), doubt_text(worn.extra))
        return gettext("{used} used by the wear; what is left is not known").format(used=used)
    used = with_doubt(length_text(slot.used.value), doubt_text(slot.used))
    if slot.used_read is not None:
        read = with_doubt(length_text(slot.used_read.value), doubt_text(slot.used_read))
        used = gettext("{used} ({read} read on the slot)").format(used=used, read=read)
    told = gettext("{used} used by the wear").format(used=used)
    if slot.since is not None:
        told = gettext("{used}, {since} of that since the slot was read").format(
            used=told, since=length_text(slot.since.value)
        )
    left = with_doubt(length_text(max(slot.left.value, 0.0)), doubt_text(slot.left))
    if not slot.ended:
        end = gettext("{used}; {left} left")
    elif slot.travel_from_geometry or slot.since is not None:
        end = gettext("{used}; {left} left: at its end by these figures, odds {odds}")
    else:
        end = gettext("{used}; {left} left: at its end")
    return end.format(used=told, left=left, odds=odds_words(slot.odds_ended))


def _floor_words(worn: WearPart) -> str:
    seats = (worn.driver, worn.driven)
    odds = ", ".join(f"{odds_words(seat.odds_bottoms)} {seat.name}" for seat in seats)
    stands = [seat.name for seat in seats if seat.room.value <= 0]
    words = (
        gettext("stands on it in the {stands}").format(stands=gettext(" and the ").join(stands))
        if stands
        else gettext("does not touch it")
    )
    return gettext("the belt {words}; odds that it touches: {odds}").format(words=words, odds=odds)


def _speeds(now: float | None, new: float) -> str:
    told = units.show(new, SPEED, decimals=1)
    if now is None:
        return gettext("{told} with a new belt").format(told=told)
    return gettext("{now} now, {told} with a new belt").format(
        now=units.show(now, SPEED, decimals=1), told=told
    )


def _grip_words(pulled: TensionPart) -> str:
    slip = pulled.slip_now
    at = (
        gettext("the tension read")
        if pulled.reading is not None
        else gettext("the least tension wanted")
    )
    if slip is None:
        return gettext("not worked out: the groove angle is not known")
    says = gettext("it slips") if slip.slips else gettext("below 1 it slips")
    return gettext("slip margin {margin} under the design power at {at}; {says}").format(
        margin=f"{slip.margin:.2f}", at=at, says=says
    )


# Without these nothing can be judged, and nothing measured on the belt helps.
_NEEDED = ("driver", "driven", "section", "length")


def _to_do(workout: DriveWorkout) -> Iterable[str]:
    verdict, given, tension = workout.verdict, workout.given, workout.tension
    if verdict == Verdict.CHANGE:
        each = (
            gettext("a new belt")
            if given.belts == 1
            else gettext("{belts} new belts, as a matched set").format(belts=given.belts)
        )
        yield gettext("Fit {number}: {belt_words}. Keep its own width when new.").format(
            number=each, belt_words=belt_words(replace(given, belts=1))
        )
        if tension is not None:
            yield gettext("Set it: {new_belt}. Look again after 4 to 24 hours.").format(
                new_belt=_setting_words(tension.new_belt)
            )
        return
    if verdict == Verdict.AGAIN:
        lacking = [each.label for each in workout.missing if each.field in _NEEDED]
        if lacking:
            yield gettext("Enter in the drive's data: {lacking}.").format(
                lacking=", ".join(lacking)
            )
            return
        wanted = [each for each in workout.missing if each.instead or each.field == "width_now"]
        yield gettext("Measure what the reasons name, with a calliper or a depth gauge.")
        yield from (
            gettext("Also: {value}. It settles {settles}.").format(
                value=each.label, settles=each.settles
            )
            for each in wanted[:3]
        )
        return
    if verdict == Verdict.TIGHTEN:
        worn = workout.wear
        if worn is not None and worn.take_up is not None and worn.take_up.to_tight is not None:
            out = worn.take_up.to_tight
            if out.value > 0:
                yield (
                    gettext(
                        "Move the motor outwards until the tension is right: about {once} "
                        "by the belt's length."
                    ).format(once=with_doubt(length_text(out.value), doubt_text(out)))
                )
        if tension is not None and tension.this_belt is not None:
            yield gettext("Set it: {this_belt}.").format(
                this_belt=_setting_words(tension.this_belt)
            )
        yield gettext("Read the tension again afterwards.")
        return
    if verdict == Verdict.WATCH:
        yield gettext("Have a belt ready, and measure the width at the next service.")
        return
    if workout.wear is None and all(each.field != "width_now" for each in workout.missing):
        yield gettext("Nothing now. Look at the belt and read its tension at the next service.")
        return
    yield gettext("Nothing now. Measure the width at the next service.")


def _setting_words(setting: Setting) -> str:
    if setting.force_low is not None:
        return gettext("{setting} at mid-span, pressed {deflection}").format(
            setting=range_text(setting, "force"), deflection=length_text(setting.deflection)
        )
    return gettext("{setting} when the span is plucked").format(
        setting=range_text(setting, "frequency")
    )
