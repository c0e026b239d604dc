"""Says of every depot whether its records are as they were sealed."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.timezone import now

from plant.contents.checkpoint import NotSigned, anchors
from plant.models import ChainCheck, Depot
from reports.actions.verify import verify_depot


class Command(BaseCommand):
    help = (
        "Reads every sealed record, its texts and photos, the rows and sheets worked out from it, "
        "and the signed checkpoints; names the first that is not as it was sealed. Exit code 1 if "
        "there is one. The page Health tells what was found last."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--depot", help="code of one depot; else all")

    def handle(self, *, depot: str | None, **options: Any) -> None:
        depots = Depot.objects.order_by("code")
        if depot is not None and not (depots := depots.filter(code=depot)):
            raise CommandError(f"No depot has the code {depot}.", returncode=2)
        bad = 0
        signed: dict[str, Any] = {}
        not_signed = ""
        try:
            signed = anchors()
        except NotSigned as odd:
            bad += 1
            not_signed = f"checkpoint {odd}"[:400]
            self.stdout.write(f"Checkpoints: {odd}. The chains are read without them.")
        for each in depots:
            mine = signed.get(each.code, [])
            report = verify_depot(each, at=now(), signed=mine)
            words = f"{report.count} records, head {report.head[:16]}, {len(mine)} checkpoints"
            if report.bad_seq is not None:
                bad += 1
                words += f"; record {each.code.upper()}-{report.bad_seq}: {report.what}"
            else:
                words += "; all as sealed"
            self.stdout.write(f"{each.code}: {words}.")
        if not_signed:
            ChainCheck.objects.filter(depot__in=depots, what="").update(what=not_signed)
        if bad:
            raise CommandError("Not everything is as it was sealed.", returncode=1)
