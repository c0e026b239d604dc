"""Puts jobs, readings, prints and an import of the demo firm into every state that a page shows.

Run by the browser tests in a process of its own, against the data folder of the running depot. It
prints which object stands for which page, as JSON.
"""

import io
import json
import os
from datetime import timedelta
from pathlib import Path
from typing import Any

import django

os.environ["DJANGO_SETTINGS_MODULE"] = "plant.config.settings"
django.setup()

from django.db import transaction  # noqa: E402
from django.utils.timezone import now  # noqa: E402

from maintenance.actions.belt_change import FirstSetting, OldBelt, fit_belt, keep_step  # noqa: E402
from maintenance.actions.belt_life import raise_belt_work  # noqa: E402
from maintenance.actions.check import questions, record_check  # noqa: E402
from maintenance.actions.finding import answer_test, end_finding, find_fault, isolate_for  # noqa: E402
from maintenance.actions.inspection import keep_draft  # noqa: E402
from maintenance.actions.instrument import calibrate  # noqa: E402
from maintenance.actions.job import ISOLATED, open_job, start_job  # noqa: E402
from maintenance.actions.keep import hold  # noqa: E402
from maintenance.actions.label import replace_label  # noqa: E402
from maintenance.actions.meter import record_meter  # noqa: E402
from maintenance.actions.new_belt import NewBelt  # noqa: E402
from maintenance.actions.readings_file import ask_file, read_file, sort_again  # noqa: E402
from maintenance.actions.work_done import Part, finish_job  # noqa: E402
from maintenance.models import (  # noqa: E402
    Competence,
    Completion,
    DueLine,
    Inspection,
    Instrument,
    Job,
    KeepListing,
    RuleSheet,
    Stop,
    Transfer,
    WidthReading,
)
from maintenance.models import Part as StockPart  # noqa: E402
from maintenance.rules.check import Given  # noqa: E402
from plant.actions.machine_import import ask_import, read_import  # noqa: E402
from plant.actions.phone import ask_phone, enrol, set_own_code  # noqa: E402
from plant.links import code_of  # noqa: E402
from plant.models import Depot, Machine, MachineKind, Membership, User  # noqa: E402
from plant.units import WIDTH, read  # noqa: E402
from reports.actions.demo import do_steps  # noqa: E402
from reports.actions.erasure import ask_erasure  # noqa: E402
from reports.actions.note import note_for  # noqa: E402
from reports.actions.sheet import ask_sheets, print_batch  # noqa: E402
from reports.models import Batch  # noqa: E402

AT = now()
PHONE_CODE = "471903"
# Of these the walks tell their own story; no scene touches them.
LEFT_ALONE = ("MX-203", "PC-101", "PC-104", "TR-101", "TR-102", "SP-101", "SP-102", "BR-102")
IMPORT = """Number,Kind,Maker,Serial
NB-901,Cement mixer,Fennick,F-9001
NB-902,Wheel of fortune,Fennick,F-9002
MX-201,Cement mixer,Another maker,X-1
"""


def _plain_jobs(*depots: str) -> list[Job]:
    """Open service jobs that a check-and-close ends, one to a machine."""
    jobs = Job.objects.open().filter(
        kind=Job.Kind.SERVICE,
        state=Job.State.LOOKED_AT,
        is_safety=False,
        machine__depot__code__in=depots,
    )
    one_each: dict[int, Job] = {}
    for job in jobs.exclude(machine__number__in=LEFT_ALONE).order_by("pk"):
        one_each.setdefault(job.machine_id, job)
    return list(one_each.values())


def _all_ok(machine: Machine) -> dict[str, Given]:
    return {each.key: Given(answer="ok") for each in questions(machine, at=AT)[1]}


def _work_on(job: Job, *, by: User) -> Job:
    return start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=AT, by=by)


def jobs(by: User, learner: User) -> dict[str, Any]:
    looked_at, under_way, done, by_keys, without_script, learned = _plain_jobs("qm")[:6]
    _work_on(learned, by=learner)
    do_steps(learned, at=AT, by=learner)
    finish_job(
        job=learned, symptom=learned.title, cause="Due by plan", action="Done by its steps",
        minutes=50, at=AT, by=learner,
    )  # fmt: skip
    for each in (under_way, done, by_keys, without_script):
        _work_on(each, by=by)
    for each in (done, by_keys, without_script):
        do_steps(each, at=AT, by=by)
    finish_job(
        job=done, symptom=done.title, cause="Due by plan", action="Done by its steps", minutes=35,
        at=AT, by=by, parts=(Part(what="Grease, one cartridge", taken_from="Van 2"),),
    )  # fmt: skip
    return {
        "job": looked_at.pk, "job_under_way": under_way.pk, "job_done": done.pk,
        "job_learner": learned.pk, "job_by_keys": by_keys.pk,
        "job_without_script": without_script.pk,
    }  # fmt: skip


