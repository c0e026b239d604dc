"""A machine comes with the plans of its kind, however it came and whatever is put right later."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from maintenance.actions.machine import add_machine, change_machine, give_missing_plans
from maintenance.actions.plan import raise_due_work
from maintenance.models import DueLine, Job, PlanLine
from maintenance.tasks import give_missing_plans as task
from make import MONDAY, make_kind, make_machine
from plant.actions.machine import NewMachine
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, MachineKind, Meter, Place, User


def make_line(kind: MachineKind, key: str, **more) -> PlanLine:
    given = {"title": key.title(), "every_months": 3, "source": "invented", "trust": "test"}
    return PlanLine.objects.create(kind=kind, key=key, **given | more)


@pytest.fixture
def mixer(db: None) -> MachineKind:
    kind = make_kind("mixer_electric", has_meter=False)
    make_line(kind, "grease")
    make_line(kind, "test_110", supplies=["e110"], is_test=True)
    make_line(kind, "test_230", supplies=["e230"], is_test=True)
    return kind


@pytest.fixture
def generator(db: None) -> MachineKind:
    kind = make_kind("generator", has_meter=True)
    make_line(kind, "oil", every_tenths=1000)
    return kind


def new(depot: Depot, kind: MachineKind, number: str = "MX-1", **more) -> NewMachine:
    return NewMachine(**{"depot": depot, "kind": kind, "number": number, "supply": "e110"} | more)


def live_lines(machine: Machine) -> set[str]:
    lines = DueLine.objects.filter(machine=machine).exclude(due_on=None, due_tenths=None)
    return set(lines.values_list("line__key", flat=True))


def test_a_machine_added_by_hand_has_its_plans_and_waits_for_a_first_look(
    depot: Depot, manager: User, mixer: MachineKind
) -> None:
    machine = add_machine(new(depot, mixer, " mx 1 "), by=manager, at=MONDAY)

    assert (machine.number, machine.number_key, machine.place) == ("mx 1", "MX1", Place.YARD)
    assert (machine.look_wanted_at, machine.passed_at) == (MONDAY, None)
    assert live_lines(machine) == {"grease", "test_110"}
    assert not Meter.objects.exists()


def test_a_kind_with_a_meter_gets_one_and_its_hours(
    depot: Depot, manager: User, generator: MachineKind
) -> None:
    given = new(depot, generator, supply="diesel", hours_tenths=1234)
    machine = add_machine(given, by=manager, at=MONDAY)

    assert (machine.hours_tenths, machine.hours_at) == (1234, MONDAY)
    assert Meter.objects.get().machine == machine
    assert DueLine.objects.get().due_tenths == 2234


@pytest.mark.parametrize("number", ["mx 203", "MX203", "Mx-203"])
def test_another_spelling_of_a_number_in_use_is_refused(
    depot: Depot, manager: User, machine: Machine, number: str
) -> None:
    with pytest.raises(Refused, match="MX-203 is in the register already, at North yard") as no:
        add_machine(new(depot, machine.kind, number), by=manager, at=MONDAY)

    assert no.value.field == "number"
    assert Machine.objects.count() == 1


def test_a_number_of_another_depot_is_only_said_to_be_taken(
    depot: Depot, other_depot: Depot, manager: User
) -> None:
    there = make_machine(other_depot, "MX-9")

    with pytest.raises(Refused) as no:
        add_machine(new(depot, there.kind, "mx9"), by=manager, at=MONDAY)

    assert str(no.value) == "This number is taken. Give the machine another."


def test_the_number_of_a_machine_that_is_gone_is_not_given_again(
    depot: Depot, manager: User, machine: Machine
) -> None:
    Machine.objects.update(place=Place.GONE)

    with pytest.raises(Refused, match="and is gone"):
        add_machine(new(depot, machine.kind, "MX-203"), by=manager, at=MONDAY)


def test_only_who_keeps_the_register_may_add_and_change(
    depot: Depot, machine: Machine, foreman: User, administrator: User, outsider: User
) -> None:
    for user in (foreman, administrator, outsider):
        with pytest.raises(PermissionError):
            add_machine(new(depot, machine.kind), by=user, at=MONDAY)
        with pytest.raises(PermissionError):
            change_machine(machine=machine, by=user, at=MONDAY, changes={"maker": "Hollin"})


def test_a_change_writes_the_named_fields_alone(
    depot: Depot, manager: User, machine: Machine
) -> None:
    stale = Machine.objects.get(pk=machine.pk)
    Machine.objects.update(maker="Hollin", hours_tenths=2000, plate_typed={"mass": "55 lb"})

    changes, typed = {"serial": "7", "power_w": 745.7}, {"power": "1 hp"}
    change_machine(machine=stale, by=manager, at=MONDAY, changes=changes, typed=typed)

    machine.refresh_from_db()
    assert (machine.maker, machine.serial, machine.hours_tenths) == ("Hollin", "7", 2000)
    assert machine.plate_typed == {"mass": "55 lb", "power": "1 hp"}
    with pytest.raises(ValueError, match="not changed here: place"):
        change_machine(machine=machine, by=manager, at=MONDAY, changes={"place": "gone"})


def test_renumbering_keeps_the_machine_and_frees_its_old_number(
    depot: Depot, manager: User, machine: Machine
) -> None:
    make_machine(depot, "MX-7")
    change_machine(machine=machine, by=manager, at=MONDAY, changes={"number": "mx-203"})
    assert Machine.objects.get(pk=machine.pk).number == "mx-203"
    with pytest.raises(Refused, match="MX-7"):
        change_machine(machine=machine, by=manager, at=MONDAY, changes={"number": "MX7"})

    change_machine(machine=machine, by=manager, at=MONDAY, changes={"number": "MX-204"})

    assert Machine.objects.get(number_key="MX204") == machine
    add_machine(new(depot, machine.kind, "MX-203"), by=manager, at=MONDAY)


def test_another_supply_changes_the_tests_and_back_again(
    depot: Depot, manager: User, mixer: MachineKind
) -> None:
    machine = add_machine(new(depot, mixer), by=manager, at=MONDAY)
    late = MONDAY + timedelta(days=200)
    assert raise_due_work(depot=depot, at=late) == 2

    change_machine(machine=machine, by=manager, at=late, changes={"supply": "e230"})
    assert live_lines(machine) == {"grease", "test_230"}
    called_off = Job.objects.get(state=Job.State.CALLED_OFF)
    assert (called_off.due_line.line.key, called_off.called_off_because != "") == ("test_110", True)
    assert raise_due_work(depot=depot, at=late + timedelta(days=1)) == 0

    change_machine(machine=machine, by=manager, at=late, changes={"supply": "e110"})
    assert live_lines(machine) == {"grease", "test_110"}
    assert raise_due_work(depot=depot, at=late) == 1


def test_machines_without_plans_get_them_once(
    depot: Depot, mixer: MachineKind, generator: MachineKind
) -> None:
    for number in range(3):
        make_machine(depot, f"MX-{number}", kind=mixer)
    make_machine(depot, "GN-1", kind=generator, supply="diesel")
    make_machine(depot, "GONE", kind=mixer, place=Place.GONE)
    make_machine(depot, "BARE", kind=make_kind("bare"))

    assert task() == 3 * 2 + 1
    assert task() == 0


def test_nothing_missing_costs_one_query(
    depot: Depot, mixer: MachineKind, generator: MachineKind
) -> None:
    make_machine(depot, "MX-1", kind=mixer)
    give_missing_plans(at=MONDAY)

    with CaptureQueriesContext(connection) as queries:
        give_missing_plans(at=MONDAY)

    assert len(queries) == 1


def test_a_machine_to_which_no_line_applies_does_not_hold_up_the_others(
    depot: Depot, mixer: MachineKind, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("maintenance.actions.machine.BLOCK", 1)
    PlanLine.objects.filter(key="grease").delete()
    make_machine(depot, "A", kind=mixer, supply="battery")
    make_machine(depot, "B", kind=mixer, supply="e110")

    assert give_missing_plans(at=MONDAY) == 1
