"""How a drive's work-out is told, on screen and on paper alike: ready text, marks and pictures."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from math import pi

from django.utils.translation import gettext, gettext_noop

from plant import units
from plant.drawings.belt_in_groove import belt_in_groove
from plant.drawings.drive_layout import drive_layout
from plant.drawings.svg import to_svg
from plant.drawings.tension_band import tension_band
from plant.drives import grooves
from plant.drives.doubt import Doubtful, odds_words
from plant.drives.formula import FormulaLine
from plant.drives.outcome import (
    DriveGiven,
    DriveWorkout,
    Geometry,
    Missing,
    Reading,
    Seat,
    Setting,
    TakeUp,
    TensionPart,
    Used,
    Verdict,
    WearPart,
)
from plant.drives.sections import Section, section
from plant.length_words import MM, both_text, length_text, length_unit, spread_text
from plant.units import ANGLE, FORCE, FREQUENCY, POWER, SPEED, TENSION, Measure

# How a figure is known, as it is written everywhere.
KNOWN = {"measured": "measured", "plate": "from plate", "guess": "guess"}

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
        return _once(self.value, self.doubt)


@dataclass(frozen=True, slots=True)
class ToldResult:
    """One answer with its unit; key: a lasting name for it; note: how to take it."""

    key: str
    name: str
    value: str
    doubt: str = ""
    note: str = ""

    @property
    def figure(self) -> str:
        """Value and doubt with the unit once: "2.6 ± 0.7 mm"."""
        return _once(self.value, self.doubt)


@dataclass(frozen=True, slots=True)
class GrooveShown:
    """The arguments of ``belt_in_groove``: lengths [m], angles [rad]."""

    label: str
    datum_width: float
    groove_angle: float
    groove_depth_below_datum: float
    above_datum: float
    belt_top_width_new: float
    belt_height: float
    belt_angle: float
    drop_now: float
    capped_drop: float
    width_now: float
    clearance: float
    depth_guessed: bool
    ride: float


@dataclass(frozen=True, slots=True)
class LayoutShown:
    """The arguments of ``drive_layout``: lengths [m]."""

    small: float
    large: float
    centres_now: float
    centres_new: float | None
    centres_needed: float | None
    slot_low: float | None
    slot_high: float | None
    small_name: str
    large_name: str


@dataclass(frozen=True, slots=True)
class BandShown:
    """The arguments of ``tension_band``: forces [N]."""

    low: float
    high: float
    reading: float | None
    reading_doubt: float


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as SVG, and in words for who cannot see it."""

    title: str
    svg: str
    words: str


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
    grooves: tuple[GrooveShown, ...]
    layout: LayoutShown | None
    band: BandShown | None

    def result(self, key: str) -> ToldResult | None:
        """The answer of that name, if the figures allowed it."""
        return next((each for each in self.results if each.key == key), None)


def told(workout: DriveWorkout) -> ToldDrive:
    """Puts a work-out into words. Page and sheet both use this, so that their figures are equal.

    Every doubt is twice the standard uncertainty: about 19 in 20.
    """
    verdict, tone = VERDICTS[workout.verdict]
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
        results=tuple(_results(workout)),
        missing=workout.missing,
        guesses=tuple(each.name for each in inputs if each.known == "guess"),
        lines=tuple(for_reader(line) for line in workout.lines),
        sums_version=workout.sums_version,
        grooves=_grooves(workout),
        layout=_layout(workout),
        band=_band(workout.tension),
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


def doubt_text(figure: Doubtful, places: int = 1) -> str:
    """Twice the standard uncertainty [m] with its unit; never shown as nought unless it is."""
    return f"± {spread_text(2 * figure.u, places)}"


def pictures(drive: ToldDrive) -> tuple[Picture, ...]:
    """The pictures of a drive as SVG, in the order in which they stand on the page."""
    made = [
        Picture(
            title=shown.label,
            svg=to_svg(
                belt_in_groove(**asdict(shown)), title=shown.label, description=_groove_words(shown)
            ),
            words=_groove_words(shown),
        )
        for shown in drive.grooves
    ]
    if drive.layout is not None:
        words = _layout_words(drive.layout)
        drawing = drive_layout(**asdict(drive.layout))
        title = (
            gettext("The drive and its slot")
            if drive.layout.slot_high is not None
            else gettext("The drive")
        )
        made.append(Picture(title, to_svg(drawing, title=title, description=words), words))
    if drive.band is not None:
        words = _band_words(drive.band, was_read=drive.result("tension_read") is not None)
        drawing = tension_band(**asdict(drive.band), height=60.0)
        title = gettext("Static tension of one belt")
        made.append(Picture(title, to_svg(drawing, title=title, description=words), words))
    return tuple(made)


