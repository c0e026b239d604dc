"""Two pulleys and a belt: length, centre distance, wrap, span, belt speed; exact, with the series.

Every diameter here is at the line of the belt's cords: the datum diameter together with the datum
length. Effective diameters with the effective length give the same centre distance, because moving
all the lines of an open belt outwards by b adds 2 pi b to the length on both sides of the sum.
"""

from math import acos, asin, isfinite, pi, sqrt

from plant.drives.errors import BeltTooShort, OutOfRange, PulleysOverlap, finite, mm
from plant.translate import gettext

SMALLEST_DIAMETER, LARGEST_DIAMETER = 0.001, 20.0  # [m]
SHORTEST, LONGEST = 0.001, 200.0  # [m]
FASTEST_SHAFT = 12_000.0  # [rad/s], past any small engine

_STEPS = 200  # far more than Newton needs; a guard, not a tuning
_CLOSE_ENOUGH = 1e-15  # relative step at which Newton stops


def open_length(*, small: float, large: float, centres: float) -> float:
    """Exact length of an open belt round two pulleys.

    Args:
        small: [m] datum diameter of one pulley, 0.001 to 20.
        large: [m] datum diameter of the other, 0.001 to 20. The sum is the same in either order.
        centres: [m] distance between the shaft centres, more than half the sum of the diameters.

    Returns:
        [m] datum length: 2 C cos b + D (pi + 2 b)/2 + d (pi - 2 b)/2 with sin b = (D - d)/(2 C).

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        PulleysOverlap: centres do not exceed half the sum of the diameters.

    Source:
        Plane geometry of two circles and their outer tangents; the series of ``open_length_series``
        is its first terms. Sag and thickness of the belt are left out. Holds for any open drive
        whose pulleys do not touch.
    """
    _check(small=small, large=large, centres=centres)
    return _open(small, large, centres)


def open_length_series(*, small: float, large: float, centres: float) -> float:
    """Length of an open belt by the usual short formula; a check, always a little short.

    Args:
        small: [m] datum diameter of one pulley, 0.001 to 20.
        large: [m] datum diameter of the other, 0.001 to 20.
        centres: [m] distance between the shaft centres.

    Returns:
        [m] 2 C + pi (D + d)/2 + (D - d)^2/(4 C).

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        PulleysOverlap: centres do not exceed half the sum of the diameters.

    Source:
        Mott, Machine Elements in Mechanical Design, 4th ed., eq. (7-3), p. 276 (equation number
        from memory), used in Example 7-1, p. 279. Holds where (D - d)/(2 C) is small; the error is
        0.07 mm at D = 200, d = 100, C = 200 mm and 4.3 mm at D = 400, d = 80, C = 245 mm.
    """
    _check(small=small, large=large, centres=centres)
    return 2 * centres + pi * (large + small) / 2 + (large - small) ** 2 / (4 * centres)


def open_centres(*, small: float, large: float, length: float) -> float:
    """Centre distance at which an open belt of this length is just taut; the exact root.

    Args:
        small: [m] datum diameter of one pulley, 0.001 to 20.
        large: [m] datum diameter of the other, 0.001 to 20.
        length: [m] datum length of the belt, 0.001 to 200.

    Returns:
        [m] distance between the shaft centres.

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        BeltTooShort: the belt does not reach round the larger pulley.
        PulleysOverlap: the belt would only be taut with the pulleys in each other.

    Source:
        Root of ``open_length`` by Newton's method from the closed form of ``open_centres_series``.
        The length is convex in C and the closed form starts above the root, so every step comes
        closer from the same side. Holds for any open drive whose pulleys do not touch.
    """
    _check_diameters(small=small, large=large)
    finite("belt length", length, low=SHORTEST, high=LONGEST, unit="m")
    touching = (small + large) / 2
    if length <= pi * max(small, large):
        raise BeltTooShort(
            gettext(
                "a belt {length} long does not reach round a pulley of {diameter}; "
                "accepted: more than {shortest}"
            ).format(
                length=mm(length),
                diameter=mm(max(small, large)),
                shortest=mm(_open(small, large, touching)),
            )
        )
    shortest = _open(small, large, touching)
    if length <= shortest:
        raise PulleysOverlap(
            gettext(
                "a belt {length} long brings the pulleys into each other; "
                "accepted: more than {shortest}"
            ).format(length=mm(length), shortest=mm(shortest))
        )
    centres = _closed_form(length - pi * touching, large - small)
    difference = large - small
    for _ in range(_STEPS):
        lean = difference / (2 * centres)
        step = (_open(small, large, centres) - length) / (2 * sqrt(1 - lean * lean))
        centres = max(centres - step, touching)
        if abs(step) <= _CLOSE_ENOUGH * centres:
            break
    return centres


