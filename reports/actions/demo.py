"""The demo firm: its people, its register from a spreadsheet, and two years lived in a minute.

Everything goes through the actions that people use, with moments in the past; the same day gives
the same story, and its dates move with today.
"""

import json
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

from django.conf import settings
from django.db import transaction

from maintenance.actions import rack
from maintenance.actions.belt_life import raise_belt_work, rework_belts
from maintenance.actions.check import questions, record_check
from maintenance.actions.competence import give
from maintenance.actions.cost import set_money
from maintenance.actions.day import plan_job
from maintenance.actions.due import rework_many, rework_old
from maintenance.actions.fault import report_fault
from maintenance.actions.inspection import MEASURES, Told, points, record_inspection
from maintenance.actions.instrument import add_instrument, calibrate
from maintenance.actions.job import ISOLATED, give_out, open_job, start_job, wait_job
from maintenance.actions.meter import record_meter
from maintenance.actions.open_days import close_day, set_week
from maintenance.actions.place import report_missing, write_off
from maintenance.actions.plan import give_plans, note_done, raise_due_work
from maintenance.actions.plan_line import LineTold, StepTold, add_line
from maintenance.actions.reading import record_width
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.slot import record_slot
from maintenance.actions.stay import Going, tell_stay
from maintenance.actions.step import Answer, tell_steps
from maintenance.actions.stop import decide_stop
from maintenance.actions.test import Device, LeadTyped, Reading, record_test
from maintenance.actions.transfer import send
from maintenance.actions.work_done import Part, close_job, finish_job
from maintenance.contents.test import forms_of, sheet_of
from maintenance.models import DueLine, Instrument, Job, RuleSheet, Skill, StockPlace, Stop
from maintenance.rules import step as step_rule
from maintenance.rules.check import Given
from maintenance.rules.electrical import MEASURES as TESTED
from maintenance.rules.electrical import NO_TRIP, Asked, Form
from maintenance.rules.sheet import INSPECTION, LOOK_OVER
from plant.actions.depot import change_firm
from plant.actions.heartbeat import beat
from plant.actions.machine_import import ask_import, read_import, save_import, say_yes
from plant.actions.phone import ask_phone, enrol, note_seen, withdraw
from plant.models import (
    Depot,
    Drive,
    Machine,
    Measure,
    Membership,
    Message,
    MessageChoice,
    Place,
    Role,
    User,
)
from plant.models.message import mail_key
from plant.rights import Right, may
from plant.units import LEAD_LENGTH, LENGTH, RCD_CURRENT, WIDTH, read, read_open
from reports.actions.feed import add_feed
from reports.actions.message import choose, promise_one
from reports.actions.timed import set_up
from reports.models import Feed, TimedPrint

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "demo"
YEARS_BACK = 2
# The clock of the story strikes every four weeks.
STEP = timedelta(weeks=4)
# What a sound machine gives at the points that are answered by a figure.
_FIGURES = {
    "output_230": "231 V", "output_110": "112 V", "output_frequency": "51.0 Hz",
    "water_flow": "0.8 L/min",
}  # fmt: skip
# Machine, its slot at the first of four visits, and the widths of its belt then.
_NOTEBOOK = {
    "PC-102": ("6 mm", ("12.5 mm", "12.2 mm", "11.9 mm", "11.6 mm")),
    "PC-106": ("9 mm", ("12.6 mm", "12.4 mm", "12.2 mm", "12.0 mm")),
}
# Mixers of one depot that stood still with a running motor, and what it was each time:
# enough jobs for odds of that depot's own.
_STOOD_STILL = ("MX-202", "MX-204", "MX-201")
_CAUSES = (
    "belt_worn", "belt_worn", "gear", "belt_gone", "belt_worn", "belt_worn", "pulley_loose",
    "belt_worn", "belt_gone", "driven_stiff", "belt_worn", "belt_worn", "other", "gear",
    "belt_worn", "belt_oily", "belt_worn", "belt_gone", "belt_worn", "belt_worn", "gear",
    "belt_gone", "belt_worn", "pulley_loose",
)  # fmt: skip
LATELY = timedelta(weeks=10)
# Two whole years are written out for these; the rest keeps its paper for the last weeks alone.
FULLY_TOLD = frozenset({"MX-203", "PC-101", "MS-101", "GN-101", "00412"})
# What happens by chance in the workshop happens to none of these.
SHOWN = FULLY_TOLD | {"MX-201", "MX-206", "MX-301", "PC-103", "AC-201"}


