"""Practising: everything can be tried, nothing of it counts, and nobody meets another's trials."""

import uuid
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from addresses import body, signed_in
from bench import CLASS_I, class_i, mohm
from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.plan import raise_due_work as raise_due
from maintenance.actions.practice import (
    MOST_AN_HOUR,
    fresh_practice,
    practice_depot,
    practice_machine,
)
from maintenance.actions.reading import record_width
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.transfer import send
from maintenance.actions.work_done import close_job, countersign_job, finish_job, send_back_job
from maintenance.contents.derived import first_derived_fault
from maintenance.contents.rack import nearest
from maintenance.models import DueLine, Job, Skill
from maintenance.rules.check import Given
from maintenance.tasks import raise_due_work, rework_belt_lives
from make import MONDAY, make_competence, make_instrument, make_machine, make_user
from plant.actions.refusal import Refused
from plant.actions.throttle import TooOften
from plant.contents.chain import check_chain
from plant.models import Depot, Machine, Membership, Place, Record, Role, User
from plant.rights import NotAllowed, Right, depots_where, is_senior, practise_in, roles
from plant.units import WIDTH, read
from reports.actions.chore import refuse_archive
from reports.contents.message import morning

HOUR = timedelta(hours=1)
pytestmark = pytest.mark.usefixtures("rule_sheet")


def practising(person: User) -> tuple[User, Machine]:
    """The person as a session that practises has them, and their machine."""
    depot = practice_depot(person=person, at=MONDAY)
    person = User.objects.get(pk=person.pk)
    practise_in(person, depot)
    return person, practice_machine(depot)


def told(person: User, name: str, *args: Any, client: Client | None = None) -> str:
    response = (client or signed_in(person)).get(reverse(name, args=args), follow=True)
    assert response.status_code == 200, name
    return str(response.content.decode())


def in_session(person: User) -> Client:
    client = signed_in(person)
    assert client.post(reverse("maintenance:begin_practice")).status_code == 302
    return client


def tried(person: User, machine: Machine) -> Job:
    """A report of a fault that stops it, and a worn belt."""
    job = report_fault(
        machine=machine,
        part="something_else",
        told="Drum does not turn",
        stop_now=True,
        at=MONDAY,
        by=person,
    )
    if depots_where(person, Right.WORK):
        record_width(
            drive=machine.drives.get(), widths=[read("10.4 mm", WIDTH)], tool="calliper",
            at=MONDAY + timedelta(hours=1), by=person,
        )  # fmt: skip
    return job


@pytest.mark.parametrize("role", list(Role))
def test_nobody_is_more_in_practice_than_somewhere_and_nobody_manages(
    depot: Depot, role: Role
) -> None:
    person = make_user("Pat Practises", (depot, role))
    if role == Role.ADMINISTRATOR:
        with pytest.raises(NotAllowed):
            practice_depot(person=person, at=MONDAY)
        return
    mine = {right: depots_where(person, right) for right in Right}

    person, machine = practising(person)

    assert roles(person) == {
        machine.depot_id: frozenset({Role.FOREMAN if role == Role.MANAGER else role})
    }
    # What a foreman sees of money is what a manager shares, and nobody shares any there.
    carried = {right for right in Right if depots_where(person, right)} - {Right.SHARED_MONEY}
    assert all(mine[right] for right in carried)
    assert is_senior(person) == (role == Role.MANAGER)


def test_it_is_made_once_and_only_the_person_gets_there(
    foreman: User, fitter: User, manager: User
) -> None:
    person, machine = practising(foreman)

    assert practice_depot(person=foreman, at=MONDAY) == machine.depot
    assert not Membership.objects.filter(depot=machine.depot).exists()
    for other in (foreman, fitter, manager):
        assert not Machine.objects.visible_to(User.objects.get(pk=other.pk)).exists()
        practise_in(other, machine.depot)
        assert (other.practising is None) == (other != foreman)
    assert list(Machine.objects.visible_to(person)) == [machine]


def test_what_is_tried_works_and_is_sealed_in_a_chain_of_its_own(
    foreman: User, machine: Machine, depot: Depot
) -> None:
    person, own = practising(foreman)
    answers = {q.key: Given(answer="ok") for q in questions(own, at=MONDAY)[1]}

    record_check(machine=own, answers=answers, at=MONDAY, by=person)
    tried(person, own)

    assert Job.objects.filter(machine=own).count() == 2  # the fault, and the worn belt
    assert not Record.objects.filter(depot=depot).exists()
    assert Record.objects.filter(depot=own.depot).count() >= 5
    assert check_chain(own.depot).what == ""
    assert first_derived_fault(own.depot) is None


