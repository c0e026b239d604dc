"""Giving and ending a competence, and that nobody signs without one."""

import json
from datetime import date, timedelta
from typing import Any

import pytest

from bench import HELD, RCD
from bench import record as record_test
from maintenance.actions.competence import end, give, require
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, start_job
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.work_done import finish_job
from maintenance.contents.record import summary
from maintenance.contents.record_facts import facts
from maintenance.models import Competence, Skill, Stop
from make import MONDAY, make_competence, make_instrument, make_kind, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Membership, Record, Role, User

TODAY = MONDAY.date()


def give_release(person: User, depot: Depot, by: User, **more: Any) -> Competence:
    given = {"skill": Skill.RELEASE, "valid_from": TODAY, "valid_until": None, "told": "Card 7"}
    return give(person=person, depot=depot, by=by, at=MONDAY, **given | more)


def test_given_it_is_sealed_and_counts(depot: Depot, foreman: User, manager: User) -> None:
    until = date(2027, 3, 1)

    made = give_release(foreman, depot, manager, family="", valid_until=until)

    kept = require(foreman, depot_id=depot.pk, skill=Skill.RELEASE, family="mixer", on=TODAY)
    assert kept == {"competence": "release", "until": "2027-03-01", "number": made.record.number}
    record = Record.objects.get()
    assert (record.kind, record.by, record.role) == ("competence", manager, "manager")
    assert summary(record) == "Competence of a person: release checks: Freya Foreman: given"
    # The name and the ground can be erased by law; they are not in the chain as text.
    assert "Freya" not in record.content
    assert "Card 7" not in record.content


def test_another_depots_competence_does_not_count_here(
    depot: Depot, other_depot: Depot, manager: User
) -> None:
    both = make_user("Bo Both", (depot, Role.FOREMAN), (other_depot, Role.FOREMAN))
    give_release(both, depot, manager)

    with pytest.raises(Refused, match="You hold no competence"):
        require(both, depot_id=other_depot.pk, skill=Skill.RELEASE, family="mixer", on=TODAY)


def test_for_one_family_it_is_for_that_family(
    depot: Depot, machine: Machine, foreman: User, manager: User
) -> None:
    make_kind("saw_petrol")
    give_release(foreman, depot, manager, family="saw")

    asked = {"depot_id": depot.pk, "skill": Skill.RELEASE, "on": TODAY}
    assert require(foreman, family="saw", **asked)
    with pytest.raises(Refused, match="other machines"):
        require(foreman, family=machine.kind.family, **asked)


def test_ended_it_counts_no_more_and_says_why(depot: Depot, foreman: User, manager: User) -> None:
    made = give_release(foreman, depot, manager)

    ended = end(competence=made, because="Left the workshop", at=MONDAY, by=manager)

    assert (ended.ended_on, ended.ended_because) == (TODAY, "Left the workshop")
    with pytest.raises(Refused, match=r"was ended on 2 Mar 2026"):
        require(foreman, depot_id=depot.pk, skill=Skill.RELEASE, family="mixer", on=TODAY)
    data = json.loads(Record.objects.get(competence_ended=made).content)["data"]
    assert (data["move"], data["number"]) == ("ended", made.record.number)
    with pytest.raises(Refused, match="ended already"):
        end(competence=made, because="Again", at=MONDAY, by=manager)


@pytest.mark.parametrize("role", [r for r in Role if r not in (Role.MANAGER, Role.ADMINISTRATOR)])
def test_only_managers_and_administrators_give(depot: Depot, fitter: User, role: Role) -> None:
    giver = make_user("Gil", (depot, role))

    with pytest.raises(PermissionError):
        give_release(fitter, depot, giver)
    assert not Competence.objects.exists()


def test_a_manager_of_another_depot_neither_gives_nor_ends(
    depot: Depot, foreman: User, manager: User, outsider: User
) -> None:
    made = give_release(foreman, depot, manager)

    with pytest.raises(PermissionError):
        give_release(foreman, depot, outsider)
    with pytest.raises(PermissionError):
        end(competence=made, because="no", at=MONDAY, by=outsider)


def test_nobody_gives_one_to_themselves(depot: Depot, manager: User) -> None:
    with pytest.raises(Refused, match="to themselves"):
        give_release(manager, depot, manager, reason="I am the manager here")
    assert Record.objects.count() == 0


def test_in_a_one_person_depot_it_takes_a_written_reason(depot: Depot, manager: User) -> None:
    depot.one_person = True
    depot.save()
    with pytest.raises(Refused) as refused:
        give_release(manager, depot, manager, reason="alone")
    assert refused.value.field == "reason"

    made = give_release(manager, depot, manager, reason="Only I work at this depot")

    assert made.record.texts.filter(name="reason").exists()


@pytest.mark.parametrize(
    ("skill", "may"),
    [(Skill.TEST, True), (Skill.INSPECT, True), (Skill.RELEASE, False), (Skill.COUNTERSIGN, False)],
)
def test_a_learner_frees_and_countersigns_nothing(
    depot: Depot, manager: User, skill: Skill, may: bool
) -> None:
    learner = make_user("Lena Learner")
    Membership.objects.create(user=learner, depot=depot, role=Role.FITTER, learner=True)

    if may:
        assert give_release(learner, depot, manager, skill=skill)
    else:
        with pytest.raises(Refused, match="learner"):
            give_release(learner, depot, manager, skill=skill)


