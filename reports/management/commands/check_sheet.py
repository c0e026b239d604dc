"""Says whether a paper is as it was sealed, as the page /sealed does."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.timezone import localtime

from reports.contents.sealed import Found, by_file, by_number


class Command(BaseCommand):
    help = (
        "Give a PDF file of ours, or the record's number and hash from the foot of a paper. Exit "
        "code 0 as sealed, 1 not as sealed, 3 unknown."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("paper", nargs="+", help="FILE.pdf, or NUMBER HASH (spaces are fine)")

    def handle(self, *, paper: list[str], **options: Any) -> None:
        found = by_number(paper[0], "".join(paper[1:])) if len(paper) > 1 else _of_file(paper[0])
        told = found.words
        if found.stands and found.record:
            sealed = localtime(found.record.received_at)
            told += f" It was sealed on {sealed.day} {sealed:%b %Y, %H:%M}."
        if not found.stands:
            raise CommandError(told, returncode=1 if found.record else 3)
        self.stdout.write(told)


def _of_file(path: str) -> Found:
    file = Path(path)
    if not file.is_file():
        raise CommandError(f"There is no file {path}.", returncode=2)
    with file.open("rb") as opened:
        return by_file(opened)
