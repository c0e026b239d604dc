"""A changed sheet comes under a date of its own; what records were made under stays."""

import hashlib
import json
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction

from maintenance.actions.reference import FOLDER, load_reference
from maintenance.models import PlanLine, PlanStep, RuleSheet
from maintenance.rules.sheet import SheetRefused
from make import make_kind, make_reference
from plant.models import MachineKind

RULES, KINDS = "rule_sheet_gb.json", "kinds.json"
# What was given out under which date. Whoever changes a file gives it a later date, and writes that
# date and what the test tells here; the rows before it stay.
GIVEN_OUT = {
    (RULES, "2026-11-29"): "b74963429b5f090a",
    (KINDS, "2026-11-01"): "e9c350baa86dd479",
}


def changed(folder: Path, name: str = RULES, **what: Any) -> Path:
    shutil.copytree(FOLDER, folder, dirs_exist_ok=True)
    file = folder / name
    file.write_text(json.dumps(json.loads(file.read_text(encoding="utf-8")) | what))
    return folder


@pytest.mark.parametrize("name", [RULES, KINDS])
def test_a_sheet_that_says_something_else_has_another_date(name: str) -> None:
    content = json.loads((FOLDER / name).read_text(encoding="utf-8"))
    whole = json.dumps(content, sort_keys=True, ensure_ascii=False).encode()
    assert GIVEN_OUT[name, content["dated"]] == hashlib.sha256(whole).hexdigest()[:16]


@pytest.mark.django_db
def test_changed_content_under_the_same_date_is_refused_and_under_a_later_one_comes_beside(
    tmp_path: Path,
) -> None:
    first = load_reference()
    assert load_reference() == first
    # Before the first has begun it is in force all the same: a new depot has its questions at once.
    assert RuleSheet.objects.on(date(2026, 1, 1)) == first
    with pytest.raises(SheetRefused, match="Give the changed sheet a later date"):
        load_reference(changed(tmp_path, note="Something else."))
    first.refresh_from_db()
    assert first.content["note"] != "Something else."

    second = load_reference(changed(tmp_path, note="Something else.", dated="2027-01-05"))

    assert RuleSheet.objects.on(date(2027, 1, 4)) == first
    assert RuleSheet.objects.on(date(2027, 1, 5)) == second
    first.refresh_from_db()
    assert first.content["note"] != "Something else."


@pytest.mark.django_db
def test_a_changed_plan_of_a_kind_needs_a_later_date_too(tmp_path: Path) -> None:
    load_reference()
    kinds = json.loads((FOLDER / KINDS).read_text(encoding="utf-8"))["kinds"]
    kinds[0]["plan"][0]["minutes"] += 5
    lines = PlanLine.objects.filter(kind__key=kinds[0]["key"], key=kinds[0]["plan"][0]["key"])
    with pytest.raises(SheetRefused, match="Machine kinds, 2026-11-01 is loaded already"):
        load_reference(changed(tmp_path, KINDS, kinds=kinds))

    load_reference(changed(tmp_path, KINDS, kinds=kinds, dated="2027-01-05"))

    versions = list(lines)
    for on, minutes in ((date(2027, 1, 4), -5), (date(2027, 1, 5), 0)):
        (line,) = PlanLine.in_force(versions, on).values()
        assert line.minutes == kinds[0]["plan"][0]["minutes"] + minutes


def everything() -> list[list[dict[str, Any]]]:
    """Kinds, lines and steps, without the numbers that the database gave them."""
    kinds = MachineKind.objects.order_by("key").values()
    lines = PlanLine.objects.order_by("kind__key", "key").values("kind__key")
    steps = PlanStep.objects.order_by("line__kind__key", "line__key", "position")
    own = [
        [field.name for field in model._meta.concrete_fields if not field.is_relation]
        for model in (PlanLine, PlanStep)
    ]
    rows = [kinds, lines.values("kind__key", *own[0]), steps.values("line__key", *own[1])]
    return [[{k: v for k, v in row.items() if k != "id"} for row in each] for each in rows]


@pytest.mark.django_db
def test_kinds_and_plans_come_in_once_and_the_copy_that_tests_take_is_the_same() -> None:
    before = make_kind("mixer_electric", name="Called otherwise")
    undo = transaction.savepoint()
    load_reference()
    loaded = everything()
    assert [len(rows) for rows in loaded] == [23, 134, 610]
    changed_by_hand = PlanLine.objects.first()
    assert changed_by_hand is not None
    PlanLine.objects.filter(pk=changed_by_hand.pk).update(title="Said otherwise")
    load_reference()
    changed_by_hand.refresh_from_db()
    assert changed_by_hand.title == "Said otherwise"
    assert [len(rows) for rows in everything()] == [23, 134, 610]
    transaction.savepoint_rollback(undo)

    make_reference()

    assert everything() == loaded
    before.refresh_from_db()
    assert before.name != "Called otherwise"
