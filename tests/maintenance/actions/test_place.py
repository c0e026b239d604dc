"""Moves: who may, what they need, what they leave behind; and that none frees a machine."""

from datetime import date, timedelta
from typing import Any

import pytest

from maintenance.actions import place, signing
from maintenance.actions import stay as action
from maintenance.actions.check import questions, record_check
from maintenance.actions.due import rework
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.meter import record_meter
from maintenance.actions.move import RIGHTS
from maintenance.actions.stay import Dial, Going, NotFit, pass_on, take_back, tell_stay, work_first
from maintenance.actions.stop import decide_stop, stop_machine
from maintenance.actions.transfer import receive, send, turn_back
from maintenance.contents.fitness import fitness_of
from maintenance.models import DueLine, Hirer, Job, Move, PlanLine, Stay, Stop, Transfer
from maintenance.rules import place as rule
from maintenance.rules.check import Given
from make import MONDAY, make_kind, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Chain, Depot, Machine, Place, Record, Role, User
from plant.rights import TABLE, NotAllowed
from plant.sealing import Link, verify

pytestmark = pytest.mark.usefixtures("rule_sheet")
LATER = MONDAY + timedelta(hours=1)
BACK = date(2026, 3, 20)


def going(**more: Any) -> Going:
    given = {"site": "Plot 4", "site_phone": "01632 960 200", "due_back_on": BACK, "hirer": "Ash"}
    return Going(**given | more)


def issue(machine: Machine, by: User, **more: Any) -> Stay:
    given: dict[str, Any] = {"going": going(), "at": LATER, "passport": True} | more
    return action.issue(machine=machine, by=by, **given)


def mark(machine: Machine) -> str:
    machine.refresh_from_db()
    return fitness_of(machine, LATER.date()).mark


def passed(machine: Machine, by: User, *, at: Any) -> None:
    machine.refresh_from_db()
    _, asked = questions(machine, at=at)
    record_check(machine=machine, answers={q.key: Given(answer="ok") for q in asked}, at=at, by=by)


def add_line(machine: Machine, *, due_on: date | None = None, **more: Any) -> DueLine:
    tenths = more.pop("due_tenths", None)
    given: dict[str, Any] = {
        "key": f"line-{PlanLine.objects.count()}", "title": "Service A", "every_months": 3,
        "source": "made up", "trust": "test",
    }  # fmt: skip
    line = PlanLine.objects.create(kind=machine.kind, **given | more)
    return DueLine.objects.create(
        machine=machine, line=line, start_on=MONDAY.date(), due_on=due_on, past_after=due_on,
        due_tenths=tenths, worked_out_at=MONDAY,
    )  # fmt: skip


def chain_is_whole(depot: Depot) -> bool:
    head = Chain.objects.get(depot=depot)
    rows = Record.objects.filter(depot=depot).order_by("seq")
    links = [Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in rows]
    return verify(links, head_seq=head.head_seq, head_hash=head.head_hash).what == ""


def test_the_rights_are_those_of_the_allowed_moves() -> None:
    for each in rule.MOVES:
        right = RIGHTS[(each.start, each.to)]
        assert each.roles == {str(role) for role in TABLE[right][0]}, (each.start, each.to)


def test_an_issue_says_who_has_it_and_is_sealed(machine: Machine, desk: User) -> None:
    stay = issue(machine, desk, going=going(hirer_phone="01632 960 201", went_with="one lead"))

    machine.refresh_from_db()
    assert (machine.place, machine.site) == (Place.OUT, "Plot 4")
    assert (stay.with_whom, stay.due_back_on, stay.went_with) == ("Ash", BACK, "one lead")
    assert Hirer.objects.get().phone == "01632 960 201"
    record = Record.objects.get()
    assert (record.kind, record.role, record.depot) == ("place", "desk", machine.depot)
    assert "Ash" not in record.content
    assert chain_is_whole(machine.depot)


