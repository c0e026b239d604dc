"""Brings everything that was taken out of one system into an empty one."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.timezone import now

from plant.actions.refusal import Refused
from plant.security_log import note
from reports.actions.archive import bring_in


class Command(BaseCommand):
    help = (
        "Checks a file of export_all whole and brings it into an empty system, on either database. "
        "Exit code 1 if it was refused, and nothing was changed then; 3 if something is not as it "
        "was."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *, file: Path, **options: Any) -> None:
        if not file.is_file():
            raise CommandError(f"There is no file {file}.")
        try:
            done = bring_in(file, at=now(), say=self.stdout.write)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        note("everything brought in", file=file.name, as_it_was=not done.unlike)
        for line in (*done.chains, *done.notes):
            self.stdout.write(line)
        if done.unlike:
            for line in done.unlike:
                self.stderr.write(line)
            raise CommandError("It is in, but not all is as it was taken out.", returncode=3)
        self.stdout.write(
            f"{sum(done.counts.values())} rows, {done.files} files and {done.records} records "
            "brought in, all as they were taken out."
        )
