"""What a look-over and an inspection do to their machine, and who may sign one."""

import json
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from maintenance.actions.check import AnswersRefused, record_check
from maintenance.actions.check import questions as check_questions
from maintenance.actions.inspection import MEASURES, Told, keep_draft, points, record_inspection
from maintenance.actions.place import found, report_missing
from maintenance.actions.plan import give_plans, raise_due_work
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stop import stop_machine
from maintenance.contents.fitness import fitness_of
from maintenance.contents.out_in import can_go
from maintenance.contents.record import summary
from maintenance.contents.record_answers import answers
from maintenance.contents.record_facts import facts
from maintenance.models import DueLine, Inspection, InspectionDraft, Job, Skill, Stop
from maintenance.rules.check import Given
from make import MONDAY, make_competence, make_kind, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Record, Role, User
from plant.rights import NotAllowed
from plant.units import read

ON = MONDAY.date()
pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")


def well(machine: Machine, kind: str = "look-over", **other: Told) -> dict[str, Told]:
    """All as it should be, but for what is named; figures are none on it."""
    found = {}
    for point in points(machine, kind, at=MONDAY)[1]:
        found[point.key] = other.get(point.key, Told(answer="none on it" if point.unit else "ok"))
    return found


def look_over(machine: Machine, by: User, *, minutes: int = 0, **more: Any) -> Inspection:
    at = MONDAY + timedelta(minutes=minutes)
    given = {"kind": "look-over", "told": well(machine, **more.pop("other", {}))} | more
    return record_inspection(machine=machine, at=at, by=by, **given)


def wants_look(machine: Machine) -> None:
    machine.look_wanted_at = MONDAY - timedelta(days=1)
    machine.looked_at = None
    machine.save()


def mark(machine: Machine) -> str:
    machine.refresh_from_db()
    return fitness_of(machine, ON).mark


def checked(machine: Machine, minutes: int = 5, **who: Any) -> None:
    _, asked = check_questions(machine, at=MONDAY)
    record_check(
        machine=machine, answers={each.key: Given(answer="ok") for each in asked},
        at=MONDAY + timedelta(minutes=minutes), **who,
    )  # fmt: skip


def test_a_check_leaves_a_first_look_open_and_says_so(machine: Machine, foreman: User) -> None:
    wants_look(machine)

    checked(machine, by=foreman)
    checked(machine, minutes=6, by_name="Ola")

    assert mark(machine) == "Not yet passed"
    assert fitness_of(machine, ON).reasons == (
        "Checked. It still needs a first look by a competent person",
    )
    assert not can_go(machine, ON).yes


def test_a_passed_look_over_answers_the_first_look(machine: Machine, fitter: User) -> None:
    wants_look(machine)

    made = look_over(machine, fitter)

    assert (made.mark, mark(machine)) == ("passed", "OK to use")
    assert machine.looked_at == machine.passed_at == MONDAY
    data = json.loads(made.record.content)["data"]
    assert data["list"] == "look-over"
    assert data["competence"]["competence"] == str(Skill.INSPECT)
    assert data["sheet"].startswith("Great Britain")
    assert made.record.role == "fitter"


def test_a_passed_look_over_frees_nothing_that_is_stopped(
    machine: Machine, fitter: User, operator: User
) -> None:
    stop_machine(machine=machine, told="guard gone", at=MONDAY, by=operator)

    look_over(machine, fitter, minutes=5)

    assert mark(machine) == "Do not use"


def test_a_release_check_leaves_a_first_look_open(
    machine: Machine, foreman: User, operator: User
) -> None:
    wants_look(machine)
    stop = stop_machine(machine=machine, told="odd smell", at=MONDAY, by=operator)
    Job.objects.update(state=Job.State.DONE, done_at=MONDAY, cause="a wire", action="tied")

    release_machine(
        machine=machine, frees=[stop], looks={key: "right" for key, _ in LOOKS},
        at=MONDAY + timedelta(minutes=9), by=foreman,
    )  # fmt: skip

    assert mark(machine) == "Not yet passed"


@pytest.mark.parametrize(
    ("key", "answer", "mark_made", "mark_left", "stops"),
    [
        ("belt_guard", "wrong", "stop", "Do not use", 1),
        ("clean_enough", "wrong", "decide", "Do not use", 1),
        ("belt_guard", "could not check", "not passed", "Not yet passed", 0),
        ("clean_enough", "could not check", "passed", "OK to use", 0),
    ],
)
def test_each_answer_acts_as_in_a_check(
    machine: Machine, fitter: User, key: str, answer: str, mark_made: str, mark_left: str,
    stops: int,
) -> None:  # fmt: skip
    other = {key: Told(answer=answer, word="seen so")}

    made = look_over(machine, fitter, minutes=5, other=other)

    assert (made.mark, mark(machine)) == (mark_made, mark_left)
    assert Stop.objects.standing().count() == Job.objects.count() == stops
    assert all(stop.item_key == key for stop in Stop.objects.all())