def test_pressed_twice_it_is_one_record(machine: Machine, desk: User) -> None:
    number = new_id()

    first = issue(machine, desk, record_id=number)
    second = issue(machine, desk, record_id=number)

    assert first == second
    assert (Record.objects.count(), Stay.objects.count(), Move.objects.count()) == (1, 1, 1)
    with pytest.raises(Refused, match="Another entry"):
        issue(machine, desk, record_id=number, going=going(site="Elsewhere"))


@pytest.mark.parametrize("role", [Role.DESK, Role.FOREMAN, Role.MANAGER])
def test_nobody_issues_what_must_not_be_used_and_the_attempt_stays_on_record(
    machine: Machine, role: Role, operator: User
) -> None:
    by = make_user("Any Body", (machine.depot, role))
    stop_machine(machine=machine, told="guard gone", at=MONDAY, by=operator)
    number = new_id()

    for _ in range(2):
        with pytest.raises(NotFit, match="Do not use"):
            issue(machine, by, record_id=number)

    machine.refresh_from_db()
    assert machine.place == Place.YARD
    assert Stay.objects.count() == 0
    attempt = Record.objects.get(kind="place")
    assert '"refused":true' in attempt.content
    assert "guard gone" in attempt.texts.get(name="why").text
    assert attempt.by == by
    assert chain_is_whole(machine.depot)


def test_what_is_not_yet_passed_is_not_issued(depot: Depot, desk: User) -> None:
    machine = make_machine(depot, passed_at=None)

    with pytest.raises(NotFit, match="Not yet passed"):
        issue(machine, desk)


@pytest.mark.parametrize("role", [Role.OPERATOR, Role.FITTER, Role.ADMINISTRATOR])
def test_who_does_not_move_machines_issues_none(machine: Machine, role: Role) -> None:
    by = make_user("Some Body", (machine.depot, role))

    with pytest.raises(NotAllowed):
        issue(machine, by)
    assert Record.objects.count() == 0


def test_a_note_is_shown_before_it_goes(
    machine: Machine, desk: User, foreman: User, operator: User
) -> None:
    stop = stop_machine(machine=machine, told="stiff wheel", at=MONDAY, by=operator)
    decide_stop(
        stop=stop, carry_on_until=date(2026, 3, 9), reason="only on level ground",
        answer="Level ground only.", at=MONDAY, by=foreman,
    )  # fmt: skip
    with pytest.raises(Refused) as refused:
        issue(machine, desk)
    assert refused.value.field == "note_shown"

    issue(machine, desk, note_shown=True)

    assert mark(machine) == "Use, with a note"


def test_the_passport_goes_with_it(machine: Machine, desk: User) -> None:
    with pytest.raises(Refused) as refused:
        issue(machine, desk, passport=False)
    assert refused.value.field == "passport"


def test_a_test_out_of_date_keeps_it_in(machine: Machine, desk: User) -> None:
    add_line(machine, due_on=MONDAY.date() - timedelta(days=1), is_test=True, title="RCD test")

    with pytest.raises(NotFit, match="Needed before use: RCD test"):
        issue(machine, desk)


def test_what_falls_due_meanwhile_asks_for_a_plan_which_is_kept(
    machine: Machine, desk: User
) -> None:
    add_line(machine, due_on=date(2026, 3, 10))
    with pytest.raises(Refused, match="Service A: 10 Mar 2026") as refused:
        issue(machine, desk)
    assert refused.value.field == "plan"
    with pytest.raises(Refused) as refused:
        issue(machine, desk, plan="anyway", plan_reason="hurry")
    assert refused.value.field == "plan_reason"

    stay = issue(machine, desk, plan="anyway", plan_reason="the service is a grease nipple")

    assert stay.plan == "anyway"
    assert "Service A: 10 Mar 2026" in Record.objects.get().content


