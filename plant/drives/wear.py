"""What a narrow belt does: how deep it rides, whether it bottoms, and the take-up it uses."""

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot, pi, sin, sqrt, tan
from typing import NamedTuple

from plant.drives import geometry
from plant.drives.doubt import Doubtful, probability_below
from plant.drives.errors import DriveError, OutOfRange, finite
from plant.drives.facts import Fact, Trust
from plant.drives.tension import flat_ratio, limiting_ratio
from plant.length_words import length_text, spread_text
from plant.translate import gettext as _

# The figures beyond which the wedge picture of a worn belt no longer holds.
MOST_WIDTH_LOSS = Fact(0.25, "range of the worn-belt model, share of the new width", Trust.PRACTICE)
LEAST_WORN_DIAMETER = Fact(
    0.7, "range of the worn-belt model, share of the section's smallest pulley", Trust.PRACTICE
)
# How well the room under a belt is known: two ways to place the cord line differ by so much.
ROOM_HALF_WIDTH = Fact(
    0.5e-3, "cord depth from length tables and from widths differ by up to this", Trust.COMPUTED
)
WATCH_WIDTH_LOSS = Fact(0.05, "width loss to watch from, share of the new width", Trust.PRACTICE)
CHANGE_WIDTH_LOSS = Fact(0.10, "width loss to change at, share of the new width", Trust.PRACTICE)
CHANGE_RIDE = Fact(
    -1.5e-3, "ride below the rim to change at, on a pulley where it was flush", Trust.PRACTICE
)


def _angle(groove_angle: float) -> float:
    return finite("groove angle", groove_angle, low=20 * pi / 180, high=60 * pi / 180, unit="rad")


def _depth(name: str, value: float) -> float:
    return finite(name, value, low=0, high=0.06, unit="m")


def drop(*, width_new: float, width_now: float, groove_angle: float) -> float:
    """How much deeper a narrow belt sits in its groove than a new one.

    Args:
        width_new: [m] width of this belt when new, at the same height of the section.
        width_now: [m] width now.
        groove_angle: [rad] included angle of the groove.

    Returns:
        [m] drop of the cord line; 0 for a belt that has not worn.

    Raises:
        OutOfRange: width new outside 3 to 60 mm, a loss below 0 or above a quarter of the
            width, or a groove angle outside 20 to 60 degrees.

    Source:
        Geometry of a wedge: both flanks lose half of the width, the belt sinks until the
        groove is as much narrower. Both flanks are taken to wear alike at the groove's angle.
        Example: worked_examples/drop_a_belt.toml.
    """
    finite("width when new", width_new, low=3e-3, high=60e-3, unit="m")
    most = MOST_WIDTH_LOSS.value * width_new
    # A few parts in 1e12 of slack: the loss is a difference of two nearly equal numbers.
    finite("width now", width_now, low=(width_new - most) * (1 - 1e-12), high=width_new, unit="m")
    return (width_new - width_now) / (2 * tan(_angle(groove_angle) / 2))


@dataclass(frozen=True, slots=True)
class WidthLoss:
    """How much narrower a belt is than when it was new."""

    loss: float  # [m] never negative
    u: float  # [m] standard uncertainty
    share: float  # [-] loss as a share of the new width
    shown: bool  # the loss is more than twice its doubt
    words: str