def test_what_could_not_be_seen_is_met_by_a_look_over_not_by_a_check(
    machine: Machine, fitter: User, operator: User
) -> None:
    unseen = {"belt_guard": Told(answer="could not check", word="too dark")}
    look_over(machine, fitter, minutes=1, other=unseen)

    checked(machine, minutes=2, by=operator)
    assert mark(machine) == "Not yet passed"

    look_over(machine, fitter, minutes=3)
    assert mark(machine) == "OK to use"


def test_a_figure_outside_its_limit_stops_the_machine(depot: Depot, fitter: User) -> None:
    generator = make_machine(depot, kind=make_kind("generator"), supply="petrol")
    given = {
        "output_230": Told(figure=read("0.26 kV", MEASURES["V"])),
        "output_frequency": Told(figure=read("50", MEASURES["Hz"])),
    }

    made = look_over(generator, fitter, minutes=5, other=given)

    stop = Stop.objects.get()
    assert (made.mark, stop.item_key) == ("stop", "output_230")
    assert "260 V; the limit is 207 to 253 V" in stop.words
    rows = {row.asked: row for row in answers(made.record)}
    told = next(row for asked, row in rows.items() if "230 V outlet" in asked)
    assert (told.answer, told.figure) == ("wrong", "0.26 kV")
    assert "207 to 253 V (EN 50160" in told.limit
    assert "from memory" in told.limit


@pytest.mark.parametrize("isolated_at", [None, MONDAY - timedelta(hours=13), MONDAY + timedelta(1)])
def test_no_inspection_without_an_isolation_of_the_day(
    machine: Machine, fitter: User, isolated_at: datetime | None
) -> None:
    told = well(machine, "inspection")

    with pytest.raises(Refused, match="onfirm"):
        look_over(machine, fitter, kind="inspection", told=told, isolated_at=isolated_at)
    with pytest.raises(AnswersRefused, match="not asked"):
        look_over(machine, fitter, told=told)

    assert Inspection.objects.count() == 0


def test_the_isolation_stands_in_the_record_with_its_time(machine: Machine, fitter: User) -> None:
    made = look_over(
        machine, fitter, kind="inspection", told=well(machine, "inspection"),
        isolated_at=MONDAY - timedelta(minutes=20),
    )  # fmt: skip

    told = dict(facts(made.record))
    assert told["Isolation: isolated at"] == "2026-03-02T08:40:00+00:00"
    assert told["Isolation: isolated by, account number"] == str(fitter.pk)
    assert "Look-overs and inspections".lower() in told["Competence on that day"].lower()
    assert summary(made.record) == "Inspection: passed"
    groups = [row.group for row in answers(made.record)]
    assert groups[0] == "General"
    assert groups[-1] == "Isolated"


def test_who_holds_no_competence_cannot_sign(
    machine: Machine, operator: User, desk: User, manager: User, depot: Depot
) -> None:
    for by in (operator, desk):
        with pytest.raises(Refused, match="no competence for"):
            look_over(machine, by)
    make_competence(operator, depot, Skill.INSPECT, family="heater")
    with pytest.raises(Refused, match="for other machines"):
        look_over(machine, operator)
    ended = make_competence(desk, depot, Skill.INSPECT, valid_until=ON)
    assert look_over(machine, desk).mark == "passed"
    with pytest.raises(Refused, match="ended on 2 Mar 2026"):
        look_over(machine, desk, minutes=24 * 60)

    assert ended.valid_until == date(2026, 3, 2)
    assert Inspection.objects.count() == 1


def test_competence_of_another_depot_and_the_administrators_role_sign_nothing(
    machine: Machine, outsider: User, administrator: User
) -> None:
    for by in (outsider, administrator):
        with pytest.raises(NotAllowed):
            look_over(machine, by)


def test_sent_five_times_it_is_one_record(machine: Machine, fitter: User) -> None:
    number, other = new_id(), {"belt_guard": Told(answer="wrong", word="gone")}

    made = [look_over(machine, fitter, minutes=n, other=other, record_id=number) for n in range(5)]

    assert {each.pk for each in made} == {made[0].pk}
    kinds = Record.objects.filter(machine=machine).values_list("kind", flat=True)
    assert list(kinds) == ["inspection"]
    assert (Stop.objects.count(), Job.objects.count()) == (1, 1)
    with pytest.raises(Refused, match="Another entry"):
        look_over(machine, fitter, record_id=number)


@pytest.mark.parametrize(
    "word", ["x" * 141, "turned \u202e round", "nul \x00 here", "half \ud800 a letter"]
)
def test_hostile_words_are_refused_at_their_point(
    machine: Machine, fitter: User, word: str
) -> None:
    other = {"belt_guard": Told(answer="wrong", word=word)}

    with pytest.raises(AnswersRefused) as refused:
        look_over(machine, fitter, other=other)

    assert list(refused.value.problems) == ["belt_guard"]
    assert Record.objects.filter(machine=machine).count() == 0


