"""How far a belt has worn and sunk in its grooves, and what that leaves of the slot."""

from math import hypot, pi, sin, sqrt, tan

from plant.drives import doubt, geometry, wear
from plant.drives.doubt import Doubtful, odds_words, probability_below
from plant.drives.errors import OutOfRange
from plant.drives.facts import Fact, Trust
from plant.drives.outcome import Seat, TakeUp, WearPart
from plant.drives.parts.known import Known, Side, u_ride, use
from plant.drives.parts.tension import was_read
from plant.drives.wear import PulleyGroove
from plant.length_words import length_text, spread_text
from plant.translate import gettext as _

SURE_ODDS = Fact(0.95, "odds from which a thing is said without its odds", Trust.PRACTICE)
HEIGHT_SPREAD = Fact(0.3e-3, "height of new belts of one section, half width", Trust.PRACTICE)


def wear_part(drive: Known) -> WearPart | None:
    driver, driven = drive.driver, drive.driven
    if driver is None or driven is None or drive.given.length is None:
        return None
    if driver.groove is None or driven.groove is None or drive.width_new is None:
        return None
    if drive.below_cord is None or drive.cord_depth is None:
        return None
    found = _model(drive, driver.groove, driven.groove, width=drive.width_now)
    rides = (drive.given.driver_ride, drive.given.driven_ride)
    if found is None and None in rides:
        return None
    small_first = drive.small_is_driver
    seats: list[Seat] = []
    for side, reading in zip((driver, driven), rides, strict=True):
        is_small = (side is driver) == small_first
        model = None if found is None else (found.small if is_small else found.large)
        seats.append(_seat(drive, side, model, reading))
    first, second = seats
    small, large = (first, second) if small_first else (second, first)
    extra, deeper = _extra(drive, small, large, found)
    take_up = _take_up(drive, extra, now=found, placed=_placed(drive, now=found))
    ends, first_comes, words = _which_first(drive, driver, driven, seats, extra, take_up)
    bottoms = [seat.width_bottoms for seat in seats if seat.width_bottoms is not None]
    ratio_new = driven.groove.diameter / driver.groove.diameter
    return WearPart(
        width_new=drive.width_new,
        width_now=drive.width_now,
        loss=Doubtful(found.loss.loss, found.loss.u) if found else None,
        share=found.loss.share if found else None,
        shown=found.loss.shown if found else False,
        driver=first,
        driven=second,
        extra_free=Doubtful(found.free.extra_centres, found.u_free) if found else None,
        extra=extra,
        deeper_extra=deeper,
        per_width=found.per_width if found else None,
        driven_slower=1 - ratio_new * first.diameter_now / second.diameter_now,
        width_bottoms=max(bottoms) if bottoms else None,
        width_ends_slot=ends,
        first=first_comes,
        first_words=words,
        take_up=take_up,
    )


def _model(
    drive: Known, driver: PulleyGroove, driven: PulleyGroove, *, width: Doubtful | None
) -> wear.Wear | None:
    """The wear worked out from a width; None when it cannot be, with a word why."""
    new, now = drive.width_new, width
    assert new is not None
    assert drive.below_cord is not None
    assert drive.cord_depth is not None
    if now is None or width_is_odd(new, now):
        return None
    small, large = (driver, driven) if drive.small_is_driver else (driven, driver)
    assert drive.given.length is not None

    def found(least: float | None) -> wear.Wear:
        assert drive.given.length is not None
        assert drive.below_cord is not None
        assert drive.cord_depth is not None
        return wear.wear(
            small=small,
            large=large,
            length=drive.given.length,
            width_new=new,
            width_now=now,
            below_cord=drive.below_cord,
            cord_depth=drive.cord_depth,
            min_diameter=least,
        )

    try:
        return found(drive.min_diameter)
    except OutOfRange:
        # A pulley smaller than the section's least: the picture of the belt in its groove is then
        # rough, but the pulley is what it is.
        drive.warnings.append(
            _(
                "The belt runs on less than 0.7 of the smallest pulley for its section: drops and "
                "take-up are rough there."
            )
        )
        return found(None)


def width_is_odd(new: Doubtful, now: Doubtful) -> str:
    """Why a width cannot be that of this belt, in words; empty when it can."""
    loss, u = new.value - now.value, hypot(new.u, now.u)
    if loss < 0 and -loss > 2 * u:
        return _(
            "The belt reads {gain} wider than when new, more than the error (± "
            "{spread_text}) explains. Check the section and the width when "
            "new, and measure the width again."
        ).format(gain=length_text(-loss), spread_text=spread_text(2 * u))
    if loss > wear.MOST_WIDTH_LOSS.value * new.value:
        return _(
            "The belt has lost {loss} % of its width; the sums of its seat "
            "hold to {most_width_loss} %. A belt so narrow may be of a smaller "
            "section, fitted by mistake: read its mark and measure its height."
        ).format(
            loss=f"{loss / new.value * 100:.0f}",
            most_width_loss=f"{wear.MOST_WIDTH_LOSS.value * 100:.0f}",
        )
    return ""