@dataclass
class Story:
    """The hand that lives two years: what it needs at each step."""

    now: datetime
    dice: Random
    people: dict[str, User] = field(default_factory=dict)
    busy: frozenset[int] = frozenset()
    folder: Path = FOLDER

    def fitter(self, depot: Depot) -> User:
        return self.people[{"qm": "lukasz", "ow": "ewa", "pl": "petra"}[depot.code]]

    def foreman(self, depot: Depot) -> User:
        return self.people["petra" if depot.code == "pl" else "sorcha"]

    def desk(self, depot: Depot) -> User:
        return self.people["petra" if depot.code == "pl" else "dragan"]

    def operator(self, depot: Depot) -> User:
        return self.people[{"qm": "kofi", "ow": "dragan", "pl": "petra"}[depot.code]]


def password(folder: Path = FOLDER) -> str:
    return str(_people(folder)["password"])


def names(folder: Path = FOLDER) -> list[tuple[str, str]]:
    """Sign-in name and who it is, for whoever tries the demo."""
    return [(row["sign_in"], f"{row['name']}, {row['who']}") for row in _people(folder)["people"]]


def _people(folder: Path) -> Any:
    return json.loads((folder / "people.json").read_text(encoding="utf-8"))


def live(*, now: datetime, say: Callable[[str], None], folder: Path = FOLDER) -> None:
    """Makes the demo firm in an empty system. All or nothing.

    Raises:
        ValueError: the system holds depots already, or the register was not brought in whole.
    """
    if Depot.objects.exists():
        raise ValueError("The demo firm goes into an empty system only.")
    start = now - timedelta(days=365 * YEARS_BACK)
    with transaction.atomic():
        story = Story(now=now, dice=Random(20261125), folder=folder)  # noqa: S311 - a story, not a secret
        story.people = _make_people(folder)
        _give_competences(story, at=start)
        _add_instruments(story, at=start)
        count = _bring_in(story, folder / "machines.xlsx", at=start)
        say(f"{count} machines brought in from machines.xlsx by the importer.")
        machines = list(Machine.objects.select_related("kind", "depot").order_by("number_key"))
        give_plans(machines, at=start)
        _open_days(story)
        # A dozen machines keep all their paper; of the others the last weeks are told in full.
        told = [m.pk for m in machines if m.number in FULLY_TOLD]
        story.busy = frozenset(told)
        for machine in machines:
            if machine.place != Place.LAID_UP:
                _look_over(story, machine, at=start + timedelta(hours=3))
        at, beat_no = start + timedelta(days=1), 0
        while at < now - timedelta(days=3):
            _four_weeks(story, machines, at=at)
            _stood_still(story, beat_no, at=at + timedelta(days=3))
            at, beat_no = at + STEP, beat_no + 1
        _counts(story)
        _last_days(story, machines)
        _stock(story)
        rework_old(at=now, most=len(machines))
        _choose_messages(story)
        beat(name="background", at=now)
    say("Two years of checks, meter figures, belt readings, services and repairs lived through.")


def _make_people(folder: Path) -> dict[str, User]:
    told = _people(folder)
    depots = {row["code"]: Depot.objects.create(**row) for row in told["depots"]}
    people = {}
    for row in told["people"]:
        user = User.objects.create_user(
            sign_in=row["sign_in"], name=row["name"], password=told["password"]
        )
        people[user.sign_in] = user
        Membership.objects.bulk_create(
            Membership(
                user=user, depot=depots[code], role=Role(role), learner=row.get("learner", False)
            )
            for code, held in row["roles"].items()
            for role in held
        )
    return people


def _give_competences(story: Story, *, at: datetime) -> None:
    """Who may sign for what; of two of them the day comes near, or has just gone by."""
    rows = _people(story.folder)["competences"]
    for row in rows:
        person, by = story.people[row["person"]], story.people[row["given_by"]]
        until = story.now.date() + timedelta(days=row["ends_in"]) if "ends_in" in row else None
        for code in row["depots"]:
            for skill in row["skills"]:
                give(
                    person=person, depot=Depot.objects.get(code=code), skill=Skill(skill),
                    family=row.get("family", ""), valid_from=at.date(), valid_until=until,
                    told=row["told"], reason=row.get("reason", ""), at=at, by=by,
                )  # fmt: skip


def _open_days(story: Story) -> None:
    """Monday to Friday, a half day on Saturday at the largest depot, and the days of Christmas."""
    for depot in Depot.objects.all():
        boss = next(person for person in story.people.values() if may(person, Right.PLAN, depot.pk))
        hours = {"qm": 16, "ow": 8, "pl": 4}[depot.code]
        week = {day: (day < 5, hours * 60 if day < 5 else 0) for day in range(7)}
        if depot.code == "qm":
            week[5] = (True, 4 * 60)
        set_week(depot=depot, days=week, by=boss)
        for day, name in ((25, "Christmas Day"), (26, "Boxing Day")):
            close_day(depot=depot, on=date(story.now.year, 12, day), name=name, by=boss)


