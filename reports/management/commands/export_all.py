"""Takes everything out into one file that any program reads."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.timezone import now

from plant.actions.refusal import Refused
from plant.security_log import note
from reports.actions.archive import make_archive


class Command(BaseCommand):
    help = "Writes all tables as CSV with a key of columns and units, and all files, into one ZIP."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *, file: Path, **options: Any) -> None:
        try:
            made = make_archive(file, at=now())
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        note("everything taken out", file=made.path.name)
        self.stdout.write(
            f"{made.path}: {made.size / 1e6:.1f} MB, {sum(made.counts.values())} rows in "
            f"{len(made.counts)} tables. Passwords, codes and keys are not inside; all else is, "
            "so keep it as you keep the system itself."
        )
        if made.missing:
            self.stderr.write(f"{len(made.missing)} files are missing, first {made.missing[0]}.")
