"""After a restore: erases again who was erased since the backup was made."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils.timezone import now

from plant.actions.erase import remove_left_files
from plant.security_log import note
from reports.actions.erasure import erase_again, folder, listed


class Command(BaseCommand):
    help = "Erases again, by the list in DATA_DIR/erasures, whom a restored backup brought back."

    def handle(self, **options: Any) -> None:
        done = [told["person"] for told in listed() if erase_again(told, at=now())]
        remove_left_files()
        note("erased again", accounts=", ".join(map(str, done)))
        self.stdout.write(f"Erased again: {', '.join(done) or 'nobody'}. List: {folder()}")