def _choose_messages(story: Story) -> None:
    """Who wants which messages; one of each is promised now, so that there is one to read."""
    for row in _people(story.folder)["messages"]:
        user, now = story.people[row["person"]], story.now
        weekly = Depot.objects.get(code=row["weekly"]) if "weekly" in row else None
        choose(
            user=user, mail=row["mail"], morning=row["morning"], when_well=False,
            at_once=row.get("at_once", False), weekly_for=weekly, at=now,
        )  # fmt: skip
        MessageChoice.objects.filter(user=user).update(
            proved_key=mail_key(row["mail"]), proved_at=now
        )
        if "now" in row:
            depot = weekly or Depot.objects.filter(memberships__user=user).order_by("name")[0]
            promise_one(kind=Message.Kind(row["now"]), user=user, depot=depot, at=now)
    depot = Depot.objects.get(code="qm")
    add_feed(user=story.people["sorcha"], depot=depot, what=Feed.What.ALL, at=story.now)
    for what, days, clock in (
        (TimedPrint.What.SERVICE, [0], time(6, 0)),
        (TimedPrint.What.BOARD, range(5), time(6, 30)),
    ):
        set_up(
            depot=depot, kind=what, days=days, clock=clock, by=story.people["sorcha"],
            at=story.now,
        )  # fmt: skip


def _bring_in(story: Story, file: Path, *, at: datetime) -> int:
    """The register, through the importer that people use: read, sorted, and a yes."""
    by, depot = story.people["marit"], Depot.objects.get(code="qm")
    with file.open("rb") as opened:
        run = ask_import(file=opened, file_name=file.name, depot=depot, by=by, at=at)
    read_import(run=run, at=at)
    run.refresh_from_db()
    left = list(run.rows.exclude(verdict="ready").values_list("row", "number", "reasons"))
    if left or run.step != run.Step.ASK:
        raise ValueError(f"The demo register was not read whole: {run.why} {left}")
    say_yes(run=run, by=by, at=at)
    return save_import(run=run, at=at)


def _four_weeks(story: Story, machines: list[Machine], *, at: datetime) -> None:
    """One beat of the story: figures, checks, belts, services; busy machines have all of it."""
    recent = at > story.now - LATELY
    for machine in machines:
        moment = _working_moment(story, at)
        if machine.place == Place.LAID_UP or not (recent or machine.pk in story.busy):
            continue
        machine.refresh_from_db()
        if machine.kind.has_meter:
            _read_meter(story, machine, at=moment)
        _check(story, machine, at=moment + timedelta(minutes=5))
        if machine.drives.exists() and story.dice.random() < 0.5:
            _measure(story, machine, at=moment + timedelta(minutes=30))
    for depot in Depot.objects.order_by("code"):
        raise_due_work(depot=depot, at=at)
    _serve(story, at=at + timedelta(days=2), share=0.92)


def _stood_still(story: Story, beat_no: int, *, at: datetime) -> None:
    """A mixer whose motor ran and whose drum did not: found, put right, closed with its cause."""
    if beat_no >= len(_CAUSES):
        return
    machine = Machine.objects.select_related("depot", "kind").get(
        number=_STOOD_STILL[beat_no % len(_STOOD_STILL)]
    )
    by, boss = story.fitter(machine.depot), story.foreman(machine.depot)
    held = RuleSheet.objects.on(machine.depot.day_of(at)).finding
    found = held.causes[_CAUSES[beat_no]]
    symptom = held.symptom("no_turn").words
    job = open_job(
        machine=machine, kind=Job.Kind.FAULT, title=symptom, symptom=symptom, at=at, by=boss
    )
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=at, by=by)
    finish_job(
        job=job, symptom=symptom, cause=found.words, action=found.then, minutes=35,
        listed=f"no_turn/{found.key}", at=at + timedelta(minutes=45), by=by,
    )  # fmt: skip
    close_job(job=job, at=at + timedelta(minutes=60), by=boss)


def _working_moment(story: Story, at: datetime) -> datetime:
    """Some time between seven and four on that day or one of the next nine."""
    day = (at + timedelta(days=story.dice.randrange(10))).date()
    minutes = story.dice.randrange(9 * 60)
    moment = datetime.combine(day, time(7, 10), tzinfo=at.tzinfo) + timedelta(minutes=minutes)
    return min(moment, story.now - timedelta(hours=2, minutes=story.dice.randrange(120)))


def _before_work(story: Story, *, days_ago: int) -> datetime:
    """Between ten to seven and half past eight of that day, or some hours ago."""
    day = (story.now - timedelta(days=days_ago)).date()
    minutes = story.dice.randrange(100)
    moment = datetime.combine(day, time(6, 50), tzinfo=story.now.tzinfo) + timedelta(
        minutes=minutes
    )
    return min(moment, story.now - timedelta(hours=2, minutes=30))


