"""The page of a record: what was put right stands there with what it was, by whom and why."""

import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from addresses import NOW, World
from maintenance.actions.belt_change import correct_fitting
from maintenance.actions.belt_record import Correction
from maintenance.actions.due import correct_done
from maintenance.actions.instrument import strike_calibration
from maintenance.actions.meter import accept_meter
from maintenance.actions.reading import record_width
from maintenance.models import Completion, MeterReading, WidthReading
from make import make_user
from plant.models import Depot, Machine, Record, Role
from plant.units import WIDTH, read

REASON = "Written into the wrong line."
APPS = Path(__file__).parent.parent.parent.parent


def page(world: World, record: Record) -> str:
    client = Client()
    client.force_login(world.people[Role.MANAGER])
    answer = client.get(reverse("maintenance:record", args=[record.pk]))
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def _reading(world: World, by: dict[str, Any]) -> tuple[Record | None, str, str]:
    first = WidthReading.objects.get(record=world.width_record)
    WidthReading.objects.filter(pk=first.pk).update(at=NOW)  # of the belt that is on now
    first.refresh_from_db()
    record_width(
        drive=first.drive, widths=[read("12.9 mm", WIDTH)], tool="calliper",
        correction=Correction(of=first, reason=REASON), **by,
    )  # fmt: skip
    return first.record, "12.6 mm", "12.9 ± 0.1 mm"


def _fitting(world: World, by: dict[str, Any]) -> tuple[Record | None, str, str]:
    correct_fitting(fitting=world.fitting, reason=REASON, **by)
    return world.fitting.record, world.fitting.mark, "no belt was fitted"


def _done(world: World, by: dict[str, Any]) -> tuple[Record | None, str, str]:
    done = Completion.objects.get(pk=world.completion.pk)
    correct_done(completion=done, on=None, reason=REASON, **by)
    return None, "done on 17 Nov 2026", "not done"


def _calibration(world: World, by: dict[str, Any]) -> tuple[Record | None, str, str]:
    strike_calibration(calibration=world.calibration, reason=REASON, **by)
    day = f"{world.calibration.done_on:%-d %b %Y}"
    return world.calibration.record, f"calibration of {day}", "struck out: entered by mistake"


def _figure(world: World, by: dict[str, Any]) -> tuple[Record | None, str, str]:
    MeterReading.objects.filter(pk=world.figure.pk).update(dial_tenths=1200, total_tenths=1200)
    kept = MeterReading.objects.get(pk=world.figure.pk)
    accept_meter(reading=kept, reason=REASON, **by)
    return kept.record, "questioned, and moved nothing", "the figure counts"


# Each kind of thing that can be put right, and the module that seals it.
KINDS = {
    "belt_record": _reading,
    "belt_change": _fitting,
    "due": _done,
    "instrument": _calibration,
    "meter": _figure,
}


@pytest.mark.parametrize("kind", KINDS)
def test_old_and_new_stand_together_with_who_when_and_why(ours: World, kind: str) -> None:
    manager = ours.people[Role.MANAGER]
    first, was, now = KINDS[kind](ours, {"at": NOW + timedelta(hours=1), "by": manager})
    put_right = Record.objects.filter(depot=ours.depot).latest("seq")

    for record in filter(None, (first, put_right)):
        if record.kind == Record.Kind.DECISION:
            continue  # it lets a figure count, and names it; the figure's own page tells both
        told = page(ours, record)
        row = told[told.index('id="put-right"') :]
        row = row[: row.index("</table>")]
        assert re.search(rf"<del>{re.escape(was)}", row), row
        assert now in row
        assert REASON in row
        assert manager.name in row
        assert "25 Nov 2026, 10:00" in row


def test_each_module_that_seals_a_correction_is_in_the_table_above() -> None:
    sealing = {
        path.stem
        for path in (APPS / "maintenance" / "actions").glob("*.py")
        if "Kind.CORRECTION" in path.read_text()
    }
    assert sealing == KINDS.keys() - {"meter"}


def test_the_story_says_what_was_put_right(ours: World) -> None:
    first, _, _ = _fitting(ours, {"at": NOW, "by": ours.people[Role.MANAGER]})
    client = Client()
    client.force_login(ours.people[Role.MANAGER])
    told = client.get(reverse("maintenance:machine", args=[ours.machine.pk])).content.decode()
    put_right = Record.objects.get(corrects=first)
    line = next(each for each in told.split("<li>") if first and str(first.pk) in each)
    assert f'put right by <a href="{reverse("maintenance:record", args=[put_right.pk])}"' in line


def test_each_depot_reads_what_is_now_and_no_word_of_another_depot(
    ours: World, other_depot: Depot
) -> None:
    """Corrected twice after the machine went on: its first depot learns that, and no more."""
    first = WidthReading.objects.get(record=ours.width_record)
    WidthReading.objects.filter(pk=first.pk).update(at=NOW)  # of the belt that is on now
    there = make_user("Sian Two", (other_depot, Role.MANAGER))
    Machine.objects.filter(pk=first.drive.machine_id).update(depot=other_depot)
    standing = WidthReading.objects.get(pk=first.pk)
    for hours, figure in ((1, "12.9 mm"), (2, "12.8 mm")):
        record_width(
            drive=standing.drive, widths=[read(figure, WIDTH)], tool="calliper",
            at=NOW + timedelta(hours=hours), by=there,
            correction=Correction(of=standing, reason=REASON),
        )  # fmt: skip
        standing = WidthReading.objects.get(drive=first.drive, stands=True, at=NOW)
    assert first.record is not None
    client = Client()
    client.force_login(there)
    told = client.get(reverse("maintenance:record", args=[first.record.pk])).content.decode()
    assert told.index("12.9 ± 0.1 mm") < told.rindex("12.8 ± 0.1 mm")
    hidden = page(ours, first.record)
    assert hidden.count("put right in another depot") == 2
    for word in (REASON, there.name, "12.8"):
        assert word not in hidden
