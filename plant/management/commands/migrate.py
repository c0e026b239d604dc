"""Brings the database up to this program; a run that was killed is finished by the next one."""

from typing import Any

from django.core.management.commands import migrate

from plant.whole_steps import WholeSteps


class Command(migrate.Command):
    def handle(self, *args: Any, **options: Any) -> Any:
        own = migrate.MigrationExecutor  # type: ignore[attr-defined]
        migrate.MigrationExecutor = WholeSteps  # type: ignore[attr-defined]
        try:
            return super().handle(*args, **options)
        finally:
            migrate.MigrationExecutor = own  # type: ignore[attr-defined]
