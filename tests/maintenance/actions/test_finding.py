"""Finding a fault on a job: isolated first, kept answer by answer, sealed once, then counted."""

import json
from datetime import datetime, timedelta

import pytest

from maintenance.actions.finding import (
    answer_test,
    begin_finding,
    count_reading,
    end_finding,
    find_fault,
    isolate_for,
    run_again,
    take_back,
)
from maintenance.actions.job import ISOLATED, open_job, start_job
from maintenance.actions.reading import record_width
from maintenance.actions.slot import record_slot
from maintenance.actions.work_done import close_job, finish_job
from maintenance.contents.finding import cause_choices, finding_now, judge_turns
from maintenance.models import Finding, FindingStep, Job, RuleSheet, Stop, WidthReading
from make import MONDAY, make_drive, make_kind, make_machine, make_user
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Drive, Machine, Record, Role, User
from plant.units import LENGTH, WIDTH, read

ALL = [key for key, _ in ISOLATED]
LATER = MONDAY + timedelta(minutes=5)
pytestmark = pytest.mark.usefixtures("rule_sheet")


@pytest.fixture
def machine(depot: Depot) -> Machine:
    return make_machine(depot, "MX-203", kind=make_kind(belt_driven=True))


@pytest.fixture
def job(machine: Machine, fitter: User) -> Job:
    return open_job(machine=machine, kind=Job.Kind.BELT, title="Drum stands", at=MONDAY, by=fitter)


@pytest.fixture
def finding(job: Job, fitter: User) -> Finding:
    return begin_finding(job=job, symptom="no_turn", at=MONDAY, by=fitter)


def tell(finding: Finding, by: User, minute: int = 1, **answers: str) -> None:
    for test, answer in answers.items():
        answer_test(
            finding=finding, test=test, answer=answer, at=MONDAY + timedelta(minutes=minute), by=by
        )


def fresh(finding: Finding) -> Finding:
    return Finding.objects.select_related(
        "sheet", "job__machine__depot", "job__machine__kind", "record"
    ).get(pk=finding.pk)


def closed_with(machine: Machine, cause: str, by: User, count: int = 1) -> None:
    for _ in range(count):
        Job.objects.create(
            machine=machine, kind=Job.Kind.FAULT, title="x", state=Job.State.CLOSED,
            opened_at=MONDAY, closed_at=MONDAY, symptom_key="no_turn", cause_key=cause,
        )  # fmt: skip


def test_what_opens_a_guard_is_not_answered_before_the_machine_is_isolated(
    finding: Finding, fitter: User
) -> None:
    with pytest.raises(Refused, match="Isolate"):
        tell(finding, fitter, look_belt="gone")
    with pytest.raises(Refused, match="Not confirmed"):
        isolate_for(finding=finding, confirmed=ALL[:-1], at=MONDAY, by=fitter)

    isolate_for(finding=finding, confirmed=ALL, at=MONDAY, by=fitter)
    tell(finding, fitter, look_belt="gone")

    job = Job.objects.get(pk=finding.job_id)
    assert (job.state, job.isolated_by, job.isolated_at) == (Job.State.UNDER_WAY, fitter, MONDAY)
    assert finding_now(fresh(finding), at=LATER).cause == "Belt broken or off its pulleys"


def test_what_runs_is_refused_while_isolated_and_running_again_ends_the_isolation(
    finding: Finding, fitter: User
) -> None:
    isolate_for(finding=finding, confirmed=ALL, at=MONDAY, by=fitter)
    with pytest.raises(Refused, match="guards back"):
        tell(finding, fitter, listen="squeal")
    with pytest.raises(Refused, match="guards are back"):
        run_again(finding=finding, confirmed=False, at=MONDAY, by=fitter)

    run_again(finding=finding, confirmed=True, at=MONDAY, by=fitter)
    tell(finding, fitter, listen="squeal")

    with pytest.raises(Refused, match="Isolate"):
        tell(finding, fitter, look_belt="worn")


