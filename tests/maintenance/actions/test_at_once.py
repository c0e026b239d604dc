"""Several people, or one impatient phone, at the same moment: nothing lost and nothing double."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection

from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.practice import practice_depot, practice_machine
from maintenance.actions.stay import Going, issue
from maintenance.actions.transfer import receive, send, turn_back
from maintenance.actions.work_done import Part, finish_job
from maintenance.models import Check, Job, Labour, PartUsed, Stay, Stop
from maintenance.rules.check import Given
from make import MONDAY
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Chain, Depot, Machine, Record, User
from plant.rights import practise_in
from plant.sealing import Link, verify

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("rule_sheet")]


def at_once(calls: list[Any]) -> list[Any]:
    """Runs the calls in threads of their own, each with its own connection."""

    def run(call: Any) -> Any:
        try:
            return call()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return [task.result() for task in [pool.submit(run, call) for call in calls]]


def chain_is_whole(depot_id: int) -> bool:
    head = Chain.objects.get(depot_id=depot_id)
    links = [
        Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash)
        for r in Record.objects.filter(depot_id=depot_id).order_by("seq")
    ]
    return verify(links, head_seq=head.head_seq, head_hash=head.head_hash).what == ""


def test_one_check_pressed_four_times_and_three_others(machine: Machine, operator: User) -> None:
    _, asked = questions(machine, at=MONDAY)
    wrong = {each.key: Given(answer="ok") for each in asked}
    wrong["cable_plug"] = Given(answer="wrong", word="cut")
    ids = [new_id()] * 4 + [new_id() for _ in range(3)]

    def press(record_id: Any) -> Any:
        return lambda: (
            record_check(
                machine=machine, answers=wrong, at=MONDAY, by=operator, record_id=record_id
            ).pk
        )

    made = at_once([press(record_id) for record_id in ids])

    assert len(set(made[:4])) == 1
    assert [Check.objects.count(), Record.objects.count(), Stop.objects.count()] == [4, 4, 4]
    assert Job.objects.count() == 1
    assert chain_is_whole(machine.depot_id)


def test_two_people_finish_one_job_together(machine: Machine, fitter: User, foreman: User) -> None:
    job = open_job(machine=machine, kind=Job.Kind.BELT, title="Belt", at=MONDAY, by=fitter)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=MONDAY, by=fitter)

    def finish(by: User, record_id: Any) -> Any:
        return lambda: finish_job(
            job=job,
            symptom="slips",
            cause="worn",
            action="new belt",
            minutes=20,
            parts=[Part(what="V-belt 13A690")],
            at=MONDAY + timedelta(hours=1),
            by=by,
            record_id=record_id,
        )

    first, second = new_id(), new_id()
    at_once([finish(fitter, first), finish(foreman, second), finish(fitter, first)])

    assert Labour.objects.count() == 2
    assert PartUsed.objects.count() == 2
    assert chain_is_whole(machine.depot_id)


def test_two_desks_issue_one_machine_at_the_same_moment(machine: Machine, desk: User) -> None:
    machine.refresh_from_db()

    def press(site: str, record_id: Any) -> Any:
        def go() -> str:
            going = Going(site=site, site_phone="1", due_back_on=MONDAY.date())
            try:
                stay = issue(
                    machine=machine, going=going, at=MONDAY, by=desk, passport=True,
                    record_id=record_id,
                )  # fmt: skip
            except Refused as refused:
                return str(refused)
            return stay.site

        return go

    first, second = new_id(), new_id()
    told = at_once([press("Plot 1", first), press("Plot 2", second), press("Plot 1", first)])

    assert Stay.objects.count() == 1
    assert Record.objects.filter(kind=Record.Kind.PLACE).count() == 1
    assert told[0] == told[2]
    assert sum("Only a machine in the yard" in each for each in told) in (1, 2)
    assert chain_is_whole(machine.depot_id)


def test_a_machine_is_received_and_turned_back_at_the_same_moment(
    machine: Machine, desk: User, other_depot: Depot, outsider: User
) -> None:
    transfer = send(machine=machine, to=other_depot, at=MONDAY, by=desk)

    def there() -> str:
        try:
            return receive(transfer=transfer, at=MONDAY, by=outsider).end
        except Refused:
            return "refused"

    def here() -> str:
        try:
            return turn_back(transfer=transfer, reason="no room", at=MONDAY, by=desk).end
        except Refused:
            return "refused"

    told = at_once([there, here])

    machine.refresh_from_db()
    transfer.refresh_from_db()
    assert sorted(told) == sorted(["refused", transfer.end])
    assert (machine.depot_id == other_depot.pk) == (transfer.end == "received")
    assert Record.objects.filter(kind=Record.Kind.PLACE).count() == 2


def test_several_who_practise_at_once_get_a_job_number_each(
    operator: User, fitter: User, foreman: User
) -> None:
    def report(person: User) -> Any:
        depot = practice_depot(person=person, at=MONDAY)
        practise_in(person, depot)
        return lambda: (
            report_fault(
                machine=practice_machine(depot), part="something_else", told="Hums",
                stop_now=True, at=MONDAY, by=person,
            ).number
        )  # fmt: skip

    made = at_once([report(person) for person in (operator, fitter, foreman)])

    assert sorted(made) == ["P-J1", "P-J2", "P-J3"]
