"""The page Belts: every belt drive with the last verdict on the belt that is on it, worst first."""

from datetime import UTC, datetime, timedelta

from django.test import Client
from django.urls import reverse

from maintenance.actions.reading import record_width
from make import make_drive, make_machine
from plant.models import Depot, Drive, User
from plant.units import LENGTH, read

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def measured(drive: Drive, width: str, *, by: User, at: datetime = AT) -> Drive:
    record_width(drive=drive, widths=[read(width, LENGTH)], tool="calliper", at=at, by=by)
    return drive


def page(user: User, query: str = "") -> str:
    client = Client()
    client.force_login(user)
    return client.get(reverse("maintenance:belts") + query).content.decode()


def test_the_worst_belt_stands_first_and_a_belt_nobody_measured_before_the_good_ones(
    depot: Depot, fitter: User
) -> None:
    good = measured(make_drive(make_machine(depot, "GOOD-1")), "13.0 mm", by=fitter)
    make_drive(make_machine(depot, "UNKNOWN-1"))
    worn = make_drive(make_machine(depot, "WORN-1"), belt_fitted_on=None)
    measured(worn, "10.2 mm", by=fitter)

    shown = page(fitter)
    order = [shown.index(f">{n}<") for n in ("WORN-1", "UNKNOWN-1", "GOOD-1")]
    assert order == sorted(order)
    assert "<strong>1 belt to change now.</strong>" in shown
    for drive in (good, worn):
        assert reverse("maintenance:drive", args=[drive.pk]) in shown
    assert "UNKNOWN-1" not in page(fitter, "?verdict=change+now")
    assert "WORN-1" not in page(fitter, "?verdict=not+measured")


def test_the_verdict_of_the_belt_that_came_off_this_morning_is_not_that_of_the_new_one(
    depot: Depot, fitter: User
) -> None:
    drive = measured(make_drive(make_machine(depot, "WORN-1")), "10.2 mm", by=fitter)
    told = (AT + timedelta(hours=1)).isoformat()
    drive.belt_fitted_on, drive.entries = AT.date(), {"belt_fitted_on": {"told": told}}
    drive.save()

    assert "Not measured yet." in page(fitter)
    measured(drive, "13.0 mm", by=fitter, at=AT + timedelta(hours=2))
    assert "Not measured yet." not in page(fitter).split("<tbody>")[1]


def test_another_depots_belts_are_not_there(
    depot: Depot, other_depot: Depot, fitter: User, outsider: User
) -> None:
    make_drive(make_machine(other_depot, "THEIRS-1"))
    make_drive(make_machine(depot, "OURS-1"))
    assert "THEIRS-1" not in page(fitter)
    assert "OURS-1" not in page(outsider)