def test_nothing_of_it_stands_on_a_page_of_the_real_depots(
    foreman: User, manager: User, machine: Machine
) -> None:
    person, own = practising(foreman)
    tried(person, own)
    raise_due_work()
    rework_belt_lives()

    for viewer in (foreman, manager):
        for name in (
            "reports:today", "maintenance:machine_list", "maintenance:job_list", "maintenance:held",
            "maintenance:due_list", "maintenance:running_out", "maintenance:rack",
            "maintenance:belts", "maintenance:plan_list", "reports:batch_list", "maintenance:day",
            "maintenance:test_list",
        ):  # fmt: skip
            page = told(viewer, name)
            assert own.number not in page, name
            assert "Practice rack" not in page, name
        for asked in (own.number, own.short_code, "Practice works", "13A790"):
            found = signed_in(viewer).get(reverse("maintenance:find"), {"q": asked}, follow=True)
            assert f"/machines/{own.pk}" not in found.content.decode()
        assert signed_in(viewer).get(f"/machines/{own.pk}").status_code == 404
    rows = signed_in(manager).get(reverse("maintenance:machine_list"), {"csv": "1"})
    sent_out = body(rows).decode()
    assert machine.number in sent_out
    assert own.number not in sent_out
    people = told(manager, "maintenance:people")
    assert "Practice" not in people


def test_nothing_real_stands_on_a_page_of_who_practises(foreman: User, machine: Machine) -> None:
    client = in_session(foreman)
    own = Machine.objects.get(depot__practice_of=foreman)

    for name in (
        "reports:today", "maintenance:machine_list", "maintenance:job_list", "maintenance:due_list",
        "maintenance:held", "maintenance:rack", "maintenance:belts", "maintenance:practice",
    ):  # fmt: skip
        page = told(foreman, name, client=client)
        assert "PRACTICE" in page
        assert machine.number not in page, name
    assert own.number in told(foreman, "maintenance:machine_list", client=client)
    assert client.get(f"/machines/{machine.pk}").status_code == 404
    for name in ("reports:messages", "plant:account_list"):
        assert client.get(reverse(name)).status_code == 403, name
    assert "data-pack" not in told(foreman, "maintenance:practice", client=client)

    assert client.post(reverse("maintenance:leave_practice")).status_code == 302
    page = told(foreman, "maintenance:machine_list", client=client)
    assert machine.number in page
    assert own.number not in page


def test_it_ends_by_itself_and_at_the_label_of_a_real_machine(
    foreman: User, machine: Machine
) -> None:
    at_label = reverse("maintenance:label", args=[machine.label_code])
    for end in ("time", "label"):
        with time_machine.travel(MONDAY) as clock:
            client = in_session(foreman)
            assert "PRACTICE" in told(foreman, "reports:today", client=client)
            if end == "time":
                clock.shift(timedelta(hours=2, seconds=1))
            else:
                page = client.get(at_label).content.decode()
                assert "this is a real machine" in page
                assert "PRACTICE" not in page
            assert "PRACTICE" not in told(foreman, "reports:today", client=client)


def test_a_fresh_machine_leaves_nothing_of_the_old_in_sight_and_takes_nothing_away(
    foreman: User,
) -> None:
    person, old = practising(foreman)
    job = tried(person, old)
    sealed = Record.objects.filter(depot=old.depot).count()

    depot = fresh_practice(person=foreman, at=MONDAY + timedelta(days=1))

    practise_in(person, depot)
    assert list(Machine.objects.visible_to(person)) == [practice_machine(depot)]
    assert not Job.objects.visible_to(person).filter(pk=job.pk).exists()
    old.refresh_from_db()
    assert old.place == Place.GONE
    assert Record.objects.filter(depot=old.depot).count() == sealed + 1
    assert check_chain(old.depot).what == ""
    again = User.objects.get(pk=foreman.pk)
    practise_in(again, Depot.objects.get(pk=old.depot_id))
    assert again.practising is None


