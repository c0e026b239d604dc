"""Loads the dated rule sheet, machine kinds and ready-made plans that come with the program."""

from typing import Any

from django.core.management import BaseCommand

from maintenance.actions.reference import load_reference


class Command(BaseCommand):
    help = "Brings in the rule sheet, kinds and plans; harmless to run again."

    def handle(self, *args: Any, **options: Any) -> None:
        rules = load_reference()
        if options["verbosity"]:
            self.stdout.write(f"Rule sheet in force: {rules}")
