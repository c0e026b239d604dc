"""Brings in the demo firm, or prints who can sign in."""

from argparse import ArgumentParser
from typing import Any

from django.core.management import BaseCommand, CommandError, call_command
from django.utils.timezone import now

from reports.actions.demo import live, names, password


class Command(BaseCommand):
    help = "Makes the invented demo firm in an empty system."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--names", action="store_true", help="print the sign-in names alone")

    def handle(self, *, names: bool, **options: Any) -> None:
        if names:
            self._names()
            return
        call_command("rule_sheets", verbosity=0)
        try:
            live(now=now(), say=self.stdout.write)
        except ValueError as refused:
            raise CommandError(str(refused)) from refused

    def _names(self) -> None:
        self.stdout.write(f"Sign in as one of these, each with the password: {password()}")
        for sign_in, who in names():
            self.stdout.write(f"  {sign_in:<8} {who}")
