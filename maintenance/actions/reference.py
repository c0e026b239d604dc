"""Brings in the dated rule sheet, the machine kinds and their ready-made plans."""

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from maintenance.models import PlanLine, PlanStep, RuleSheet
from maintenance.rules import finding_sheet, keep, sheet
from plant.models import MachineKind

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "reference"


@transaction.atomic
def load_reference(folder: Path = FOLDER) -> RuleSheet:
    """Loads what the folder holds. Running it again changes nothing; a new date adds a new version.

    The new version is in force from its date on; records keep the one they were made under.

    Raises:
        SheetRefused: a file lacks something, a figure lacks its source, or the sheet of that name
            and date is loaded already with another content.
    """
    content = json.loads((folder / "rule_sheet_gb.json").read_text(encoding="utf-8"))
    read = sheet.read(content)
    finding_sheet.read(content.get("finding"))
    keep.read(content.get("keep"))
    rules, _ = RuleSheet.objects.get_or_create(
        name=read.name, dated=read.dated, defaults={"content": content}
    )
    if rules.content != content:
        # Records name the sheet by its date: what they were made under must stay what it was.
        raise sheet.SheetRefused(
            f"{rules} is loaded already and says something else. Nothing was changed. "
            "Give the changed sheet a later date."
        )
    kinds = json.loads((folder / "kinds.json").read_text(encoding="utf-8"))
    for row in kinds["kinds"]:
        kind, _ = MachineKind.objects.update_or_create(
            key=row["key"],
            defaults={
                name: row[name]
                for name in ("name", "family", "belt_driven", "has_meter", "usual_supplies")
            },
        )
        for line in row["plan"]:
            _load_line(kind, line, dated=kinds["dated"])
    return rules


def _load_line(kind: MachineKind, row: dict[str, Any], *, dated: str) -> None:
    line, is_new = PlanLine.objects.get_or_create(
        kind=kind,
        key=row["key"],
        from_on=dated,
        defaults={
            "title": row["title"],
            "level": row["level"],
            "supplies": [] if row["supplies"] == "all" else row["supplies"],
            "needs_belt": row["needs_belt"],
            "first_tenths": _tenths(row["first_hours"]),
            "every_tenths": _tenths(row["every_hours"]),
            "notice_tenths": min(_tenths(row["every_hours"]) or 100, 1000) // 10,
            "notice_days": _notice_days(row),
            **{
                name: row[name]
                for name in (
                    "first_months",
                    "every_months",
                    "first_days",
                    "every_days",
                    "counts_from",
                    "minutes",
                    "is_test",
                    "source",
                    "trust",
                )
            },
        },
    )
    if is_new:
        PlanStep.objects.bulk_create(
            PlanStep(line=line, position=position, **step)
            for position, step in enumerate(row["steps"], 1)
        )


def _tenths(hours: float | None) -> int | None:
    return None if hours is None else round(hours * 10)


def _notice_days(row: dict[str, Any]) -> int:
    """A tenth of the interval, at most a fortnight (common practice, no source)."""
    days = row["every_days"] or (row["every_months"] or row["first_months"] or 5) * 30
    return max(1, min(14, days // 10))
