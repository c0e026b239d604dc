"""What the background does for maintenance: plans, due work, belts, and files of readings."""

from datetime import timedelta
from time import sleep

from celery import shared_task
from django.utils.timezone import now

from maintenance.actions import due, machine, readings_file
from maintenance.actions.belt_life import raise_belt_work, rework_belts, rework_looks
from maintenance.actions.check import clear_old_paces
from maintenance.actions.plan import raise_due_work as raise_for
from maintenance.models import ReadingsFile
from plant.models import Depot

# Long enough for somebody who waits to write to a database that takes one writer at a time.
PAUSE_S = 0.05
# Well inside the time limit of a task, and short, so that other work gets its turn between.
STRETCH = timedelta(seconds=20)


@shared_task
def raise_due_work() -> int:
    """Every minute: a job for each line that has come due. Running it twice is harmless."""
    return sum(_raise(depot) for depot in Depot.objects.at_work())


@shared_task
def raise_due_of(depot_pk: int) -> int:
    """At once after work was closed or a figure read; the minute's round finds what this misses."""
    depot = Depot.objects.filter(pk=depot_pk).first()
    return _raise(depot) if depot else 0


def _raise(depot: Depot) -> int:
    at = now()
    return raise_for(depot=depot, at=at) + raise_belt_work(depot=depot, at=at)


@shared_task
def rework_due_dates() -> int:
    """Every minute: due dates that are a day old or of a changed plan. Twice is harmless."""
    return due.rework_old(at=now(), pause=lambda: sleep(PAUSE_S))


@shared_task
def forget_paces() -> int:
    """Each hour: clears how long old checks took. Running it twice is harmless."""
    return clear_old_paces(at=now())


@shared_task
def give_missing_plans() -> int:
    """Every minute: plans for machines that came from a file. Running it twice is harmless."""
    return machine.give_missing_plans(at=now())


@shared_task
def rework_belt_lives() -> int:
    """Every minute: belts not worked out today by their depot's clock, and looks at new ones."""
    at = now()
    return sum(
        rework_belts(depot=depot, at=at) + rework_looks(depot=depot, at=at)
        for depot in Depot.objects.at_work()
    )


@shared_task
def read_readings_file(run_id: int) -> None:
    """Reads a file of readings that somebody brought. Running it twice is harmless."""
    readings_file.read_file(run=ReadingsFile(pk=run_id), at=now())


@shared_task
def save_readings_file(run_id: int) -> None:
    """Saves for a while; the rest goes on in a task of its own. Running it twice is harmless."""
    run = ReadingsFile(pk=run_id)
    if readings_file.save_file(run=run, clock=now, until=now() + STRETCH):
        save_readings_file.delay(run_id)


@shared_task
def sweep_readings_files() -> None:
    """Every minute: sends again what waits for a worker, and parks what stopped three times."""
    for run_id, step in readings_file.leftovers(at=now()):
        saving = step == ReadingsFile.Step.SAVE
        (save_readings_file if saving else read_readings_file).delay(run_id)