def _read_meter(story: Story, machine: Machine, *, at: datetime) -> None:
    last = machine.hours_at or at - STEP
    days = max(0.0, (at - last).total_seconds() / 86_400)
    if days < 1:
        return
    grown = (machine.hours_tenths or 0) + round(days * story.dice.uniform(4, 22))
    record_meter(
        machine=machine, dial_tenths=grown, typed=f"{grown / 10:.1f}", at=at,
        by=story.operator(machine.depot),
    )  # fmt: skip


def _check(
    story: Story, machine: Machine, *, at: datetime, wrong: str = "", word: str = ""
) -> None:
    _, asked = questions(machine, at=at)
    answers = {q.key: Given(answer="ok") for q in asked}
    if wrong:
        answers[wrong] = Given(answer="wrong", word=word)
    record_check(machine=machine, answers=answers, at=at, by=story.operator(machine.depot))


def _look_over(
    story: Story, machine: Machine, *, at: datetime, part: str = LOOK_OVER, note: str = ""
) -> None:
    """Everything as it should be, with figures that lie within their limits."""
    told = {}
    for point in points(machine, part, at=at)[1]:
        told[point.key] = Told(answer="ok")
        if point.key in _FIGURES:
            told[point.key] = Told(figure=read(_FIGURES[point.key], MEASURES[point.unit]))
        elif point.unit:
            told[point.key] = Told(answer="none on it")
    record_inspection(
        machine=machine, kind=part, told=told, at=at, by=story.foreman(machine.depot), note=note,
        isolated_at=at - timedelta(minutes=20) if part == INSPECTION else None,
    )  # fmt: skip


def _measure(story: Story, machine: Machine, *, at: datetime) -> None:
    """A width reading that a belt of its age would give, by whatever tool was in the pocket."""
    for drive in machine.drives.filter(kind=Drive.Kind.BELT).order_by("stage"):
        last = drive.width_readings.first()
        new = {"A": 13.0, "B": 17.0}.get(drive.section)
        if new is None:
            continue
        loss = 0.0 if last is None else max(0.0, new - last.width_m * 1000)
        loss += story.dice.uniform(0.02, 0.16)
        if loss > 2.2:
            loss = story.dice.uniform(0.0, 0.1)  # a new belt went on in between
        tool, digits = story.dice.choice([("calliper", 1), ("steel rule", 1)])
        widths = [read(f"{new - loss + story.dice.gauss(0, 0.04):.{digits}f} mm", WIDTH)]
        record_width(drive=drive, widths=widths, tool=tool, at=at, by=story.fitter(machine.depot))


def _serve(story: Story, *, at: datetime, share: float) -> None:
    """The fitters work off most of what is open; foremen look at it and close it."""
    moment = min(at, story.now - timedelta(hours=1))
    jobs = Job.objects.open().filter(due_line__isnull=False, opened_at__lt=moment)
    # The larger services first: each carries the smaller of its machine with it.
    silent: set[int] = set()
    worked_on: set[int] = set()
    unwritten: list[int] = []
    for job in jobs.select_related("machine__depot", "due_line__line").order_by(
        "-due_line__line__level", "pk"
    ):
        if job.machine_id in worked_on:
            job.refresh_from_db(fields=["state"])
            if not job.is_open:
                continue
        busy = job.machine_id in story.busy or moment > story.now - LATELY
        if story.dice.random() > share:
            continue
        if not busy:
            # Long ago, on machines of little use: the service is known, the paper was not kept.
            assert job.due_line is not None
            hours = job.machine.hours_tenths
            note_done(due_line=job.due_line, on=moment.date(), tenths=hours, at=moment)
            silent.add(job.machine_id)
            unwritten.append(job.pk)
            continue
        worked_on.add(job.machine_id)
        form = _form_of(job, at=moment)
        if form is not None:
            _test(story, job.machine, form, at=moment)
            continue
        _do(story, job, at=moment, cause="Due by plan", action=f"{job.title}: done by its steps")
    Job.objects.filter(pk__in=unwritten).delete()
    _work_out(silent, at=moment)


def _work_out(machines: Collection[int], *, at: datetime) -> None:
    """Works out afresh the lines of these machines, all at once."""
    locked = Machine.objects.select_for_update().filter(pk__in=machines).order_by("pk")
    rework_many(list(locked.values_list("pk", flat=True)), at=at)


