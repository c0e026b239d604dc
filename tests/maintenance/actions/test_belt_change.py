"""A belt changed at the machine: one sealed fitting, its looks, two fitters, mistakes."""

import json
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from maintenance.actions.belt_change import (
    FirstSetting,
    OldBelt,
    correct_fitting,
    fit_belt,
    keep_step,
)
from maintenance.actions.belt_life import raise_belt_work
from maintenance.actions.belt_order import order_belt
from maintenance.actions.belt_record import Correction, take_out
from maintenance.actions.cost import set_money
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.meter import record_meter
from maintenance.actions.new_belt import NewBelt
from maintenance.actions.rack import add_place, receive, save_part, set_price
from maintenance.actions.reading import Questioned, record_tension, record_width
from maintenance.contents.cost import job_cost
from maintenance.contents.drive import drive_now, last_width
from maintenance.contents.rack import stock_of
from maintenance.models import (
    BeltDraft,
    BeltFitting,
    BeltLook,
    Cost,
    Job,
    Labour,
    PartOrder,
    StockMove,
    TensionReading,
)
from make import MONDAY, make_drive, make_user
from plant import units
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.contents.drive import FIELDS
from plant.models import Drive, Machine, Record, Role, User
from plant.units import FORCE, WIDTH, Typed

AT = MONDAY + timedelta(hours=2)
FORCE_METHOD = TensionReading.Method.FORCE


def mm(text: str) -> Typed:
    return units.read(text, WIDTH)


@pytest.fixture
def drive(machine: Machine) -> Drive:
    entries = {
        name: {"typed": "", "mark": "measured", "tool": ""}
        for name in FIELDS
        if name not in ("belt_new_width_m", "motor_power_w", "motor_speed_rpm")
    }
    return make_drive(machine, entries=entries)


@pytest.fixture
def job(drive: Drive, fitter: User) -> Job:
    """A belt job under way, isolated by the fitter."""
    made = open_job(
        machine=drive.machine, kind=Job.Kind.BELT, title="Change the belt", at=MONDAY, by=fitter
    )
    return start_job(job=made, confirmed=[key for key, _ in ISOLATED], at=MONDAY, by=fitter)


OLD = OldBelt(at=MONDAY + timedelta(hours=1), width=mm("10.9"), tool="calliper")
NEW = NewBelt(mark="13A690", width=mm("13.1"), tool="calliper", taken_from="rack 2", motor_in=True)


def wanted(drive: Drive, at: datetime) -> tuple[float, float]:
    """The band of force [N] of the belt as it stands."""
    drive = Drive.objects.select_related("machine__depot").get(pk=drive.pk)
    part = drive_now(drive, at=at).workout
    assert part is not None
    assert part.tension is not None
    band = part.tension.this_belt or part.tension.new_belt
    assert band.force_low is not None
    assert band.force_high is not None
    return band.force_low, band.force_high


SET = FirstSetting(
    figure=units.read("9 N", FORCE), tool="spring gauge", guards_on=True, confirmed=True
)


def fit(job: Job, drive: Drive, by: User, **more: Any) -> BeltFitting:
    given: dict[str, Any] = {"old": OLD, "new": NEW, "setting": SET, "at": AT}
    return fit_belt(job=job, drive=drive, by=by, **given | more)