def test_who_isolated_it_says_when_the_guards_are_back_however_long_ago_that_was(
    finding: Finding, fitter: User, foreman: User
) -> None:
    isolate_for(finding=finding, confirmed=ALL, at=MONDAY, by=fitter)
    next_day = MONDAY + timedelta(hours=20)
    with pytest.raises(Refused, match="guards back"):
        answer_test(finding=finding, test="listen", answer="squeal", at=next_day, by=foreman)
    assert all(each.test.way != "running" for each in finding_now(fresh(finding), at=next_day).best)
    with pytest.raises(Refused, match="Finn Fitter isolated it"):
        run_again(finding=finding, confirmed=True, at=next_day, by=foreman)

    isolate_for(finding=finding, confirmed=ALL, at=next_day, by=foreman)
    run_again(finding=finding, confirmed=True, at=next_day, by=foreman)


def test_nothing_is_sealed_that_did_not_stand_on_the_button(finding: Finding, fitter: User) -> None:
    with pytest.raises(Refused, match="looks different now"):
        end_finding(finding=finding, at=MONDAY, by=fitter, shown="belt_worn")
    assert end_finding(finding=finding, at=MONDAY, by=fitter, shown="").kind == "finding"


def test_nothing_is_run_while_what_protects_people_is_at_fault(
    finding: Finding, fitter: User, machine: Machine, job: Job
) -> None:
    record = end_finding(finding=finding, at=MONDAY, by=fitter)
    Stop.objects.create(
        machine=machine, kind=Stop.Kind.STOP, words="Guard gone", always=True, since=MONDAY,
        record=record,
    )  # fmt: skip
    again = begin_finding(job=job, symptom="no_turn", at=MONDAY, by=fitter)

    with pytest.raises(Refused, match="Do not start it: Guard gone"):
        tell(again, fitter, listen="squeal")
    best = finding_now(fresh(again), at=LATER).best
    assert best
    assert all(each.test.way != "running" for each in best)


def test_nothing_is_run_while_somebody_has_it_isolated_for_another_job(
    finding: Finding, fitter: User, foreman: User, machine: Machine
) -> None:
    other = open_job(machine=machine, kind=Job.Kind.SERVICE, title="x", at=MONDAY, by=foreman)
    start_job(job=other, confirmed=ALL, at=MONDAY, by=foreman)

    with pytest.raises(Refused, match="Freya Foreman has it isolated for J-"):
        tell(finding, fitter, listen="squeal")
    isolate_for(finding=finding, confirmed=ALL, at=MONDAY, by=fitter)
    with pytest.raises(Refused, match="has it isolated"):
        run_again(finding=finding, confirmed=True, at=LATER, by=fitter)


def test_two_fitters_lose_nothing_and_the_same_press_twice_adds_nothing(
    finding: Finding, fitter: User, depot: Depot
) -> None:
    second = make_user("Sam Second", (depot, Role.FITTER))
    tell(finding, fitter, listen="rattle")
    tell(finding, fitter, listen="rattle")
    with pytest.raises(Refused, match="Finn Fitter answered this: A knock"):
        tell(finding, second, listen="squeal")

    row = FindingStep.objects.get(finding=finding)
    take_back(finding=finding, step=row.pk, at=LATER, by=second)
    take_back(finding=finding, step=row.pk, at=LATER, by=second)
    tell(finding, second, 6, listen="squeal")

    record = end_finding(finding=finding, at=LATER, by=second)
    steps = json.loads(record.content)["data"]["steps"]
    assert [(s["answer"], s["taken_back"], s["account"]) for s in steps] == [
        ("rattle", True, str(fitter.pk)), ("squeal", False, str(second.pk))
    ]  # fmt: skip
    assert steps[0]["caution"].startswith("Moving parts pull in.")


def test_one_that_tells_the_same_counts_once_and_could_not_tell_lets_the_other_in(
    finding: Finding, fitter: User, machine: Machine
) -> None:
    make_drive(machine)
    isolate_for(finding=finding, confirmed=ALL, at=MONDAY, by=fitter)
    tell(finding, fitter, press_belt="slack")

    with pytest.raises(Refused, match="tells the same"):
        tell(finding, fitter, tension="slack")
    tell(finding, fitter, tension="could not tell")