def _add_instruments(story: Story, *, at: datetime) -> None:
    """One instrument a depot; that of Ostrey has just run out of its calibration."""
    told = json.loads((story.folder / "instruments.json").read_text(encoding="utf-8"))
    for row in told["instruments"]:
        by = story.people[row["kept_by"]]
        instrument = add_instrument(
            depot=Depot.objects.get(code=row["depot"]), name=row["name"], serial=row["serial"],
            description=row["description"], reads=list(Instrument.Reads.values), at=at, by=by,
        )  # fmt: skip
        for days, lasts in row["calibrated"]:
            on = (at + timedelta(days=days)).date()
            calibrate(
                instrument=instrument, done_on=on, found_good=True,
                valid_until=on + timedelta(days=lasts),
                certificate=f"{row['certificate']}-{days}", at=at + timedelta(days=days), by=by,
            )  # fmt: skip


def _stock(story: Story) -> None:
    """Racks and vans with belts and small parts, counted a while ago; the other depot sees them."""
    told = json.loads((story.folder / "stock.json").read_text(encoding="utf-8"))
    depots = {depot.code: depot for depot in Depot.objects.all()}
    places = {
        (row["depot"], row["name"]): rack.add_place(
            depot=depots[row["depot"]], name=row["name"], kind=StockPlace.Kind(row["kind"]),
            by=story.people[row["by"]],
        )
        for row in told["places"]
    }  # fmt: skip
    counts: dict[tuple[str, str], dict[int, int]] = {}
    counted_at = story.now - timedelta(days=told["counted_days_ago"])
    for row in told["parts"]:
        depot, by = depots[row["depot"]], story.people[told["by"][row["depot"]]]
        part = rack.save_part(
            depot=depot, name=row["name"], is_belt=not row.get("small"), at=counted_at, by=by,
            bought_from=row["bought_from"], lead_days=row["lead_days"],
        )  # fmt: skip
        for number, note in row.get("numbers", ()):
            rack.add_number(
                part=part, number=number, note=note, at=counted_at,
                by=story.people[told["foreman"]],
            )  # fmt: skip
        if "price" in row:
            rack.set_price(part=part, price=Decimal(row["price"]), by=story.people[told["manager"]])
        for name, pieces, days in row["lies"]:
            rack.receive(
                part=part, place=places[row["depot"], name], quantity=pieces,
                on=depot.day_of(story.now - timedelta(days=days)), at=counted_at, by=by,
            )  # fmt: skip
            counts.setdefault((row["depot"], name), {})[part.pk] = pieces
    for (code, name), found in counts.items():
        rack.count_place(
            place=places[code, name], counts=found, at=counted_at + timedelta(hours=1),
            by=story.people[told["by"][code]],
        )  # fmt: skip
    change_firm(
        codes_asked=False, depots_seen=True, at=counted_at, by=story.people[told["administrator"]]
    )


def _form_of(job: Job, *, at: datetime) -> Form | None:
    """The form by which the test of this job is done; None where it is no electrical test."""
    sheet = sheet_of(job.machine, at=at)
    line = job.due_line
    if sheet is None or line is None:
        return None
    forms = forms_of(job.machine, sheet)
    return next((form for form in forms if line.line.key in form.plan), None)


def _test(story: Story, machine: Machine, form: Form, *, at: datetime, **wrong: Reading) -> bool:
    """An electrical test with readings that a sound machine gives, but for what is wrong."""
    instrument = Instrument.objects.get(depot=machine.depot)
    if instrument.refusal(machine.depot.day_of(at)):
        return False  # it waits until the instrument is back from its calibration
    readings = {asked.key: _reading(story, asked) for asked in form.asked} | wrong
    device = Device(
        profile="general_61008", rated=read("30 mA", RCD_CURRENT), rcd_type="A"
    )  # fmt: skip
    record_test(
        machine=machine, form=form.key, readings=readings, instrument=instrument, at=at,
        by=story.fitter(machine.depot), device=device if form.has_trips else None,
        lead=LeadTyped(length=read("5 m", LEAD_LENGTH), core_mm2=1.5) if form.has_earth else None,
    )  # fmt: skip
    return True


def _reading(story: Story, asked: Asked) -> Reading:
    if asked.kind in ("confirm", "look"):
        return Reading(typed="right")
    if asked.kind == "trip":
        if asked.factor == 0.5:
            return Reading(typed=NO_TRIP)
        return _typed(f"{story.dice.uniform(9, 34):.0f} ms", "ms")
    if asked.limit is None:
        return _typed(f"{story.dice.uniform(0.05, 0.15):.2f} ohm", "ohm")
    least, most, unit = asked.limit.least, asked.limit.most, asked.limit.unit
    if most is None:
        high = story.dice.random() < 0.6
        return _typed("> 99.9 Mohm" if high else f"{story.dice.uniform(8, 95):.1f} Mohm", unit)
    low = least if least is not None else most * 0.04
    share = story.dice.uniform(0.4, 0.6) if least is not None else story.dice.uniform(0, 0.3)
    return _typed(f"{low + (most - low) * share:.{1 if least else 2}f} {unit}", unit)