def _once(value: str, doubt: str) -> str:
    if doubt and value.endswith("°"):
        return f"{value[:-1]} {doubt}"
    number, _, unit = value.rpartition(" ")
    if doubt and number and doubt.endswith(f" {unit}"):
        return f"{number} {doubt}"
    return f"{value} {doubt}".strip()


# --- what the sums start from --------------------------------------------------------------------


def _input(used: Used) -> ToldInput:
    value, doubt = _figure(used)
    notes = [used.note] if used.note else []
    if used.trust:
        notes.append(used.trust)
    if used.typed and _differs(used.typed, value):
        notes.append(gettext("typed {typed}").format(typed=used.typed))
    return ToldInput(
        field=used.field,
        name=used.label,
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


# --- in short ------------------------------------------------------------------------------------


def _in_short(workout: DriveWorkout) -> Iterable[tuple[str, str]]:
    worn, shape, turned, pulled = workout.wear, workout.geometry, workout.driven, workout.tension
    if worn is not None:
        if slot := _slot_words(worn):
            yield gettext("Slot"), slot
        yield gettext("Floor"), _floor_words(worn)
    if shape is not None:
        new = f"{shape.ratio_new:.2f}"
        now = (
            ""
            if shape.ratio_now is None
            else gettext("{ratio_now} now, ").format(ratio_now=f"{shape.ratio_now:.2f}")
        )
        yield gettext("Ratio"), gettext("{now}{new} with a new belt").format(now=now, new=new)
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
        used = _once(length_text(worn.extra.value), doubt_text(worn.extra))
        return gettext("{used} used by the wear; what is left is not known").format(used=used)
    used = _once(length_text(slot.used.value), doubt_text(slot.used))
    since = ""
    if slot.since is not None:
        since = gettext(", {since} of that since the slot was read").format(
            since=length_text(slot.since.value)
        )
    left = _once(length_text(max(slot.left.value, 0.0)), doubt_text(slot.left))
    if slot.used_read is not None:
        read = _once(length_text(slot.used_read.value), doubt_text(slot.used_read))
        used += gettext(" ({read} read on the slot)").format(read=read)
    return gettext("{used} used by the wear{since}; {left} left{slot}").format(
        used=used, since=since, left=left, slot=_slot_end(slot)
    )


def _slot_end(slot: TakeUp) -> str:
    if not slot.ended:
        return ""
    if slot.travel_from_geometry or slot.since is not None:
        return gettext(": at its end by these figures, odds {odds_ended}").format(
            odds_ended=odds_words(slot.odds_ended)
        )
    return gettext(": at its end")


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


# --- what comes out ------------------------------------------------------------------------------


def _results(workout: DriveWorkout) -> Iterable[ToldResult]:
    if workout.wear is not None:
        yield from _of_wear(workout.wear)
    if workout.geometry is not None:
        yield from _of_geometry(workout.geometry, workout.wear)
    if workout.tension is not None:
        yield from _of_tension(workout.tension)
    if workout.unjudged is not None:
        yield _as_read(workout.unjudged)
    power, driven = workout.power, workout.driven
    if power is not None:
        yield ToldResult(
            "design_power",
            gettext("design power"),
            units.show(power.design_power.value, POWER, decimals=2),
            note=gettext(
                "service factor {service_factor}, {service_source}, {service_trust}"
            ).format(
                service_factor=f"{power.service_factor:g}",
                service_source=power.service_source,
                service_trust=power.service_trust,
            ),
        )
    if driven is not None:
        now = driven.output_now
        yield ToldResult(
            "output_speed",
            gettext("speed of the working part"),
            units.show(driven.output_new if now is None else now, SPEED, decimals=1),
            note=""
            if now is None
            else gettext("{output_new} with a new belt").format(
                output_new=units.show(driven.output_new, SPEED, decimals=1)
            ),
        )


def _of_wear(worn: WearPart) -> Iterable[ToldResult]:
    if worn.loss is not None and worn.share is not None:
        note = gettext("{share} % of its width").format(share=f"{worn.share * 100:.0f}")
        if not worn.shown:
            note += gettext(", within the error of the reading")
        yield _length("loss", gettext("width lost"), worn.loss, note=note)
    for which, seat in (("driver", worn.driver), ("driven", worn.driven)):
        yield from _of_seat(which, seat)
    if worn.extra is not None:
        note = ""
        if worn.extra_free is not None and length_text(worn.extra_free.value, 2) != length_text(
            worn.extra.value, 2
        ):
            by_ride = worn.driver.measured or worn.driven.measured
            why = (
                gettext("by the width alone")
                if by_ride
                else gettext("by the flanks alone; the floor holds the belt")
            )
            note = f"{length_text(worn.extra_free.value, 2)} {why}"
        deeper = worn.deeper_extra
        if deeper is not None and length_text(deeper.value, 2) != length_text(worn.extra.value, 2):
            note = "; ".join(
                part
                for part in (note, f"{length_text(deeper.value, 2)} in the deepest groove")
                if part
            )
        yield _length(
            "extra", gettext("take-up that the wear uses"), worn.extra, places=2, note=note
        )
    take_up = worn.take_up
    if take_up is not None:
        note = gettext("of {travel} with a new belt").format(
            travel=length_text(take_up.travel.value)
        )
        if take_up.ended:
            note = gettext("the slot is at its end")
            if take_up.travel_from_geometry:
                note += gettext(" by the belt's nominal length, odds {odds_ended}").format(
                    odds_ended=odds_words(take_up.odds_ended)
                )
        yield _length("left", gettext("take-up left"), take_up.left, note=note)


def _of_seat(which: str, seat: Seat) -> Iterable[ToldResult]:
    note = ""
    if seat.measured:
        note = gettext("by the ride as measured")
    elif seat.bottoms and seat.drop_free is not None:
        note = gettext("held by the floor at {drop}").format(drop=length_text(seat.drop.value, 2))
    shown = seat.drop if seat.drop_free is None or seat.measured else seat.drop_free
    yield _length(f"{which}_drop", f"drop, {seat.name}", shown, places=2, note=note)
    odds = gettext("odds on floor {odds_bottoms}").format(
        odds_bottoms=odds_words(seat.odds_bottoms)
    )
    if seat.deeper_room is not None and seat.deeper_depth is not None:
        odds += gettext("; {deeper_room} if {deeper_depth} deep").format(
            deeper_room=length_text(seat.deeper_room.value),
            deeper_depth=length_text(seat.deeper_depth),
        )
    elif seat.depth_guessed:
        odds += gettext("; the groove depth is a guess")
    yield _length(
        f"{which}_room",
        gettext("room under it, {seat}").format(seat=seat.name),
        seat.room,
        note=odds,
    )
    yield _length(
        f"{which}_ride", gettext("top against the rim, {seat}").format(seat=seat.name), seat.ride
    )


def _of_geometry(shape: Geometry, worn: WearPart | None) -> Iterable[ToldResult]:
    if shape.centres_needed is not None:
        note = ""
        if shape.centres_new is not None:
            note = gettext("{centres_new} for a new belt, by its nominal length").format(
                centres_new=length_text(shape.centres_new.value)
            )
        slot = worn.take_up if worn is not None else None
        if slot is not None and not slot.travel_from_geometry:
            # Its own length is told by the slot, and differs from the nominal.
            when_new = shape.centres_needed.value - slot.used.value
            note = "; ".join(filter(None, (f"{length_text(when_new)} when it was new", note)))
        yield _length(
            "centres_needed", gettext("centre distance, tight"), shape.centres_needed, note=note
        )
    elif shape.centres_new is not None:
        yield _length("centres_new", gettext("centre distance, new belt"), shape.centres_new)
    span = shape.span_now if shape.span_now is not None else shape.span_new
    if span is not None:
        yield ToldResult("span", gettext("free span"), length_text(span))
    wrap = shape.wrap_driver_now if shape.wrap_driver_now is not None else shape.wrap_driver_new
    if wrap is not None:
        small = wrap if shape.small_is_driver else 2 * pi - wrap
        yield ToldResult("wrap", gettext("contact angle, small pulley"), f"{small * 180 / pi:.1f}°")
    speed = shape.speed_now if shape.speed_now is not None else shape.speed_new
    if speed is not None:
        yield ToldResult("belt_speed", gettext("belt speed"), f"{speed:.1f} m/s")


def _of_tension(part: TensionPart) -> Iterable[ToldResult]:
    setting = part.this_belt or part.new_belt
    of = "" if part.this_belt is not None else gettext(", new belt")
    yield ToldResult(
        "band", gettext("tension of one belt{of}").format(of=of), _range(setting, "tension")
    )
    yield ToldResult(
        "deflection",
        gettext("press mid-span by{of}").format(of=of),
        length_text(setting.deflection),
    )
    if setting.force_low is not None and setting.force_high is not None:
        yield ToldResult(
            "force",
            gettext("force at mid-span{of}").format(of=of),
            _range(setting, "force"),
            note=_other_forces(setting.force_low, setting.force_high),
        )
    yield ToldResult(
        "frequency",
        gettext("or frequency of the span{of}").format(of=of),
        _range(setting, "frequency"),
    )
    yield ToldResult(
        "hub_load",
        gettext("pull on each shaft, at the high end"),
        units.show(setting.hub_load, TENSION),
    )
    if part.reading is not None:
        yield _as_read(part.reading)


def _as_read(reading: Reading) -> ToldResult:
    value, u = reading.tension
    return ToldResult(
        "tension_read",
        gettext("tension as read"),
        units.show(value, TENSION),
        f"± {2 * u:.0f} N" if u else "",
        reading.words,
    )


def _range(setting: Setting, what: str) -> str:
    if what == "tension":
        return gettext("{low} to {high} N").format(
            low=f"{setting.low:.0f}", high=f"{setting.high:.0f}"
        )
    if what == "force":
        return gettext("{force_low} to {force_high} N").format(
            force_low=f"{setting.force_low:.1f}", force_high=f"{setting.force_high:.1f}"
        )
    return gettext("{frequency_low} to {frequency_high} Hz").format(
        frequency_low=f"{setting.frequency_low:.0f}", frequency_high=f"{setting.frequency_high:.0f}"
    )


def _other_forces(low: float, high: float) -> str:
    kgf = [units.from_si(force, FORCE, "kgf") for force in (low, high)]
    lbf = [units.from_si(force, FORCE, "lbf") for force in (low, high)]
    return gettext("{low_kgf} to {high_kgf} kgf, {low_lbf} to {high_lbf} lbf").format(
        low_kgf=f"{kgf[0]:.2f}",
        high_kgf=f"{kgf[1]:.2f}",
        low_lbf=f"{lbf[0]:.1f}",
        high_lbf=f"{lbf[1]:.1f}",
    )


def _length(
    key: str, name: str, figure: Doubtful, *, places: int = 1, note: str = ""
) -> ToldResult:
    return ToldResult(
        key, name, length_text(figure.value, places), doubt_text(figure, places), note
    )


# --- what to do ----------------------------------------------------------------------------------


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
                    ).format(once=_once(length_text(out.value), doubt_text(out)))
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
            setting=_range(setting, "force"), deflection=length_text(setting.deflection)
        )
    return gettext("{setting} when the span is plucked").format(
        setting=_range(setting, "frequency")
    )