def test_on_the_last_day_it_falls_due_and_a_day_later_not(machine: Machine, desk: User) -> None:
    line = add_line(machine, due_on=BACK)
    with pytest.raises(Refused, match="Falls due"):
        issue(machine, desk)
    line.due_on = BACK + timedelta(days=1)
    line.save()

    assert issue(machine, desk).plan == ""


def test_a_test_cannot_be_put_off_while_it_is_out(machine: Machine, desk: User) -> None:
    add_line(machine, due_on=date(2026, 3, 10), is_test=True, title="RCD test")
    with pytest.raises(Refused, match="cannot be put off"):
        issue(machine, desk, plan="anyway", plan_reason="we are in a hurry today")

    assert issue(machine, desk, plan="visit").plan == "visit"


def test_weekly_care_asks_for_no_plan(machine: Machine, desk: User) -> None:
    add_line(machine, due_on=date(2026, 3, 5), every_months=None, every_days=7)

    assert issue(machine, desk).plan == ""


def test_work_by_hours_falls_due_on_its_likely_day(
    machine: Machine, desk: User, operator: User
) -> None:
    """6 h a day, 124.0 h on 6 March: 150.0 h after 4.3 days, on 10 March."""
    for days, tenths in ((0, 1000), (2, 1120), (4, 1240)):
        at = MONDAY + timedelta(days=days)
        record_meter(machine=machine, dial_tenths=tenths, typed="x", at=at, by=operator)
    line = add_line(machine, every_months=None, every_tenths=1500)
    DueLine.objects.filter(pk=line.pk).update(start_tenths=0)
    rework(signing.locked(machine), at=LATER + timedelta(days=4))

    with pytest.raises(Refused, match="Service A: 10 Mar 2026, likely, by its hours"):
        issue(machine, desk, at=LATER + timedelta(days=4))


def test_the_choice_to_work_first_raises_the_jobs_once(machine: Machine, desk: User) -> None:
    add_line(machine, due_on=date(2026, 3, 10))
    number = new_id()

    for _ in range(2):
        jobs = work_first(machine=machine, until=BACK, at=LATER, by=desk, record_id=number)

    assert [job.title for job in jobs] == ["Service A"]
    assert Job.objects.count() == 1
    assert Record.objects.get().kind == "decision"
    machine.refresh_from_db()
    assert machine.place == Place.YARD


@pytest.mark.parametrize("day", [MONDAY.date() - timedelta(days=1), date(2029, 1, 1)])
def test_a_day_to_be_back_that_cannot_be(machine: Machine, desk: User, day: date) -> None:
    with pytest.raises(Refused) as refused:
        issue(machine, desk, going=going(due_back_on=day))
    assert refused.value.field == "due_back_on"


def test_taken_back_it_waits_for_a_look_and_its_stay_is_whole(
    depot: Depot, desk: User, operator: User
) -> None:
    machine = make_machine(depot, kind=make_kind("generator", has_meter=True))
    issue(machine, desk, dial=Dial(tenths=1001, typed="100.1 h"))

    take_back(
        machine=machine, at=LATER + timedelta(days=2), by=desk, condition="a dent",
        dial=Dial(tenths=1090, typed="109.0 h"), came_with="no lead",
    )  # fmt: skip

    machine.refresh_from_db()
    stay = Stay.objects.get()
    assert (machine.place, machine.site, machine.hours_tenths) == (Place.YARD, "", 1090)
    assert (stay.out_tenths, stay.back_tenths, stay.condition_in) == (1001, 1090, "a dent")
    assert mark(machine) == "Not yet passed"


def test_a_meter_that_does_not_fit_moves_nothing(machine: Machine, desk: User) -> None:
    issue(machine, desk)

    with pytest.raises(Refused) as refused:
        take_back(
            machine=machine, at=LATER + timedelta(days=1), by=desk,
            dial=Dial(tenths=10, typed="1.0 h"),
        )  # fmt: skip

    assert refused.value.field == "dial"
    machine.refresh_from_db()
    assert machine.place == Place.OUT
    assert Stay.objects.open().count() == 1


