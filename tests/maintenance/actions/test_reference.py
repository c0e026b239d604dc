"""A changed rule sheet comes under a date of its own; what records were made under stays."""

import json
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from maintenance.actions.reference import FOLDER, load_reference
from maintenance.models import RuleSheet
from maintenance.rules.sheet import SheetRefused

pytestmark = pytest.mark.django_db


def changed(folder: Path, **what: Any) -> Path:
    shutil.copytree(FOLDER, folder, dirs_exist_ok=True)
    file = folder / "rule_sheet_gb.json"
    file.write_text(json.dumps(json.loads(file.read_text(encoding="utf-8")) | what))
    return folder


def test_changed_content_under_the_same_date_is_refused_and_under_a_later_one_comes_beside(
    tmp_path: Path,
) -> None:
    first = load_reference()
    assert load_reference() == first
    with pytest.raises(SheetRefused, match="Give the changed sheet a later date"):
        load_reference(changed(tmp_path, note="Something else."))
    first.refresh_from_db()
    assert first.content["note"] != "Something else."

    second = load_reference(changed(tmp_path, note="Something else.", dated="2027-01-05"))

    assert RuleSheet.objects.on(date(2027, 1, 4)) == first
    assert RuleSheet.objects.on(date(2027, 1, 5)) == second
    first.refresh_from_db()
    assert first.content["note"] != "Something else."
