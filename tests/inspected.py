"""A machine with three months behind it: gaps, failures that were followed and one that was not."""

from datetime import UTC, date, datetime, timedelta

from bench import RCD, class_i, ms, record
from maintenance.actions.belt_record import Correction
from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.job import ISOLATED, start_job
from maintenance.actions.meter import record_meter
from maintenance.actions.plan import give_plans
from maintenance.actions.reading import record_width
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stay import Going, issue, take_back
from maintenance.actions.stop import decide_stop
from maintenance.actions.work_done import finish_job
from maintenance.models import Stop
from maintenance.rules.check import Given
from make import MONDAY, make_drive, make_instrument, make_machine
from plant import units
from plant.models import Depot, Machine, MachineKind, User

FIRST, LAST = date(2026, 2, 1), date(2026, 6, 1)
PRINTED = datetime(2026, 6, 2, 12, tzinfo=UTC)
NOTE = "Handle <b>loose</b> & stiff"


def on(day: date, hour: int) -> datetime:
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def check(machine: Machine, by: User, at: datetime, *wrong: str, later: timedelta) -> None:
    _, asked = questions(machine, at=at)
    given = {
        q.key: Given(answer="wrong", word=NOTE) if q.key in wrong else Given(answer="ok")
        for q in asked
    }
    record_check(machine=machine, answers=given, at=at, received_at=at + later, by=by)


def inspected(depot: Depot, *, operator: User, desk: User, fitter: User, foreman: User) -> Machine:
    """The machine MX-203 at 110 V. The rule sheet and everybody's competence are there already.

    Entered on 2 Mar 2026; out from 3 Mar to 30 Mar; weekly checks wanted, passed on the 3rd, wrong
    on the 14th (freed on the 17th) and never after; a note from the 20th to the 27th.
    """
    kind = MachineKind.objects.get(key="mixer_electric")
    machine = make_machine(depot, "MX-203", kind=kind, supply="e110", protection="I")
    give_plans([machine], at=MONDAY)
    make_instrument(depot, foreman)
    class_i(machine, fitter, at=MONDAY + timedelta(hours=1))
    none = timedelta()
    third = on(date(2026, 3, 3), 8)
    issue(
        machine=machine, going=Going(site="Quay Street 4", due_back_on=date(2026, 4, 1)), at=third,
        by=desk, passport=True, plan="anyway", plan_reason="Wanted there every day",
    )  # fmt: skip
    check(machine, operator, on(date(2026, 3, 3), 10), later=none)
    fourteenth = on(date(2026, 3, 14), 9)
    _, asked = questions(machine, at=fourteenth)
    critical = next(q.key for q in asked if q.level == "always")
    check(machine, operator, fourteenth, critical, later=timedelta(hours=5))
    stop = Stop.objects.get(machine=machine)
    assert stop.job is not None
    start_job(
        job=stop.job, confirmed=[key for key, _ in ISOLATED], at=on(date(2026, 3, 16), 9),
        by=fitter,
    )  # fmt: skip
    finish_job(
        job=stop.job, symptom="Guard hung loose", cause="Bolt sheared", action="New bolt fitted",
        minutes=40, at=on(date(2026, 3, 16), 11), by=fitter,
    )  # fmt: skip
    release_machine(
        machine=machine, frees=[stop], looks={key: "right" for key, _ in LOOKS},
        at=on(date(2026, 3, 17), 12), by=foreman,
    )  # fmt: skip
    report_fault(
        machine=machine, part="Handle", told=NOTE, stop_now=False, at=on(date(2026, 3, 20), 7),
        by=operator,
    )  # fmt: skip
    decide_stop(
        stop=Stop.objects.standing().get(machine=machine), carry_on_until=date(2026, 3, 27),
        reason="Stiff, but it holds", answer="We look at it when it is back",
        at=on(date(2026, 3, 20), 15), by=foreman,
    )  # fmt: skip
    record_meter(
        machine=machine, dial_tenths=90_000, typed="9000 h", at=on(date(2026, 3, 21), 8),
        by=operator, confirmed=True,
    )  # fmt: skip
    width = record_width(
        drive=make_drive(machine), widths=[units.read("10.4", units.WIDTH)], tool="calliper",
        at=on(date(2026, 3, 22), 9), by=fitter,
    )  # fmt: skip
    record_width(
        drive=width.drive, widths=[units.read("12.4", units.WIDTH)], tool="calliper",
        at=on(date(2026, 3, 23), 9), by=fitter,
        correction=Correction(of=width, reason="Misread it"),
    )  # fmt: skip
    take_back(machine=machine, at=on(date(2026, 3, 30), 16), by=desk)
    record(machine, fitter, at=on(date(2026, 3, 31), 9), readings=RCD | {"rated": ms(450)})
    machine.refresh_from_db()
    return machine
