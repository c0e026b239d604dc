"""What loads what: the pure parts stay pure, and nothing heavy is loaded where it is not used."""

import subprocess
import sys

import pytest

FRAMEWORKS = {"django", "celery", "kombu"}
HEAVY = {"numpy", "scipy", "pint", "reportlab", "openpyxl"}


def loaded_by(statement: str) -> set[str]:
    """The top-level packages in memory after the statement, in a fresh interpreter."""
    tell = "import sys; print(*{name.split('.')[0] for name in sys.modules})"
    done = subprocess.run(
        [sys.executable, "-c", f"{statement}; {tell}"],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "module",
    [
        "plant.drives.workout", "plant.sealing", "plant.units", "plant.text", "plant.spreadsheets",
        "maintenance.rules.due", "maintenance.rules.fitness", "maintenance.rules.sheet",
    ],
)  # fmt: skip
def test_pure_modules_load_no_framework_and_nothing_heavy(module: str) -> None:
    loaded = loaded_by(f"import {module}")

    assert module.split(".")[0] in loaded
    assert not loaded & (FRAMEWORKS | HEAVY)


@pytest.mark.parametrize("module", ["plant.drawings.belt_in_groove", "reports.pdf.service_sheet"])
def test_what_draws_knows_no_framework(module: str) -> None:
    loaded = loaded_by(f"import {module}")

    assert "reportlab" in loaded
    assert not loaded & FRAMEWORKS


def test_serving_a_page_loads_no_statistics_and_no_unit_registry() -> None:
    loaded = loaded_by(
        "import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'tests.settings'; "
        "import django; django.setup(); import plant.config.urls, importlib; "
        "[importlib.import_module(f'{app}.urls') for app in ('plant', 'maintenance', 'reports')]"
    )

    assert "django" in loaded
    assert not loaded & {"numpy", "scipy", "pint"}
