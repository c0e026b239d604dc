"""What is odd about a drive, and what is missing of it."""

from collections.abc import Iterator
from math import degrees, pi

from plant.drives import fits, lengths, power
from plant.drives.errors import NotSourced
from plant.drives.facts import Fact, Trust
from plant.drives.outcome import LABELS, DrivenPart, Geometry, Missing, PowerPart, WearPart
from plant.drives.parts.known import Known
from plant.drives.parts.power import small_wrap
from plant.drives.parts.tension import was_read
from plant.drives.sections import SECTIONS, Family
from plant.length_words import length_text
from plant.translate import gettext as _
from plant.translate import gettext_noop, ngettext

LEAST_WRAP = Fact(2 * pi / 3, "contact on the small pulley without an idler", Trust.PRACTICE)
# A belt this near to the new width of a section, and so much narrower than its own, may be of it.
AS_WIDE = Fact(0.5e-3, "spread of the width of new belts of several makes", Trust.PRACTICE)
ANOTHER_SECTION = Fact(2e-3, "least step from one section's width to the next", Trust.PRACTICE)
_COMMON = (Family.CLASSICAL, Family.NARROW, Family.INCH_NARROW)


def warn(
    drive: Known,
    worn: WearPart | None,
    shape: Geometry | None,
    rated: PowerPart | None,
    turned: DrivenPart | None,
) -> None:
    said = drive.warnings
    said.extend(_of_belt(drive, shape))
    said.extend(_of_wrap(drive, shape))
    said.extend(_rims(drive, shape))
    if worn is not None and (others := _as_wide(drive)):
        said.append(
            _(
                "It is as wide as a new {others} belt. Read its mark and measure "
                "its height before you call it worn ({practice})."
            ).format(others=others, practice=Trust.PRACTICE)
        )
    if shape is not None and drive.given.sized_at in ("rim", "effective"):
        said.extend(_sized_elsewhere(drive, shape))
    said.extend(_guessed(drive))
    if worn is not None:
        said.extend(_of_wear(worn))
    if rated is not None and (rated.belts_needed or 0) > rated.belts_fitted:
        said.append(
            ngettext(
                "By {chosen} the design power needs {needed} belts and {fitted} is fitted. The "
                "methods differ by up to a factor of two: judge by how long belts last here.",
                "By {chosen} the design power needs {needed} belts and {fitted} are fitted. The "
                "methods differ by up to a factor of two: judge by how long belts last here.",
                rated.belts_fitted,
            ).format(chosen=rated.chosen, needed=rated.belts_needed, fitted=rated.belts_fitted)
        )
    if drive.given.belts > 1:
        said.append(_("Change all belts of a drive together, as a matched set."))
    if turned is not None and turned.words and (turned.slip_measured or 0) > 0:
        said.append(turned.words)


def _of_belt(drive: Known, shape: Geometry | None) -> Iterator[str]:
    """What its section cannot do, and the speed and the bends that it should not see."""
    given, belt = drive.given, drive.belt
    if belt is not None and not belt.wedges:
        yield _(
            "{belt} is a {family} belt: it does not sink into a groove as it "
            "wears, and it must not run in V grooves. Only the geometry is "
            "worked out."
        ).format(belt=belt.code, family=belt.family)
    if belt is not None and belt.note:
        yield f"{belt.code}: {belt.note}"
    if belt is not None and shape is not None and shape.speed_new is not None and given.length:
        assert drive.driver is not None
        assert drive.driven is not None
        try:
            found = power.limit_warnings(
                family=belt.family.value,
                speed=shape.speed_new,
                length=given.length,
                small=min(drive.driver.diameter.value, drive.driven.diameter.value),
                min_diameter=belt.min_diameter,
            )
            yield from (one.words for one in found)
        except NotSourced:
            pass


