"""What may go on a drive: marks to choose from, and where such belts lie."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from maintenance.contents.rack import equal_sections, stock_of
from maintenance.models import BeltFitting, Job, Part
from plant.contents.drive import given_of
from plant.drives import fits
from plant.drives.errors import DriveError
from plant.drives.sections import System
from plant.models import Drive

# A choice longer than this is no help at the machine.
MOST = 12


@dataclass(frozen=True)
class Choices:
    """marks: of belts that go on; stock: ("part:place", in words) of those that lie somewhere."""

    marks: tuple[str, ...]
    stock: tuple[tuple[str, str], ...]


def to_change(job: Job) -> list[Drive]:
    """The belt drives whose belt may be changed in this job: its own, and not changed in it yet."""
    if job.state != Job.State.UNDER_WAY or not job.needs_isolation:
        return []
    drives = Drive.objects.filter(machine=job.machine, kind=Drive.Kind.BELT)
    if job.drive_id is not None:
        drives = drives.filter(pk=job.drive_id)
    done = BeltFitting.objects.counting().filter(job=job)
    return list(drives.exclude(pk__in=done.values("drive")).order_by("stage"))


def fitted_words(job: Job) -> str:
    """What the work of the job was, where belts were fitted in it; for a form to begin with."""
    fitted = BeltFitting.objects.counting().filter(job=job).select_related("drive")
    return " ".join(
        _("New belt {mark} fitted, {drive}.").format(mark=each.mark, drive=each.drive.name)
        for each in fitted.order_by("at")
    )


def choices_for(drive: Drive, *, on: date) -> Choices:
    """The belts that fit this drive by its figures, the one that was on it first."""
    given = given_of(drive)
    marks = [drive.belt_mark] if drive.belt_mark else []
    between = None
    known = (given.driver, given.driven, given.centres, given.slot_in, given.slot_out)
    if drive.section and None not in known:
        driver, driven, centres, room_in, room_out = (figure or 0.0 for figure in known)
        try:
            found = fits.what_fits(
                drive.section, small=min(driver, driven), large=max(driver, driven),
                closest=centres - room_in, farthest=centres + room_out,
                system=System(given.length_system),
            )  # fmt: skip
        except (DriveError, ValueError):
            pass  # the page asks for the mark by itself
        else:
            between = found.datum_between
            marks += [each.length.mark for each in found.fits[:MOST]]
    return Choices(marks=tuple(dict.fromkeys(marks)), stock=_stock(drive, between, on=on))


def _stock(
    drive: Drive, between: tuple[float, float] | None, *, on: date
) -> tuple[tuple[str, str], ...]:
    if not drive.section:
        return ()
    depot = drive.machine.depot
    length = drive.belt_datum_m or 0.0
    low, high = between or (length - 1e-3, length + 1e-3)
    parts = list(
        Part.objects.kept()
        .filter(depot=depot, section__in=equal_sections(drive.section), length_m__range=(low, high))
        .select_related("depot")
        .order_by("name")[:MOST]
    )
    parts.sort(key=lambda part: abs((part.length_m or 0.0) - length))
    lies = stock_of(parts, on=on) if parts else {}
    return tuple(
        (
            f"{part.pk}:{each.place.pk}",
            _("{place}: {part} ({count} there)").format(
                place=each.place.name, part=part.name, count=each.count
            ),
        )
        for part in parts
        for each in lies[part.pk].places
        # What lies in a place that is kept no longer is told elsewhere; nothing is taken from it.
        if each.place.withdrawn_at is None
    )