def test_a_return_frees_nothing(machine: Machine, desk: User, operator: User) -> None:
    issue(machine, desk)
    stop_machine(machine=machine, told="guard gone", at=LATER, by_name="Ola")

    take_back(machine=machine, at=LATER + timedelta(days=1), by=desk)
    passed(machine, operator, at=LATER + timedelta(days=1, hours=1))

    assert mark(machine) == "Do not use"
    assert Stop.objects.standing().count() == 1


def test_passed_on_it_waits_for_a_check_by_whoever_takes_it(
    machine: Machine, desk: User, operator: User
) -> None:
    issue(machine, desk)
    at = LATER + timedelta(days=1)

    pass_on(machine=machine, going=going(site="Plot 9", hirer=""), taken_by="Ola", at=at, by=desk)

    machine.refresh_from_db()
    assert (machine.place, machine.site, Stay.objects.count()) == (Place.OUT, "Plot 9", 2)
    assert Stay.objects.open().get().with_whom == "our own site"
    assert mark(machine) == "Not yet passed"
    passed(machine, operator, at=at + timedelta(hours=1))
    assert mark(machine) == "OK to use"


def test_what_is_stopped_at_a_site_is_not_passed_on(
    machine: Machine, desk: User, operator: User
) -> None:
    issue(machine, desk)
    stop_machine(machine=machine, told="guard gone", at=LATER, by=operator)

    with pytest.raises(NotFit, match="guard gone"):
        pass_on(machine=machine, going=going(), taken_by="Ola", at=LATER, by=desk)

    assert Record.objects.filter(kind="place", content__contains='"refused":true').count() == 1


def test_who_has_it_is_told_for_one_brought_in_as_out_and_moved_on_later(
    depot: Depot, desk: User
) -> None:
    machine = make_machine(depot, place=Place.OUT, site="Plot 4")

    tell_stay(machine=machine, going=going(), at=LATER, by=desk)
    longer = tell_stay(
        machine=machine, going=going(due_back_on=date(2026, 4, 2)), at=LATER, by=desk
    )

    assert Stay.objects.get() == longer
    assert longer.due_back_on == date(2026, 4, 2)
    assert Record.objects.count() == 2
    assert mark(machine) == "OK to use"


def test_sent_and_received_it_counts_at_one_depot_and_its_faults_come_along(
    machine: Machine, desk: User, other_depot: Depot, operator: User, outsider: User
) -> None:
    stop_machine(machine=machine, told="guard gone", at=MONDAY, by=operator)
    line = add_line(machine, due_on=BACK)
    old = machine.depot

    transfer = send(machine=machine, to=other_depot, at=LATER, by=desk)
    machine.refresh_from_db()
    assert (machine.depot, machine.place) == (old, Place.MOVING)
    assert not Machine.objects.visible_to(outsider).exists()
    with pytest.raises(Refused, match="is Moving"):
        issue(machine, desk)

    receive(transfer=transfer, at=LATER + timedelta(hours=2), by=outsider, workshop=True)

    machine.refresh_from_db()
    assert (machine.depot, machine.place) == (other_depot, Place.WORKSHOP)
    assert Machine.objects.visible_to(outsider).get() == machine
    assert not Machine.objects.visible_to(desk).exists()
    assert Stop.objects.visible_to(outsider).standing().count() == 1
    assert DueLine.objects.visible_to(outsider).get() == line
    assert Record.objects.filter(depot=old, kind="place").count() == 1
    assert Record.objects.filter(depot=other_depot, kind="place").count() == 1
    assert Record.objects.visible_to(outsider).count() == 3
    assert chain_is_whole(old)
    assert chain_is_whole(other_depot)
    assert mark(machine) == "Do not use"