def _of_wrap(drive: Known, shape: Geometry | None) -> Iterator[str]:
    wrap = None if shape is None else small_wrap(shape, worn=False)
    if wrap is not None and wrap < LEAST_WRAP.value:
        yield _(
            "The belt holds only {wrap}° of the small pulley; under "
            "{least_wrap}° it slips early ({trust}). See the grip."
        ).format(
            wrap=f"{degrees(wrap):.0f}",
            least_wrap=f"{degrees(LEAST_WRAP.value):.0f}",
            trust=LEAST_WRAP.trust,
        )
    if drive.given.idler != "none":
        yield _(
            "An idler bends this belt. Centre distance, "
            "take-up, contact angle and span are worked "
            "out as if it were not there: read the slot and the tension instead."
        )


def _guessed(drive: Known) -> Iterator[str]:
    """Groove depths and the width when new, where a guess or a nominal stands for them."""
    for side in (drive.driver, drive.driven):
        if side is not None and side.depth_guessed and side.groove is not None:
            yield _(
                "The groove depth of the {side} is a guess ({depth} below the "
                "datum line, the least of the standard). Whether the belt stands "
                "on the floor hangs on it: measure it."
            ).format(side=side.name, depth=length_text(side.groove.depth))
    if (
        drive.given.width_new is None
        and drive.width_new is not None
        and drive.width_now is not None
    ):
        yield _(
            "The width when new is the nominal {width_new}, not this belt's "
            "own: half a millimetre less would be half a millimetre of wear "
            "that is not there. Measure the next belt when it is fitted."
        ).format(width_new=length_text(drive.width_new.value))


def _of_wear(worn: WearPart) -> Iterator[str]:
    for seat in (worn.driver, worn.driven):
        if seat.groove_worn is not None and seat.groove_worn.shown:
            yield f"{seat.name.capitalize()}: {seat.groove_worn.words}"
        if seat.deeper_bottoms is not None and seat.deeper_bottoms is not seat.bottoms:
            assert seat.deeper_depth is not None
            yield _(
                "In the {seat}'s groove the belt stands on the floor if the groove "
                "is {depth} deep below the datum line, and does not if it is "
                "{deeper_depth} ({deeper_system})."
            ).format(
                seat=seat.name,
                depth=length_text(seat.depth),
                deeper_depth=length_text(seat.deeper_depth),
                deeper_system=seat.deeper_system,
            )
    if worn.shown and worn.loss is not None:
        yield _("A worn belt is narrow, not long: do not fit the next shorter length.")


def _as_wide(drive: Known) -> str:
    """Smaller wedge sections whose new belts are as wide as this one is now; empty: none."""
    belt, now = drive.belt, drive.width_now
    if belt is None or now is None or not belt.wedges:
        return ""
    found = [
        other.code
        for other in SECTIONS.values()
        if other.wedges
        and other.sizes
        and other.family in _COMMON
        and "X" not in other.code
        and belt.top_width - other.top_width >= ANOTHER_SECTION.value
        and abs(other.top_width - now.value) <= max(2 * now.u, AS_WIDE.value)
    ]
    return (
        _("{rest} or {last}").format(rest=", ".join(found[:-1]), last=found[-1])
        if len(found) > 1
        else "".join(found)
    )


def _rims(drive: Known, shape: Geometry | None) -> tuple[str, ...]:
    """Whether the pulley rims would touch where the shafts stand, or with the slot fully in."""
    given, belt = drive.given, drive.belt
    if belt is None or shape is None or drive.driver is None or drive.driven is None:
        return ()
    places: list[tuple[str, float]] = []
    if given.centres is not None:
        places.append((_("At the centre distance given"), given.centres))
        if given.slot_in is not None:
            places.append((_("With the slot fully in"), given.centres - given.slot_in))
    if shape.centres_new is not None:
        places.append(
            (_("At the centres that this belt asks for when new"), shape.centres_new.value)
        )
    for where, centres in places:
        if centres <= 1e-3:
            continue
        found = fits.rims_touch(
            belt.code,
            small=drive.driver.diameter.value,
            large=drive.driven.diameter.value,
            centres=centres,
            where=where,
        )
        if found:
            return found
    return ()


