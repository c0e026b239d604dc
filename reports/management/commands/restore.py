"""Puts a backup into an empty place, and says whether all of it is as it was."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.timezone import now

from plant.actions.refusal import Refused
from plant.security_log import note
from reports.actions.restore import restore


class Command(BaseCommand):
    help = (
        "Checks a backup whole, puts it into an empty DATA_DIR and database, brings it up to this "
        "program, erases again who was erased, and reads every record. Exit code 1 if it was "
        "refused, and nothing was changed then; 3 if it is in place but something is not as it was."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--new-keys", action="store_true", help="go on although the keys of the site are lost"
        )

    def handle(self, *, file: Path, new_keys: bool, **options: Any) -> None:
        if not file.is_file():
            raise CommandError(f"There is no file {file}.")
        try:
            done = restore(file, at=now(), new_keys=new_keys, say=self.stdout.write)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        note("restored", file=file.name, records=done.records, as_it_was=not done.unlike)
        for line in done.chains:
            self.stdout.write(line)
        for line in done.notes:
            self.stdout.write(line)
        self.stdout.write(f"Erased again: {', '.join(done.erased_again) or 'nobody'}.")
        if done.unlike:
            for line in done.unlike:
                self.stderr.write(line)
            raise CommandError("It is in place, but not all is as it was backed up.", returncode=3)
        self.stdout.write(
            f"Backup of {done.manifest['made_at']} restored: {done.rows} rows, {done.files} files "
            f"and {done.records} records, all as they were backed up. Everybody signs in again. "
            "Who left, which phones were withdrawn and which links were replaced since then, say "
            "anew."
        )