def test_seven_photos_are_too_many(machine: Machine, fitter: User) -> None:
    photos = {f"p{n}": b"x" for n in range(7)}

    with pytest.raises(Refused, match="6 photos at most"):
        look_over(machine, fitter, photos=photos)


def test_a_late_look_over_does_not_answer_a_newer_wish(machine: Machine, fitter: User) -> None:
    machine.look_wanted_at = MONDAY
    machine.save()

    look_over(machine, fitter, minutes=-60, received_at=MONDAY + timedelta(hours=1))

    assert mark(machine) == "Not yet passed"


def test_found_again_needs_a_look_over(machine: Machine, manager: User, fitter: User) -> None:
    report_missing(machine=machine, reason="not there", at=MONDAY, by=manager)
    found(machine=machine, at=MONDAY + timedelta(hours=1), by=manager)
    checked(machine, minutes=70, by=manager)
    assert mark(machine) == "Not yet passed"

    look_over(machine, fitter, minutes=80)
    assert mark(machine) == "OK to use"


def test_a_look_over_past_its_interval_keeps_the_machine_in(depot: Depot, fitter: User) -> None:
    mains = make_machine(depot, supply="e230")
    petrol = make_machine(depot, supply="petrol", kind=make_kind("mixer_engine", belt_driven=True))
    for each in (mains, petrol):
        look_over(each, fitter)
        each.refresh_from_db()
        assert can_go(each, ON + timedelta(days=7)).yes

    late = ON + timedelta(days=8)
    assert can_go(mains, late).reasons == (
        "Look-over needed before issue: the last one held until 9 Mar 2026",
    )
    assert can_go(mains, late).nearest == (petrol,)
    assert can_go(petrol, late).yes


def test_the_nearest_instead_has_a_look_over_that_holds(depot: Depot, fitter: User) -> None:
    asked, stale, fresh = (make_machine(depot, supply="e230") for _ in range(3))
    look_over(stale, fitter)
    look_over(fresh, fitter, minutes=24 * 60)
    asked.passed_at = None
    asked.save()

    assert can_go(asked, ON + timedelta(days=8)).nearest == (fresh,)


def test_a_passed_look_over_does_the_weekly_line_of_a_hoist_and_its_job(
    depot: Depot, fitter: User
) -> None:
    kind = make_kind("hoist")
    hoist = make_machine(depot, kind=kind, supply="e110")
    give_plans([hoist], at=MONDAY - timedelta(days=7))
    raise_due_work(depot=depot, at=MONDAY)
    line = DueLine.objects.get(line__key="hoist_weekly", machine=hoist)
    job = Job.objects.get(due_line=line)

    wrong = {"clean_enough": Told(answer="wrong", word="grease")}
    look_over(hoist, fitter, other=wrong)
    line.refresh_from_db()
    assert line.last_done_on is None, "what is not passed completes nothing"

    made = look_over(hoist, fitter, minutes=5)
    line.refresh_from_db()
    job.refresh_from_db()
    assert (line.last_done_on, line.due_on) == (ON, ON + timedelta(days=7))
    assert job.state == Job.State.CALLED_OFF
    assert made.record.number in job.called_off_because


def test_a_draft_is_one_persons_and_goes_when_the_list_is_sealed(
    machine: Machine, fitter: User, foreman: User, operator: User, outsider: User
) -> None:
    for by in (fitter, foreman):
        keep_draft(machine=machine, kind="look-over", typed={"note": by.name}, at=MONDAY, by=by)
    with pytest.raises(NotAllowed):
        keep_draft(machine=machine, kind="look-over", typed={}, at=MONDAY, by=outsider)

    look_over(machine, fitter)

    assert [draft.by for draft in InspectionDraft.objects.all()] == [foreman]


def test_the_isolation_of_one_person_is_not_that_of_another(
    machine: Machine, fitter: User, foreman: User
) -> None:
    keep_draft(machine=machine, kind="inspection", typed={}, at=MONDAY, by=fitter, isolated=True)
    theirs = keep_draft(machine=machine, kind="inspection", typed={}, at=MONDAY, by=foreman)
    again = keep_draft(
        machine=machine, kind="inspection", typed={"note": "x"}, by=fitter,
        at=MONDAY + timedelta(hours=1),
    )  # fmt: skip

    assert theirs.isolated_at is None
    assert again.isolated_at == MONDAY


def test_one_person_with_the_competence_is_enough_for_a_small_depot(depot: Depot) -> None:
    depot.one_person = True
    depot.save()
    alone = make_user("Alma Alone", *((depot, role) for role in Role))
    make_competence(alone, depot, Skill.INSPECT)
    machine = make_machine(depot)
    wants_look(machine)

    look_over(machine, alone)

    assert mark(machine) == "OK to use"
