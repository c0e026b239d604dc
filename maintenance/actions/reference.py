"""Brings in the dated rule sheet, the machine kinds and their ready-made plans."""

import json
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext

from maintenance.models import KindSheet, PlanLine, PlanStep, RuleSheet
from maintenance.rules import finding_sheet, keep, sheet
from plant.models import MachineKind

Sheet = TypeVar("Sheet", RuleSheet, KindSheet)
FOLDER = Path(settings.BASE_DIR) / "fixtures" / "reference"
# What stands in the file as it stands in the row.
_OF_A_KIND = ("name", "family", "belt_driven", "has_meter", "usual_supplies")
_OF_A_LINE = (
    "first_months", "every_months", "first_days", "every_days", "counts_from", "minutes",
    "is_test", "source", "trust",
)  # fmt: skip


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
    rules = _kept(RuleSheet, content, name=read.name, dated=read.dated)
    kinds = json.loads((folder / "kinds.json").read_text(encoding="utf-8"))
    _kept(KindSheet, kinds, name=kinds["name"], dated=date.fromisoformat(kinds["dated"]))
    _load_kinds(kinds)
    return rules


def _kept(model: type[Sheet], content: dict[str, Any], *, name: str, dated: date) -> Sheet:
    """The sheet of that name and date, kept whole.

    Records and machines' lines name it by its date: what they were made under stays what it was.
    """
    kept, _ = model._default_manager.get_or_create(
        name=name, dated=dated, defaults={"content": content}
    )
    if kept.content != content:
        raise sheet.SheetRefused(
            gettext(
                "{kept} is loaded already and says something else. Nothing was "
                "changed. Give the changed sheet a later date."
            ).format(kept=kept)
        )
    return kept


def _load_kinds(told: dict[str, Any]) -> None:
    """All kinds, lines and steps in a few statements; a line of a date that is there stays."""
    # Written first of all: who loads at the same time waits here, and then sees these lines.
    kinds = MachineKind.objects.bulk_create(
        (
            MachineKind(key=row["key"], **{name: row[name] for name in _OF_A_KIND})
            for row in told["kinds"]
        ),
        update_conflicts=True,
        unique_fields=["key"],
        update_fields=_OF_A_KIND,
    )
    dated = date.fromisoformat(told["dated"])
    there = set(PlanLine.objects.filter(from_on=dated).values_list("kind_id", "key"))
    new = [
        (_line(kind, line, dated=dated), line["steps"])
        for kind, row in zip(kinds, told["kinds"], strict=True)
        for line in row["plan"]
        if (kind.pk, line["key"]) not in there
    ]
    PlanLine.objects.bulk_create(line for line, _ in new)
    PlanStep.objects.bulk_create(
        PlanStep(line=line, position=position, **step)
        for line, steps in new
        for position, step in enumerate(steps, 1)
    )


def _line(kind: MachineKind, row: dict[str, Any], *, dated: date) -> PlanLine:
    return PlanLine(
        kind=kind,
        key=row["key"],
        from_on=dated,
        title=row["title"],
        level=row["level"],
        supplies=[] if row["supplies"] == "all" else row["supplies"],
        needs_belt=row["needs_belt"],
        first_tenths=_tenths(row["first_hours"]),
        every_tenths=_tenths(row["every_hours"]),
        notice_tenths=min(_tenths(row["every_hours"]) or 100, 1000) // 10,
        notice_days=_notice_days(row),
        **{name: row[name] for name in _OF_A_LINE},
    )


def _tenths(hours: float | None) -> int | None:
    return None if hours is None else round(hours * 10)


def _notice_days(row: dict[str, Any]) -> int:
    """A tenth of the interval, at most a fortnight (common practice, no source)."""
    days = row["every_days"] or (row["every_months"] or row["first_months"] or 5) * 30
    return max(1, min(14, days // 10))