def test_fresh_machines_without_end_are_held_back(operator: User) -> None:
    for _ in range(MOST_AN_HOUR):
        fresh_practice(person=operator, at=MONDAY)

    with pytest.raises(TooOften):
        fresh_practice(person=operator, at=MONDAY)


def test_nothing_goes_between_practice_and_a_real_depot(
    foreman: User, depot: Depot, other_depot: Depot
) -> None:
    person, own = practising(foreman)
    machine = make_machine(depot)

    with pytest.raises(Refused, match="no real depot"):
        send(machine=own, to=other_depot, at=MONDAY, by=person)
    with pytest.raises(Refused, match="no real depot"):
        send(machine=machine, to=own.depot, at=MONDAY, by=User.objects.get(pk=foreman.pk))


def test_the_firm_is_whole_without_it(
    foreman: User, manager: User, depot: Depot, machine: Machine
) -> None:
    person, own = practising(foreman)
    tried(person, own)

    refuse_archive(manager)  # manager of every real depot
    assert nearest(manager, [("A", 0.790)]) == {("A", 0.790): []}
    assert own.number not in str(morning(manager, at=MONDAY))


@pytest.fixture
def learner(depot: Depot) -> User:
    person = make_user("Lee Learner", (depot, Role.FITTER))
    Membership.objects.filter(user=person).update(learner=True)
    return person


def worked(machine: Machine, by: User) -> Job:
    """A job on it that stopped nothing, with the person's work done."""
    job = open_job(machine=machine, kind=Job.Kind.BELT, title="Squeals", at=MONDAY, by=by)
    return finished(job, by)


def finished(job: Job, by: User) -> Job:
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=MONDAY, by=by)
    finish_job(
        job=job, symptom="Squeals", cause="Slack", action="Tensioned", minutes=9, at=MONDAY, by=by
    )
    job.refresh_from_db()
    return job


def free(machine: Machine, by: User) -> None:
    release_machine(
        machine=machine, frees=list(machine.stops.standing()), by=by, at=MONDAY + HOUR * 3,
        looks={key: "right" for key, _ in LOOKS}, reason="Nobody else is here",
    )  # fmt: skip


def test_a_learners_work_is_a_learners_and_in_practice_they_play_who_looks_at_it(
    learner: User,
) -> None:
    person, own = practising(learner)

    job = worked(own, person)
    assert job.countersign_wanted
    with pytest.raises(Refused, match="countersigns it first"):
        close_job(job=job, at=MONDAY, by=person)
    client = in_session(learner)
    page = client.get(reverse("maintenance:countersign_job", args=[job.pk]))
    assert "At a real depot somebody else does this" in page.content.decode()
    pressed = {"entry": page.context["form"]["entry"].value()}
    client.post(reverse("maintenance:countersign_job", args=[job.pk]), pressed)
    close_job(job=job, at=MONDAY, by=person)

    job.refresh_from_db()
    assert (job.state, job.countersign_wanted) == (Job.State.CLOSED, False)
    assert check_chain(own.depot).what == ""
    assert first_derived_fault(own.depot) is None


def test_nothing_of_what_a_learner_plays_opens_at_a_real_depot(
    learner: User, depot: Depot, foreman: User
) -> None:
    machine = make_machine(depot, supply="e110", protection="I")
    tester = make_instrument(depot, foreman)
    for skill in (Skill.TEST, Skill.INSPECT):  # what a learner can hold
        make_competence(learner, depot, skill)
    job = worked(machine, learner)
    played, own = practising(learner)
    acts: dict[str, Any] = {
        "own work": lambda by: countersign_job(job=job, at=MONDAY, by=by),
        "sends nothing back": lambda by: send_back_job(job=job, reason="Odd", at=MONDAY, by=by),
        "cannot check and close": lambda by: close_job(job=job, at=MONDAY, by=by),
        "cannot release": lambda by: free(machine, by),
        "cannot pass a test": lambda by: class_i(machine, by, instrument=tester),
    }
    report_fault(
        machine=machine, part="something_else", told="Smokes", stop_now=True, at=MONDAY, by=foreman
    )

    for refusal, act in acts.items():
        with pytest.raises(Refused, match=refusal):
            act(learner)
        # Nor in the session that practises, whatever it could there.
        with pytest.raises(NotAllowed):
            act(played)
    client = in_session(learner)
    for name in ("countersign_job", "close_job", "send_back_job", "start_job"):
        address = reverse(f"maintenance:{name}", args=[job.pk])
        assert client.post(address, {"entry": str(uuid.uuid4())}).status_code == 404
    with pytest.raises(Refused, match="in use at this depot"):
        class_i(machine, foreman, instrument=own.depot.instruments.first())
    page = signed_in(learner).get(reverse("maintenance:countersign_job", args=[job.pk]))
    assert "for practice" not in page.content.decode()


