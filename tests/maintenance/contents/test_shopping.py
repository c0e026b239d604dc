"""What to buy: too few on hand, work to come, and belts that run out, each with its reason."""

from datetime import timedelta

import pytest

from maintenance.actions import rack
from maintenance.actions.belt_life import raise_belt_work
from maintenance.actions.belt_order import order_belt
from maintenance.actions.job import open_job
from maintenance.actions.plan import give_plans
from maintenance.contents.shopping import NOWHERE, shopping
from maintenance.models import BeltLife, DueLine, Job, RuleSheet, StockPlace
from make import MONDAY, make_drive, make_machine
from plant.models import Depot, Machine, MachineKind, User

ON = MONDAY.date()


@pytest.fixture
def place(depot: Depot, manager: User) -> StockPlace:
    return rack.add_place(depot=depot, name="Rack", kind=StockPlace.Kind.RACK, by=manager)


def runs_out(machine: Machine, *, order_by: int, length_m: float) -> None:
    drive = make_drive(machine, belt_datum_m=length_m, belt_mark=f"A {length_m * 1e3:.0f} Ld")
    BeltLife.objects.update_or_create(
        drive=drive,
        defaults={
            "state": BeltLife.State.DATED, "order_by_on": ON + timedelta(days=order_by),
            "lead_days": 14, "why": "Worn.", "worked_out_at": MONDAY,
        },
    )  # fmt: skip


def test_belts_that_run_out_are_bought_by_their_order_day_known_as_parts_or_not(
    depot: Depot, place: StockPlace, fitter: User
) -> None:
    part = rack.save_part(
        depot=depot, name="A26", is_belt=True, bought_from="Mill Street", at=MONDAY, by=fitter
    )
    rack.receive(part=part, place=place, quantity=1, on=ON, at=MONDAY, by=fitter)
    runs_out(make_machine(depot, "MX-1"), order_by=9, length_m=0.6904)
    runs_out(make_machine(depot, "MX-2"), order_by=12, length_m=0.900)
    runs_out(make_machine(depot, "MX-3"), order_by=31, length_m=0.800)

    groups = dict(shopping(depot, on=ON).groups)
    (known,) = groups["Mill Street"]
    # One lies there, one is used, and one is kept: one to buy.
    assert (known.part, known.want, known.order_by) == (part, 1, ON + timedelta(days=9))
    assert "MX-1: order by 11 Mar 2026" in known.why[0]
    (unknown,) = groups[NOWHERE]
    assert (unknown.part, unknown.name, unknown.want) == (None, "A 900 Ld", 1)


def test_a_belt_that_is_no_part_is_named_until_somebody_has_ordered_it(
    depot: Depot, fitter: User
) -> None:
    machine = make_machine(depot, "MX-2")
    runs_out(machine, order_by=0, length_m=0.900)
    BeltLife.objects.update(belt_key="k")
    assert raise_belt_work(depot=depot, at=MONDAY) == 1
    assert [need.name for _, needs in shopping(depot, on=ON).groups for need in needs] == [
        "A 900 Ld"
    ]

    order_belt(job=Job.objects.get(), lies_here=False, at=MONDAY, by=fitter)

    assert shopping(depot, on=ON).groups == ()
    BeltLife.objects.update(belt_key="the next belt")
    assert shopping(depot, on=ON).pieces == 1


def test_work_to_come_asks_for_what_it_took_the_last_time(
    depot: Depot, place: StockPlace, fitter: User, rule_sheet: RuleSheet
) -> None:
    grease = rack.save_part(depot=depot, name="Grease", is_belt=False, at=MONDAY, by=fitter)
    rack.receive(part=grease, place=place, quantity=3, on=ON, at=MONDAY, by=fitter)
    kind = MachineKind.objects.get(key="mixer_electric")
    machine = make_machine(depot, "MX-1", kind=kind)
    give_plans([machine], at=MONDAY - timedelta(days=400))
    line = DueLine.objects.filter(machine=machine, line__is_test=False).order_by("pk")[0]
    job = open_job(
        machine=machine, kind=Job.Kind.SERVICE, title="Service", due_line=line,
        at=MONDAY - timedelta(days=90), by=fitter,
    )  # fmt: skip
    used = rack.take(part=grease, place=place, job=job, quantity=3, at=MONDAY, by=fitter)
    rack.put_back(used=used, quantity=1, at=MONDAY, by=fitter)
    Job.objects.filter(pk=job.pk).update(state=Job.State.CLOSED)
    DueLine.objects.filter(pk=line.pk).update(plan_on=ON + timedelta(days=30))

    ((_, (need,)),) = shopping(depot, on=ON).groups
    # Two stayed in the machine, so two are asked for again; one lies there and one is kept.
    assert (need.part, need.want) == (grease, 2)
    assert "took 2 last time" in need.why[0]
    DueLine.objects.filter(pk=line.pk).update(plan_on=ON + timedelta(days=31))
    assert shopping(depot, on=ON).groups == ()
