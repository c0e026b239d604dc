"""Held: what must not be used, what would free it, and that the release check asks just that."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from bench import CLASS_I, class_i, ohm
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, start_job
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stop import decide_stop
from maintenance.actions.work_done import finish_job
from maintenance.contents.held import DECIDE, RELEASE, WORK, held, told, waiting_for
from maintenance.models import Job, Stop
from make import MONDAY, make_instrument, make_machine
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, MachineKind, User

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")
TODAY = MONDAY.date()
LATER = MONDAY + timedelta(hours=3)
FREED = "A release check by a competent person, not by who did the work."


@pytest.fixture
def mixer(depot: Depot) -> Machine:
    kind = MachineKind.objects.get(key="mixer_electric")
    return make_machine(depot, "MX-203", kind=kind, supply="e110", protection="I")


def fault(machine: Machine, by: User, part: str, *, stop_now: bool = True) -> Job:
    return report_fault(machine=machine, part=part, told="cut", stop_now=stop_now, at=MONDAY, by=by)


def work(job: Job, by: User) -> None:
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=MONDAY, by=by)
    finish_job(job=job, symptom="cut", cause="dragged", action="new", minutes=20, at=MONDAY, by=by)


def steps(machine: Machine, user: User, on: date = TODAY) -> tuple[str, ...]:
    machines = list(held(user, on).filter(pk=machine.pk))
    return told(machines, on)[machine.pk].steps if machines else ()


def may_release(machine: Machine, by: User) -> bool:
    stops = Stop.objects.standing().filter(machine=machine)
    try:
        release_machine(
            machine=machine, frees=list(stops), at=LATER, by=by,
            looks={key: "right" for key, _ in LOOKS},
        )  # fmt: skip
    except Refused:
        return False
    return True


def next_of(machine: Machine, user: User, on: date = TODAY) -> list[str]:
    seen = held(user, on).filter(pk=machine.pk)
    return [step for step in (DECIDE, WORK, RELEASE) if waiting_for(seen, step, on).exists()]


def test_a_stop_waits_for_its_work_and_then_for_the_release_check_alone(
    mixer: Machine, operator: User, fitter: User, foreman: User
) -> None:
    assert steps(mixer, foreman) == ()
    job = fault(mixer, operator, "cable_plug")
    assert steps(mixer, foreman) == (
        f"{job.number} is done or called off (now: Looked at).",
        FREED,
    )
    assert next_of(mixer, foreman) == [WORK]
    assert not may_release(mixer, foreman)
    work(job, fitter)
    assert steps(mixer, foreman) == (FREED,)
    assert next_of(mixer, foreman) == [RELEASE]
    assert may_release(mixer, foreman)
    assert steps(mixer, foreman) == ()


def test_a_failed_test_waits_until_it_is_passed(
    mixer: Machine, depot: Depot, manager: User, fitter: User, foreman: User
) -> None:
    make_instrument(depot, manager)
    class_i(mixer, fitter, readings=CLASS_I | {"earth": ohm("2")})
    work(Job.objects.get(), fitter)
    first, last = steps(mixer, foreman)
    assert first.startswith("The electrical test (")
    assert first.endswith(") is passed.")
    assert last == FREED
    assert next_of(mixer, foreman) == [WORK]
    assert not may_release(mixer, foreman)
    class_i(mixer, fitter, at=MONDAY + timedelta(hours=1))
    assert steps(mixer, foreman) == (FREED,)
    assert next_of(mixer, foreman) == [RELEASE]
    assert may_release(mixer, foreman)


def test_what_nobody_decided_and_a_note_that_ended_wait_for_a_foreman(
    mixer: Machine, operator: User, foreman: User
) -> None:
    fault(mixer, operator, "stands_level", stop_now=False)
    assert steps(mixer, foreman)[0].startswith("A foreman decides: stop it, or carry on")
    assert next_of(mixer, foreman) == [DECIDE]
    until = date(2026, 3, 20)
    decide_stop(
        stop=Stop.objects.get(), carry_on_until=until, reason="on level ground only",
        answer="Level ground only.", at=MONDAY, by=foreman,
    )  # fmt: skip
    assert steps(mixer, foreman, until) == ()
    after = until + timedelta(days=1)
    assert steps(mixer, foreman, after)[0].startswith("The note ended on 20 Mar 2026:")
    assert next_of(mixer, foreman, after) == [DECIDE]


def test_the_page_lists_them_for_its_reader_with_an_address_for_every_view(
    mixer: Machine, depot: Depot, operator: User, foreman: User, manager: User, outsider: User
) -> None:
    fault(mixer, operator, "cable_plug")
    undecided = make_machine(depot, "MX-204", kind=mixer.kind, place="out", site="Quarry Lane")
    fault(undecided, operator, "stands_level", stop_now=False)

    def page(user: User, query: str = "") -> str:
        client = Client()
        client.force_login(user)
        response = client.get(reverse("maintenance:held") + query)
        assert response.status_code == 200
        return b"".join(response).decode()

    shown = page(foreman)
    assert "2 machines must not be used" in shown
    assert "1 of them out" in shown
    decide = reverse("maintenance:decide", args=[Stop.objects.get(machine=undecided).pk])
    assert decide in shown
    assert decide not in page(operator)
    # The release check is offered where nothing else is left to do.
    release = reverse("maintenance:release", args=[mixer.pk])
    assert release not in shown
    Job.objects.filter(machine=mixer).update(state=Job.State.DONE)
    assert release in page(foreman)
    assert release not in page(operator)
    only = page(foreman, "?step=decide&q=quarry&sort=number")
    assert ">MX-204<" in only
    assert ">MX-203<" not in only
    assert "MX-203" in page(manager, "?csv=1")
    for number in ("MX-203", "MX-204"):
        assert number not in page(outsider)