def test_it_is_sealed_once_with_odds_that_add_up_and_the_cause_goes_to_the_job(
    finding: Finding, fitter: User, foreman: User, job: Job
) -> None:
    number = new_id()
    isolate_for(finding=finding, confirmed=ALL, at=MONDAY, by=fitter)
    tell(finding, fitter, look_belt="gone", press_belt="none")

    record = end_finding(finding=finding, at=LATER, by=fitter, record_id=number)
    assert end_finding(finding=finding, at=LATER, by=fitter, record_id=number) == record
    with pytest.raises(Refused, match="sealed"):
        end_finding(finding=finding, at=LATER, by=foreman, record_id=new_id())
    with pytest.raises(Refused, match="sealed"):
        tell(finding, fitter, listen="squeal")

    data = json.loads(record.content)["data"]
    assert (data["cause_key"], data["ended_in"]) == ("belt_gone", "Belt broken or off its pulleys")
    assert sum(map(float, data["odds"].values())) == pytest.approx(1, abs=1e-3)
    assert data["steps"][0]["kind"] == "isolated"
    assert data["sheet"] == str(finding.sheet)
    groups, found = cause_choices(job, on=MONDAY.date())
    assert [name for name, _ in groups] == ["Motor runs, driven part does not turn"]
    assert found == "no_turn/belt_gone"


def test_what_isolating_shuts_off_is_not_asked_of_an_isolated_machine(
    depot: Depot, fitter: User, foreman: User
) -> None:
    kind = make_kind("breaker_air", belt_driven=False)
    breaker = make_machine(depot, "BR-1", kind=kind, supply="air")
    first, second = (
        open_job(machine=breaker, kind=Job.Kind.FAULT, title="Dead", at=MONDAY, by=fitter)
        for _ in range(2)
    )
    finding = begin_finding(job=first, symptom="no_start", at=MONDAY, by=fitter)

    def best(at: datetime = LATER) -> set[str]:
        return {each.test.key for each in finding_now(fresh(finding), at=at).best}

    assert {"air_tap", "air_gauge", "air_hiss"} <= best()
    # Isolated for another job, its tap is shut just the same.
    start_job(job=second, confirmed=ALL, at=MONDAY, by=foreman)
    assert not {"air_tap", "air_gauge", "air_hiss"} & best()
    with pytest.raises(Refused, match="tells nothing of the fault"):
        tell(finding, fitter, air_tap="shut")
    Job.objects.filter(pk=second.pk).update(isolated_at=None, isolated_by=None)
    isolate_for(finding=finding, confirmed=ALL, at=MONDAY, by=fitter)
    # Nor after the twelve hours, while nobody has said that the guards are back.
    for at in (LATER, MONDAY + timedelta(hours=13)):
        assert not {"air_tap", "air_gauge", "air_hiss"} & best(at)
        with pytest.raises(Refused, match="tells nothing of the fault"):
            answer_test(finding=finding, test="air_tap", answer="shut", at=at, by=fitter)
    assert finding_now(fresh(finding), at=LATER).after_run

    run_again(finding=finding, confirmed=True, at=LATER, by=fitter)
    tell(finding, fitter, minute=6, air_tap="shut")

    now = finding_now(fresh(finding), at=LATER)
    assert now.cause == "Air shut off: tap, hose or coupling"


@pytest.mark.parametrize(("listed", "kept"), [("no_turn/gear", "gear"), ("", "other")])
def test_a_closed_job_counts_under_the_cause_that_the_fitter_chose(
    finding: Finding, fitter: User, foreman: User, job: Job, listed: str, kept: str
) -> None:
    end_finding(finding=finding, at=MONDAY, by=fitter)
    start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)
    finish_job(
        job=job, symptom="Stands", cause="" if listed else "A stone", action="Changed",
        minutes=30, listed=listed, at=LATER, by=fitter,
    )  # fmt: skip
    close_job(job=job, at=LATER, by=foreman)

    job.refresh_from_db()
    assert (job.symptom_key, job.cause_key) == ("no_turn", kept)
    assert job.cause == ("Gear or pinion worn or broken" if listed else "A stone")


