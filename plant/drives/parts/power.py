"""What the belts of one drive may carry, by every method that knows them."""

from math import sqrt

from plant.drives import power
from plant.drives.doubt import Doubtful
from plant.drives.errors import NotSourced
from plant.drives.outcome import Geometry, PowerPart, Rating
from plant.drives.parts.known import Known
from plant.translate import gettext, ngettext


def power_part(drive: Known, shape: Geometry | None) -> PowerPart | None:
    given = drive.given
    if given.motor_power is None:
        return None
    load = "uniform" if given.load == "light" else given.load
    factor = power.service_factor(
        load=load,
        hours_a_day=given.hours_a_day,
        high_torque=given.hard_start,
        idler=given.idler,
    )
    design = power.design_power(power=given.motor_power, service_factor=factor.value)
    u = factor.value * given.motor_power * drive.half_width("motor_power", "power, share") / sqrt(3)
    ratings, words = _ratings(drive, shape, design)
    chosen = given.power_method
    if not chosen:
        chosen = next((one.method for one in ratings if one.each is not None), "")
    counted = next((one for one in ratings if one.method == chosen and one.each is not None), None)
    needed = counted.belts if counted else None
    if ratings and counted is None:
        refused = next((one for one in ratings if one.method == chosen), ratings[0])
        words.append(
            gettext("The number of belts is not worked out. {methods}: {refused}.").format(
                methods=power.METHODS[refused.method].title, refused=refused.words
            )
        )
    if counted is not None:
        words += _spread(
            counted, ratings, named=bool(given.power_method), too_small=_too_small(drive)
        )
    return PowerPart(
        power=given.motor_power,
        service_factor=factor.value,
        service_source=factor.source,
        service_trust=str(factor.trust),
        design_power=Doubtful(design, u),
        ratings=tuple(ratings),
        chosen=chosen if counted else "",
        belts_fitted=given.belts,
        belts_needed=needed,
        words=tuple(words),
    )


def _too_small(drive: Known) -> bool:
    """Whether the small pulley is under the smallest for the section; False where none is held."""
    smallest = drive.belt.min_diameter if drive.belt is not None else None
    sizes = [side.diameter.value for side in (drive.driver, drive.driven) if side is not None]
    return smallest is not None and bool(sizes) and min(sizes) < smallest.value


def _spread(counted: Rating, ratings: list[Rating], *, named: bool, too_small: bool) -> list[str]:
    """Which rating counts and why, and how far the others lie from it.

    too_small: the small pulley is under the smallest for the section. There the old forms fall to
    nothing, and a number of belts by them would tell nothing.
    """
    held = [(one.each, one) for one in ratings if one.each is not None]
    if len(held) < 2 or counted.each is None:
        return []
    (least, weakest), (most, _) = min(held, key=_first), max(held, key=_first)
    why = gettext("as chosen") if named else gettext("the first of those held that rates this belt")
    if counted.each == least:
        words = gettext(
            "{method} counts here, {why}: {each} kW a belt, the lowest of them; {trust}."
        )
    elif counted.each == most:
        words = gettext(
            "{method} counts here, {why}: {each} kW a belt, the highest of them; {trust}."
        )
    else:
        words = gettext("{method} counts here, {why}: {each} kW a belt, {trust}.")
    words = words.format(
        method=power.METHODS[counted.method].title,
        why=why,
        each=f"{counted.each / 1000.0:.2f}",
        trust=counted.trust,
    )
    if too_small:
        words += gettext(
            " The pulley is under the smallest for the section: no method is sure there."
        )
    elif weakest.belts is not None and weakest.belts != counted.belts:
        words += ngettext(
            " By the lowest, {method}, it would be {belts} belt.",
            " By the lowest, {method}, it would be {belts} belts.",
            weakest.belts,
        ).format(method=power.METHODS[weakest.method].title, belts=weakest.belts)
    return [
        words,
        gettext(
            "The published methods differ: one belt here carries {least} to "
            "{most} kW. A rating and its factors are kept to one method."
        ).format(least=f"{least / 1000.0:.2f}", most=f"{most / 1000.0:.2f}"),
    ]


def _first(pair: tuple[float, Rating]) -> float:
    return pair[0]


def _ratings(drive: Known, shape: Geometry | None, design: float) -> tuple[list[Rating], list[str]]:
    given = drive.given
    wrap = None if shape is None else small_wrap(shape, worn=False)
    if drive.belt is None or shape is None or given.motor_speed is None or given.length is None:
        return [], [
            gettext("What one belt carries needs section, pulleys, length and motor speed.")
        ]
    assert wrap is not None
    small, speed, ratio = _small_shaft(drive, shape)
    try:
        found = power.compare(
            section=drive.belt.code,
            small=small,
            shaft_speed=speed,
            ratio=ratio,
            wrap=wrap,
            length=given.length,
        )
    except NotSourced as refused:
        return [], [f"{str(refused)[0].upper()}{str(refused)[1:]}."]
    ratings: list[Rating] = []
    for one in found:
        held = one.method
        if one.power is None:
            ratings.append(Rating(held.key, held.source, str(held.trust), words=one.refusal))
            continue
        ratings.append(
            Rating(
                method=held.key,
                source=held.source,
                trust=str(held.trust),
                basic=one.power.rating.watts,
                arc_factor=one.power.arc.value,
                length_factor=one.power.length.value,
                each=one.power.watts,
                belts=power.belts_needed(design_power=design, per_belt=one.power).count
                if one.power.watts >= 1
                else None,
                words=held.validity,
            )
        )
    return ratings, []


def _small_shaft(drive: Known, shape: Geometry) -> tuple[float, float, float]:
    """Diameter [m] and shaft speed [rad/s] of the small pulley, and the ratio, 1 or more."""
    assert drive.driver is not None
    assert drive.driven is not None
    assert drive.given.motor_speed is not None
    d1, d2 = drive.driver.diameter.value, drive.driven.diameter.value
    if shape.small_is_driver:
        return d1, drive.given.motor_speed, d2 / d1
    return d2, drive.given.motor_speed * d1 / d2, d1 / d2


def small_wrap(shape: Geometry, *, worn: bool) -> float | None:
    wraps = (
        (shape.wrap_driver_now, shape.wrap_driven_now)
        if worn
        else (shape.wrap_driver_new, shape.wrap_driven_new)
    )
    return wraps[0] if shape.small_is_driver else wraps[1]