def test_received_twice_or_by_the_wrong_depot(
    machine: Machine, desk: User, other_depot: Depot, outsider: User
) -> None:
    transfer = send(machine=machine, to=other_depot, at=LATER, by=desk)
    with pytest.raises(NotAllowed):
        receive(transfer=transfer, at=LATER, by=desk)
    number = new_id()

    for _ in range(2):
        receive(transfer=transfer, at=LATER, by=outsider, record_id=number)

    with pytest.raises(Refused, match="Received already"):
        receive(transfer=transfer, at=LATER, by=outsider)
    with pytest.raises(Refused, match="Received already"):
        turn_back(transfer=transfer, reason="x", at=LATER, by=desk)
    assert Record.objects.filter(depot=other_depot).count() == 1


def test_a_machine_on_the_way_may_turn_back_or_be_lost(
    machine: Machine, desk: User, other_depot: Depot, operator: User, foreman: User
) -> None:
    first = send(machine=machine, to=other_depot, at=LATER, by=desk)
    turn_back(transfer=first, reason="van broke down", at=LATER, by=desk)
    machine.refresh_from_db()
    assert (machine.place, mark(machine)) == (Place.YARD, "Not yet passed")

    second = send(machine=machine, to=other_depot, at=LATER, by=desk)
    place.report_missing(machine=machine, reason="not on the van", at=LATER, by=operator)

    second.refresh_from_db()
    machine.refresh_from_db()
    assert (second.end, machine.place) == (Transfer.End.LOST, Place.MISSING)
    assert not Transfer.objects.open().exists()
    place.found(machine=machine, at=LATER + timedelta(days=1), by=foreman)
    assert mark(machine) == "Not yet passed"


def test_jobs_given_to_people_of_the_old_depot_wait_again(
    machine: Machine, desk: User, fitter: User, foreman: User, other_depot: Depot, outsider: User
) -> None:
    job = open_job(machine=machine, kind=Job.Kind.SERVICE, title="Grease", at=MONDAY, by=fitter)
    Job.objects.filter(pk=job.pk).update(state="given out", given_to=fitter)
    transfer = send(machine=machine, to=other_depot, at=LATER, by=desk)

    receive(transfer=transfer, at=LATER, by=outsider)

    job.refresh_from_db()
    assert (job.state, job.given_to) == ("looked at", None)


def test_laid_up_and_back(machine: Machine, foreman: User, fitter: User) -> None:
    with pytest.raises(NotAllowed):
        place.lay_up(machine=machine, at=LATER, by=fitter)

    place.lay_up(machine=machine, at=LATER, by=foreman)
    place.bring_back(machine=machine, at=LATER + timedelta(days=90), by=foreman)

    machine.refresh_from_db()
    assert (machine.place, mark(machine)) == (Place.YARD, "Not yet passed")


def test_into_the_workshop_and_back_changes_no_mark(
    machine: Machine, fitter: User, desk: User
) -> None:
    with pytest.raises(NotAllowed):
        place.to_workshop(machine=machine, at=LATER, by=desk)

    place.to_workshop(machine=machine, at=LATER, by=fitter)
    assert mark(machine) == "OK to use"
    with pytest.raises(Refused, match="is In workshop, not In yard"):
        place.to_workshop(machine=machine, at=LATER, by=fitter)
    place.to_yard(machine=machine, at=LATER, by=fitter)

    assert mark(machine) == "OK to use"
    assert [move.to for move in Move.objects.order_by("pk")] == ["workshop", "yard"]


def test_missing_from_a_site_ends_the_stay_and_needs_a_word(
    machine: Machine, desk: User, operator: User
) -> None:
    issue(machine, desk)
    with pytest.raises(Refused, match="Reason"):
        place.report_missing(machine=machine, at=LATER, by=operator)

    place.report_missing(machine=machine, reason="not behind the hut", at=LATER, by=operator)

    machine.refresh_from_db()
    assert (machine.place, machine.site) == (Place.MISSING, "Plot 4")
    assert not Stay.objects.open().exists()