def _typed(text: str, unit: str) -> Reading:
    typed = read_open(text, TESTED[unit])
    return Reading(typed=typed.text_as_typed, si=typed.value_si, end=typed.end)


def _failed_and_passed(story: Story, machine: Machine) -> None:
    """A saw whose earth path was open: stopped, a new plug, tested again, released."""
    at = story.now - timedelta(days=33)
    sheet = sheet_of(machine, at=at)
    assert sheet is not None
    form = forms_of(machine, sheet)[0]
    _test(story, machine, form, at=at, earth=_typed("> 19.99 ohm", "ohm"))
    stop = Stop.objects.standing().get(machine=machine, record__kind="test")
    job = stop.job
    assert job is not None
    fitter = story.fitter(machine.depot)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=at, by=fitter)
    finish_job(
        job=job, symptom=job.symptom, cause="Earth core pulled out of the plug",
        action="Plug made off again, core gripped", minutes=25, at=at + timedelta(minutes=40),
        by=fitter, parts=(Part(what="Plug, 16 A yellow"),),
    )  # fmt: skip
    _test(story, machine, form, at=at + timedelta(minutes=50))
    release_machine(
        machine=machine, frees=[stop], looks={key: "right" for key, _ in LOOKS},
        at=at + timedelta(minutes=60), by=story.foreman(machine.depot),
    )  # fmt: skip


# What a sound machine measures, and with what, where a step of a service asks for it.
_MEASURED = {
    "mm": ("5.5", "steel rule"), "N": ("24", "pull scale"), "ohm": ("0.21", "test set 3"),
    "Mohm": ("99", "test set 3"), "ms": ("23", "test set 3"), "rpm": ("2900", "tachometer"),
    "Nm": ("22", "torque wrench"), "L/min": ("0.8", "jug and watch"), "s": ("6", "watch"),
    "V": ("231", "test set 3"), "Hz": ("50.4", "test set 3"),
}  # fmt: skip


def do_steps(job: Job, *, at: datetime, by: User) -> None:
    """Every step of the job done, the measured ones with a figure that fits."""
    answers = {}
    for step in job.steps.all():
        typed, tool = _MEASURED.get(step.unit, ("", ""))
        figure = read(typed, step_rule.measure_of(step.unit)) if typed else None
        answers[step.position] = Answer(told=step_rule.Told(is_done=True, figure=figure, tool=tool))
    tell_steps(job=job, answers=answers, at=at, by=by)


def _do(
    story: Story, job: Job, *, at: datetime, cause: str, action: str, parts: tuple[Part, ...] = ()
) -> None:
    depot = job.machine.depot
    fitter, foreman = story.fitter(depot), story.foreman(depot)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=at, by=fitter)
    do_steps(job, at=at + timedelta(minutes=40), by=fitter)
    finish_job(
        job=job, symptom=job.symptom or job.title, cause=cause, action=action,
        minutes=story.dice.randrange(15, 70, 5), at=at + timedelta(minutes=45), by=fitter,
        parts=parts,
    )  # fmt: skip
    job.refresh_from_db()
    stops = list(job.stops.standing())
    later = at + timedelta(minutes=60)
    if job.is_safety or stops:
        release_machine(
            machine=job.machine, frees=stops, jobs=[] if stops else [job],
            looks={key: "right" for key, _ in LOOKS}, at=later, by=foreman,
            reason="Only one person works at this depot" if depot.one_person else "",
        )  # fmt: skip
    else:
        close_job(job=job, at=later, by=foreman)


def _last_days(story: Story, machines: list[Machine]) -> None:
    """How the firm stands this morning: most of it passed, some stopped, some overdue."""
    now = story.now
    by_number = {machine.number: machine for machine in machines}
    _failed_and_passed(story, by_number["TS-101"])
    for machine in machines:
        if machine.place in (Place.OUT, Place.YARD):
            machine.refresh_from_db()
            _check(story, machine, at=_before_work(story, days_ago=story.dice.randrange(4)))
    _look_overs(story, machines)
    weekly = DueLine.objects.filter(line__every_days=7).select_related("line", "machine")
    for line in weekly:
        day = (now - timedelta(days=story.dice.randrange(1, 7))).date()
        note_done(due_line=line, on=day, tenths=line.machine.hours_tenths, at=now)
        Job.objects.open().filter(due_line=line).delete()
    _work_out({line.machine_id for line in weekly}, at=now)
    for number, item, word in _wrong_this_morning(by_number):
        machine = by_number[number]
        _check(story, machine, at=now - timedelta(hours=2), wrong=item, word=word)
    noted = Stop.objects.standing().get(machine=by_number["MX-202"])
    decide_stop(
        stop=noted, carry_on_until=(now + timedelta(days=6)).date(),
        reason="One wheel is stiff, not loose; the part is ordered",
        answer="The wheel turns and holds. Use it on level ground; a new one is ordered.",
        at=now - timedelta(hours=1), by=story.foreman(noted.machine.depot),
    )  # fmt: skip
    mixer = by_number["MX-203"]
    report_fault(
        machine=mixer, part="Something else", told="Motor runs, drum does not turn", stop_now=True,
        at=now - timedelta(minutes=95), by_name="Wim on plot 4", by_label=True,
    )  # fmt: skip
    for depot in Depot.objects.order_by("code"):
        raise_due_work(depot=depot, at=now)
    _places(story, by_number)
    _workshop(story, machines)
    _shared_phones(story)
    _belts_running_out(story)