def open_centres_series(*, small: float, large: float, length: float) -> float:
    """Centre distance by the closed form that belongs to the short length formula; a check.

    Args:
        small: [m] datum diameter of one pulley, 0.001 to 20.
        large: [m] datum diameter of the other, 0.001 to 20.
        length: [m] datum length of the belt, 0.001 to 200.

    Returns:
        [m] (k + sqrt(k^2 - 2 (D - d)^2))/4 with k = L - pi (D + d)/2; always a little long.

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        BeltTooShort: the belt does not reach round the pulleys.

    Source:
        Mott, Machine Elements in Mechanical Design, 4th ed., eq. (7-4), p. 276 (equation number
        from memory), used in Example 7-1, p. 279. Holds as ``open_length_series``.
    """
    _check_diameters(small=small, large=large)
    finite("belt length", length, low=SHORTEST, high=LONGEST, unit="m")
    if length <= pi * max(small, large):
        raise BeltTooShort(
            gettext(
                "a belt {length} long does not reach round a pulley of {diameter}; "
                "accepted: more than {shortest}"
            ).format(
                length=mm(length),
                diameter=mm(max(small, large)),
                shortest=mm(pi * max(small, large)),
            )
        )
    return _closed_form(length - pi * (small + large) / 2, large - small)


def crossed_length(*, small: float, large: float, centres: float) -> float:
    """Exact length of a crossed belt round two pulleys; for flat and round belts only.

    Args:
        small: [m] diameter of one pulley at the middle of the belt, 0.001 to 20.
        large: [m] diameter of the other, 0.001 to 20.
        centres: [m] distance between the shaft centres, more than half the sum of the diameters.

    Returns:
        [m] 2 C cos b + (D + d)(pi + 2 b)/2 with sin b = (D + d)/(2 C).

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        PulleysOverlap: centres do not exceed half the sum of the diameters.

    Source:
        Plane geometry of two circles and their inner tangents. A V-belt must not run crossed: its
        two spans rub where they pass (common practice, no source).
    """
    _check(small=small, large=large, centres=centres)
    return _crossed(small + large, centres)


def crossed_centres(*, small: float, large: float, length: float) -> float:
    """Centre distance at which a crossed belt of this length is just taut; the exact root.

    Args:
        small: [m] diameter of one pulley at the middle of the belt, 0.001 to 20.
        large: [m] diameter of the other, 0.001 to 20.
        length: [m] length of the belt at its middle, 0.001 to 200.

    Returns:
        [m] distance between the shaft centres.

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        BeltTooShort: the belt is no longer than once round both pulleys, touching.

    Source:
        Root of ``crossed_length`` by Newton's method from the closed form; see ``open_centres``.
        For flat and round belts only: a V-belt must not run crossed.
    """
    _check_diameters(small=small, large=large)
    finite("belt length", length, low=SHORTEST, high=LONGEST, unit="m")
    total = small + large
    if length <= pi * total:
        raise BeltTooShort(
            gettext(
                "a crossed belt {length} long does not reach round pulleys of "
                "{small} and {large}; accepted: more than {shortest}"
            ).format(length=mm(length), small=mm(small), large=mm(large), shortest=mm(pi * total))
        )
    touching = total / 2
    centres = _closed_form(length - pi * touching, total)
    for _ in range(_STEPS):
        lean = total / (2 * centres)
        if lean >= 1:
            break
        step = (_crossed(total, centres) - length) / (2 * sqrt(1 - lean * lean))
        centres = max(centres - step, touching)
        if abs(step) <= _CLOSE_ENOUGH * centres:
            break
    return centres