def width_loss(*, width_new: Doubtful, width_now: Doubtful) -> WidthLoss:
    """Width lost, with its doubt, and whether the readings show any loss at all.

    Args:
        width_new: [m] width when new and its standard uncertainty.
        width_now: [m] width now and its standard uncertainty.

    Returns:
        [m] loss and doubt. A belt that reads wider than new within twice the doubt has lost
        nothing that can be seen: loss 0, and the words say so.

    Raises:
        OutOfRange: the belt reads wider than new by more than twice the doubt (the new width
            or the section is wrong), or has lost more than a quarter of its width.

    Source:
        Difference of two readings; JCGM 100:2008, clause 5.1.2.
    """
    finite("width when new", width_new.value, low=3e-3, high=60e-3, unit="m")
    loss = width_new.value - width_now.value
    u = hypot(width_new.u, width_now.u)
    finite("doubt of the width loss", u, low=0, high=0.01, unit="m")
    if loss < 0 and -loss > 2 * u:
        raise OutOfRange(
            _(
                "the belt reads {gain} wider than when new, more than its error (± "
                "{spread_text}): check the new width and the section"
            ).format(gain=length_text(-loss, 2), spread_text=spread_text(2 * u, 2))
        )
    finite(
        "width loss",
        max(loss, 0.0),
        low=0,
        high=MOST_WIDTH_LOSS.value * width_new.value * (1 + 1e-12),
        unit="m",
    )
    if loss < 0:
        words = _(
            "No wear shown: the belt reads {gain} wider than when new, which "
            "is inside the error of the reading. Taken as not worn."
        ).format(gain=length_text(-loss, 2))
    elif loss <= 2 * u:
        words = _("The loss is within the error of the reading: measure again, or with a calliper.")
    else:
        words = ""
    loss = max(loss, 0.0)
    return WidthLoss(loss, u, loss / width_new.value, loss > 2 * u, words)


def clearance(*, groove_depth: float, below_cord: float, drop: float) -> float:
    """Room between the base of the belt and the floor of the groove.

    Args:
        groove_depth: [m] depth of the groove below the datum width.
        below_cord: [m] height of the belt below its cord line, (Ld - Li)/(2 pi).
        drop: [m] drop of the belt in this groove.

    Returns:
        [m] room under the belt; 0 or less means that it bottoms. Known to about 0.5 mm.

    Raises:
        OutOfRange: a depth outside 0 to 60 mm, or a drop outside -60 to 60 mm.

    Source:
        Geometry; the cord line lies at the datum width of the groove when the belt is new.
    """
    finite("drop", drop, low=-0.06, high=0.06, unit="m")
    return _depth("groove depth", groove_depth) - _depth("belt below the cord", below_cord) - drop


def capped_drop(*, drop: float, groove_depth: float, below_cord: float) -> float:
    """How deep a belt really sits: on its flanks, or on the floor if that comes first.

    Args:
        drop: [m] drop that the width alone would give.
        groove_depth: [m] depth of the groove below the datum width.
        below_cord: [m] height of the belt below its cord line.

    Returns:
        [m] the lesser of the drop and the room under a new belt. Negative when even a new
        belt stands on the floor: it then rides high.

    Raises:
        OutOfRange: a depth outside 0 to 60 mm, or a drop outside -60 to 60 mm.

    Source:
        Geometry: a belt on the floor cannot sink further (belt not compressed).
    """
    room = clearance(groove_depth=groove_depth, below_cord=below_cord, drop=0)
    return min(finite("drop", drop, low=-0.06, high=0.06, unit="m"), room)


def ride(*, cord_depth: float, above_datum: float, drop: float) -> float:
    """Where the top of the belt stands against the rim of the pulley.

    Args:
        cord_depth: [m] depth of the cord line below the belt's top, (La - Ld)/(2 pi).
        above_datum: [m] height of the rim above the datum width (b).
        drop: [m] drop of the belt in this groove.

    Returns:
        [m] above the rim positive, below it negative.

    Raises:
        OutOfRange: a depth outside 0 to 60 mm, or a drop outside -60 to 60 mm.

    Source:
        Geometry; good to about 0.5 mm, as the cord depth differs by source.
    """
    finite("drop", drop, low=-0.06, high=0.06, unit="m")
    return _depth("cord depth", cord_depth) - _depth("rim above the datum", above_datum) - drop


@dataclass(frozen=True, slots=True)
class WornDrive:
    """An open two-pulley drive before and after its belt sank into the grooves."""

    small: float  # [m] diameter that the cord now runs on, small pulley
    large: float  # [m] diameter that the cord now runs on, large pulley
    ratio: float  # [-] large / small now
    ratio_new: float  # [-] large / small with a new belt
    centres: float  # [m] centre distance that makes the belt tight now
    centres_new: float  # [m] centre distance with a new belt
    extra_centres: float  # [m] how much further apart the shafts have to be