def test_written_off_only_by_a_manager_with_every_job_named(
    machine: Machine, manager: User, foreman: User, fitter: User
) -> None:
    jobs = [
        open_job(machine=machine, kind=Job.Kind.SERVICE, title=title, at=MONDAY, by=fitter)
        for title in ("Grease", "Belt")
    ]
    with pytest.raises(NotAllowed):
        place.write_off(machine=machine, reason="sold for scrap", jobs=jobs, at=LATER, by=foreman)
    with pytest.raises(Refused, match=jobs[1].number) as refused:
        place.write_off(
            machine=machine, reason="sold for scrap", jobs=jobs[:1], at=LATER, by=manager
        )
    assert refused.value.field == "jobs"

    place.write_off(machine=machine, reason="sold for scrap", jobs=jobs, at=LATER, by=manager)

    machine.refresh_from_db()
    assert machine.place == Place.GONE
    assert set(Job.objects.values_list("state", flat=True)) == {"called off"}
    for move in (place.found, place.report_missing, place.bring_back):
        with pytest.raises(Refused):
            move(machine=machine, reason="there it is", at=LATER, by=manager)


def test_a_job_under_way_keeps_it_from_being_written_off(
    machine: Machine, manager: User, fitter: User
) -> None:
    job = open_job(machine=machine, kind=Job.Kind.BELT, title="Belt", at=MONDAY, by=fitter)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=MONDAY, by=fitter)

    with pytest.raises(Refused, match="Under way"):
        place.write_off(machine=machine, reason="sold for scrap", jobs=[job], at=LATER, by=manager)

    machine.refresh_from_db()
    assert machine.place == Place.YARD


def test_out_is_not_written_off_without_a_return(
    machine: Machine, desk: User, manager: User
) -> None:
    issue(machine, desk)

    with pytest.raises(Refused, match="cannot go from Out to Gone"):
        place.write_off(machine=machine, reason="sold for scrap", jobs=[], at=LATER, by=manager)


ACTS: dict[str, Any] = {
    "issue": lambda m, by, at: issue(m, by, at=at),
    "take_back": lambda m, by, at: take_back(machine=m, at=at, by=by),
    "to_workshop": lambda m, by, at: place.to_workshop(machine=m, at=at, by=by),
    "to_yard": lambda m, by, at: place.to_yard(machine=m, at=at, by=by),
    "lay_up": lambda m, by, at: place.lay_up(machine=m, at=at, by=by),
    "bring_back": lambda m, by, at: place.bring_back(machine=m, at=at, by=by),
    "found": lambda m, by, at: place.found(machine=m, at=at, by=by),
    "report_missing": lambda m, by, at: place.report_missing(
        machine=m, reason="gone from its place", at=at, by=by
    ),
    "write_off": lambda m, by, at: place.write_off(
        machine=m, reason="sold for scrap", jobs=[], at=at, by=by
    ),
}
STARTS: dict[str, set[str]] = {
    "issue": {"yard"}, "take_back": {"out"}, "to_workshop": {"yard"}, "to_yard": {"workshop"},
    "lay_up": {"yard"}, "bring_back": {"laid up"}, "found": {"missing"},
    "report_missing": {"yard", "workshop", "out", "moving", "laid up"},
    "write_off": {"yard", "workshop", "laid up", "missing"},
}  # fmt: skip


@pytest.mark.parametrize("start", list(Place))
@pytest.mark.parametrize("act", list(ACTS))
def test_each_act_starts_only_where_it_may(
    depot: Depot, manager: User, act: str, start: Place
) -> None:
    machine = make_machine(depot, place=start)

    if start in STARTS[act]:
        ACTS[act](machine, manager, LATER)
        assert Record.objects.count() == 1
    else:
        with pytest.raises(Refused):
            ACTS[act](machine, manager, LATER)
        assert Record.objects.count() == 0
        machine.refresh_from_db()
        assert machine.place == start