# --- pictures ------------------------------------------------------------------------------------


def _grooves(workout: DriveWorkout) -> tuple[GrooveShown, ...]:
    worn, given = workout.wear, workout.given
    if worn is None or not given.section:
        return ()
    belt = section(given.section)
    found = (_groove(given, worn, belt, seat) for seat in (worn.driver, worn.driven))
    return tuple(shown for shown in found if shown is not None)


def _groove(given: DriveGiven, worn: WearPart, belt: Section, seat: Seat) -> GrooveShown | None:
    held = grooves.systems(given.section)
    if not held:
        return None
    system = given.groove_system if given.groove_system in held else held[0]
    standard = grooves.groove(given.section, diameter=seat.diameter_new, system=system)
    drop = seat.drop if seat.drop_free is None or seat.measured else seat.drop_free
    below = seat.depth - seat.room.value - drop.value
    # A ride read against another belt's may put the cord outside the belt: no picture of that.
    if not 0 <= below <= belt.height:
        return None
    now = worn.width_now or worn.width_new
    return GrooveShown(
        label=gettext("{seat}, groove {angle}°").format(
            seat=seat.name.capitalize(), angle=f"{seat.angle * 180 / pi:.0f}"
        ),
        datum_width=standard.datum_width,
        groove_angle=seat.angle,
        groove_depth_below_datum=seat.depth,
        above_datum=standard.above_datum.value,
        belt_top_width_new=worn.width_new.value,
        belt_height=belt.height,
        belt_angle=belt.belt_angle,
        drop_now=drop.value,
        capped_drop=seat.drop.value,
        width_now=now.value,
        clearance=seat.room.value,
        depth_guessed=seat.depth_guessed,
        ride=seat.ride.value,
    )