def test_a_job_without_a_finding_counts_only_where_a_cause_of_the_list_is_chosen(
    job: Job, fitter: User
) -> None:
    start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)
    with pytest.raises(Refused, match="of this list"):
        finish_job(
            job=job, symptom="s", cause="c", action="a", minutes=1, listed="no_turn/clutch",
            at=LATER, by=fitter,
        )  # fmt: skip

    finish_job(job=job, symptom="s", cause="c", action="a", minutes=1, at=LATER, by=fitter)

    job.refresh_from_db()
    assert (job.symptom_key, job.cause_key) == ("", "")


def test_from_twenty_closed_jobs_of_the_kind_here_the_depots_own_odds_count(
    depot: Depot, other_depot: Depot, machine: Machine, job: Job, fitter: User
) -> None:
    closed_with(machine, "gear", fitter, 19)
    closed_with(make_machine(other_depot), "gear", fitter)
    closed_with(make_machine(depot, kind=make_kind("compactor")), "gear", fitter)
    before = begin_finding(job=job, symptom="no_turn", at=MONDAY, by=fitter)
    told = finding_now(fresh(before), at=MONDAY).started_from
    end_finding(finding=before, at=MONDAY, by=fitter)

    closed_with(machine, "gear", fitter)
    after = begin_finding(job=job, symptom="no_turn", at=MONDAY, by=fitter)

    assert (before.start_jobs, before.start["gear"]) == (0, pytest.approx(0.10))
    assert told == "Starting odds, common practice, no source"
    # (10 x 0.10 + 20) / (10 + 20), see the rule's test.
    assert (after.start_jobs, after.start["gear"]) == (20, pytest.approx(0.7))
    assert finding_now(fresh(after), at=MONDAY).started_from == (
        "Odds from 20 closed jobs of this depot"
    )


def test_a_reading_taken_meanwhile_answers_its_test_by_itself_and_can_be_left_out(
    finding: Finding, fitter: User, machine: Machine
) -> None:
    drive = make_drive(machine, belt_fitted_on=MONDAY.date() - timedelta(days=90))
    record_width(
        drive=drive, widths=[read("8.0", WIDTH)], tool="calliper", at=MONDAY - timedelta(days=1),
        by=fitter,
    )  # fmt: skip
    assert finding_now(fresh(finding), at=LATER).given == ()

    reading = record_width(
        drive=drive, widths=[read("8.0", WIDTH)], tool="calliper", at=LATER, by=fitter
    )

    given = finding_now(fresh(finding), at=LATER).given
    assert [(g.test.key, g.answer, g.reading) for g in given] == [("width", "worn", reading.record)]
    answer_test(finding=finding, test="width", answer="could not tell", at=LATER, by=fitter)
    record_slot(
        drive=drive, out=read("0.5", LENGTH), tool="steel rule", tight=True, by=fitter,
        at=LATER + timedelta(minutes=1),
    )  # fmt: skip
    assert [(g.test.key, g.answer) for g in finding_now(fresh(finding), at=LATER).given] == [
        ("width", "could not tell"), ("slot", "end")
    ]  # fmt: skip
    # Room that is left is an answer too, and a belt said to be slack there is one to the tension.
    record_slot(
        drive=drive, out=read("4.5", LENGTH), tool="steel rule", tight=False, by=fitter,
        at=LATER + timedelta(minutes=2),
    )  # fmt: skip
    assert [(g.test.key, g.answer) for g in finding_now(fresh(finding), at=LATER).given] == [
        ("width", "could not tell"), ("tension", "slack"), ("slot", "room")
    ]  # fmt: skip
    record_slot(
        drive=drive, out=read("4.5", LENGTH), tool="steel rule", tight=True, by=fitter,
        at=LATER + timedelta(minutes=3),
    )  # fmt: skip
    assert ("tension", "right") not in [
        (g.test.key, g.answer) for g in finding_now(fresh(finding), at=LATER).given
    ]


def test_begun_from_the_machine_twice_it_is_one_job(machine: Machine, fitter: User) -> None:
    first = find_fault(machine=machine, symptom="noise", job=None, at=MONDAY, by=fitter)
    again = find_fault(machine=machine, symptom="noise", job=None, at=LATER, by=fitter)

    assert first == again
    assert (first.title, Finding.objects.get().symptom) == ("Noise, smell or squeal", "noise")
    with pytest.raises(Refused, match="End that first"):
        begin_finding(job=first, symptom="weak", at=LATER, by=fitter)


