"""One belt drive worked out whole: what is known of it in, everything the sums can say out."""

from dataclasses import replace

from plant.drives import working
from plant.drives.outcome import DriveGiven, DriveWorkout, Verdict
from plant.drives.parts.driven import driven_part
from plant.drives.parts.geometry import geometry_part
from plant.drives.parts.known import known_of
from plant.drives.parts.power import power_part
from plant.drives.parts.tension import tension_part, unjudged_reading
from plant.drives.parts.verdict import verdict_of, wear_verdict
from plant.drives.parts.warnings import warn, what_is_missing
from plant.drives.parts.wear import wear_part
from plant.translate import gettext, gettext_noop

__all__ = ["SUMS_VERSION", "DriveGiven", "DriveWorkout", "Verdict", "work_out"]

SUMS_VERSION = "1"

CAUTIONS: tuple[str, ...] = (
    gettext_noop(
        "Stop the machine, isolate it (pull the plug and keep it, lock the isolator, or "
        "take off the plug lead) and let everything come to rest before the guard comes "
        "off."
    ),
    gettext_noop(
        "Never check ride, width or tension with the drive turning. Keep fingers out of the "
        "nip; turn pulleys by hand only with the power isolated."
    ),
    gettext_noop(
        "Slacken the take-up to fit a belt; never lever or roll it over a rim. No dressing "
        "on a V-belt."
    ),
    gettext_noop(
        "Guards back on before any run. A competent person returns the machine to use; "
        "local rules and the maker's instructions come first."
    ),
)


def work_out(given: DriveGiven) -> DriveWorkout:
    """Works out one open drive of two pulleys from whatever is known of it.

    Args:
        given: [m, rad, W, rad/s, N, Hz] the figures; those that are None are left out.

    Returns:
        [SI] every part that the figures allow, what is missing and what it would settle, a
        verdict with its reasons, and the working line by line.

    Raises:
        DriveError: a figure is impossible (outside its range, or the belt cannot lie on these
            pulleys). Never for a figure that is merely missing.

    Source:
        The formulas and sources named in each line of the working; the limits of the verdict are
        the Facts of ``parts.verdict``, ``parts.wear`` and ``wear`` (common practice, no source).
        Holds for two pulleys on fixed parallel shafts, an open V-belt and a slide along the line
        of centres.
    """
    drive = known_of(given)
    worn = wear_part(drive)
    shape = geometry_part(drive, worn)
    rated = power_part(drive, shape)
    verdict, why, offered = wear_verdict(drive, worn)
    pulled = tension_part(drive, worn, shape, rated, offered=offered)
    unjudged = unjudged_reading(drive, worn, shape) if pulled is None else None
    verdict, why = verdict_of(drive, worn, pulled, verdict, why, unjudged=unjudged)
    turned = driven_part(drive, shape)
    warn(drive, worn, shape, rated, turned)
    result = DriveWorkout(
        given=given,
        sums_version=SUMS_VERSION,
        used=tuple(drive.used),
        geometry=shape,
        wear=worn,
        power=rated,
        tension=pulled,
        driven=turned,
        missing=what_is_missing(drive),
        warnings=tuple(dict.fromkeys(drive.warnings)),
        cautions=tuple(gettext(each) for each in CAUTIONS),
        verdict=verdict,
        verdict_words=tuple(dict.fromkeys(why)),
        lines=(),
        unjudged=unjudged,
    )
    return replace(result, lines=working.lines(result))
