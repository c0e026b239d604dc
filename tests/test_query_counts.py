"""Lists and pages ask the database as often for sixty rows as for five."""

import io
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from bench import class_i
from maintenance.actions.fault import report_fault
from maintenance.actions.meter import record_meter
from maintenance.actions.plan import give_plans, raise_due_work
from maintenance.actions.rack import count_place, order_part, receive, save_part, take
from maintenance.actions.readings_file import ask_file, read_file
from maintenance.models import Competence, DueLine, Job, Part, Skill, StockPlace, Stop
from make import make_competence, make_drive, make_instrument, make_machine, make_user
from plant.actions.machine_import import ask_import, read_import
from plant.actions.phone import ask_phone, enrol
from plant.actions.record import new_id
from plant.models import Depot, Machine, MachineImport, MachineKind, Phone, Role, User
from reports.actions.sheet import ask_sheets

NOW = datetime.now(UTC)
FEW, MANY = 5, 60
pytestmark = pytest.mark.usefixtures("rule_sheet")


@pytest.fixture
def user(depot: Depot, other_depot: Depot) -> User:
    return make_user("All", *((where, role) for where in (depot, other_depot) for role in Role))


def fill(depot: Depot, by: User, count: int) -> None:
    """So many machines, each stopped, due, given out and printed; and a file with so many rows."""
    kind = MachineKind.objects.get(key="mixer_electric")
    machines = [
        make_machine(depot, kind=kind, place="out", added_at=NOW, nickname="x", protection="I")
        for _ in range(count - Machine.objects.count())
    ]
    for number in range(Phone.objects.filter(depot=depot).count(), count):
        person = make_user(f"Person {depot.pk} {number}", (depot, Role.FITTER))
        make_competence(
            person, depot, Skill.TEST, valid_until=NOW.date() + timedelta(days=9), at=NOW
        )
        enrol(code=ask_phone(depot=depot, name=f"Box {number}", by=by, at=NOW)[1], at=NOW)
    give_plans(machines, at=NOW - timedelta(days=800))
    for number, machine in enumerate(machines):
        report_fault(machine=machine, part="drum", told="grinds", stop_now=True, at=NOW, by=by)
        # A depot that asked for all of them within one minute would be held back.
        earlier = NOW - timedelta(minutes=number)
        ask_sheets(depot=depot, machines=[machine], by=by, at=earlier)
    raise_due_work(depot=depot, at=NOW)
    if not Competence.objects.filter(user=by).exists():
        make_competence(by, depot, Skill.TEST)
    calibrated = (NOW.date() - timedelta(days=9), NOW.date() + timedelta(days=90))
    for machine in machines:
        instrument = make_instrument(depot, by, calibrated=calibrated)
        class_i(machine, by, instrument=instrument, at=NOW)
        if not machine.drives.exists():
            drive = make_drive(machine, belt_fitted_on=NOW.date())
            Job.objects.create(
                machine=machine, drive=drive, kind=Job.Kind.ORDER, belt_work="order",
                title="Order a belt", opened_at=NOW,
            )  # fmt: skip
    place = StockPlace.objects.get_or_create(depot=depot, name="Rack", kind="rack")[0]
    for number in range(Part.objects.count(), count):
        part = save_part(
            depot=depot, name=f"13A690 {number}", is_belt=True, section="A", length_m=0.690,
            at=NOW, by=by,
        )  # fmt: skip
        receive(part=part, place=place, quantity=number + 1, on=NOW.date(), at=NOW, by=by)
        count_place(place=place, counts={part.pk: number}, at=NOW, by=by)
        take(part=part, place=place, job=Job.objects.all()[0], quantity=1, at=NOW, by=by)
        order_part(part=part, quantity=1, at=NOW, by=by, entry=new_id())
    Job.objects.update(given_to=by, given_for=NOW.date())
    text = "Number,Kind\n" + "".join(f"N{n},nonsense {n}\n" for n in range(count))
    for _ in range(2):
        run = ask_import(
            file=io.BytesIO(text.encode()), file_name="a.csv", depot=depot, by=by, at=NOW
        )
        read_import(run=run, at=NOW)


def _readings(depot: Depot, by: User, count: int) -> int:
    """A file of readings of so many machines."""
    numbers = Machine.objects.filter(depot=depot).values_list("number", flat=True)[:count]
    text = "Number,Date,Trip time (ms)\n" + "".join(f"{n},2026-03-02,28\n" for n in numbers)
    run = ask_file(file=io.BytesIO(text.encode()), file_name="b.csv", depot=depot, by=by, at=NOW)
    read_file(run=run, at=NOW)
    return run.pk