def _counts(story: Story) -> None:
    """A hoist counts its lifts and a breaker its starts, and each has work that falls due by it."""
    for number, (measure, figures, told) in _COUNTED.items():
        machine = Machine.objects.select_related("depot").get(number=number)
        for visit, count in enumerate(figures):
            record_meter(
                machine=machine, dial_tenths=10 * count, typed=str(count), measure=measure,
                at=story.now - timedelta(days=60 - 14 * visit), by=story.operator(machine.depot),
            )  # fmt: skip
            if not visit:
                add_line(
                    machine=machine, told=told, at=story.now - timedelta(days=59),
                    reason="It wears by how often it is used, not by the hour",
                    by=story.people["marit"],
                )  # fmt: skip


# By number: what is counted, what stood on the counter every other week, and the work by it.
_COUNTED = {
    "HW-101": (
        Measure.LIFTS,
        (4655, 4712, 4766, 4823, 4861),
        LineTold(
            title="Rope, hook and brake, by lifts",
            measure=Measure.LIFTS,
            every_tenths=2200,
            notice_tenths=200,
            minutes=40,
            steps=(
                StepTold(
                    text="Lower the load to the ground, isolate the hoist and lock it off.",
                    caution="A load can come down. Nobody stands below it.",
                ),
                StepTold(text="Look over the rope, the hook and its catch, the whole length."),
                StepTold(text="Put the guards back, then try the brake with a light load."),
            ),
        ),
    ),
    "BR-103": (
        Measure.STARTS,
        (2010, 2083, 2149, 2228, 2296),
        LineTold(
            title="Brushes, switch and lead, by starts",
            measure=Measure.STARTS,
            every_tenths=10_000,
            notice_tenths=500,
            minutes=30,
            steps=(
                StepTold(
                    text="Pull the plug and keep it by you.",
                    caution="It can start by itself when it is plugged in.",
                ),
                StepTold(text="Look over the brushes, the switch and the lead.", opens_guard=True),
                StepTold(text="Close the housing before the plug goes in again."),
            ),
        ),
    ),
}


def _belts_running_out(story: Story) -> None:
    """Two belts of which a fitter's notebook knew more: the next of one is to be ordered now."""
    by = story.people["lukasz"]
    for number, (slot, widths) in _NOTEBOOK.items():
        drive = Drive.objects.get(machine__number=number, kind=Drive.Kind.BELT)
        for visit, width in enumerate(widths):
            at = story.now - timedelta(days=84 - 26 * visit)
            record_width(
                drive=drive, widths=[read(width, WIDTH)], tool="calliper", at=at, by=by,
                received_at=story.now,
            )  # fmt: skip
            if not visit:
                record_slot(
                    drive=drive, out=read(slot, LENGTH), tool="steel rule", tight=True, at=at,
                    by=by, received_at=story.now,
                )  # fmt: skip
    for depot in Depot.objects.order_by("code"):
        rework_belts(depot=depot, at=story.now)
        raise_belt_work(depot=depot, at=story.now)