def _groove_words(shown: GrooveShown) -> str:
    stands = (
        gettext("it stands on the floor")
        if shown.clearance <= 0
        else gettext("{clearance} room under it").format(clearance=length_text(shown.clearance))
    )
    side = "above" if shown.ride > 0 else "below"
    words = gettext(
        "The belt is {width_now} wide, {belt_top_width_new} when new. Its "
        "top is {what} {side} the rim; {stands}."
    ).format(
        width_now=length_text(shown.width_now),
        belt_top_width_new=length_text(shown.belt_top_width_new),
        what=length_text(abs(shown.ride)),
        side=side,
        stands=stands,
    )
    return (
        gettext("{words} The groove depth is a guess.").format(words=words)
        if shown.depth_guessed
        else words
    )


def _layout(workout: DriveWorkout) -> LayoutShown | None:
    given, shape = workout.given, workout.geometry
    if shape is None or given.driver is None or given.driven is None:
        return None
    now = given.centres
    new = shape.centres_new.value if shape.centres_new is not None else None
    if now is None:
        now = new
    if now is None or now <= (given.driver + given.driven) / 2:
        return None
    low = high = None
    if given.centres is not None and given.slot_in is not None and given.slot_out is not None:
        low, high = given.centres - given.slot_in, given.centres + given.slot_out
        if high <= low:
            low = high = None
    names = ("motor pulley", "driven pulley")
    pulleys = (given.driver, given.driven)
    return LayoutShown(
        small=min(pulleys),
        large=max(pulleys),
        centres_now=now,
        centres_new=new,
        centres_needed=shape.centres_needed.value if shape.centres_needed is not None else None,
        slot_low=low,
        slot_high=high,
        small_name=names[0] if shape.small_is_driver else names[1],
        large_name=names[1] if shape.small_is_driver else names[0],
    )


