"""The belt drives of a person's machines, with the last verdict on each belt, worst first."""

from collections.abc import Collection

from django.db.models import Case, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import TruncDate

from maintenance.models import WidthReading
from plant.contents.drive import fitted_since
from plant.drives.outcome import Verdict
from plant.models import Drive, Place, User

# Worst first. A belt that nobody measured comes before those that may stay on.
ORDER = (Verdict.CHANGE, Verdict.AGAIN, Verdict.TIGHTEN, Verdict.WATCH, "", Verdict.FIT_ON)


def belt_drives(user: User, *, among: Collection[int] | None = None) -> QuerySet[Drive]:
    """The belt drives of the machines that the person sees, each with the last width of its belt.

    among: only these, by their keys.

    Annotated: ``read_id``, ``read_at``, ``read_width_m``, ``verdict`` ("" where the fitted belt was
    not measured) and ``rank``, its place in ``ORDER``.
    """
    drives = Drive.objects.visible_to(user).filter(kind=Drive.Kind.BELT)
    drives = drives.exclude(machine__place=Place.GONE)
    if among is not None:
        drives = drives.filter(pk__in=among)
    of_this_belt = Q(drive__belt_fitted_on=None) | Q(at__date__gte=F("drive__belt_fitted_on"))
    last = (
        WidthReading.objects.counting()
        .filter(of_this_belt, drive=OuterRef("pk"))
        .exclude(pk__in=_of_old_belts(drives))
        .order_by("-at", "-record_id")
    )
    ranks = [When(verdict=verdict, then=Value(n)) for n, verdict in enumerate(ORDER) if verdict]
    return (
        drives.select_related("machine__kind", "machine__depot")
        .annotate(
            read_at=Subquery(last.values("at")[:1]),
            read_width_m=Subquery(last.values("width_m")[:1]),
            verdict=Subquery(last.values("verdict")[:1]),
        )
        .annotate(
            rank=Case(*ranks, default=Value(ORDER.index("")), output_field=IntegerField()),
        )
    )


def _of_old_belts(drives: QuerySet[Drive]) -> list[int]:
    """Readings of the day of fitting that were taken before the new belt went on."""
    on_the_day = (
        WidthReading.objects.counting()
        .filter(drive__in=drives, drive__belt_fitted_on=TruncDate(F("at")))
        .select_related("drive__machine__depot")
    )
    return [
        each.pk
        for each in on_the_day
        if (since := fitted_since(each.drive)) is not None and each.at < since
    ]