def _workshop(story: Story, machines: list[Machine]) -> None:
    """The day of one workshop: given out, promised, waited with, back again, to be signed."""
    now = story.now
    boss, fitter, learner = (story.people[name] for name in ("sorcha", "lukasz", "jory"))
    depot = Depot.objects.get(code="qm")
    set_money(
        depot=depot, currency="GBP", foremen_see=True, rate=Decimal("42.00"),
        from_on=(now - timedelta(days=400)).date(), at=now, by=story.people["marit"],
    )  # fmt: skip
    for machine in machines:
        machine.refresh_from_db()
    mine = [
        machine
        for machine in machines
        if machine.depot_id == depot.pk
        and machine.place in (Place.YARD, Place.WORKSHOP)
        and machine.number not in SHOWN
    ]
    waits, again, learned = mine[0], mine[1], mine[2]
    at = now - timedelta(days=9)
    job = _opened(waits, "Clutch drags", at=at, by=fitter)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=at, by=fitter)
    wait_job(
        job=job, waiting_for="part", expected_on=(now - timedelta(days=2)).date(), at=at, by=fitter
    )
    at = now - timedelta(days=20)
    job = _opened(again, "Belt squeals when it starts", at=at, by=fitter)
    _do(story, job, at=at, cause="Belt slack", action="Tension set")
    _opened(again, "Belt squeals when it starts", at=now - timedelta(hours=4), by=boss)
    at = now - timedelta(hours=2)
    job = _opened(learned, "Wheel wobbles", at=at, by=fitter)
    start_job(job=job, confirmed=[key for key, _ in ISOLATED], at=at, by=learner)
    finish_job(
        job=job, symptom="Wheel wobbles", cause="Split pin gone", action="New split pin",
        minutes=40, at=now - timedelta(hours=1), by=learner, parts=(Part(what="Split pin 4 x 40"),),
    )  # fmt: skip
    services = Job.objects.filter(
        machine__depot=depot, state=Job.State.LOOKED_AT, is_safety=True, due_line__isnull=False
    ).order_by("due_on", "pk")
    for nth, job in enumerate(services[:5]):
        day = (now + timedelta(days=nth // 4)).date()
        to = learner if nth == 2 else fitter
        give_out(job=job, to=to, for_day=day, at=now, by=boss)
        if nth == 1:
            promised = now + timedelta(hours=3)
            plan_job(job=job, minutes=None, promised_at=promised, at=now, by=boss)


def _opened(machine: Machine, title: str, *, at: datetime, by: User) -> Job:
    return open_job(machine=machine, kind=Job.Kind.BELT, title=title, symptom=title, at=at, by=by)


def _look_overs(story: Story, machines: list[Machine]) -> None:
    """Most were looked over this week; two wait for it, and two had the whole inspection."""
    told = json.loads((story.folder / "look_overs.json").read_text(encoding="utf-8"))
    for nth, machine in enumerate(machines):
        machine.refresh_from_db()
        if machine.place not in (Place.OUT, Place.YARD):
            continue
        days = 40 if machine.number in told["left"] else 1 + nth % 5
        _look_over(story, machine, at=_before_work(story, days_ago=days))
    for number, note in told["inspected"].items():
        machine = next(each for each in machines if each.number == number)
        at = story.now - timedelta(hours=3)
        _look_over(story, machine, at=at, part=INSPECTION, note=note)


def _places(story: Story, by_number: dict[str, Machine]) -> None:
    """Who has what is out, one machine on the way, one missing, one gone."""
    told = json.loads((story.folder / "stays.json").read_text(encoding="utf-8"))
    now = story.now
    out = Machine.objects.filter(place=Place.OUT).exclude(number__in=told["untold"])
    for nth, machine in enumerate(out.select_related("depot").order_by("number_key")):
        # Back yesterday at the earliest, so that somebody is to be rung this morning.
        since = now - timedelta(days=2 + nth * 7 % 19)
        tell_stay(
            machine=machine, at=since, by=story.desk(machine.depot), plan="visit",
            going=Going(
                site=machine.site, due_back_on=(now + timedelta(days=nth * 5 % 23 - 1)).date(),
                **told["sites"][machine.site],
            ),
        )  # fmt: skip
    sent, missing, gone = (by_number[told[part]["number"]] for part in ("sent", "missing", "gone"))
    at = now - timedelta(minutes=50)
    send(
        machine=sent, to=Depot.objects.get(code=told["sent"]["to"]), by=story.desk(sent.depot),
        went_with=told["sent"]["went_with"], at=at,
    )  # fmt: skip
    report_missing(
        machine=missing, reason=told["missing"]["told"], at=at, by=story.desk(missing.depot)
    )
    jobs = list(Job.objects.open().filter(machine=gone))
    write_off(machine=gone, reason=told["gone"]["told"], jobs=jobs, at=at, by=story.people["marit"])


def _shared_phones(story: Story) -> None:
    """One phone in a site box, and one that was lost in the spring."""
    told, at = _people(story.folder)["phones"], story.now - timedelta(days=200)
    for row in told:
        by, depot = story.people[row["by"]], Depot.objects.get(code=row["depot"])
        _, code = ask_phone(depot=depot, name=row["name"], by=by, at=at)
        phone, _ = enrol(code=code, at=at)
        if row.get("lost"):
            withdraw(phone=phone, by=by, at=at + timedelta(days=40))
        else:
            note_seen(phone, at=story.now - timedelta(minutes=35))


def _wrong_this_morning(by_number: dict[str, Machine]) -> Iterator[tuple[str, str, str]]:
    yield "PC-103", "belt_guard", "Two bolts gone, guard swings"
    yield "MS-101", "cable_plug", "Sheath split at the plug"
    yield "GN-102", "oil", "Below the lower mark"
    yield "MX-202", "stands_level", "One wheel hard to turn"
