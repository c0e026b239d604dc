"""What is drawn of a drive's work-out: grooves, layout and band of tension, each in words too."""

from dataclasses import asdict, dataclass
from math import pi
from typing import TYPE_CHECKING

from django.utils.translation import gettext

from plant.drawings.belt_in_groove import belt_in_groove
from plant.drawings.drive_layout import drive_layout
from plant.drawings.pictures import BandPicture, GroovePicture, LayoutPicture
from plant.drawings.svg import to_svg
from plant.drawings.tension_band import tension_band
from plant.drives import grooves
from plant.drives.outcome import DriveGiven, DriveWorkout, Seat, TensionPart, WearPart
from plant.drives.sections import Section, section
from plant.length_words import length_text

if TYPE_CHECKING:
    from plant.contents.workout import ToldDrive


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as SVG, and in words for who cannot see it."""

    title: str
    svg: str
    words: str


def pictures(drive: "ToldDrive") -> tuple[Picture, ...]:
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


def grooves_shown(workout: DriveWorkout) -> tuple[GroovePicture, ...]:
    worn, given = workout.wear, workout.given
    if worn is None or not given.section:
        return ()
    belt = section(given.section)
    found = (_groove(given, worn, belt, seat) for seat in (worn.driver, worn.driven))
    return tuple(shown for shown in found if shown is not None)


def _groove(given: DriveGiven, worn: WearPart, belt: Section, seat: Seat) -> GroovePicture | None:
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
    return GroovePicture(
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


def _groove_words(shown: GroovePicture) -> str:
    stands = (
        gettext("it stands on the floor")
        if shown.clearance <= 0
        else gettext("{clearance} room under it").format(clearance=length_text(shown.clearance))
    )
    ride = shown.ride or 0.0
    told = (
        gettext(
            "The belt is {now} wide, {new} when new. Its top is {ride} above the rim; {stands}."
        )
        if ride > 0
        else gettext(
            "The belt is {now} wide, {new} when new. Its top is {ride} below the rim; {stands}."
        )
    )
    words = told.format(
        now=length_text(shown.width_now),
        new=length_text(shown.belt_top_width_new),
        ride=length_text(abs(ride)),
        stands=stands,
    )
    return (
        gettext("{words} The groove depth is a guess.").format(words=words)
        if shown.depth_guessed
        else words
    )


def layout_shown(workout: DriveWorkout) -> LayoutPicture | None:
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
    names = (gettext("motor pulley"), gettext("driven pulley"))
    pulleys = (given.driver, given.driven)
    return LayoutPicture(
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


def _layout_words(shown: LayoutPicture) -> str:
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


def band_shown(part: TensionPart | None) -> BandPicture | None:
    if part is None:
        return None
    setting = part.this_belt or part.new_belt
    if not 0 <= setting.low < setting.high:
        return None
    # A reading of the old belt says nothing against the band of a new one.
    reading = part.reading if part.this_belt is not None else None
    return BandPicture(
        low=setting.low,
        high=setting.high,
        reading=None if reading is None else reading.tension.value,
        reading_doubt=0.0 if reading is None else 2 * reading.tension.u,
    )


def _band_words(shown: BandPicture, *, was_read: bool) -> str:
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