def belts(by: User) -> dict[str, Any]:
    """A belt on its way to be changed, its first two steps kept; and one that was fitted."""
    saw, other = (Machine.objects.get(number=number) for number in ("MS-101", "TS-101"))
    jobs = [
        _work_on(
            open_job(machine=each, kind=Job.Kind.BELT, title="Change the belt", at=AT, by=by),
            by=by,
        )
        for each in (saw, other)
    ]
    drive, changed = saw.drives.get(), other.drives.get()
    old = {"because": "torn off", "tool": "calliper"}
    new = {"mark": drive.belt_mark, "width": "9.7", "tool": "calliper", "motor_in": "on"}
    new |= {"together": "on", "sure": "on"}
    for step, typed in (("old", old), ("new", new)):
        keep_step(job=jobs[0], drive=drive, step=step, typed=typed, seen="", at=AT, by=by)
    fitting = fit_belt(
        job=jobs[1], drive=changed, old=OldBelt(at=AT, because="torn off"),
        new=NewBelt(
            mark=changed.belt_mark, width=read("13.0 mm", WIDTH), tool="calliper", motor_in=True,
            together=True, sure=True, taken_from="Van 2",
        ),
        setting=FirstSetting(because="no gauge in the van", guards_on=True), at=AT, by=by,
    )  # fmt: skip
    order = Job.objects.create(
        machine=saw, drive=drive, kind=Job.Kind.ORDER, belt_work=Job.BeltWork.ORDER,
        title=f"Order a belt: {drive.belt_mark}", state=Job.State.LOOKED_AT, opened_at=AT,
        due_on=saw.depot.day_of(AT),
    )  # fmt: skip
    return {
        "order_job": order.pk,
        "belt_job": jobs[0].pk,
        "belt_drive": drive.pk,
        "fitting": fitting.pk,
    }


def look(by: User) -> dict[str, Any]:
    """A belt fitted two days ago that has run eight hours since: its first look is a job."""
    machine = Machine.objects.get(number="MX-301")
    drive, fitted = machine.drives.get(), AT - timedelta(days=2)
    job = open_job(machine=machine, kind=Job.Kind.BELT, title="Change the belt", at=fitted, by=by)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=fitted, by=by)
    fit_belt(
        job=job, drive=drive, old=OldBelt(at=fitted, because="torn off"),
        new=NewBelt(
            mark=drive.belt_mark, width=read("17.0 mm", WIDTH), tool="calliper", motor_in=True,
            together=True, sure=True, taken_from="Van 2",
        ),
        setting=FirstSetting(because="no gauge in the van", guards_on=True), at=fitted, by=by,
    )  # fmt: skip
    hours = machine.hours_tenths or 0
    for tenths, at in ((hours, fitted), (hours + 80, AT)):
        record_meter(machine=machine, dial_tenths=tenths, typed=f"{tenths / 10}", at=at, by=by)
    raise_belt_work(depot=machine.depot, at=AT)
    found = Job.objects.get(drive=drive, belt_work=Job.BeltWork.FIRST_LOOK)
    return {"look_job": found.pk, "look_drive": drive.pk}


def readings(by: User) -> dict[str, Any]:
    """A figure lower than the last one, told a second time and so kept as questioned."""
    machine = Machine.objects.filter(
        kind__has_meter=True, hours_tenths__gt=500, depot__code="qm"
    ).exclude(number__in=LEFT_ALONE)[0]
    assert machine.hours_tenths is not None
    figure = machine.hours_tenths - 400
    found = record_meter(
        machine=machine, dial_tenths=figure, typed=f"{figure / 10:.1f}", at=AT, by=by,
        confirmed=True,
    )  # fmt: skip
    return {"metered": machine.pk, "questioned": found.pk}


def checks(by: User) -> dict[str, Any]:
    signed = Machine.objects.get(number="MX-201")
    by_label = Machine.objects.get(number="MX-301")
    for n in range(1, 21):
        record_check(
            machine=by_label, answers=_all_ok(by_label), at=AT - timedelta(days=n, minutes=7 * n),
            by_name="Ansa, plot 9", by_label=True, pace=dict.fromkeys(_all_ok(by_label), 6),
        )  # fmt: skip
    measured = WidthReading.objects.filter(stands=True, drive__machine__depot=signed.depot)
    mine = record_check(machine=signed, answers=_all_ok(signed), at=AT, by=by)
    told = record_check(
        machine=by_label, answers=_all_ok(by_label), at=AT, by_name="Ansa, plot 9", by_label=True
    )
    return {
        "machine": signed.pk,
        "drive": signed.drives.get().pk,
        "reading": str(measured[0].record_id),
        "record": str(mine.record_id),
        "label": by_label.label_code,
        "label_record": str(told.record_id),
    }


