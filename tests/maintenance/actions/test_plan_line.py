"""Plans changed by people: from a day on, never backwards, and on the record of every depot."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from maintenance.actions.due import rework_old
from maintenance.actions.plan import give_plans, raise_due_work, record_done
from maintenance.actions.plan_line import LineTold, StepTold, add_line, change_line, rest_line
from maintenance.contents.due import why
from maintenance.contents.plan import moves
from maintenance.models import DueLine, Job, PlanLine
from make import MONDAY, make_depot, make_kind, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Record, Role, User

TODAY = MONDAY.date()
REASON = "The handbook was printed anew."


@pytest.fixture
def depot(db: None) -> Depot:
    return make_depot()


@pytest.fixture
def manager(depot: Depot) -> User:
    return make_user("Marit Manager", (depot, Role.MANAGER))


@pytest.fixture
def machine(depot: Depot) -> Machine:
    return make_machine(depot, "MX-203", hours_at=MONDAY)


@pytest.fixture
def line(machine: Machine) -> PlanLine:
    made = PlanLine.objects.create(
        kind=machine.kind, key="grease", title="Grease", every_months=3, source="-", trust="-"
    )
    made.steps.create(position=1, text="Grease it.")
    give_plans([Machine.objects.select_related("kind", "depot").get(pk=machine.pk)], at=MONDAY)
    return made


def change(line: PlanLine, manager: User, **more: object) -> PlanLine:
    told = LineTold(title="Grease", every_months=2, steps=(StepTold(text="Wipe, then grease."),))
    given = {"told": told, "from_on": TODAY, "reason": REASON, "at": MONDAY, "by": manager} | more
    made = change_line(line=line, **given)
    rework_old(at=given["at"])  # as the timer does within the minute
    return made


def test_a_version_of_today_moves_the_machines_within_the_minute(
    line: PlanLine, manager: User
) -> None:
    change(line, manager)

    due_line = DueLine.objects.get()
    assert due_line.due_on == date(2026, 5, 2)
    assert [step.text for step in due_line.line.steps.all()] == ["Wipe, then grease."]
    assert [step.text for step in line.steps.all()] == ["Grease it."], "the old one is as it was"


def test_a_later_version_waits_for_its_day(line: PlanLine, manager: User) -> None:
    change(line, manager, from_on=date(2026, 4, 1))
    assert DueLine.objects.get().due_on == date(2026, 6, 2)

    rework_old(at=datetime.combine(date(2026, 4, 1), time(6), tzinfo=UTC))

    assert DueLine.objects.get().due_on == date(2026, 5, 2)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"from_on": TODAY - timedelta(days=1)}, "never changed backwards"),
        ({"reason": "short"}, "10"),
        ({"told": LineTold(title="Grease")}, "hours, months or days"),
        ({"told": LineTold(title="Grease", every_months=500)}, "Months must be 1 to 120"),
        ({"told": LineTold(title="Grease", every_months=2, every_days=7)}, "not both"),
        (
            {"told": LineTold(title="x", every_days=7, steps=(StepTold(text="a", low=2, high=1),))},
            "least is above the most",
        ),
    ],
)
def test_what_makes_no_plan_is_refused(
    line: PlanLine, manager: User, more: dict[str, object], words: str
) -> None:
    with pytest.raises(Refused, match=words):
        change(line, manager, **more)
    assert PlanLine.objects.count() == 1
    assert not Record.objects.exists()


def test_two_versions_of_one_day_are_refused(line: PlanLine, manager: User) -> None:
    change(line, manager)

    with pytest.raises(Refused, match="that day already"):
        change(line, manager, reason="Changed my mind about it.")


def test_the_same_change_sent_twice_is_one_and_another_record_is_none_of_it(
    line: PlanLine, manager: User
) -> None:
    number = new_id()
    first = change(line, manager, record_id=number)
    assert change(line, manager, record_id=number) == first
    rest_line(
        due_line=DueLine.objects.get(), reason=REASON, at=MONDAY, by=manager,
        record_id=(other := new_id()),
    )  # fmt: skip

    with pytest.raises(Refused, match="Another entry"):
        change(line, manager, from_on=date(2026, 5, 1), record_id=other)


def test_each_depot_with_such_machines_has_it_on_record(line: PlanLine, manager: User) -> None:
    south = make_depot("south")
    make_machine(south, kind=line.kind)

    change(line, manager)

    assert set(Record.objects.values_list("depot__code", "kind")) == {
        ("north", "plan"), ("south", "plan"),
    }  # fmt: skip


def test_an_ended_line_is_asked_of_nobody_and_its_raised_job_goes(
    line: PlanLine, machine: Machine, manager: User
) -> None:
    later = MONDAY + timedelta(days=100)
    raise_due_work(depot=machine.depot, at=later)

    change(line, manager, told=LineTold(title="Grease", ended=True), from_on=later.date(), at=later)

    due_line = DueLine.objects.select_related("line", "machine").get()
    assert (due_line.due_on, due_line.past_after) == (None, None)
    assert why(due_line).startswith("Not asked any more")
    assert Job.objects.get().state == Job.State.CALLED_OFF


def test_a_new_line_of_a_kind_is_given_to_all_its_machines(
    line: PlanLine, machine: Machine, manager: User
) -> None:
    make_machine(machine.depot, kind=machine.kind)
    other = make_machine(machine.depot, kind=make_kind("breaker_electric"))

    add_line(
        kind=machine.kind, told=LineTold(title="Look at the tyres", every_months=1),
        reason=REASON, at=MONDAY, by=manager,
    )  # fmt: skip

    assert DueLine.objects.filter(line__key="look_at_the_tyres").count() == 2
    assert not other.due_lines.exists()


def test_a_line_of_its_own_is_for_one_machine(
    line: PlanLine, machine: Machine, manager: User
) -> None:
    make_machine(machine.depot, kind=machine.kind)
    made = add_line(
        machine=machine, told=LineTold(title="Lock", every_days=30), reason=REASON, at=MONDAY,
        by=manager,
    )  # fmt: skip

    own = DueLine.objects.get(line=made)
    assert (own.machine, own.due_on) == (machine, TODAY + timedelta(days=30))
    with pytest.raises(Refused, match="of this name already"):
        add_line(
            machine=machine, told=LineTold(title="Lock", every_days=9), reason=REASON, at=MONDAY,
            by=manager,
        )  # fmt: skip


def test_its_own_line_takes_a_new_version_too(machine: Machine, manager: User) -> None:
    made = add_line(
        machine=machine, told=LineTold(title="Lock", every_days=30), reason=REASON, at=MONDAY,
        by=manager,
    )  # fmt: skip
    change(
        made, manager, told=LineTold(title="Lock", every_days=10), at=MONDAY + timedelta(days=1),
        from_on=TODAY + timedelta(days=1),
    )  # fmt: skip

    assert DueLine.objects.get().due_on == TODAY + timedelta(days=10)


def test_a_line_taken_off_rests_and_comes_back_as_it_was(
    line: PlanLine, machine: Machine, manager: User
) -> None:
    due_line = DueLine.objects.get()
    record_done(due_line=due_line, on=TODAY, tenths=None, at=MONDAY)
    later = MONDAY + timedelta(days=95)
    raise_due_work(depot=machine.depot, at=later)
    rest_line(due_line=due_line, reason="It has no ring gear.", at=later, by=manager)
    assert DueLine.objects.get().due_on is None
    assert Job.objects.get().called_off_because == "It has no ring gear."
    assert raise_due_work(depot=machine.depot, at=later) == 0

    rest_line(due_line=due_line, reason="It has one after all.", at=later, by=manager, wake=True)

    assert DueLine.objects.get().due_on == date(2026, 6, 2)
    assert raise_due_work(depot=machine.depot, at=later) == 1, "asked again, it is raised again"
    assert Record.objects.filter(kind=Record.Kind.PLAN).count() == 2


def test_a_safety_test_is_not_taken_off_one_machine(
    line: PlanLine, machine: Machine, manager: User
) -> None:
    PlanLine.objects.update(is_test=True)

    with pytest.raises(Refused, match="safety test"):
        rest_line(
            due_line=DueLine.objects.get(), reason="It has no plug at all.", at=MONDAY, by=manager
        )


def test_who_may_not_plan_changes_no_plan(line: PlanLine, depot: Depot) -> None:
    foreman = make_user("Freya", (depot, Role.FOREMAN))

    with pytest.raises(PermissionError):
        change(line, foreman)
    with pytest.raises(PermissionError):
        rest_line(due_line=DueLine.objects.get(), reason=REASON, at=MONDAY, by=foreman)


def test_what_a_change_would_move_is_what_it_moves(line: PlanLine, manager: User) -> None:
    told = LineTold(title="Grease", every_days=10)
    shown = moves(line, told.rule, on=date(2026, 3, 20), notice_days=14, notice_tenths=100)
    assert (shown.machines, shown.moved, shown.made_overdue) == (1, 1, 1)

    change(line, manager, told=told)

    assert DueLine.objects.get().due_on == shown.shown[0].after.on == date(2026, 3, 12)