def worn_drive(
    *,
    small: float,
    large: float,
    length: float,
    drop_small: float,
    drop_large: float,
    min_diameter: float | None = None,
) -> WornDrive:
    """What a drop in both grooves does to diameters, speed ratio and centre distance.

    The cord keeps its length: the belt is narrow, not long.

    Args:
        small, large: [m] datum diameters of the pulleys.
        length: [m] datum length of the belt.
        drop_small, drop_large: [m] drop of the cord line in each groove.
        min_diameter: [m] smallest datum diameter of the section; None when it is not known.

    Returns:
        [m] worn diameters and centre distance, and the extra centre distance.

    Raises:
        OutOfRange: a worn diameter is no more than 0.7 of the section's smallest pulley (or,
            where that is not known, of the pulley itself).
        DriveError: the belt does not reach round the pulleys, or they overlap.

    Source:
        Exact length of an open belt, solved for the centres at the new and at the worn
        diameters. Example: worked_examples/extra_centres_free.toml.
    """
    worn_small = _worn_diameter("small", small, drop_small, min_diameter)
    worn_large = _worn_diameter("large", large, drop_large, min_diameter)
    before = geometry.open_centres(small=small, large=large, length=length)
    after = geometry.open_centres(small=worn_small, large=worn_large, length=length)
    return WornDrive(
        small=worn_small,
        large=worn_large,
        ratio=worn_large / worn_small,
        ratio_new=large / small,
        centres=after,
        centres_new=before,
        extra_centres=after - before,
    )


def _worn_diameter(name: str, diameter: float, drop: float, least: float | None) -> float:
    finite(f"{name} pulley", diameter, low=5e-3, high=5, unit="m")
    finite(f"drop in the {name} pulley", drop, low=-0.06, high=0.06, unit="m")
    worn = diameter - 2 * drop
    limit = LEAST_WORN_DIAMETER.value * (diameter if least is None else least)
    if worn <= limit:
        raise OutOfRange(
            _(
                "the worn belt would run on {worn} in the {name} pulley; accepted: "
                "more than {limit} (0.7 of the smallest pulley for the section)"
            ).format(worn=length_text(worn), name=name, limit=length_text(limit))
        )
    return worn


def take_up_rate(
    *,
    small: float,
    large: float,
    centres: float,
    angle_small: float,
    angle_large: float,
    free_small: bool = True,
    free_large: bool = True,
) -> float:
    """Centre distance that each unit of width lost costs, near a given state.

    Args:
        small, large: [m] diameters of the cord line now.
        centres: [m] centre distance now.
        angle_small, angle_large: [rad] groove angles.
        free_small, free_large: [-] False for a pulley in which the belt has bottomed.

    Returns:
        [-] metres of centre distance for each metre of width lost.

    Raises:
        DriveError: the pulleys overlap, or a groove angle is outside 20 to 60 degrees.

    Source:
        Derivative of the exact belt length: 2 cos(b) dC = wrap1 dy1 + wrap2 dy2.
    """
    wrap = geometry.wrap_angle(small=small, large=large, centres=centres)
    rate = 0.0
    if free_small:
        rate += wrap / (2 * tan(_angle(angle_small) / 2))
    if free_large:
        rate += (2 * pi - wrap) / (2 * tan(_angle(angle_large) / 2))
    return rate / (2 * sin(wrap / 2))


class PulleyGroove(NamedTuple):
    """One pulley and its groove, as measured or from the standard."""

    diameter: float  # [m] datum diameter
    angle: float  # [rad] included groove angle
    depth: float  # [m] depth below the datum width
    above_datum: float  # [m] rim above the datum width
    u_depth: float = 0.0  # [m] standard uncertainty of the depth
    u_angle: float = 0.0  # [rad] standard uncertainty of the angle
    widened: float = 0.0  # [m] width that the groove itself has gained by wear
    u_widened: float = 0.0  # [m] its standard uncertainty