def inspections(by: User) -> dict[str, Any]:
    """One inspection on the way, isolated already, and one that is sealed."""
    isolated = Machine.objects.get(number="MX-202")
    keep_draft(
        machine=isolated, kind=Inspection.Kind.INSPECTION, at=AT, by=by, isolated=True,
        typed={"answer_identity": "ok", "answer_frame": "wrong", "word_frame": "One leg bent"},
    )  # fmt: skip
    sealed = Inspection.objects.filter(machine__number="GN-101", kind=Inspection.Kind.INSPECTION)[0]
    return {"isolated": isolated.pk, "inspected": str(sealed.record_id)}


def tests() -> dict[str, Any]:
    """An instrument that was found wrong after it passed machines, one that counts, a retest."""
    wrong = Instrument.objects.get(depot__code="pl")
    mistyped = calibrate(
        instrument=wrong, done_on=wrong.depot.day_of(AT), found_good=False, valid_until=None,
        certificate="PC-wrong", at=AT, by=User.objects.get(sign_in="petra"),
    )  # fmt: skip
    retested = Machine.objects.get(number="TS-101")
    return {
        "instrument": Instrument.objects.get(depot__code="qm").pk,
        "found_wrong": wrong.pk,
        "calibration": mistyped.pk,
        "retested": retested.pk,
        "test_record": str(retested.electrical_tests.order_by("-at")[0].record_id),
        "class_i": Machine.objects.get(number="FG-101").pk,
        "petrol": Machine.objects.get(number="MX-301").pk,
    }


def findings(by: User) -> dict[str, Any]:
    """A fault that is being found, isolated already, and one that ended as not certain."""
    saw, grinder = (Machine.objects.get(number=number) for number in ("TS-101", "FG-101"))
    finding = find_fault(machine=saw, symptom="noise", job=None, at=AT, by=by).findings.get()
    isolate_for(finding=finding, confirmed=[key for key, _ in ISOLATED], at=AT, by=by)
    answer_test(finding=finding, test="turn_driven", answer="rough", at=AT, by=by)
    ended = find_fault(machine=grinder, symptom="weak", job=None, at=AT, by=by).findings.get()
    end_finding(finding=ended, at=AT, by=by)
    return {"job_finding": finding.job_id, "job_found": ended.job_id}


def paper(by: User) -> dict[str, Any]:
    depot = Depot.objects.get(code="qm")
    machines = list(Machine.objects.filter(depot=depot, number__startswith="MX-2"))[:3]
    batch = ask_sheets(depot=depot, machines=machines, by=by, at=AT)
    print_batch(batch.pk, clock=now, until=now() + timedelta(minutes=1))
    labels = ask_sheets(depot=depot, machines=machines, by=by, at=AT, kind=Batch.Kind.LABEL_SHEET)
    print_batch(labels.pk, clock=now, until=now() + timedelta(minutes=1))
    # One of them was copied meanwhile; the page of its print says so.
    replace_label(machine=machines[-1], reason="Copied by a stranger", at=AT, by=by)
    return {"batch": batch.pk, "label_batch": labels.pk}


def shared_phone(by: User, person: User) -> dict[str, Any]:
    """An enrolled phone, somebody with a code on it, and what the people page leads to."""
    depot = Depot.objects.get(code="qm")
    _, code = ask_phone(depot=depot, name="Van 4", by=by, at=AT)
    _, secret = enrol(code=code, at=AT)
    set_own_code(user=person, code=PHONE_CODE, at=AT)
    return {
        "phone_secret": secret,
        "member": Membership.objects.get(user=person, depot=depot).pk,
        "account": person.pk,
        "account_above": User.objects.get(sign_in="tobiah").pk,
        "competence": Competence.objects.filter(user=person, depot=depot)[0].pk,
    }


def kept(by: User) -> dict[str, Any]:
    """A machine held back, and another whose words are listed to go."""
    held, going = Machine.objects.filter(depot__code="qm").exclude(number__in=LEFT_ALONE)[:2]
    for n, kind in enumerate(("check", "fault", "place")):
        KeepListing.objects.create(
            machine=going, depot=going.depot, kind=kind, upto_seq=1, months=72, texts=12 + n,
            sheet=RuleSheet.objects.on(AT.date()), why="6 years after it left on 3 May 2020",
            photos=n, listed_on=AT.date(), goes_on=AT.date() + timedelta(days=75),
        )  # fmt: skip
    return {"hold": hold(machine=held, reason="A claim is running", at=AT, by=by).pk}