LISTS = [
    ("maintenance:machine_list", ""), ("maintenance:machine_list", "?csv=1"),
    ("maintenance:machine_list", "?use=do-not-use&place=out"), ("maintenance:due_list", ""),
    ("maintenance:due_list", "?state=overdue"), ("maintenance:job_list", "?state=all"),
    ("maintenance:test_list", ""), ("maintenance:test_list", "?csv=1"),
    ("maintenance:belts", ""), ("maintenance:belts", "?csv=1"), ("maintenance:rack", ""),
    ("maintenance:rack", "?csv=1"), ("maintenance:shopping", ""),
    ("maintenance:find_belt", "?way=mark&mark=13A690+Ld"),
    ("maintenance:running_out", ""), ("maintenance:running_out", "?csv=1"),
    ("maintenance:instrument_list", ""), ("maintenance:readings_file_list", ""),
    ("maintenance:job_list", "?mine=1&sort=machine"), ("reports:batch_list", ""),
    ("maintenance:find", "?q=mixer"), ("maintenance:held", ""), ("maintenance:held", "?csv=1"),
    ("maintenance:out_in", ""), ("maintenance:people", ""), ("plant:phone_list", ""),
    ("maintenance:job_list", "?csv=1"),
    ("maintenance:job_list", "?flag=back+again"), ("maintenance:back_again", ""),
    ("maintenance:day", ""),
    ("maintenance:out_in", "?list=untold"),
    ("reports:today", ""), ("reports:prints", ""), ("plant:import_list", ""),
    ("reports:ask_batch", ""), ("maintenance:add_machine", ""), ("plant:add_import", ""),
]  # fmt: skip


def queries(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        response: Any = client.get(address)
        b"".join(response.streaming_content) if response.streaming else response.content
    assert response.status_code == 200, address
    return len(asked)


def test_lists_cost_the_same_for_five_as_for_sixty(depot: Depot, user: User) -> None:
    client = Client()
    client.force_login(user)
    counts: list[dict[str, int]] = []
    for size in (FEW, MANY):
        fill(depot, user, size)
        run = MachineImport.objects.order_by("pk").last()
        assert run is not None
        walk = {name + query: reverse(name) + query for name, query in LISTS}
        walk["import"] = reverse("plant:machine_import", args=[run.pk])
        walk["readings"] = reverse("maintenance:readings_file", args=[_readings(depot, user, size)])
        walk["left over"] = reverse("plant:import_left_over", args=[run.pk])
        for once in ("maintenance:machine_list", "reports:today"):
            client.get(walk[once])  # what is read once a process
        counts.append({name: queries(client, address) for name, address in walk.items()})

    assert DueLine.objects.count() > MANY
    assert Stop.objects.count() == MANY
    assert counts[1] == counts[0]
    assert max(counts[1].values()) <= 30, counts[1]


def test_a_batch_of_sixty_costs_as_much_as_one_of_five(depot: Depot, user: User) -> None:
    client = Client()
    client.force_login(user)
    counts = []
    for size in (FEW, MANY):
        machines = [make_machine(depot) for _ in range(size)]
        batch = ask_sheets(depot=depot, machines=machines, by=user, at=NOW)
        counts.append(queries(client, reverse("reports:batch", args=[batch.pk])))

    assert counts[0] == counts[1]


def test_a_machine_with_much_on_it_costs_as_much_as_one_with_little(
    depot: Depot, user: User
) -> None:
    client = Client()
    client.force_login(user)
    counts = []
    for size in (2, 40):
        machine = make_machine(depot, added_at=NOW, place="out")
        give_plans([machine], at=NOW - timedelta(days=800))
        for n in range(size):
            report_fault(
                machine=machine, part="drum" if n % 2 else f"thing {n}", told="grinds",
                stop_now=bool(n % 3), at=NOW, by=user if n % 4 else None, by_name="Ola",
            )  # fmt: skip
            record_meter(
                machine=machine, dial_tenths=1000 + n, typed="x", at=NOW, by=user, confirmed=True
            )
            make_drive(machine, stage=n + 1)
        Job.objects.filter(machine=machine).update(given_to=user)
        counts.append(
            {
                name: queries(client, reverse(f"maintenance:{name}", args=[machine.pk]))
                for name in ("machine", "add_meter_figure", "release", "check", "machine_costs")
            }
        )

    assert counts[0] == counts[1]