@dataclass(frozen=True, slots=True)
class InGroove:
    """The belt in one groove, with doubts."""

    drop: Doubtful  # [m] what the width gives
    capped: float  # [m] what the floor allows
    room: Doubtful  # [m] under the belt; below 0 the flanks would have it through the floor
    bottoms: bool  # best figure says that it stands on the floor
    odds_bottoms: float  # [-] odds of that, with all doubts
    near: bool  # within 0.5 mm of the floor either way: may have bottomed
    ride: Doubtful  # [m] top of the belt above the rim, as it really sits
    ride_free: float  # [m] the same if there were no floor
    bottoms_at_loss: float  # [m] width loss at which it bottoms, 0 when it does so from new


@dataclass(frozen=True, slots=True)
class Wear:
    """A worn belt in its drive: what it does in both grooves and to the centre distance."""

    loss: WidthLoss
    small: InGroove
    large: InGroove
    free: WornDrive  # as the flanks alone would have it
    capped: WornDrive  # as the floors allow; what the fitter sees
    u_free: float  # [m] doubt of the free extra centre distance
    u_capped: float  # [m] doubt of the capped extra centre distance
    per_width: float  # [-] centre distance for each unit of width lost, flanks alone
    words: tuple[str, ...]


def wear(
    *,
    small: PulleyGroove,
    large: PulleyGroove,
    length: float,
    width_new: Doubtful,
    width_now: Doubtful,
    below_cord: Doubtful,
    cord_depth: Doubtful,
    min_diameter: float | None = None,
) -> Wear:
    """Works out a worn belt in both of its grooves, with doubts.

    Args:
        small, large: [m, rad] the pulleys and their grooves.
        length: [m] datum length of the belt.
        width_new, width_now: [m] widths with their standard uncertainties.
        below_cord: [m] height of the belt below its cord line, with its doubt.
        cord_depth: [m] depth of the cord line below the belt's top, with its doubt.
        min_diameter: [m] smallest datum diameter of the section; None when not known.

    Returns:
        [m] drop, room, ride and odds in each groove; diameters, ratio and extra centre
        distance free and capped, each with its doubt.

    Raises:
        DriveError: a figure is outside its range, or the belt does not fit the drive.

    Source:
        Geometry of the wedge and exact belt length; doubts to the first order
        (JCGM 100:2008, clause 5.1.2). One width loss feeds both grooves, so that its doubt
        adds up whole over the two.
    """
    loss = width_loss(width_new=width_new, width_now=width_now)
    for name, u in (("belt below the cord", below_cord.u), ("cord depth", cord_depth.u)):
        finite(f"doubt of the {name}", u, low=0, high=0.02, unit="m")
    for groove in (small, large):
        finite("doubt of the groove depth", groove.u_depth, low=0, high=0.02, unit="m")
        finite("doubt of the groove angle", groove.u_angle, low=0, high=0.2, unit="rad")
        finite("doubt of the groove wear", groove.u_widened, low=0, high=0.02, unit="m")
    seat_small = _in_groove(small, loss=loss, below_cord=below_cord, cord_depth=cord_depth)
    seat_large = _in_groove(large, loss=loss, below_cord=below_cord, cord_depth=cord_depth)
    free = worn_drive(
        small=small.diameter,
        large=large.diameter,
        length=length,
        drop_small=seat_small.drop.value,
        drop_large=seat_large.drop.value,
        min_diameter=min_diameter,
    )
    capped = free
    if seat_small.bottoms or seat_large.bottoms:
        capped = worn_drive(
            small=small.diameter,
            large=large.diameter,
            length=length,
            drop_small=seat_small.capped,
            drop_large=seat_large.capped,
            min_diameter=min_diameter,
        )
    u_free = _u_extra(free, (small, large), loss=loss, u_below=below_cord.u, floored=(False, False))
    u_capped = _u_extra(
        capped,
        (small, large),
        loss=loss,
        u_below=below_cord.u,
        floored=(seat_small.bottoms, seat_large.bottoms),
    )
    rate = take_up_rate(
        small=free.small,
        large=free.large,
        centres=free.centres,
        angle_small=small.angle,
        angle_large=large.angle,
    )
    words = [loss.words] if loss.words else []
    for name, seat in (("small", seat_small), ("large", seat_large)):
        if seat.bottoms and not seat.near:
            words.append(
                _("The belt stands on the floor of the {name} pulley's groove.").format(name=name)
            )
        elif seat.near:
            words.append(
                _(
                    "The belt may stand on the floor of the {name} pulley's groove: "
                    "the room under it is known to about {room_half_width} only. Look "
                    "for a shiny floor, or measure the ride."
                ).format(name=name, room_half_width=length_text(ROOM_HALF_WIDTH.value))
            )
    return Wear(loss, seat_small, seat_large, free, capped, u_free, u_capped, rate, tuple(words))


