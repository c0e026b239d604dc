"""What is to be done about the belt, in words, and why."""

from plant.drives import tension, wear
from plant.drives.doubt import odds_words, probability_below
from plant.drives.facts import Fact, Trust
from plant.drives.outcome import Reading, Seat, TakeUp, TensionPart, Verdict, WearPart
from plant.drives.parts.known import Known
from plant.drives.parts.wear import tight, width_is_odd
from plant.length_words import length_text, spread_text
from plant.translate import gettext as _

# The limits at which a verdict turns; those of width, ride and room stand in ``wear``.
WATCH_TAKE_UP = Fact(0.25, "share of a new belt's take-up left, to watch from", Trust.PRACTICE)
WATCH_ODDS = Fact(0.05, "odds of standing on the floor, to watch from", Trust.PRACTICE)
UNDECIDED_ODDS = Fact(
    0.20, "odds between this and one less this decide nothing: measure again", Trust.PRACTICE
)
FLUSH = Fact(-0.5e-3, "ride above which a new belt counts as flush with the rim", Trust.PRACTICE)


def wear_verdict(drive: Known, worn: WearPart | None) -> tuple[Verdict | None, list[str], bool]:
    """What width, ride and slot say; their reasons; whether tensioning again may be offered."""
    new, now = drive.width_new, drive.width_now
    odd = width_is_odd(new, now) if new is not None and now is not None else ""
    change: list[str] = []
    again: list[str] = []
    watch: list[str] = []
    if odd and new is not None and now is not None:
        (again if now.value > new.value else change).append(odd)
    if worn is not None:
        _judge_width(worn, change=change, again=again, watch=watch)
        for seat in (worn.driver, worn.driven):
            _judge_seat(seat, change=change, again=again, watch=watch)
        if worn.take_up is not None:
            _judge_slot(worn.take_up, change=change, again=again, watch=watch)
    slot_ended = bool(worn is not None and worn.take_up is not None and worn.take_up.ended)
    if not slot_ended and tight(drive) and drive.given.slot_out == 0:
        change.append(_("The slot is used up: change the belt. Tensioning again is not possible."))
    if change:
        return Verdict.CHANGE, change + again, False
    if again:
        # With the slot at its end by the best figure, tensioning again waits for a look at it.
        return Verdict.AGAIN, again + watch, not slot_ended
    if watch:
        return Verdict.WATCH, watch, True
    return None, [], True


def _judge_width(worn: WearPart, *, change: list[str], again: list[str], watch: list[str]) -> None:
    if worn.loss is None or worn.share is None:
        return
    share = _("It has lost {loss}, {share} % of its width").format(
        loss=length_text(worn.loss.value), share=f"{worn.share * 100:.0f}"
    )
    if worn.share >= wear.CHANGE_WIDTH_LOSS.value and worn.shown:
        limit = wear.CHANGE_WIDTH_LOSS
        change.append(
            _("{share}; change at {limit} % ({trust}).").format(
                share=share, limit=f"{limit.value * 100:.0f}", trust=limit.trust
            )
        )
    elif worn.share >= wear.WATCH_WIDTH_LOSS.value and worn.shown:
        limit = wear.WATCH_WIDTH_LOSS
        watch.append(
            _("{share}; watch from {limit} % ({trust}).").format(
                share=share, limit=f"{limit.value * 100:.0f}", trust=limit.trust
            )
        )
    elif worn.share >= wear.CHANGE_WIDTH_LOSS.value:
        again.append(
            _(
                "{share}, but the reading's error is as large: measure again, with a calliper."
            ).format(share=share)
        )