def _layout_words(shown: LayoutShown) -> str:
    words = [
        gettext("{small_name} {small}, {large_name} {large}, centres {centres_now} now.").format(
            small_name=shown.small_name.capitalize(),
            small=length_text(shown.small),
            large_name=shown.large_name,
            large=length_text(shown.large),
            centres_now=length_text(shown.centres_now),
        )
    ]
    if shown.centres_new is not None:
        words.append(
            gettext("A new belt of its nominal length is tight at {centres_new}.").format(
                centres_new=length_text(shown.centres_new)
            )
        )
    if shown.centres_needed is not None:
        words.append(
            gettext("This belt is tight at {centres_needed}.").format(
                centres_needed=length_text(shown.centres_needed)
            )
        )
    if shown.slot_low is not None and shown.slot_high is not None:
        words.append(
            gettext("The slot reaches from {slot_low} to {slot_high}.").format(
                slot_low=length_text(shown.slot_low), slot_high=length_text(shown.slot_high)
            )
        )
    return " ".join(words)


def _band(part: TensionPart | None) -> BandShown | None:
    if part is None:
        return None
    setting = part.this_belt or part.new_belt
    if not 0 <= setting.low < setting.high:
        return None
    # A reading of the old belt says nothing against the band of a new one.
    reading = part.reading if part.this_belt is not None else None
    return BandShown(
        low=setting.low,
        high=setting.high,
        reading=None if reading is None else reading.tension.value,
        reading_doubt=0.0 if reading is None else 2 * reading.tension.u,
    )


def _band_words(shown: BandShown, *, was_read: bool) -> str:
    words = gettext("The tension should be {low} to {high} N.").format(
        low=f"{shown.low:.0f}", high=f"{shown.high:.0f}"
    )
    if shown.reading is None and was_read:
        return gettext(
            "{words} That is of a new belt; the reading is of the belt that is on."
        ).format(words=words)
    if shown.reading is None:
        return gettext("{words} It was not read.").format(words=words)
    return gettext("{words} It was read as {reading} ± {reading_doubt} N.").format(
        words=words, reading=f"{shown.reading:.0f}", reading_doubt=f"{shown.reading_doubt:.0f}"
    )