def _in_groove(
    groove: PulleyGroove, *, loss: WidthLoss, below_cord: Doubtful, cord_depth: Doubtful
) -> InGroove:
    half = 2 * tan(_angle(groove.angle) / 2)
    gap = loss.loss + finite("groove wear", groove.widened, low=0, high=0.02, unit="m")
    y = gap / half
    # d/da of gap/(2 tan(a/2)) is -gap/(4 sin^2(a/2)).
    u_y = hypot(
        loss.u / half,
        groove.u_widened / half,
        gap * groove.u_angle / (4 * sin(groove.angle / 2) ** 2),
    )
    room = clearance(groove_depth=groove.depth, below_cord=below_cord.value, drop=y)
    u_room = hypot(u_y, groove.u_depth, below_cord.u)
    bottoms = room <= 0
    sits = min(y, y + room)
    above = ride(cord_depth=cord_depth.value, above_datum=groove.above_datum, drop=sits)
    # On the floor the top stands at the height of the belt, whatever its width.
    u_ride = hypot(cord_depth.u, hypot(groove.u_depth, below_cord.u) if bottoms else u_y)
    return InGroove(
        drop=Doubtful(y, u_y),
        capped=sits,
        room=Doubtful(room, u_room),
        bottoms=bottoms,
        odds_bottoms=probability_below(limit=0, mean=room, u=u_room),
        near=abs(room) < ROOM_HALF_WIDTH.value,
        ride=Doubtful(above, u_ride),
        ride_free=above + sits - y,
        bottoms_at_loss=max((groove.depth - below_cord.value) * half - groove.widened, 0.0),
    )


def _u_extra(
    drive: WornDrive,
    grooves: tuple[PulleyGroove, PulleyGroove],
    *,
    loss: WidthLoss,
    u_below: float,
    floored: tuple[bool, bool],
) -> float:
    """Doubt [m] of the extra centre distance, from 2 cos(b) dC = wrap1 dy1 + wrap2 dy2."""
    wrap = geometry.wrap_angle(small=drive.small, large=drive.large, centres=drive.centres)
    cosine = 2 * sin(wrap / 2)
    by_width = by_below = own = 0.0
    for groove, arc, on_floor in zip(grooves, (wrap, 2 * pi - wrap), floored, strict=True):
        lever = arc / cosine
        if on_floor:
            by_below += lever
            own += (lever * groove.u_depth) ** 2
        else:
            half = 2 * tan(groove.angle / 2)
            by_width += lever / half
            by_angle = (loss.loss + groove.widened) / (4 * sin(groove.angle / 2) ** 2)
            own += (lever * by_angle * groove.u_angle) ** 2 + (lever * groove.u_widened / half) ** 2
    return hypot(by_width * loss.u, by_below * u_below, sqrt(own))


@dataclass(frozen=True, slots=True)
class TakeUp:
    """How much of the slot the worn belt has used and what is left of it."""

    used: Doubtful  # [m] of the travel that a new belt had left
    left: Doubtful  # [m] below 0: past the end of the slot
    ended: bool
    odds_ended: float  # [-]
    agrees: bool | None  # with a direct reading of the slot; None when there is none
    words: str


