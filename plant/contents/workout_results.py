"""What a drive's work-out comes to: each answer with its unit, its doubt and how to take it."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import pi

from django.utils.translation import gettext

from plant import units
from plant.drives.doubt import Doubtful, odds_words
from plant.drives.outcome import (
    DriveWorkout,
    Geometry,
    Reading,
    Seat,
    Setting,
    TensionPart,
    WearPart,
)
from plant.length_words import length_text, spread_text
from plant.units import FORCE, POWER, SPEED, TENSION


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
        return with_doubt(self.value, self.doubt)


def results(workout: DriveWorkout) -> Iterable[ToldResult]:
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
                for part in (
                    note,
                    gettext("{length} in the deepest groove").format(
                        length=length_text(deeper.value, 2)
                    ),
                )
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
                note = gettext(
                    "the slot is at its end by the belt's nominal length, odds {odds}"
                ).format(odds=odds_words(take_up.odds_ended))
        yield _length("left", gettext("take-up left"), take_up.left, note=note)


def _of_seat(which: str, seat: Seat) -> Iterable[ToldResult]:
    note = ""
    if seat.measured:
        note = gettext("by the ride as measured")
    elif seat.bottoms and seat.drop_free is not None:
        note = gettext("held by the floor at {drop}").format(drop=length_text(seat.drop.value, 2))
    shown = seat.drop if seat.drop_free is None or seat.measured else seat.drop_free
    yield _length(
        f"{which}_drop", gettext("drop, {seat}").format(seat=seat.name), shown, places=2, note=note
    )
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
            told = gettext("{length} when it was new").format(length=length_text(when_new))
            note = f"{told}; {note}" if note else told
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
    is_new = part.this_belt is None
    yield ToldResult(
        "band",
        gettext("tension of one belt, new belt") if is_new else gettext("tension of one belt"),
        range_text(setting, "tension"),
    )
    yield ToldResult(
        "deflection",
        gettext("press mid-span by, new belt") if is_new else gettext("press mid-span by"),
        length_text(setting.deflection),
    )
    if setting.force_low is not None and setting.force_high is not None:
        yield ToldResult(
            "force",
            gettext("force at mid-span, new belt") if is_new else gettext("force at mid-span"),
            range_text(setting, "force"),
            note=_other_forces(setting.force_low, setting.force_high),
        )
    yield ToldResult(
        "frequency",
        gettext("or frequency of the span, new belt")
        if is_new
        else gettext("or frequency of the span"),
        range_text(setting, "frequency"),
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


def range_text(setting: Setting, what: str) -> str:
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


def doubt_text(figure: Doubtful, places: int = 1) -> str:
    """Twice the standard uncertainty [m] with its unit; never shown as nought unless it is."""
    return f"± {spread_text(2 * figure.u, places)}"


def with_doubt(value: str, doubt: str) -> str:
    if doubt and value.endswith("°"):
        return f"{value[:-1]} {doubt}"
    number, _, unit = value.rpartition(" ")
    if doubt and number and doubt.endswith(f" {unit}"):
        return f"{number} {doubt}"
    return f"{value} {doubt}".strip()