def test_the_fitting_is_one_sealed_record_with_all_of_it_and_the_drive_has_the_new_belt(
    job: Job, drive: Drive, fitter: User
) -> None:
    key = new_id()

    fitting = fit(job, drive, fitter, record_id=key)
    again = fit(job, drive, fitter, record_id=key)

    assert again == fitting
    told = json.loads(fitting.record.content)["data"]
    assert (told["mark"], told["job"], told["guards_on"]) == ("13A690", job.number, True)
    assert told["old"]["width"] == {"typed": "10.9", "si": "0.0109", "unit": "m"}
    assert told["isolated_by"] == str(fitter.pk)
    width = Record.objects.get(pk=told["old_width"])
    tension = Record.objects.get(pk=told["tension"])
    assert (width.kind, tension.kind) == (Record.Kind.WIDTH, Record.Kind.TENSION)
    drive.refresh_from_db()
    assert (drive.belt_mark, drive.belt_new_width_m) == ("13A690", 0.0131)
    assert drive.belt_fitted_on == AT.date()
    drive.machine.refresh_from_db()
    # The old belt's last width is no reading of the new one.
    assert last_width(drive) is None
    assert TensionReading.objects.get().stage == "new"
    job.refresh_from_db()
    assert job.is_safety
    assert [part.what for part in job.parts.all()] == ["Belt 13A690"]
    # The old belt was to be changed, but that is what is being done: no second job.
    assert not Job.objects.open().exclude(pk=job.pk).exists()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"old": replace(OLD, width=None)}, "width_1"),
        ({"new": replace(NEW, motor_in=False)}, "motor_in"),
        ({"setting": replace(SET, guards_on=False)}, "guards_on"),
        ({"setting": replace(SET, figure=None)}, "force"),
        ({"new": replace(NEW, mark="A12")}, "mark"),
    ],
)
def test_a_change_that_is_not_whole_seals_nothing(
    job: Job, drive: Drive, fitter: User, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        fit(job, drive, fitter, **change)

    assert refused.value.field == field
    assert not BeltFitting.objects.exists()
    assert not Record.objects.filter(kind=Record.Kind.WIDTH).exists()


def test_nothing_is_fitted_before_the_machine_is_isolated(drive: Drive, fitter: User) -> None:
    made = open_job(machine=drive.machine, kind=Job.Kind.BELT, title="Belt", at=MONDAY, by=fitter)

    with pytest.raises(Refused, match="isolate"):
        fit(made, drive, fitter)


def test_belts_that_run_side_by_side_are_changed_together(
    job: Job, drive: Drive, fitter: User
) -> None:
    Drive.objects.update(belts=3)

    with pytest.raises(Refused, match="Change all 3 belts together"):
        fit(job, drive, fitter)
    fit(job, drive, fitter, new=replace(NEW, together=True))
    assert job.parts.get().quantity == 3


def test_an_odd_new_belt_is_questioned_and_taken_when_looked_at_again(
    job: Job, drive: Drive, fitter: User
) -> None:
    for new in (replace(NEW, width=mm("11.0")), replace(NEW, mark="B26")):
        with pytest.raises(Questioned):
            fit(job, drive, fitter, new=new)

    assert fit(job, drive, fitter, new=replace(NEW, width=mm("11.0"), sure=True)).width_m == 0.011


def test_the_belt_is_taken_from_stock_in_the_same_act_once(
    job: Job, drive: Drive, fitter: User, manager: User
) -> None:
    depot = drive.machine.depot
    part = save_part(depot=depot, name="A26", is_belt=True, at=MONDAY, by=manager)
    place = add_place(depot=depot, name="Rack 1", kind="rack", by=manager)
    receive(part=part, place=place, quantity=2, on=MONDAY.date(), at=MONDAY, by=fitter)
    key = new_id()

    for _ in range(2):
        fit(job, drive, fitter, new=replace(NEW, part=part, place=place), record_id=key)

    assert sum(StockMove.objects.values_list("change", flat=True)) == 1
    assert job.parts.get().quantity == 1


def test_two_fitters_on_one_change_see_what_the_other_wrote_and_lose_nothing(
    job: Job, drive: Drive, fitter: User
) -> None:
    other = make_user("Olu Other", (drive.machine.depot, Role.FITTER))
    typed = {"width_1": "10.9", "tool": "calliper"}
    keep_step(job=job, drive=drive, step="old", typed=typed, seen="", at=MONDAY, by=fitter)

    theirs = typed | {"width_1": "11.0"}
    with pytest.raises(Refused, match="Finn Fitter saved this step meanwhile"):
        keep_step(job=job, drive=drive, step="old", typed=theirs, seen="", at=AT, by=other)
    seen = BeltDraft.objects.get().steps["old"]["at"]
    keep_step(job=job, drive=drive, step="old", typed=theirs, seen=seen, at=AT, by=other)

    draft = BeltDraft.objects.get()
    assert draft.steps["old"]["typed"]["width_1"] == "11.0"
    assert [(each["by"], each["typed"]["width_1"]) for each in draft.replaced] == [
        ("Finn Fitter", "10.9")
    ]
    fit(job, drive, fitter)
    with pytest.raises(Refused, match="Finn Fitter sealed this change already"):
        fit(job, drive, other)


def run_to(drive: Drive, hours: float, at: datetime, by: User) -> None:
    record_meter(
        machine=drive.machine, dial_tenths=round(hours * 10), typed=f"{hours}", at=at, by=by
    )


def read(drive: Drive, at: datetime, by: User, force: float) -> TensionReading:
    return record_tension(
        drive=drive, method=FORCE_METHOD, figure=units.read(f"{force:.2f} N", FORCE),
        tool="spring gauge", at=at, by=by, confirmed=True,
    )  # fmt: skip


def test_looks_at_a_new_belt_are_raised_by_its_hours_once_and_closed_by_a_reading_in_band(
    job: Job, drive: Drive, fitter: User
) -> None:
    depot = drive.machine.depot
    fit(job, drive, fitter)
    job.state = Job.State.CLOSED
    job.save()
    looks = Job.objects.filter(drive=drive).exclude(belt_work="").order_by("belt_work")
    # The fitting's own reading lies before the window: it closes nothing.
    assert raise_belt_work(depot=depot, at=AT) == 0

    day = AT + timedelta(days=1)
    run_to(drive, 106.0, day, fitter)
    assert [raise_belt_work(depot=depot, at=day) for _ in range(2)] == [1, 0]
    low, high = wanted(drive, day)
    slack = read(drive, day + timedelta(minutes=1), fitter, low * 0.5)
    assert (slack.verdict, slack.stage) == ("under", "run-in")
    assert looks.get().state == Job.State.LOOKED_AT
    closes = read(drive, day + timedelta(minutes=9), fitter, (low + high) / 2)
    assert looks.get().state == Job.State.CLOSED
    take_out(
        reading=closes, kind=Record.Kind.TENSION, reason="It was the other mixer.",
        at=day + timedelta(minutes=10), by=fitter,
    )  # fmt: skip
    assert looks.get().state == Job.State.LOOKED_AT
    read(drive, day + timedelta(minutes=11), fitter, (low + high) / 2)
    assert looks.get().state == Job.State.CLOSED
    assert BeltLook.objects.get(number=1).said == "in time"

    late = AT + timedelta(days=4)
    run_to(drive, 152.0, late, fitter)
    assert raise_belt_work(depot=depot, at=late) == 1
    read(drive, late + timedelta(minutes=1), fitter, (low + high) / 2)
    second = BeltLook.objects.get(number=2)
    assert (second.said, second.reading is not None) == ("late", True)
    assert not looks.open().exists()


def test_a_look_that_somebody_closed_by_his_work_is_raised_anew_when_its_reading_goes(
    job: Job, drive: Drive, fitter: User
) -> None:
    """What he did stays as it was done; the look has nothing to stand on any more."""
    depot = drive.machine.depot
    fit(job, drive, fitter)
    day = AT + timedelta(days=1)
    run_to(drive, 106.0, day, fitter)
    assert raise_belt_work(depot=depot, at=day) == 1
    first = Job.objects.get(belt_work="look 1")
    low, high = wanted(drive, day)
    Job.objects.filter(pk=first.pk).update(state=Job.State.UNDER_WAY)
    good = read(drive, day + timedelta(minutes=5), fitter, (low + high) / 2)
    Labour.objects.create(job=first, person=fitter, minutes=20, record=good.record)
    Job.objects.filter(pk=first.pk).update(state=Job.State.CLOSED, cause="Bedded in")

    record_tension(
        drive=drive, method=FORCE_METHOD, figure=units.read(f"{low * 0.5:.2f} N", FORCE),
        tool="spring gauge", at=day + timedelta(hours=1), by=fitter, confirmed=True,
        correction=Correction(of=good, reason="Read from the wrong scale."),
    )  # fmt: skip

    at = day + timedelta(hours=2)
    assert [raise_belt_work(depot=depot, at=at) for _ in range(2)] == [1, 0]
    first.refresh_from_db()
    assert (first.state, first.cause, first.labour.count()) == ("closed", "Bedded in", 1)
    again = Job.objects.get(belt_work="look 1")
    assert (again.state, again.drive) == ("looked at", drive)
    assert again.pk != first.pk
    read(drive, at, fitter, (low + high) / 2)
    again.refresh_from_db()
    assert again.state == Job.State.CLOSED


def test_a_look_closed_by_hand_without_a_reading_is_not_asked_for_again(
    job: Job, drive: Drive, fitter: User
) -> None:
    fitting = fit(job, drive, fitter)
    day = AT + timedelta(days=1)
    run_to(drive, 106.0, day, fitter)
    raise_belt_work(depot=drive.machine.depot, at=day)
    look = Job.objects.get(belt_work="look 1")
    Labour.objects.create(job=look, person=fitter, minutes=20, record=fitting.record)
    Job.objects.filter(pk=look.pk).update(state=Job.State.CLOSED)

    run_to(drive, 107.0, day + timedelta(hours=1), fitter)

    assert raise_belt_work(depot=drive.machine.depot, at=day + timedelta(hours=1)) == 0


def test_a_fitting_taken_back_gives_the_belt_back_and_costs_the_job_nothing(
    job: Job, drive: Drive, fitter: User, manager: User
) -> None:
    depot = drive.machine.depot
    part = save_part(depot=depot, name="A26", is_belt=True, at=MONDAY, by=manager)
    place = add_place(depot=depot, name="Rack 1", kind="rack", by=manager)
    receive(part=part, place=place, quantity=2, on=MONDAY.date(), at=MONDAY, by=fitter)
    set_money(
        depot=depot, currency="GBP", foremen_see=False, rate=None, from_on=None, at=MONDAY,
        by=manager,
    )  # fmt: skip
    set_price(part=part, price=Decimal("8.40"), by=manager)
    fitting = fit(job, drive, fitter, new=replace(NEW, mark="A27", part=part, place=place))
    later, key = AT + timedelta(hours=1), new_id()
    # A mark put right first: the belt from the rack stays the one that was taken.
    correct_fitting(
        fitting=fitting, new=NEW, reason="A six read as a seven.", at=later, by=fitter
    )  # fmt: skip
    assert stock_of([part], on=AT.date())[part.pk].total == 1

    again = BeltFitting.objects.counting().get()
    for _ in range(2):  # sent twice: once
        correct_fitting(
            fitting=again, reason="It was the other mixer.", at=later, by=fitter, record_id=key
        )  # fmt: skip

    assert stock_of([part], on=AT.date())[part.pk].total == 2
    used = job.parts.get()
    assert (used.quantity, used.returned) == (1, 1)
    assert [move.kind for move in used.stock_moves.order_by("pk")] == ["taken", "returned"]
    cost = Cost.objects.get()
    assert (cost.amount, cost.struck_at, cost.struck_by) == (Decimal("8.40"), later, fitter)
    assert job_cost(job).total == {}


def test_a_fitting_told_by_mistake_is_taken_back_and_the_first_word_stays(
    job: Job, drive: Drive, fitter: User
) -> None:
    before = {name: getattr(drive, name) for name in ("belt_mark", "belt_fitted_on", "section")}
    record_width(drive=drive, widths=[mm("12.4")], tool="calliper", at=MONDAY, by=fitter)
    fitting = fit(job, drive, fitter, old=replace(OLD, width=None, because="torn"))

    record = correct_fitting(
        fitting=fitting, reason="It was the other mixer.", at=AT + timedelta(hours=1), by=fitter
    )

    assert record.corrects == fitting.record
    drive = Drive.objects.select_related("machine__depot").get(pk=drive.pk)
    assert {name: getattr(drive, name) for name in before} == before
    found = last_width(drive)
    assert found is not None
    assert found.width_m == pytest.approx(0.0124)
    assert not BeltLook.objects.exists()
    assert not BeltFitting.objects.counting().exists()
    assert [(each.what, each.kept) for each in job.parts.all()] == [("Belt 13A690", 0)]


def test_a_mark_misread_is_corrected_and_the_belt_stays_the_same_one(
    job: Job, drive: Drive, fitter: User
) -> None:
    fitting = fit(job, drive, fitter, new=replace(NEW, mark="A27"))

    correct_fitting(
        fitting=fitting, new=NEW, reason="A nought read as a one.", at=AT + timedelta(hours=1),
        by=fitter,
    )  # fmt: skip

    drive.refresh_from_db()
    assert (drive.belt_mark, drive.belt_datum_m) == ("13A690", pytest.approx(0.690))
    assert TensionReading.objects.count() == 1
    assert BeltLook.objects.count() == 2
    assert [each.mark for each in BeltFitting.objects.counting()] == ["13A690"]
    told = [(each.what, each.kept, each.taken_from) for each in job.parts.order_by("pk")]
    assert told == [("Belt A27", 0, "rack 2"), ("Belt 13A690", 1, "rack 2")]


def test_an_order_is_sealed_closes_its_job_and_stands_with_the_part(
    drive: Drive, fitter: User, manager: User
) -> None:
    depot = drive.machine.depot
    save_part(depot=depot, name="A26", is_belt=True, at=MONDAY, by=manager, lead_days=5)
    job = Job.objects.create(
        machine=drive.machine, drive=drive, kind=Job.Kind.ORDER, belt_work="order", title="Order",
        opened_at=MONDAY,
    )  # fmt: skip
    key = new_id()

    for _ in range(2):
        order_belt(
            job=job, lies_here=False, ordered_from="Counter", at=AT, by=fitter, record_id=key,
            expected_on=AT.date() + timedelta(days=5),
        )  # fmt: skip

    job.refresh_from_db()
    assert (job.state, job.action) == ("closed", "Ordered from Counter, expected 7 Mar 2026.")
    assert PartOrder.objects.get().quantity == 1
    with pytest.raises(Refused, match="closed already"):
        order_belt(job=job, lies_here=True, at=AT, by=fitter)
