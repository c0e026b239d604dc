"""Backs everything up into one file."""

import contextlib
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, transaction
from django.utils.timezone import now

from plant.actions.refusal import Refused
from reports.actions.backup import make_backup
from reports.actions.chore import file_for, note_backup, prune


class Command(BaseCommand):
    help = (
        "Writes one file with the database, photos, paper, checkpoints and erasures. Work goes on."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, help="where to; else in BACKUP_DIR")
        parser.add_argument(
            "--with-keys",
            action="store_true",
            help="put the two keys of the site inside too: the file then opens everything",
        )
        parser.add_argument("--why", default="by-hand", help="first word of the name in BACKUP_DIR")

    def handle(self, *, file: Path | None, with_keys: bool, why: str, **options: Any) -> None:
        at = now()
        try:
            made = make_backup(file or file_for(why, at), at=at, with_keys=with_keys)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        if file is None:
            prune(why)
            # Before an update the table may not be there yet; the file is what counts.
            with contextlib.suppress(DatabaseError), transaction.atomic():
                note_backup(made)
        records = sum(seq for seq, _ in made.chains.values())
        self.stdout.write(
            f"{made.path}: {made.size / 1e6:.1f} MB, {records} sealed records, "
            f"{sum(made.counts.values())} rows in {len(made.counts)} tables."
        )
        if made.missing:
            self.stderr.write(
                f"{len(made.missing)} files that the database names are not on the disk, for "
                f"example {made.missing[0]}. Read manage.py verify_chain."
            )
        if with_keys:
            self.stdout.write("The keys are inside: who has this file has everything. Lock it up.")
        else:
            self.stdout.write(
                "The keys are not inside. Keep these two apart from the backups, once, on paper or "
                f"on a stick: {settings.DATA_DIR / 'secret_key'} (or SECRET_KEY), "
                f"{settings.CHECKPOINT_KEY}."
            )
