"""Notes that a kind of background work has run."""

from datetime import datetime

from plant.models import Heartbeat


def beat(*, name: str, at: datetime) -> None:
    """Keeps the newest moment, whichever worker comes last."""
    if not Heartbeat.objects.filter(name=name, at__lt=at).update(at=at):
        Heartbeat.objects.get_or_create(name=name, defaults={"at": at})