def wrap_angle(*, small: float, large: float, centres: float) -> float:
    """Contact angle of the belt on the pulley called small, on an open drive.

    Args:
        small: [m] datum diameter of the pulley asked about, 0.001 to 20.
        large: [m] datum diameter of the other, 0.001 to 20.
        centres: [m] distance between the shaft centres, more than half the sum of the diameters.

    Returns:
        [rad] contact angle; pi when the pulleys are equal. The other pulley has 2 pi less this.

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        PulleysOverlap: centres do not exceed half the sum of the diameters.

    Source:
        Budynas & Nisbett, Shigley's Mechanical Engineering Design, 10th ed., eq. (17-1). Sag left
        out. Holds for any open drive whose pulleys do not touch.
    """
    _check(small=small, large=large, centres=centres)
    return pi - 2 * asin((large - small) / (2 * centres))


def crossed_wrap_angle(*, small: float, large: float, centres: float) -> float:
    """Contact angle of a crossed belt, the same on both pulleys.

    Args:
        small: [m] diameter of one pulley at the middle of the belt, 0.001 to 20.
        large: [m] diameter of the other, 0.001 to 20.
        centres: [m] distance between the shaft centres, more than half the sum of the diameters.

    Returns:
        [rad] contact angle, between pi and 2 pi.

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        PulleysOverlap: centres do not exceed half the sum of the diameters.

    Source:
        Budynas & Nisbett, Shigley's Mechanical Engineering Design, 10th ed., eq. (17-3) (equation
        number from memory). For flat and round belts only.
    """
    _check(small=small, large=large, centres=centres)
    return 2 * pi - 2 * acos((large + small) / (2 * centres))


def span(*, small: float, large: float, centres: float) -> float:
    """Free length of an open belt between the points where it leaves the two pulleys.

    Args:
        small: [m] datum diameter of one pulley, 0.001 to 20.
        large: [m] datum diameter of the other, 0.001 to 20.
        centres: [m] distance between the shaft centres, more than half the sum of the diameters.

    Returns:
        [m] sqrt(C^2 - ((D - d)/2)^2); the span that is pressed and plucked when tension is read.

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        PulleysOverlap: centres do not exceed half the sum of the diameters.

    Source:
        Plane geometry: the outer tangent of two circles. Sag left out.
    """
    _check(small=small, large=large, centres=centres)
    half = (large - small) / 2
    return sqrt((centres - half) * (centres + half))


def centres_per_length(*, small: float, large: float, centres: float) -> float:
    """How much the shafts move apart when an open belt is longer by one unit.

    Args:
        small: [m] datum diameter of one pulley, 0.001 to 20.
        large: [m] datum diameter of the other, 0.001 to 20.
        centres: [m] distance between the shaft centres, more than half the sum of the diameters.

    Returns:
        [1] dC/dL = 1/(2 cos b), half a unit or a little more.

    Raises:
        OutOfRange: a figure is no number or outside the range above.
        PulleysOverlap: centres do not exceed half the sum of the diameters.

    Source:
        Derivative of ``open_length``; the terms in the change of b cancel. Holds as it does.
    """
    return centres / (2 * span(small=small, large=large, centres=centres))