def _judge_seat(seat: Seat, *, change: list[str], again: list[str], watch: list[str]) -> None:
    odds, low, high = seat.odds_bottoms, UNDECIDED_ODDS.value, 1 - UNDECIDED_ODDS.value
    hangs_on_depth = seat.bottoms and seat.deeper_bottoms is False
    undecided = hangs_on_depth or low < odds < high
    room = _("Room under the belt in the {seat}'s groove: {room}").format(
        seat=seat.name, room=length_text(seat.room.value)
    )
    known = _("known to about {room_half_width}").format(
        room_half_width=length_text(wear.ROOM_HALF_WIDTH.value)
    )
    if undecided and seat.shines:
        change.append(
            _(
                "The floor of the {seat}'s groove shines: the belt stands on it "
                "and no longer wedges ({practice})."
            ).format(seat=seat.name, practice=Trust.PRACTICE)
        )
    elif undecided and seat.shines is False:
        watch.append(
            _(
                "{room}, {known}. The floor does not shine, so the belt does not "
                "rub on it yet: look again at every reading."
            ).format(room=room, known=known)
        )
    elif hangs_on_depth:
        again.append(
            _(
                "{room} if the groove has the least depth of its standard, which "
                "is a guess. Measure the depth, or look whether floor and belt are "
                "shiny."
            ).format(room=room)
        )
    elif odds >= high:
        change.append(
            _(
                "It stands on the floor of the {seat}'s groove (odds {odds}) and no longer wedges."
            ).format(seat=seat.name, odds=odds_words(odds))
        )
    elif odds > low:
        again.append(
            _(
                "{room}, {known}: it may stand on the floor (odds {odds}). Look "
                "for a shiny floor, or measure the ride."
            ).format(room=room, known=known, odds=odds_words(odds))
        )
    elif seat.shines:
        again.append(
            _(
                "The floor of the {seat}'s groove shines, and by the figures there "
                "is {room} of room under the belt. Measure depth and ride: an "
                "earlier belt may have rubbed there."
            ).format(seat=seat.name, room=length_text(seat.room.value))
        )
    elif odds > WATCH_ODDS.value:
        watch.append(
            _("{room}: the floor is near (odds of standing on it {odds}).").format(
                room=room, odds=odds_words(odds)
            )
        )
    flush = seat.ride_new.value >= FLUSH.value
    if flush:
        _judge_ride(seat, change=change, watch=watch)
    if seat.groove_worn is not None and seat.groove_worn.shown:
        watch.append(f"{seat.name.capitalize()}: {seat.groove_worn.words}")
    elif seat.groove_worn is not None and seat.groove_worn.too_high:
        again.append(f"{seat.name.capitalize()}: {seat.groove_worn.words}")


def _judge_ride(seat: Seat, *, change: list[str], watch: list[str]) -> None:
    """A ride that was measured stands; one worked out from the width only has odds."""
    limit = wear.CHANGE_RIDE
    below = _("{ride} below the rim of the {seat}").format(
        ride=length_text(-seat.ride.value), seat=seat.name
    )
    at = _("change at {limit} ({trust})").format(limit=length_text(-limit.value), trust=limit.trust)
    if seat.measured:
        if seat.ride.value < limit.value:
            change.append(_("It rides {below}; {at}.").format(below=below, at=at))
        return
    odds = probability_below(limit=limit.value, mean=seat.ride.value, u=seat.ride.u)
    modelled = _("By its width it rides {below} (± {spread_text}); {at}").format(
        below=below, spread_text=spread_text(2 * seat.ride.u), at=at
    )
    if odds >= 1 - UNDECIDED_ODDS.value:
        change.append(
            _("{modelled}; odds {odds}.").format(modelled=modelled, odds=odds_words(odds))
        )
    elif seat.ride.value < limit.value:
        watch.append(_("{modelled}. Measure the ride: that decides.").format(modelled=modelled))


def _judge_slot(found: TakeUp, *, change: list[str], again: list[str], watch: list[str]) -> None:
    left = f"{length_text(found.left.value)}"
    if found.ended:
        more = -found.left.value
        asks = (
            _(" It asks for {more} more than the slot has.").format(more=length_text(more))
            if more > 5e-5
            else ""
        )
        reckoned = found.travel_from_geometry or found.since is not None
        undecided = reckoned and found.odds_ended < 1 - UNDECIDED_ODDS.value
        (again if undecided else change).append(f"{found.words}{asks}")
        return
    if found.agrees is False:
        again.append(found.words)
    if found.left.value <= 2 * found.used.u:
        watch.append(
            _(
                "Take-up left is {left}, no more than the error of the wear: the "
                "slot may be at its end. Have a belt ready."
            ).format(left=left)
        )
    elif found.odds_ended > UNDECIDED_ODDS.value:
        watch.append(
            _(
                "Take-up left is {left} by the belt's nominal length, known to ± "
                "{spread_text}: the slot may be at its end (odds {odds_ended}). "
                "Read the slot with the belt tight."
            ).format(
                left=left,
                spread_text=spread_text(2 * found.left.u),
                odds_ended=odds_words(found.odds_ended),
            )
        )
    elif found.left.value <= WATCH_TAKE_UP.value * found.travel.value:
        watch.append(
            _(
                "Take-up left is {left} of {travel}; watch from a quarter "
                "({trust}). Have a belt ready."
            ).format(left=left, travel=length_text(found.travel.value), trust=WATCH_TAKE_UP.trust)
        )