def take_up(
    *,
    travel: Doubtful,
    extra: Doubtful,
    measured_left: Doubtful | None = None,
) -> TakeUp:
    """Take-up used and left, and whether a reading of the slot agrees.

    Args:
        travel: [m] travel that is left when a new belt has just been tensioned.
        extra: [m] extra centre distance that the worn belt needs.
        measured_left: [m] travel left as read on the slot with this belt tight; None if not.

    Returns:
        [m] used and left; left is negative when the belt wants more than the slot has.

    Raises:
        OutOfRange: the travel is not within 0 to 1 m, or the extra not within -1 to 1 m.

    Source:
        Difference of two lengths; agreement within twice the doubt, JCGM 100:2008, 6.3.3.
        Holds for a slide along the line of centres; a pivoted motor needs its own geometry.
    """
    finite("travel", travel.value, low=0, high=1, unit="m")
    finite("extra centre distance", extra.value, low=-1, high=1, unit="m")
    left = Doubtful(travel.value - extra.value, hypot(travel.u, extra.u))
    ended = left.value <= 0
    agrees: bool | None = None
    words = (
        _("The slot is used up: change the belt. Tensioning again is not possible.")
        if ended
        else ""
    )
    if measured_left is not None:
        apart = measured_left.value - left.value
        error = 2 * hypot(measured_left.u, left.u)
        # A belt cannot show less than no travel: past the end the slot simply reads empty.
        if ended and measured_left.value <= error:
            apart = 0.0
        agrees = abs(apart) <= error
        if not agrees:
            words = (
                _(
                    "{words} The slot reads {measured_left} left and the width says "
                    "{left}, {gap} apart where {error} could be error: measure width "
                    "and slot again, and check belt length and pulleys."
                ).format(
                    words=words,
                    measured_left=length_text(measured_left.value),
                    left=length_text(left.value),
                    gap=length_text(abs(apart)),
                    error=length_text(error),
                )
            ).strip()
    return TakeUp(
        extra, left, ended, probability_below(limit=0, mean=left.value, u=left.u), agrees, words
    )


@dataclass(frozen=True, slots=True)
class GrooveWear:
    """What the pulley has lost, apart from the belt."""

    drop: Doubtful  # [m] part of the ride that the belt's width does not explain
    widened: Doubtful  # [m] width that the groove has gained
    shown: bool  # more than the error of the comparison
    words: str

    @property
    def too_high(self) -> bool:
        """The belt rides higher than its width says, by more than the error."""
        return self.drop.value < -2 * self.drop.u


def groove_wear(
    *, measured_ride: Doubtful, expected_ride: Doubtful, groove_angle: float
) -> GrooveWear:
    """Tells pulley wear from belt wear when the ride was measured.

    Args:
        measured_ride: [m] top of the belt above the rim (below it negative), as measured.
        expected_ride: [m] the same worked out from the belt's width, in a sound groove.
        groove_angle: [rad] included angle of the groove.

    Returns:
        [m] drop and width that belong to the groove. Not shown when they are less than the
        error (twice the doubt of the difference) or of the wrong sign; the words say which.

    Raises:
        OutOfRange: a ride is not within -60 to 60 mm, or the angle not within 20 to 60 degrees.

    Source:
        Difference of ride measured and ride worked out; JCGM 100:2008, clause 5.1.2.
        A belt on the floor says nothing about the flanks: compare only where it is free.
    """
    for ride_ in (measured_ride, expected_ride):
        finite("ride", ride_.value, low=-0.06, high=0.06, unit="m")
        finite("doubt of the ride", ride_.u, low=0, high=0.02, unit="m")
    half = 2 * tan(_angle(groove_angle) / 2)
    deeper = expected_ride.value - measured_ride.value
    u = hypot(measured_ride.u, expected_ride.u)
    shown = deeper > 2 * u and deeper > 0
    if shown:
        words = _(
            "The belt rides {deeper} deeper than its width explains: the "
            "groove is worn. Gauge it; a new belt alone will not last."
        ).format(deeper=length_text(deeper))
    elif deeper < -2 * u:
        words = _(
            "The belt rides {gap} higher than its width says: measure the "
            "width again, and check section, groove angle and whether the belt "
            "stands on the floor."
        ).format(gap=length_text(-deeper))
    else:
        words = _("Within the error of the readings: no groove wear can be told from belt wear.")
    return GrooveWear(Doubtful(deeper, u), Doubtful(deeper * half, u * half), shown, words)


