"""What a start needs before anything runs: database, files of the pages, rule sheets."""

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.db.migrations.executor import MigrationExecutor


class Command(BaseCommand):
    help = (
        "Backs up a database that is of an older program, brings it up to this one, and puts the "
        "files of the pages and the rule sheets in place. Twice is harmless; a run that was killed "
        "is finished by the next."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--no-backup", action="store_true", help="make none first")

    def handle(self, *, no_backup: bool, **options: Any) -> None:
        executor = MigrationExecutor(connection)
        steps = executor.migration_plan(executor.loader.graph.leaf_nodes())
        if steps and executor.loader.applied_migrations:
            if not no_backup:
                self._back_up()
            self.stdout.write("Bringing the database up to date.")
        call_command("migrate", verbosity=0, interactive=False)
        call_command("collectstatic", verbosity=0, interactive=False)
        call_command("rule_sheets", verbosity=0)

    def _back_up(self) -> None:
        self.stdout.write("The database is of an older program. Backing it up first.")
        try:
            call_command("backup", why="before-update", stdout=self.stdout)
        except CommandError as refused:
            raise CommandError(
                f"{refused} The database was left as it is. With --no-backup it goes on."
            ) from refused