def _seat(drive: Known, side: Side, model: wear.InGroove | None, reading: float | None) -> Seat:
    """The belt in one groove: by its width, or by its ride where that was measured."""
    groove, below, cord = side.groove, drive.below_cord, drive.cord_depth
    assert groove is not None
    assert below is not None
    assert cord is not None
    assert drive.width_new is not None
    half = 2 * tan(groove.angle / 2)
    sits_new = min(0.0, groove.depth - below.value)
    ride_new = Doubtful(
        wear.ride(cord_depth=cord.value, above_datum=groove.above_datum, drop=sits_new), cord.u
    )
    new_reading = getattr(drive.given, f"{side.which}_ride_new")
    if new_reading is not None:
        ride_new = Doubtful(new_reading, u_ride(drive))
    loss_to_floor = max(half * (groove.depth - below.value), 0.0)
    worn: wear.GrooveWear | None = None
    if reading is None:
        assert model is not None
        drop = Doubtful(
            model.capped, hypot(groove.u_depth, below.u) if model.bottoms else model.drop.u
        )
        room, bottoms, near, odds = model.room, model.bottoms, model.near, model.odds_bottoms
        ride = model.ride
        if new_reading is not None:
            ride = Doubtful(new_reading - (model.capped - sits_new), hypot(u_ride(drive), drop.u))
    else:
        ride = Doubtful(reading, u_ride(drive))
        if new_reading is not None:
            drop = Doubtful(new_reading - reading + sits_new, sqrt(2) * ride.u)
        else:
            sits = cord.value - groove.above_datum - reading
            drop = Doubtful(sits, hypot(ride.u, cord.u))
        # Rim to floor less the height of the belt and how far its top stands below the rim:
        # where the cord lies does not come into it.
        height = cord.value + below.value
        u_room = hypot(ride.u, groove.u_depth, HEIGHT_SPREAD.value / sqrt(3))
        room = Doubtful(groove.depth + groove.above_datum + reading - height, u_room)
        bottoms, near = room.value <= 0, abs(room.value) < wear.ROOM_HALF_WIDTH.value
        odds = probability_below(limit=0, mean=room.value, u=room.u)
        if model is not None and not model.bottoms:
            expected = model.ride
            if new_reading is not None:
                expected = Doubtful(new_reading - model.drop.value, hypot(ride.u, model.drop.u))
            worn = wear.groove_wear(
                measured_ride=ride, expected_ride=expected, groove_angle=groove.angle
            )
    deeper_depth = deeper_room = deeper_bottoms = None
    if side.deeper is not None:
        deeper_depth = side.deeper.depth_below_datum.value
        deeper_room = Doubtful(room.value + deeper_depth - groove.depth, room.u)
        deeper_bottoms = deeper_room.value <= 0
    return Seat(
        name=side.name,
        angle=groove.angle,
        depth=groove.depth,
        depth_guessed=side.depth_guessed,
        drop_free=model.drop if model is not None else None,
        drop=drop,
        room=room,
        bottoms=bottoms,
        near=near,
        odds_bottoms=odds,
        ride=ride,
        ride_new=ride_new,
        diameter_new=groove.diameter,
        diameter_now=groove.diameter - 2 * drop.value,
        measured=reading is not None,
        ride_new_measured=new_reading is not None,
        above_datum=groove.above_datum,
        width_bottoms=drive.width_new.value - loss_to_floor
        if loss_to_floor <= wear.MOST_WIDTH_LOSS.value * drive.width_new.value
        else None,
        deeper_depth=deeper_depth,
        deeper_room=deeper_room,
        deeper_bottoms=deeper_bottoms,
        deeper_system=side.deeper.system if side.deeper is not None else "",
        groove_worn=worn,
        shines=getattr(drive.given, f"{side.which}_shines"),
    )