def loss_that_bottoms(*, groove_angle: float, groove_depth: float, below_cord: float) -> float:
    """Width loss at which a belt reaches the floor of its groove.

    Args:
        groove_angle: [rad] included angle of the groove.
        groove_depth: [m] depth of the groove below the datum width.
        below_cord: [m] height of the belt below its cord line.

    Returns:
        [m] width loss; 0 when even a new belt stands on the floor.

    Raises:
        OutOfRange: a depth outside 0 to 60 mm, or the angle outside 20 to 60 degrees.

    Source:
        The drop set equal to the room under a new belt.
    """
    room = clearance(groove_depth=groove_depth, below_cord=below_cord, drop=0)
    return max(2 * tan(_angle(groove_angle) / 2) * room, 0.0)


def loss_that_ends_slot(
    *,
    small: PulleyGroove,
    large: PulleyGroove,
    length: float,
    travel: float,
    width_new: float,
    below_cord: float | None = None,
) -> float | None:
    """Width loss at which the slot comes to its end.

    Args:
        small, large: [m, rad] the pulleys and their grooves.
        length: [m] datum length of the belt.
        travel: [m] travel left when a new belt has just been tensioned.
        width_new: [m] width of the new belt.
        below_cord: [m] height of the belt below its cord line: the floors then stop the drop.
            None works out the flanks alone.

    Returns:
        [m] width loss; None when the belt never gets there within the quarter of its width
        for which the sums hold (or both pulleys bottom first).

    Raises:
        DriveError: the belt does not fit the drive, or a figure is outside its range.

    Source:
        Root of the exact belt length at the end of the slot over the width loss.
    """
    finite("travel", travel, low=0, high=1, unit="m")
    finite("width when new", width_new, low=3e-3, high=60e-3, unit="m")
    half_small, half_large = 2 * tan(_angle(small.angle) / 2), 2 * tan(_angle(large.angle) / 2)
    room_small = room_large = float("inf")
    if below_cord is not None:
        room_small = clearance(groove_depth=small.depth, below_cord=below_cord, drop=0)
        room_large = clearance(groove_depth=large.depth, below_cord=below_cord, drop=0)
    centres = geometry.open_centres(
        small=small.diameter - 2 * min(small.widened / half_small, room_small),
        large=large.diameter - 2 * min(large.widened / half_large, room_large),
        length=length,
    )

    def slack(loss: float) -> float:
        """Belt length [m] to spare at the end of the slot after this loss."""
        drop_small = min((loss + small.widened) / half_small, room_small)
        drop_large = min((loss + large.widened) / half_large, room_large)
        return length - geometry.open_length(
            small=small.diameter - 2 * drop_small,
            large=large.diameter - 2 * drop_large,
            centres=centres + travel,
        )

    most = MOST_WIDTH_LOSS.value * width_new
    if slack(0.0) >= 0:
        return 0.0
    if slack(most) < 0:
        return None
    return root(slack, low=0.0, high=most)


