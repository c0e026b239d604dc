"""Today: what is stopped, overdue and due soon, for one's own depots, whatever the fleet's size."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import localdate, now

from maintenance.actions.answer import answer_report
from maintenance.actions.fault import report_fault
from maintenance.models import DueLine, Job, PlanLine, Skill
from make import MONDAY, make_competence, make_machine, make_user
from plant.actions.heartbeat import beat
from plant.models import Chore, Depot, Machine, Place, Role, User
from reports import tasks
from reports.actions.sheet import ask_sheets
from reports.models import Batch

pytestmark = pytest.mark.usefixtures("rule_sheet")


def shown(user: User, name: str = "today") -> str:
    client = Client()
    client.force_login(user)
    answer = client.get(reverse(f"reports:{name}"))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def section(page: str, heading: str) -> str:
    return page.partition(f"<h2>{heading}</h2>")[2].partition("</section>")[0]


def due_line(machine: Machine, *, in_days: int) -> DueLine:
    line, _ = PlanLine.objects.get_or_create(
        kind=machine.kind, key="grease", title="Grease the ring", every_months=3,
        source="-", trust="-",
    )  # fmt: skip
    on = localdate() + timedelta(days=in_days)
    return DueLine.objects.create(
        machine=machine, line=line, start_on=on - timedelta(days=91), due_on=on, past_after=on,
        raise_on=on - timedelta(days=14), worked_out_at=now(),
    )  # fmt: skip


def stop(machine: Machine, by: User) -> Job:
    return report_fault(machine=machine, part="drum", told="grinds", stop_now=True, at=now(), by=by)


def test_an_empty_yard_says_so_part_by_part(operator: User) -> None:
    page = shown(operator)

    for part in ("0 stopped", "No machine is stopped.", "No fault is open.",
                 "Nothing falls due inside its notice.",
                 "Nothing is overdue on a machine that is out."):  # fmt: skip
        assert part in page


def test_what_needs_somebody_now_stands_in_its_part(
    depot: Depot, operator: User, foreman: User
) -> None:
    out, soon, store = (
        make_machine(depot, "MX-301", place=Place.OUT, site="Quarry Lane"),
        make_machine(depot, "MX-302"),
        make_machine(depot, "MX-303"),
    )
    due_line(out, in_days=-3)
    due_line(soon, in_days=5)
    due_line(store, in_days=-3)
    due_line(make_machine(depot, "MX-304", place=Place.GONE), in_days=-3)
    stop(make_machine(depot, "MX-305", place=Place.OUT, site="Mill Road"), operator)

    page = shown(foreman)

    assert "1 stopped</strong>, 1 overdue in use, 1 due soon." in page
    for part in ("MX-305", "out at Mill Road", "Do not use"):
        assert part in section(page, "Stopped")
    overdue = section(page, "Overdue in use")
    assert "MX-301" in overdue
    assert "Grease the ring" in overdue
    assert "1 needed before use" in overdue
    assert "MX-302" in section(page, "Due soon")
    assert "MX-305" in section(page, "Faults and other open jobs")
    assert "MX-304" not in page


def test_a_fitters_own_job_stands_before_older_ones(
    depot: Depot, fitter: User, foreman: User
) -> None:
    for n in range(12):
        Job.objects.create(
            machine=make_machine(depot, f"MX-4{n:02}"), kind=Job.Kind.FAULT, title="Older",
            state=Job.State.LOOKED_AT, state_since=MONDAY, opened_at=MONDAY,
        )  # fmt: skip
    later = MONDAY + timedelta(hours=1)
    mine = Job.objects.create(
        machine=make_machine(depot, "MX-499"), kind=Job.Kind.BELT, title="Change the belt",
        state=Job.State.UNDER_WAY, state_since=later, opened_at=later, given_to=fitter,
    )  # fmt: skip

    listed = section(shown(fitter), "Faults and other open jobs")
    assert mine.number in listed[: listed.index("Older")]
    assert mine.number not in section(shown(foreman), "Faults and other open jobs")


def test_another_depots_machines_faults_and_prints_are_not_there(
    depot: Depot, other_depot: Depot, operator: User, outsider: User
) -> None:
    ours = make_machine(depot, "MX-301", place=Place.OUT)
    due_line(ours, in_days=-3)
    stop(ours, operator)
    theirs = make_machine(other_depot, "SOUTH-9", place=Place.OUT)
    ask_sheets(depot=other_depot, machines=[theirs], by=outsider, at=now())

    assert "MX-301" in shown(operator)
    assert "MX-301" not in shown(outsider)
    assert "0 stopped</strong>, 0 overdue in use" in shown(outsider)
    assert "SOUTH-9" not in shown(operator)


def test_background_work_that_is_silent_is_loud(operator: User) -> None:
    loud = "The background work is not running."
    assert loud in shown(operator)

    beat(name="background", at=now() - timedelta(minutes=6))
    assert loud in shown(operator)

    beat(name="background", at=now())
    assert loud not in shown(operator)


def test_own_prints_are_shown_until_they_are_done(
    depot: Depot, machine: Machine, foreman: User, manager: User
) -> None:
    batch = ask_sheets(depot=depot, machines=[machine], by=foreman, at=now())
    assert "0 of 1 sheet printed" in shown(foreman)
    assert "every 2s" in shown(foreman, "prints")
    assert "Prints in progress" not in shown(manager)

    tasks.print_batch(batch.pk)

    assert "Prints in progress" not in shown(foreman)
    assert shown(foreman, "prints") == ""


def test_a_failed_print_is_shown_for_a_day_and_not_asked_for_every_two_seconds(
    depot: Depot, machine: Machine, foreman: User
) -> None:
    batch = ask_sheets(depot=depot, machines=[machine], by=foreman, at=now())
    Batch.objects.filter(pk=batch.pk).update(state="failed", ended_at=now(), why="No paper.")
    assert "Failed: No paper." in shown(foreman)
    assert "every 2s" not in shown(foreman)

    Batch.objects.filter(pk=batch.pk).update(ended_at=now() - timedelta(days=2))

    assert "No paper." not in shown(foreman)


def test_today_asks_the_same_queries_however_large_the_fleet(
    depot: Depot, operator: User, fitter: User
) -> None:
    """Three of them say who is signed in; answers, prints, competences and the file of everything
    ask for none more."""
    foreman = make_user("Both", (depot, Role.FOREMAN), (depot, Role.MANAGER))
    Chore.objects.create(
        kind=Chore.Kind.ARCHIVE, state=Chore.State.WORKING, asked_by=foreman, asked_at=now(),
        not_before=now(), done=3, total=20,
    )  # fmt: skip

    def grow(count: int) -> None:
        for n in range(count):
            machine = make_machine(depot, place=Place.OUT)
            due_line(machine, in_days=-3)
            stop(machine, operator)
            due_line(make_machine(depot), in_days=3)
            job = stop(make_machine(depot), foreman)
            answer_report(job=job, answer=f"Part {n} is on order.", at=now(), by=fitter)
            ask_sheets(depot=depot, machines=[machine], by=foreman, at=now())
            ends = localdate() + timedelta(days=n + 1)
            make_competence(fitter, depot, Skill.TEST, valid_until=ends)

    def queries() -> int:
        client = Client()
        client.force_login(foreman)
        with CaptureQueriesContext(connection) as caught:
            page = client.get(reverse("reports:today")).content.decode()
        for part in ("is on order.", "Prints in progress", "Competence ending", "3 of 20 rows"):
            assert part in page
        return len(caught)

    beat(name="background", at=now())
    grow(2)
    few = queries()
    grow(12)

    assert queries() == few <= 12


def test_alone_and_with_jobs_the_background_is_heard_of_at_no_more_cost(
    depot: Depot, operator: User
) -> None:
    client = Client()
    client.force_login(operator)
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as caught:
            client.get(reverse("reports:today"))
        counts.append(len(caught))
        stop(make_machine(depot), operator)

    assert max(counts) <= 12