def belt_speed(*, diameter: float, speed: float) -> float:
    """Speed of the belt, from one pulley and its shaft.

    Args:
        diameter: [m] datum diameter of the pulley, 0.001 to 20.
        speed: [rad/s] speed of its shaft, 0 to 12000.

    Returns:
        [m/s] speed of the cords; slip left out.

    Raises:
        OutOfRange: a figure is no number or outside the range above.

    Source:
        Plane motion, v = w d/2. Small classical belts are kept below 25 to 30 m/s (from memory).
    """
    finite("pulley diameter", diameter, low=SMALLEST_DIAMETER, high=LARGEST_DIAMETER, unit="m")
    finite("shaft speed", speed, low=0, high=FASTEST_SHAFT, unit="rad/s")
    return speed * diameter / 2


def belt_passes(*, belt_speed: float, length: float, pulleys: int = 2) -> float:
    """How often each piece of the belt is bent round a pulley in a second.

    Args:
        belt_speed: [m/s] speed of the belt, 0 to 200.
        length: [m] datum length of the belt, 0.001 to 200.
        pulleys: [1] how many pulleys it runs over, 1 to 50; 1 gives turns of the belt a second.

    Returns:
        [1/s] pulleys x v/L.

    Raises:
        OutOfRange: a figure is no number or outside the range above.

    Source:
        Plane motion. Kept below 80 for classical, 100 for narrow and 120 for cogged belts
        (from memory).
    """
    finite("belt speed", belt_speed, low=0, high=200, unit="m/s")
    finite("belt length", length, low=SHORTEST, high=LONGEST, unit="m")
    finite("number of pulleys", pulleys, low=1, high=50, unit="pulleys")
    return pulleys * belt_speed / length


def usual_centres(*, small: float, large: float) -> tuple[float, float]:
    """The centre distances within which drives are usually laid out.

    Args:
        small: [m] datum diameter of one pulley, 0.001 to 20.
        large: [m] datum diameter of the other, 0.001 to 20.

    Returns:
        [m] 0.7 (D + d) and 2 (D + d). Advice, no limit: many small machines sit outside it.

    Raises:
        OutOfRange: a figure is no number or outside the range above.

    Source:
        GB/T 13575.1 as taught in Chinese machine design texts (from memory).
    """
    _check_diameters(small=small, large=large)
    return 0.7 * (small + large), 2 * (small + large)


def _open(small: float, large: float, centres: float) -> float:
    half = (large - small) / 2
    lean = asin(half / centres)
    # sqrt of a product keeps full accuracy where the pulleys nearly touch
    straight = 2 * sqrt((centres - half) * (centres + half))
    return straight + pi * (large + small) / 2 + (large - small) * lean


def _crossed(total: float, centres: float) -> float:
    half = total / 2
    straight = 2 * sqrt(max(centres - half, 0.0) * (centres + half))
    return straight + half * (pi + 2 * asin(min(half / centres, 1.0)))


def _closed_form(rest: float, difference: float) -> float:
    # Never negative under the root: rest >= pi/2 |difference| once the belt reaches round the
    # larger pulley, and (pi/2)^2 > 2.
    return (rest + sqrt(rest * rest - 2 * difference * difference)) / 4


def _check(*, small: float, large: float, centres: float) -> None:
    _check_diameters(small=small, large=large)
    if not isfinite(centres) or centres > LONGEST:
        raise OutOfRange(
            gettext(
                "centre distance is {centres}; accepted: more than {shortest} and up to {longest}"
            ).format(centres=mm(centres), shortest=mm((small + large) / 2), longest=mm(LONGEST))
        )
    if centres <= (small + large) / 2:
        raise PulleysOverlap(
            gettext(
                "pulleys of {small} and {large} touch at centres of {centres}; "
                "accepted: more than {shortest}"
            ).format(
                small=mm(small),
                large=mm(large),
                centres=mm(centres),
                shortest=mm((small + large) / 2),
            )
        )


def _check_diameters(*, small: float, large: float) -> None:
    low, high = SMALLEST_DIAMETER, LARGEST_DIAMETER
    if not (low <= small <= high and low <= large <= high):
        finite("pulley diameter", small, low=low, high=high, unit="m")
        finite("pulley diameter", large, low=low, high=high, unit="m")