def root(function: Callable[[float], float], *, low: float, high: float) -> float:
    """Zero of a continuous function between two points of opposite sign.

    Args:
        function: [-] the function.
        low, high: [unit of its argument] the two points.

    Returns:
        [unit of its argument] the zero, to within a few units of the last place.

    Raises:
        DriveError: the function has the same sign at both points.

    Source:
        Regula falsi in the Illinois form, with bisection when it is slow; Dahlquist and
        Bjorck, Numerical Methods, section 6.4 (from memory).
    """
    f_low, f_high = function(low), function(high)
    if f_low == 0:
        return low
    if f_high == 0:
        return high
    if (f_low > 0) == (f_high > 0):
        raise DriveError(
            _("no zero between {low} and {high}").format(low=f"{low:g}", high=f"{high:g}")
        )
    side = 0
    for step in range(200):
        middle = (low + high) / 2
        if step % 4 != 3:
            guess = (low * f_high - high * f_low) / (f_high - f_low)
            if low < guess < high:
                middle = guess
        value = function(middle)
        if value == 0 or high - low <= 4e-16 * max(abs(low), abs(high)):
            return middle
        if (value > 0) == (f_high > 0):
            high, f_high = middle, value
            f_low = f_low / 2 if side == 1 else f_low
            side = 1
        else:
            low, f_low = middle, value
            f_high = f_high / 2 if side == -1 else f_high
            side = -1
    return (low + high) / 2


@dataclass(frozen=True, slots=True)
class LostWedge:
    """What standing on the floor costs: strand ratios at which the belt slips."""

    wedged: float  # [-] limiting strand ratio on the flanks
    on_floor: float  # [-] limiting strand ratio on the floor alone
    pull_left: float  # [-] share of the wedged belt's greatest pull that the floor gives


def lost_wedge(*, mu: float, wrap: float, groove_angle: float) -> LostWedge:
    """What a belt loses when it stands on the floor and no longer wedges.

    Args:
        mu: [-] friction; an assumption unless measured.
        wrap: [rad] contact angle on that pulley.
        groove_angle: [rad] included angle of its groove.

    Returns:
        [-] limiting strand ratio with the flanks and with the floor, and the share of pull
        left at equal static tension. A real belt lies between the two.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        Baker and Haynes, Engineering Statics: Open and Interactive, section 9.5.
    """
    wedged = limiting_ratio(mu=mu, wrap=wrap, groove_angle=groove_angle)
    flat = flat_ratio(mu=mu, wrap=wrap)
    if wedged == 1:
        return LostWedge(wedged, flat, 1.0)
    share = ((flat - 1) / (flat + 1)) / ((wedged - 1) / (wedged + 1))
    return LostWedge(wedged, flat, share)


def reasons_to_change(
    *, found: Wear, left: TakeUp | None = None, flush_when_new: bool = True
) -> tuple[str, ...]:
    """The limits of the trade that a worn belt has passed, in words.

    Args:
        found: [m] the worn belt.
        left: [m] its take-up; None when the slot is not known.
        flush_when_new: [-] the belt's top stood at the rim when new, so the ride rule holds.

    Returns:
        [-] one sentence for each limit passed, each with its trust; empty when none is.

    Raises:
        Nothing; every figure was checked when it was worked out.

    Source:
        Common practice, no source: 10 % of width, 1.5 mm below the rim; bottoming: Baker and
        Haynes, Engineering Statics, section 9.5.
    """
    said: list[str] = []
    if found.loss.share >= CHANGE_WIDTH_LOSS.value:
        said.append(
            _(
                "It has lost {share} % of its width; change at {change_width_loss} % ({trust})."
            ).format(
                share=f"{found.loss.share * 100:.0f}",
                change_width_loss=f"{CHANGE_WIDTH_LOSS.value * 100:.0f}",
                trust=CHANGE_WIDTH_LOSS.trust,
            )
        )
    for name, seat in (("small", found.small), ("large", found.large)):
        if seat.bottoms:
            said.append(
                _(
                    "It stands on the floor of the {name} pulley's groove and no longer wedges."
                ).format(name=name)
            )
        if flush_when_new and seat.ride.value < CHANGE_RIDE.value:
            said.append(
                _(
                    "It rides {ride} below the rim of the {name} pulley; change at "
                    "{limit} ({trust})."
                ).format(
                    ride=length_text(-seat.ride.value),
                    name=name,
                    limit=length_text(-CHANGE_RIDE.value),
                    trust=CHANGE_RIDE.trust,
                )
            )
    if left is not None and left.ended:
        said.append(_("The slot is used up."))
    return tuple(said)
