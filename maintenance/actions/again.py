"""Links a job to one of the same machine, closed shortly before, whose trouble it is again."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from maintenance.models import Job
from maintenance.rules import again as rule

# The window is counted in days at the depot, the rows are read by the moment.
_A_DAY = timedelta(days=1)


def link_again(job: Job, *, at: datetime, items: Iterable[str] = ()) -> None:
    """Sets ``back_again_of`` where it is not set; saves only that. Call with the machine locked.

    Work that a plan asks for comes again by itself, so it is neither linked nor linked to.

    Args:
        items: keys of check items that led to the job; its stops may not be saved yet.
    """
    if job.due_line_id is not None or job.back_again_of_id is not None:
        return
    on = job.machine.depot.day_of(at)
    earlier = (
        Job.objects.filter(
            machine=job.machine_id,
            state=Job.State.CLOSED,
            due_line__isnull=True,
            closed_at__gte=at - rule.WINDOW - _A_DAY,
            closed_at__lte=job.opened_at,
        )
        .exclude(pk=job.pk)
        .prefetch_related("stops", "parts")
    )
    zone = job.machine.depot
    closed = [
        rule.Closed(pk=each.pk, on=zone.day_of(each.closed_at), trouble=_trouble(each))
        for each in earlier
        if each.closed_at is not None
    ]
    found = rule.before(_trouble(job, items=items), closed, on=on) if closed else None
    if found is not None:
        job.back_again_of_id = found
        job.save(update_fields=["back_again_of"])


def _trouble(job: Job, *, items: Iterable[str] = ()) -> rule.Trouble:
    stops, parts = job.stops.all(), job.parts.all()
    keys = {*items, *(stop.item_key for stop in stops)} - {""}
    words = {job.title, job.symptom, *(part.what for part in parts)} - {""}
    return rule.Trouble(items=frozenset(keys), words=frozenset(words))
