"""Prints the link by which an empty system is set up in the browser."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from plant.actions.set_up import is_wanted, new_code


class Command(BaseCommand):
    help = "Prints a link, good once and for 24 hours, by which the first account is made."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("address", nargs="?", default=settings.SITE_ADDRESS)

    def handle(self, *, address: str, **options: Any) -> None:
        if not is_wanted():
            raise CommandError("This system is set up already.")
        self.stdout.write(
            "\nNothing is here yet. Set it up by this link; it works once, for 24 hours. Who has "
            f"it first has the system:\n  {address.rstrip('/')}/set-up/{new_code()}"
        )