def _extra(
    drive: Known, small: Seat, large: Seat, found: wear.Wear | None
) -> tuple[Doubtful, Doubtful | None]:
    """Extra centre distance as the belt really sits, and in the deepest standard grooves."""
    length = drive.given.length
    assert length is not None

    def at(drop_small: float, drop_large: float) -> wear.WornDrive:
        return wear.worn_drive(
            small=small.diameter_new,
            large=large.diameter_new,
            length=length,
            drop_small=drop_small,
            drop_large=drop_large,
        )

    if found is not None and not (small.measured or large.measured):
        extra = Doubtful(found.capped.extra_centres, found.u_capped)
    else:
        worn = at(small.drop.value, large.drop.value)
        wrap = geometry.wrap_angle(small=worn.small, large=worn.large, centres=worn.centres)
        cosine = 2 * sin(wrap / 2)
        arms = (wrap / cosine, (2 * pi - wrap) / cosine)
        # The place of the cord is one doubt for both grooves; the readings are two.
        extra = Doubtful(worn.extra_centres, hypot(arms[0] * small.drop.u, arms[1] * large.drop.u))
    below = drive.below_cord
    if (
        found is None
        or below is None
        or (small.deeper_depth is None and large.deeper_depth is None)
    ):
        return extra, None
    drops = [
        seat.drop.value
        if seat.measured or seat.drop_free is None
        else min(seat.drop_free.value, (seat.deeper_depth or seat.depth) - below.value)
        for seat in (small, large)
    ]
    return extra, Doubtful(at(drops[0], drops[1]).extra_centres, extra.u)


def tight(drive: Known) -> bool:
    """Whether the belt is tight at the centre distance given; a tension reading says so too."""
    given = drive.given
    if given.belt_tight is None:
        return was_read(given)
    return given.belt_tight


def _placed(drive: Known, *, now: wear.Wear | None) -> wear.Wear | None:
    """The wear when the slot was read with the belt tight; None where that is the wear now."""
    given = drive.given
    if given.width_placed is None or now is None or not tight(drive):
        return None
    assert drive.driver is not None
    assert drive.driven is not None
    assert drive.driver.groove is not None
    assert drive.driven.groove is not None
    u = doubt.tool("calliper").value if given.width_placed_u is None else given.width_placed_u
    width = use(drive, "width_placed", given.width_placed, u, "m")
    return _model(drive, drive.driver.groove, drive.driven.groove, width=width)


def _take_up(
    drive: Known, extra: Doubtful, *, now: wear.Wear | None, placed: wear.Wear | None
) -> TakeUp | None:
    given, driver, driven = drive.given, drive.driver, drive.driven
    assert driver is not None
    assert driven is not None
    assert given.length is not None
    if given.centres is None or given.slot_out is None:
        return None
    small, large = sorted((driver.diameter.value, driven.diameter.value))
    new = geometry.open_centres(small=small, large=large, length=given.length)
    u_new = drive.u_length * geometry.centres_per_length(small=small, large=large, centres=new)
    u_slot = drive.half_width("slot_out", "slot") / sqrt(3)
    u_centres = drive.half_width("centres", "centres") / sqrt(3)
    high = given.centres + given.slot_out
    needed = Doubtful(new + extra.value, hypot(u_new, extra.u))
    to_tight = Doubtful(needed.value - given.centres, hypot(needed.u, u_centres))
    since = None
    # What it had used when the slot was read, and what it has used since then.
    then = extra
    if placed is not None and now is not None:
        then = Doubtful(placed.capped.extra_centres, placed.u_capped)
        widths = hypot(
            drive.width_now.u if drive.width_now is not None else 0.0,
            drive.given.width_placed_u or 0.0,
        )
        worn = max(now.capped.extra_centres - then.value, 0.0)
        since = Doubtful(worn, abs(now.per_width) * widths)
        needed = Doubtful(new + then.value, hypot(u_new, then.u))
        to_tight = Doubtful(needed.value - given.centres, hypot(needed.u, u_centres))
    if tight(drive):
        # What is left is read on the slot; where the belt was when new is so much further in.
        agrees, words, used_read = _against_slot(drive, needed, to_tight, then)
        lost = since or Doubtful(0.0, 0.0)
        left = Doubtful(given.slot_out - lost.value, hypot(u_slot, lost.u))
        travel = Doubtful(given.slot_out + then.value, hypot(u_slot, then.u))
        to_tight = lost
    else:
        agrees, words, used_read = None, "", None
        left = Doubtful(high - needed.value, hypot(needed.u, u_centres, u_slot))
        travel = Doubtful(high - new, hypot(u_new, u_centres, u_slot))
    ended = left.value <= 0
    odds = probability_below(limit=0, mean=left.value, u=left.u)
    if ended:
        words = _end_words(drive, words, since=since, odds=odds)
    return TakeUp(
        low=None if given.slot_in is None else given.centres - given.slot_in,
        high=high,
        travel=travel,
        used=extra,
        left=left,
        to_tight=to_tight,
        ended=ended,
        odds_ended=odds,
        agrees=agrees,
        travel_from_geometry=not tight(drive),
        words=words,
        used_read=used_read,
        since=since,
    )


