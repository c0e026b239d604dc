"""What the background does for the register: says that it lives, and finishes imports."""

from celery import shared_task
from django.utils.timezone import now

from plant.actions import machine_import
from plant.actions.checkpoint import sign_when_old
from plant.actions.heartbeat import beat
from plant.models import MachineImport


@shared_task
def heartbeat() -> None:
    """Every minute, by the timer: shows that timer and worker both run."""
    beat(name="background", at=now())


@shared_task
def sign_chains() -> None:
    """Every minute: the day's checkpoint of the sealed records, when it is wanted."""
    sign_when_old(at=now())


@shared_task
def read_import(run_id: int) -> None:
    """Reads a file that somebody brought. Running it twice is harmless."""
    machine_import.read_import(run=MachineImport(pk=run_id), at=now())


@shared_task
def save_import(run_id: int) -> None:
    """Saves the rows that are ready, after the yes. Running it twice is harmless."""
    machine_import.save_import(run=MachineImport(pk=run_id), at=now())


@shared_task
def sweep_imports() -> None:
    """Every minute: sends again what waits for a worker, and parks what stopped three times."""
    for run_id, step in machine_import.leftovers(at=now()):
        task = save_import if step == MachineImport.Step.SAVE else read_import
        task.delay(run_id)