def test_an_old_rule_sheet_has_no_symptoms(job: Job, fitter: User, rule_sheet: RuleSheet) -> None:
    rule_sheet.content.pop("finding")
    rule_sheet.save()

    with pytest.raises(Refused, match="Choose one"):
        begin_finding(job=job, symptom="no_turn", at=MONDAY, by=fitter)


def test_counted_turns_are_judged_by_the_pulleys_and_the_gears(machine: Machine) -> None:
    # By hand: 1400 rpm x 80 / 180 / (60 / 12) = 124.4 turns a minute without slip; 100 are 19.6 %
    # fewer, 114 are 8.4 % fewer, 123 are 1.2 % fewer.
    drive = make_drive(machine)
    Drive.objects.create(
        machine=machine, kind=Drive.Kind.GEAR, stage=2, name="Ring", teeth_in=12, teeth_out=60
    )
    verdicts = {
        turns: judge_turns(drive, turns=turns, seconds=60, at=MONDAY) for turns in (100, 114, 123)
    }

    assert [verdict for verdict, _ in verdicts.values()] == ["very slow", "slow", "right"]
    assert "slip 19.6" in verdicts[100][1]
    assert judge_turns(drive, turns=20, seconds=10, at=MONDAY)[0] == ""


def test_a_sealed_finding_stands_in_the_chain_under_its_own_kind(
    finding: Finding, fitter: User
) -> None:
    record = end_finding(finding=finding, at=LATER, by=fitter)

    assert record.kind == Record.Kind.FINDING
    assert json.loads(record.content)["data"]["ended_in"] == "not certain"


def test_a_reading_of_the_same_visit_answers_only_once_the_fitter_counts_it(
    finding: Finding, fitter: User, foreman: User, machine: Machine
) -> None:
    drive = make_drive(machine, belt_fitted_on=MONDAY.date() - timedelta(days=90))

    def width(figure: str, **before: float) -> WidthReading:
        return record_width(
            drive=drive, widths=[read(figure, WIDTH)], tool="calliper", by=fitter,
            at=MONDAY - timedelta(**before),
        )  # fmt: skip

    width("8.0", hours=5)
    assert finding_now(fresh(finding), at=LATER).offers == ()
    with pytest.raises(Refused, match="No reading of this visit"):
        count_reading(finding=finding, test="width", at=LATER, by=fitter)
    taken = width("8.1", hours=1, minutes=10)
    now = finding_now(fresh(finding), at=LATER)
    assert ([(o.test.key, o.answer, o.age) for o in now.offers], now.given) == (
        [("width", "worn", "read 1 h 10 min before this finding began")], (),
    )  # fmt: skip

    # Two phones at once: it counts once, for both, and can be taken back.
    for by in (fitter, foreman):
        step = count_reading(finding=finding, test="width", at=LATER, by=by)
    now = finding_now(fresh(finding), at=LATER)
    assert [(g.answer, g.reading, g.step) for g in now.given] == [("worn", taken.record, step)]
    assert now.offers == ()
    take_back(finding=finding, step=step.pk, at=LATER, by=fitter)
    assert finding_now(fresh(finding), at=LATER).given == ()
    count_reading(finding=finding, test="width", at=LATER, by=fitter)
    sealed = json.loads(end_finding(finding=finding, at=LATER, by=fitter).content)["data"]["steps"]
    assert [each["kind"] for each in sealed] == ["reading", "earlier", "earlier"]
    assert sealed[0]["figures"].endswith("read 1 h 10 min before this finding began")

    # What was read of the belt before the one that is on tells nothing of this one.
    again = begin_finding(job=finding.job, symptom="no_turn", at=LATER, by=fitter)
    assert finding_now(fresh(again), at=LATER).offers != ()
    Drive.objects.filter(pk=drive.pk).update(
        belt_fitted_on=LATER.date(), entries={"belt_fitted_on": {"told": MONDAY.isoformat()}}
    )
    assert finding_now(fresh(again), at=LATER).offers == ()
