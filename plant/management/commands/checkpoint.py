"""Signs the last record of every chain now, beside the daily round."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils.timezone import now

from plant.actions.checkpoint import sign_chains


class Command(BaseCommand):
    help = "Signs the last record of every chain, and says where the checkpoint was written."

    def handle(self, **options: Any) -> None:
        self.stdout.write(f"Signed: {sign_chains(at=now())}")
