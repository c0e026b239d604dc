"""Works out one belt drive from a file, without a machine in the register."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.drives.errors import DriveError
from plant.drives.workout import work_out
from plant.drives.written import LONGEST_TEXT, plain_from_json, to_json, to_text
from plant.typed_drive import NotReadable, given_from_typed


class Command(BaseCommand):
    help = (
        "Works out a belt drive from a JSON file of figures with units, or from standard input "
        'with "-". fixtures/demo/drive_example.json is an example.'
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help='the JSON file; "-" reads standard input')
        parser.add_argument("--json", action="store_true", help="the result as JSON, in SI units")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            found = work_out(given_from_typed(plain_from_json(_text(options["file"]))))
        except NotReadable as refused:
            said = "\n".join(f"  {field}: {words}" for field, words in refused.wrong.items())
            raise CommandError(f"These fields cannot be used:\n{said}") from refused
        except DriveError as refused:
            raise CommandError(f"The drive cannot be worked out: {refused}") from refused
        self.stdout.write(to_json(found) if options["json"] else to_text(found))


def _text(name: str) -> str:
    """The file's text; one character more than accepted is read, so that too long shows."""
    try:
        if name == "-":
            return sys.stdin.read(LONGEST_TEXT + 1)
        with Path(name).open(encoding="utf-8") as file:
            return file.read(LONGEST_TEXT + 1)
    except OSError as wrong:
        raise CommandError(f"{name} cannot be read: {wrong.strerror}") from wrong
    except UnicodeDecodeError as wrong:
        raise CommandError(f"{name} is not UTF-8 text") from wrong