def test_it_is_given_to_people_of_the_depot_who_do_such_work(
    depot: Depot, manager: User, operator: User, outsider: User, fitter: User
) -> None:
    for person, words in ((outsider, "does not work at this depot"), (operator, "No role")):
        with pytest.raises(Refused, match=words):
            give_release(person, depot, manager)
    fitter.is_active = False
    fitter.save()
    with pytest.raises(Refused, match="does not work"):
        give_release(fitter, depot, manager)


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"family": "spaceship"}, "family"),
        ({"valid_until": TODAY - timedelta(days=1)}, "valid_until"),
        ({"told": " "}, "told"),
        ({"told": "x" * 201}, "told"),
        ({"told": "card \u202e 7"}, "told"),
    ],
)
def test_what_cannot_be_kept_is_refused_at_its_field(
    depot: Depot, foreman: User, manager: User, more: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        give_release(foreman, depot, manager, **more)
    assert refused.value.field == field


def test_sent_twice_it_is_one(depot: Depot, foreman: User, manager: User) -> None:
    first, second = new_id(), new_id()

    made = {give_release(foreman, depot, manager, record_id=first).pk for _ in range(2)}
    one = Competence.objects.get()
    for _ in range(2):
        end(competence=one, because="Left", at=MONDAY, by=manager, record_id=second)

    assert len(made) == 1
    assert Record.objects.count() == 2
    with pytest.raises(Refused, match="Another entry"):
        give_release(foreman, depot, manager, record_id=first, told="Card 8")


def test_one_entry_number_is_not_taken_for_two_depots(depot: Depot, other_depot: Depot) -> None:
    both = make_user("Bo Both", (depot, Role.FOREMAN), (other_depot, Role.FOREMAN))
    over = make_user("Ove Over", (depot, Role.MANAGER), (other_depot, Role.MANAGER))
    number = new_id()
    give_release(both, depot, over, record_id=number)

    with pytest.raises(Refused, match="Another entry"):
        give_release(both, other_depot, over, record_id=number)


@pytest.mark.usefixtures("rule_sheet")
def test_expired_nobody_frees_and_old_records_keep_what_counted(
    machine: Machine, depot: Depot, operator: User, fitter: User, foreman: User
) -> None:
    until = TODAY + timedelta(days=3)
    made = make_competence(foreman, depot, Skill.RELEASE, valid_until=until)
    records = []
    for days in (3, 4):
        at = MONDAY + timedelta(days=days)
        job = report_fault(
            machine=machine, part="drum", told="cracked", stop_now=True, at=at, by=operator
        )
        start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=at, by=fitter)
        finish_job(job=job, symptom="a", cause="b", action="c", minutes=5, at=at, by=fitter)
        release: dict[str, Any] = {
            "machine": machine, "frees": Stop.objects.standing(), "at": at, "by": foreman,
            "looks": {key: "right" for key, _ in LOOKS},
        }  # fmt: skip
        if days == 3:
            records.append(release_machine(**release))
        else:
            with pytest.raises(Refused, match="ended on 5 Mar 2026"):
                release_machine(**release)

    assert Stop.objects.standing().count() == 1
    told = dict(facts(records[0]))["Competence on that day"]
    assert told == f"release checks, last day 5 Mar 2026, given in record {made.record.number}"


@pytest.mark.usefixtures("rule_sheet")
def test_without_a_competence_a_test_does_not_pass_but_a_failure_is_kept(
    machine: Machine, depot: Depot, fitter: User, manager: User
) -> None:
    tester = make_instrument(depot, manager)
    with pytest.raises(Refused, match="You hold no competence for electrical tests"):
        record_test(machine, fitter, instrument=tester)
    bad = record_test(machine, fitter, instrument=tester, readings=RCD | {"rated": HELD})
    assert (bad.passed, Stop.objects.standing().count()) == (False, 1)
    assert json.loads(bad.record.content)["data"]["competence"] is None

    made = make_competence(fitter, depot, Skill.TEST)

    good = record_test(machine, fitter, instrument=tester)
    assert good.passed
    assert json.loads(good.record.content)["data"]["competence"]["number"] == made.record.number


@pytest.mark.usefixtures("rule_sheet", "competent")
def test_the_family_of_the_machine_is_asked_for(
    depot: Depot, operator: User, fitter: User, manager: User
) -> None:
    make_kind("saw_petrol")
    saw = make_machine(depot, kind=make_kind("saw_petrol"))
    only_mixers = make_user("Mo Mixer", (depot, Role.FOREMAN))
    make_competence(only_mixers, depot, Skill.RELEASE, family="mixer")
    job = report_fault(machine=saw, part="x", told="cracked", stop_now=True, at=MONDAY, by=operator)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=MONDAY, by=fitter)
    finish_job(job=job, symptom="a", cause="b", action="c", minutes=5, at=MONDAY, by=fitter)

    with pytest.raises(Refused, match="other machines"):
        release_machine(
            machine=saw, frees=Stop.objects.all(), at=MONDAY, by=only_mixers,
            looks={key: "right" for key, _ in LOOKS},
        )  # fmt: skip