@pytest.mark.parametrize("learns", [True, False])
def test_an_electrical_test_is_played_to_a_pass_and_to_a_failure(
    learner: User, fitter: User, learns: bool
) -> None:
    person, own = practising(learner if learns else fitter)
    good, old = own.depot.instruments.order_by("serial")

    with pytest.raises(Refused, match="Calibration ended"):
        class_i(own, person, instrument=old)
    assert class_i(own, person, instrument=good).passed
    low = CLASS_I | {"insulation": mohm("0.2")}
    assert not class_i(own, person, instrument=good, at=MONDAY + HOUR, readings=low).passed
    job = finished(own.stops.standing().get().job, person)
    if learns:
        countersign_job(job=job, at=MONDAY, by=person)
    with pytest.raises(Refused, match="retest"):
        free(own, person)
    assert class_i(own, person, instrument=good, at=MONDAY + HOUR * 2).passed
    free(own, person)

    assert not own.stops.standing().exists()
    job.refresh_from_db()
    assert job.state == Job.State.CLOSED


def test_a_practice_depot_of_before_or_of_long_ago_is_equipped_again(fitter: User) -> None:
    depot = practice_depot(person=fitter, at=MONDAY)
    years = MONDAY + timedelta(days=1000)

    good, old = practice_depot(person=fitter, at=years).instruments.order_by("serial")

    assert depot.instruments.count() == 2
    assert good.refusal(depot.day_of(years)) == ""
    assert old.refusal(depot.day_of(years))
    assert old.calibrations.count() == 1


def test_practice_jobs_have_a_run_of_their_own_and_leave_no_hole_in_the_firms(
    foreman: User, fitter: User, machine: Machine
) -> None:
    def opened(machine: Machine, by: User) -> Job:
        return open_job(machine=machine, kind=Job.Kind.FAULT, title="Odd", at=MONDAY, by=by)

    first = opened(machine, foreman)
    person, own = practising(foreman)
    other, others = practising(fitter)
    practised = [opened(own, person), opened(others, other), opened(own, person)]
    DueLine.objects.filter(machine=own).update(raise_on=MONDAY.date())
    raised = raise_due(depot=own.depot, at=MONDAY)
    second = opened(machine, foreman)

    assert raised > 1
    assert second.pk == first.pk + 1
    numbers = [job.number for job in (*practised, *Job.objects.filter(due_line__machine=own))]
    assert sorted(numbers) == sorted(f"P-J{n}" for n in range(1, 4 + raised))
    client = in_session(foreman)
    for asked in ("P-J1", "pj 1"):
        found = client.get(reverse("maintenance:find"), {"q": asked}, follow=True)
        assert f"/jobs/{practised[0].pk}" in found.redirect_chain[-1][0]
    for asked in ("P-J1", "J-999", "999"):
        found = signed_in(foreman).get(reverse("maintenance:find"), {"q": asked}, follow=True)
        assert f"/jobs/{practised[0].pk}" not in found.content.decode()


def test_a_real_competence_is_no_competence_in_practice_nor_the_other_way(
    depot: Depot, fitter: User, foreman: User
) -> None:
    person, own = practising(fitter)
    with pytest.raises(Refused, match="no competence for"):
        class_i(
            make_machine(depot, supply="e110", protection="I"), fitter,
            instrument=make_instrument(depot, foreman),
        )  # fmt: skip

    here = person.competences.filter(depot=own.depot).values_list("skill", flat=True)
    assert set(here) == set(Skill)


@pytest.mark.parametrize("role", [Role.OPERATOR, Role.FITTER, Role.MANAGER])
def test_every_thing_to_try_opens(depot: Depot, role: Role) -> None:
    client = in_session(make_user("Pat Practises", (depot, role)))

    tries = client.get(reverse("maintenance:practice")).context["tries"]

    assert len(tries) == (3 if role == Role.OPERATOR else 8)
    for each in tries:
        assert client.get(each.address).status_code == 200, each.what