def bring_in(by: User) -> dict[str, Any]:
    depot = Depot.objects.get(code="qm")
    file = io.BytesIO(IMPORT.encode())
    run = ask_import(file=file, file_name="new machines.csv", depot=depot, by=by, at=AT)
    read_import(run=run, at=now())
    return {"import": run.pk}


def bring_readings(by: User) -> dict[str, Any]:
    """The example file, once with its questions open, once with all of them answered."""
    depot = Depot.objects.get(code="qm")
    example = Path(__file__).parents[2] / "fixtures" / "demo" / "tester_readings.csv"
    found = {}
    for name in ("readings", "readings_sorted"):
        file = io.BytesIO(example.read_bytes())
        run = ask_file(file=file, file_name=f"{name}.csv", depot=depot, by=by, at=AT)
        read_file(run=run, at=now())
        found[name] = run.pk
    run.refresh_from_db()
    yesterday = depot.day_of(AT) - timedelta(days=1)
    ticks = {
        subject: dict.fromkeys(run.questions.get(subject, {}), "right")
        for subject in ("look", "confirm")
    }
    answers = {"day": yesterday.isoformat(), "units": {"reading_insulation": "Mohm"}, **ticks}
    sort_again(run=run, columns=run.columns, answers=answers, by=by)
    read_file(run=run, at=now())
    return found


def note(by: User) -> str:
    """The code of a weekly note's link."""
    depot = Depot.objects.get(code="qm")
    made = note_for(person=by, depot=depot, week_of=depot.day_of(AT), at=AT)
    assert made is not None
    return code_of("note", made.uid)


def make_due() -> dict[str, Any]:
    """A service that nobody has raised comes due today; the timer is to find it by itself."""
    line = DueLine.objects.filter(machine__number="BR-102", line__is_test=False)
    one = line.select_related("line").order_by("pk")[0]
    Job.objects.filter(due_line=one, completions=None, state=Job.State.LOOKED_AT).delete()
    one.due_on = one.past_after = one.plan_on = one.raise_on = one.machine.depot.day_of(AT)
    one.save()
    return {"due_line": one.pk, "due_title": one.line.title, "due_since": now().isoformat()}


def main() -> None:
    with transaction.atomic():
        found = arrange()
    print(json.dumps(found))


def arrange() -> dict[str, Any]:
    people = {user.sign_in: user for user in User.objects.all()}
    found = make_due()
    found |= jobs(people["lukasz"], people["jory"])
    found |= belts(people["lukasz"])
    found |= look(people["lukasz"])
    found |= readings(people["kofi"])
    found |= checks(people["kofi"])
    found |= inspections(people["marit"])
    found |= tests()
    found |= findings(people["lukasz"])
    found |= paper(people["marit"])
    found |= bring_in(people["marit"])
    found |= kept(people["marit"])
    found["erasure"] = ask_erasure(
        person=people["kofi"], depot=Depot.objects.get(code="qm"),
        reason="Left in October, asked for it by letter", at=AT, by=people["marit"],
    ).pk  # fmt: skip
    found |= bring_readings(people["lukasz"])
    found["note"] = note(people["marit"])
    found["guide"] = "operator"
    part = StockPart.objects.get(name="A26", depot__code="qm")
    found["part"], found["stock_place"] = part.pk, part.moves.all()[0].place_id
    found["completion"] = Completion.objects.counting().filter(included_in=None)[0].pk
    mixer = MachineKind.objects.get(key="mixer_electric")
    found["kind"] = mixer.pk
    found["plan_line"] = mixer.plan_lines.filter(ended=False)[0].pk
    found["depot"] = Depot.objects.get(code="qm").pk
    stop = Stop.objects.standing().filter(kind=Stop.Kind.UNDECIDED)[0]
    assert stop.job_id is not None
    found["fitter"] = people["lukasz"].pk
    found["stop"], found["told_job"] = stop.pk, stop.job_id
    found |= shared_phone(people["marit"], people["lukasz"])
    found["transfer"] = Transfer.objects.open()[0].pk
    found["in_yard"] = Machine.objects.get(number="PC-106").pk
    found["out"] = Machine.objects.get(number="BR-202").pk
    found["stopped"] = Machine.objects.get(number="PC-103").pk
    found["numbers"] = dict(Machine.objects.values_list("number", "pk"))
    found["labels"] = dict(Machine.objects.values_list("number", "label_code"))
    return found


if __name__ == "__main__":
    main()