def _sized_elsewhere(drive: Known, shape: Geometry) -> tuple[str, ...]:
    """How far off the ratio is for pulleys sized at the rim, inside or outside of the cords."""
    assert drive.belt is not None
    assert drive.driver is not None
    assert drive.driven is not None
    d1, d2 = drive.driver.diameter.value, drive.driven.diameter.value
    # On every pulley the cords run on a circle smaller by this much; lengths differ by pi times it.
    inward = (1.0 - lengths.cord_from_effective(drive.belt.code, 1.0)) / pi
    if inward >= min(d1, d2):
        return ()
    speeds = abs(inward) / min(d1, d2)
    ratio = abs((d2 - inward) / (d1 - inward) / (d2 / d1) - 1)
    return (
        (
            _(
                "{belt} pulleys go by outside diameter and effective length; the cords run "
                "{drop} inside of that line. Centres come out right; belt speed is out by "
                "{speeds} % and the ratio by {ratio} %."
            )
            if inward > 0
            else _(
                "{belt} pulleys go by effective diameter and effective length; the cords run "
                "{drop} outside of that line. Centres come out right; belt speed is out by "
                "{speeds} % and the ratio by {ratio} %."
            )
        ).format(
            belt=drive.belt.code,
            drop=length_text(abs(inward) / 2, 2),
            speeds=f"{speeds * 100:.1f}",
            ratio=f"{ratio * 100:.1f}",
        ),
    )


# Field, what it would settle, what stands in for it.
_SETTLES: tuple[tuple[str, str, str], ...] = (
    ("driver", gettext_noop("every sum on the drive"), ""),
    ("driven", gettext_noop("every sum on the drive"), ""),
    ("section", gettext_noop("how the belt sits in its grooves, what it weighs and carries"), ""),
    ("length", gettext_noop("centre distance, take-up, and how far the belt still reaches"), ""),
    (
        "width_now",
        gettext_noop("how far the belt has worn, how deep it rides and the take-up it uses"),
        "",
    ),
    (
        "width_new",
        gettext_noop("how much of the narrowness is wear"),
        gettext_noop("the nominal of its length system"),
    ),
    (
        "driver_depth",
        gettext_noop("whether the belt stands on the floor"),
        gettext_noop("the least depth of the standard"),
    ),
    (
        "driven_depth",
        gettext_noop("whether the belt stands on the floor"),
        gettext_noop("the least depth of the standard"),
    ),
    (
        "driver_angle",
        gettext_noop("how far the belt drops for each mm of width"),
        gettext_noop("the angle of the standard"),
    ),
    (
        "driven_angle",
        gettext_noop("how far the belt drops for each mm of width"),
        gettext_noop("the angle of the standard"),
    ),
    ("centres", gettext_noop("where the motor stands in its slot"), ""),
    ("slot_out", gettext_noop("how much take-up is left"), ""),
    ("slot_in", gettext_noop("whether a new belt can be put on without force"), ""),
    ("motor_power", gettext_noop("the tension that the belt needs"), ""),
    ("motor_speed", gettext_noop("belt speed, tension and driven speed"), ""),
)


# What settles nothing for a section whose seat in the groove cannot be worked out.
_OF_SEAT = (
    "width_now",
    "width_new",
    "driver_depth",
    "driven_depth",
    "driver_angle",
    "driven_angle",
)


def what_is_missing(drive: Known) -> tuple[Missing, ...]:
    given = drive.given
    found: list[Missing] = []
    of_seat = () if drive.seat_known else _OF_SEAT
    rides = given.driver_ride is not None and given.driven_ride is not None
    for name, settles, instead in _SETTLES:
        value = getattr(given, name)
        if (value is not None and value != "") or name in of_seat:
            continue
        if name == "width_now" and rides:
            instead = gettext_noop("the ride measured on both pulleys")
        assumed = any(one.field == name for one in drive.used)
        instead = _(instead) if assumed or rides else ""
        found.append(Missing(name, _(given.label(name)), _(settles), instead))
    if not was_read(given):
        found.append(
            Missing(
                "reading_force", _(LABELS["reading_force"]), _("whether the belt is tight enough")
            )
        )
    return tuple(found)
