"""Wraps, span, lengths and ratio of one drive, new and as it is worn."""

from math import hypot, pi, sqrt

from plant.drives import geometry
from plant.drives.doubt import Doubtful
from plant.drives.outcome import Geometry, WearPart
from plant.drives.parts.known import Known
from plant.drives.parts.wear import tight


def geometry_part(drive: Known, worn: WearPart | None) -> Geometry | None:
    given, driver, driven = drive.given, drive.driver, drive.driven
    if driver is None or driven is None:
        return None
    d1, d2 = driver.diameter.value, driven.diameter.value
    centres_new = needed = None
    if given.length is not None:
        value = geometry.open_centres(small=d1, large=d2, length=given.length)
        u = drive.u_length * geometry.centres_per_length(small=d1, large=d2, centres=value)
        centres_new = Doubtful(value, u)
        if worn is not None and worn.extra is not None:
            needed = Doubtful(value + worn.extra.value, hypot(u, worn.extra.u))
    measured = None
    length_for = None
    if given.centres is not None:
        measured = Doubtful(given.centres, drive.half_width("centres", "centres") / sqrt(3))
        fits = geometry.open_length(small=d1, large=d2, centres=given.centres)
        rate = geometry.centres_per_length(small=d1, large=d2, centres=given.centres)
        length_for = Doubtful(fits, measured.u / rate)
        if tight(drive):
            slot = worn.take_up if worn is not None else None
            since = slot.since.value if slot is not None and slot.since is not None else 0.0
            needed = Doubtful(measured.value + since, measured.u)
    # Without a length the sums take the shafts where they stand.
    at_new = centres_new or measured
    at_now = needed or measured
    n1, n2 = (worn.driver.diameter_now, worn.driven.diameter_now) if worn is not None else (d1, d2)
    speed = given.motor_speed
    now = worn is not None and at_now is not None
    speed_new = None if speed is None else geometry.belt_speed(diameter=d1, speed=speed)
    wrap = None if at_new is None else geometry.wrap_angle(small=d1, large=d2, centres=at_new.value)
    wrap_now = (
        geometry.wrap_angle(small=n1, large=n2, centres=at_now.value)
        if now and at_now is not None
        else None
    )
    return Geometry(
        small_is_driver=drive.small_is_driver,
        ratio_new=d2 / d1,
        ratio_now=n2 / n1 if worn is not None else None,
        centres_new=centres_new,
        centres_needed=needed,
        length_for_centres=length_for,
        span_new=None
        if at_new is None
        else geometry.span(small=d1, large=d2, centres=at_new.value),
        span_now=geometry.span(small=n1, large=n2, centres=at_now.value)
        if now and at_now is not None
        else None,
        wrap_driver_new=wrap,
        wrap_driven_new=None if wrap is None else 2 * pi - wrap,
        wrap_driver_now=wrap_now,
        wrap_driven_now=None if wrap_now is None else 2 * pi - wrap_now,
        speed_new=speed_new,
        speed_now=geometry.belt_speed(diameter=n1, speed=speed)
        if speed is not None and worn is not None
        else None,
        passes_new=geometry.belt_passes(belt_speed=speed_new, length=given.length)
        if speed_new is not None and given.length is not None
        else None,
    )
