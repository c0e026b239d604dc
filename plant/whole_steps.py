"""Changes of the schema that a killed run survives: each step and its note are one transaction."""

from typing import Any

from django.db.migrations.executor import MigrationExecutor


class WholeSteps(MigrationExecutor):
    """The parent notes a step after its transaction where indexes come last in it.

    Killed in between, the step is done and not noted, and every later run fails on a table that
    is there already. Here what comes last is done, and the step noted, inside.
    """

    def apply_migration(
        self, state: Any, migration: Any, fake: bool = False, fake_initial: bool = False
    ) -> Any:
        if fake or fake_initial or not migration.atomic:
            return super().apply_migration(state, migration, fake, fake_initial)
        if self.progress_callback:
            self.progress_callback("apply_start", migration, fake)
        with self.connection.schema_editor(atomic=True) as editor:
            state = migration.apply(state, editor)
            self._note_inside(migration, editor)
        if self.progress_callback:
            self.progress_callback("apply_success", migration, fake)
        return state

    def _note_inside(self, migration: Any, editor: Any) -> None:
        for statement in editor.deferred_sql:
            editor.execute(statement)
        editor.deferred_sql.clear()
        self.record_migration(migration)  # type: ignore[call-arg]