def _against_slot(
    drive: Known, needed: Doubtful, to_tight: Doubtful, then: Doubtful
) -> tuple[bool, str, Doubtful | None]:
    """Whether length and wear agree with the slot where the belt was tight, that in words, and
    what the slot says that the wear has used.

    then: what the wear had used when the slot was read.
    """
    given = drive.given
    assert given.centres is not None
    assert given.slot_out is not None
    agrees = abs(to_tight.value) <= 2 * to_tight.u
    words = (
        ""
        if agrees
        else _(
            "The belt's length and width ask for centres of {needed} and it is "
            "tight at {centres}: {gap} apart, where {error} could be error. "
            "Measure again, and check the belt's mark and the pulleys."
        ).format(
            needed=length_text(needed.value),
            centres=length_text(given.centres),
            gap=length_text(abs(to_tight.value)),
            error=length_text(2 * to_tight.u),
        )
    )
    if given.slot_out_new is None:
        return agrees, words, None
    u_slot = drive.half_width("slot_out", "slot") / sqrt(3)
    used_read = Doubtful(given.slot_out_new - given.slot_out, sqrt(2) * u_slot)
    if doubt.agree(used_read, then):
        return agrees, words, used_read
    words = (
        _(
            "{words} By the slot {used_read} were used since the belt was new, "
            "by the wear {then}: further apart than the error (± {error}). "
            "Read width and slot again."
        ).format(
            words=words,
            used_read=length_text(used_read.value),
            then=length_text(then.value),
            error=spread_text(2 * hypot(used_read.u, then.u)),
        )
    ).strip()
    return False, words, used_read


def _end_words(drive: Known, words: str, *, since: Doubtful | None, odds: float) -> str:
    """What to do about a slot that is at its end, and how sure that is."""
    if (tight(drive) and since is None) or odds >= SURE_ODDS.value:
        return (
            _(
                "The slot is used up: change the belt. Tensioning again is not possible. {words}"
            ).format(words=words)
        ).strip()
    if since is not None:
        return _(
            "By its width the belt has used up the slot since it was read "
            "(odds {odds}). Read the slot again with the belt tight."
        ).format(odds=odds_words(odds))
    return _(
        "By the belt's nominal length the slot is used up (odds {odds}). "
        "Look whether the belt is still slack with the motor at the end of "
        "the slot."
    ).format(odds=odds_words(odds))


def _which_first(
    drive: Known,
    driver: Side,
    driven: Side,
    seats: list[Seat],
    extra: Doubtful,
    take_up: TakeUp | None,
) -> tuple[float | None, str, str]:
    """Width at which the slot ends, which limit comes first, and that in words."""
    assert driver.groove is not None
    assert driven.groove is not None
    assert drive.width_new is not None
    assert drive.given.length is not None
    assert drive.below_cord is not None
    soonest = max(seats, key=lambda seat: seat.width_bottoms or 0.0)
    floor = soonest.width_bottoms or 0.0
    # Past a quarter of the width the sums no longer hold, and a figure would only mislead.
    at_floor = (
        _("it reaches the floor of the {soonest}'s groove at {floor}").format(
            soonest=soonest.name, floor=length_text(floor)
        )
        if floor
        else _("it does not reach the floor within a quarter of its width")
    )
    if floor >= drive.width_new.value:
        return None, "floor", _("Even a new belt stands on the floor of a groove this shallow.")
    if take_up is None:
        return (
            None,
            "",
            _("At what width the slot ends is not known; {at_floor}.").format(at_floor=at_floor),
        )
    if take_up.travel.value <= 0:
        return None, "slot", _("Even a new belt of this length is slack at the end of the slot.")
    loss = wear.loss_that_ends_slot(
        small=driver.groove,
        large=driven.groove,
        length=drive.given.length,
        travel=min(take_up.travel.value, 1.0),
        width_new=drive.width_new.value,
        below_cord=drive.below_cord.value,
    )
    if loss is None and not floor:
        return None, "", _("Neither floor nor end of the slot comes within a quarter of its width.")
    if loss is None:
        return (
            None,
            "floor",
            _("The floor comes before the end of the slot: {at_floor}.").format(at_floor=at_floor),
        )
    ends = drive.width_new.value - loss
    if ends >= floor:
        return (
            ends,
            "slot",
            _("The slot ends first, at {ends} width; {at_floor}.").format(
                ends=length_text(ends), at_floor=at_floor
            ),
        )
    return (
        ends,
        "floor",
        _("The floor comes first: {at_floor}; the slot would end at {ends}.").format(
            at_floor=at_floor, ends=length_text(ends)
        ),
    )