def verdict_of(
    drive: Known,
    worn: WearPart | None,
    pulled: TensionPart | None,
    verdict: Verdict | None,
    why: list[str],
    *,
    unjudged: Reading | None,
) -> tuple[Verdict, list[str]]:
    """Puts the tension beside what the wear says."""
    reading = pulled.reading if pulled is not None else unjudged
    slack = _slack_words(drive, worn)
    if verdict in (Verdict.CHANGE, Verdict.AGAIN):
        if reading is not None:
            why = [*why, reading.words]
        return verdict, why
    # A belt that holds no tension at all is slack, whatever the motor's power.
    loose = reading is not None and (
        reading.verdict == tension.Verdict.UNDER or reading.tension.value <= 0
    )
    slips = bool(
        reading is not None
        and pulled is not None
        and pulled.slip_now is not None
        and pulled.slip_now.slips
    )
    if loose or slips or slack:
        said = [reading.words] if loose and reading is not None else []
        if slips:
            said.append(_("At the tension read it slips under the design power."))
        if slack:
            said.append(slack)
        if drive.given.slot_out is None:
            said.append(_("Look first whether the slot has room left."))
        return Verdict.TIGHTEN, said + why
    if reading is not None and reading.verdict == tension.Verdict.OVER:
        return Verdict.WATCH, [reading.words, *why]
    if verdict is not None:
        return verdict, [*why, unjudged.words] if unjudged is not None else why
    if worn is None and (reading is None or unjudged is not None):
        said = [unjudged.words] if unjudged is not None else []
        return Verdict.AGAIN, [_nothing_to_judge(drive), *said]
    said = []
    if worn is not None and worn.loss is not None:
        said.append(
            _("It has lost {loss} of width").format(loss=length_text(worn.loss.value))
            + ("" if worn.shown else _(", within the error of the reading"))
            + _(", and no limit is passed.")
        )
    elif worn is not None:
        said.append(_("It rides within the limits on both pulleys."))
    if reading is not None:
        said.append(reading.words)
    elif pulled is not None:
        said.append(_("The tension was not read."))
    if worn is None:
        said.append(
            _("The width was not measured: wear is not judged.")
            if drive.seat_known
            else _("How far a belt of this section has worn is not judged here.")
        )
    said.append(
        _(
            "Not judged here: cracks, bare cords, glazing, oil. Any of them, "
            "and the belt is changed ({practice})."
        ).format(practice=Trust.PRACTICE)
    )
    return Verdict.FIT_ON, [_("The belt may stay on."), *said]


def _slack_words(drive: Known, worn: WearPart | None) -> str:
    if worn is None or worn.take_up is None or worn.take_up.to_tight is None:
        return ""
    out, u = worn.take_up.to_tight
    if worn.take_up.since is not None:
        return ""  # it was tight when the slot was read; its tension says whether it still is
    if out <= 0 or out <= 2 * u:
        return ""
    # Nobody said that it is slack: then it is only so by the length that its mark names.
    said = drive.given.belt_tight is False
    words = (
        _("It is slack as it stands: the motor has to go {out} further out (± {error}).")
        if said
        else _(
            "By its nominal length it is slack as it stands: the motor has to go {out} "
            "further out (± {error})."
        )
    )
    return words.format(out=length_text(out), error=spread_text(2 * u))


def _nothing_to_judge(drive: Known) -> str:
    wanted = [
        drive.given.label(name)
        for name in ("driver", "driven", "section", "length", "width_now")
        if getattr(drive.given, name) in (None, "") and (drive.seat_known or name != "width_now")
    ]
    if wanted:
        return _("There is too little to judge the belt by. Needed: {wanted}.").format(
            wanted=", ".join(wanted)
        )
    if not drive.seat_known:
        return _(
            "Wear of a belt of this section is not worked out here: read its tension, and look for "
            "cracks, bare cords and glazing."
        )
    return _("There is nothing to judge the belt by: read its tension, or measure the ride.")
