"""A finding as it stands: the odds, the test to do next, what was answered, and what ended it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import pi, sqrt

from django.db.models import Count
from django.utils.translation import gettext

from maintenance.contents.drive import VISIT, drive_now
from maintenance.models import (
    AlignmentReading,
    Finding,
    FindingStep,
    Job,
    PulleyReading,
    RuleSheet,
    SlotReading,
    TensionReading,
    WidthReading,
)
from maintenance.models.reading import BeltReading
from maintenance.rules import finding as rule
from maintenance.rules.finding_sheet import NONE, FindingList, Kind
from maintenance.rules.sheet import cited
from plant.contents.drive import fitted_since
from plant.drawings.odds_bars import Odds, odds_bars
from plant.drawings.svg import to_svg
from plant.drives import driven
from plant.drives.doubt import Doubtful
from plant.drives.errors import DriveError
from plant.models import Drive, Machine, Record

# Slip from which a driven part is a little slower, and much slower; and the standard uncertainty up
# to which a count tells it (our own figures).
LITTLE_SLIP, MUCH_SLIP, MOST_U = 0.05, 0.15, 0.025
# Under its usual load a motor runs within so much of its plate (common practice, no source).
PLATE_SHARE = 0.02
# [turns/min] Faster than this nobody counts by eye (our own figure); a drive whose data end before
# the drum comes out faster.
COUNTABLE_RPM = 120.0
_READINGS: dict[str, tuple[type[BeltReading], ...]] = {
    "width": (WidthReading,),
    "tension": (TensionReading, SlotReading),
    "alignment": (AlignmentReading,),
    "groove": (PulleyReading,),
    "slot": (SlotReading,),
}
# [m] With less room outwards the motor stands at the end of its slot (our own figure).
SLOT_END_M = 1e-3
# A count begins and ends within half a turn, and a watch is started within half a second.
TURN_U, WATCH_U = 0.5 / sqrt(3), 0.5 / sqrt(3)


def kind_of(machine: Machine) -> Kind:
    """What decides which symptoms, causes and tests are this machine's."""
    return Kind(
        family=machine.kind.family, supply=machine.supply, belt_driven=machine.kind.belt_driven
    )


def list_on(day: date) -> FindingList:
    """The fault finding of the rule sheet in force; an empty one where none was brought in."""
    try:
        return RuleSheet.objects.on(day).finding
    except RuleSheet.DoesNotExist:
        return NONE


def closed_causes(machine: Machine, symptom: str) -> dict[str, int]:
    """Closed jobs of this depot with this symptom on this kind of machine, by their cause."""
    rows = (
        Job.objects.filter(
            state=Job.State.CLOSED,
            symptom_key=symptom,
            machine__depot=machine.depot_id,
            machine__kind=machine.kind_id,
        )
        .exclude(cause_key="")
        .order_by()
        .values_list("cause_key")
        .annotate(count=Count("pk"))
    )
    return dict(rows)


def cause_choices(job: Job, *, on: date) -> tuple[list[tuple[str, list[tuple[str, str]]]], str]:
    """The causes to choose from when work on this job is done, by symptom, and the one found.

    Returns:
        Groups of (symptom in words, [("symptom/cause", words)]); and the key of the cause that
        the job's last finding ended in, or empty.
    """
    last = job.findings.filter(record__isnull=False).select_related("sheet").first()
    held = last.sheet.finding if last else list_on(on)
    kind = kind_of(job.machine)
    symptoms = [each for each in held.symptoms_for(kind) if not last or each.key == last.symptom]
    groups = [
        (
            symptom.words,
            [
                (f"{symptom.key}/{cause}", held.causes[cause].words)
                for cause in held.stated_for(symptom.key, kind)
            ],
        )
        for symptom in symptoms
    ]
    return groups, f"{last.symptom}/{last.cause}" if last and last.cause else ""


@dataclass(frozen=True, kw_only=True)
class Given:
    """An answer that stands. step: its row; reading: the record that gave it, where one did.

    before_min: [min] so long before the finding began the reading was taken; None: since then.
    """

    test: rule.Test
    answer: str
    who: str
    at: datetime
    figures: str = ""
    step: FindingStep | None = None
    reading: Record | None = None
    before_min: int | None = None

    @property
    def age(self) -> str:
        """How long before the finding a reading was taken, in words; empty for all else."""
        if self.before_min is None:
            return ""
        hours, minutes = divmod(self.before_min, 60)
        told = (
            gettext("{hours} h {minutes} min").format(hours=hours, minutes=minutes)
            if hours
            else gettext("{minutes} min").format(minutes=minutes)
        )
        return gettext("read {told} before this finding began").format(told=told)

    @property
    def words(self) -> str:
        return self.test.words_of(self.answer)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One cause with its odds."""

    key: str
    words: str
    share: float

    @property
    def odds(self) -> str:
        return rule.odds_text(self.share)


@dataclass(frozen=True, kw_only=True)
class FindingNow:
    """How a finding stands.

    offers: readings of the same visit, taken before it began, which answer once somebody says so.
    rows: the causes, the likeliest first; empty where the answers contradict one another. best:
    the tests that may be done now, the most telling first. cut_off: whether its supply is off, for
    this job however long ago or for another. after_run: whether tests are left that need it running
    or supplied, which waits for the guards. no_run: why it must not be started; empty where it may
    be.
    """

    finding: Finding
    symptom: str
    given: tuple[Given, ...]
    offers: tuple[Given, ...]
    rows: tuple[Row, ...]
    standing: rule.Standing | None
    best: tuple[rule.Next, ...]
    isolated: bool
    cut_off: bool
    no_run: str
    after_run: bool
    started_from: str
    held: FindingList

    @property
    def found(self) -> bool:
        return self.standing is not None and self.standing.found

    @property
    def cause(self) -> str:
        """The cause in words where one is found."""
        return self.rows[0].words if self.found else ""

    @property
    def then(self) -> str:
        """What is done about the leading cause."""
        return self.held.causes[self.rows[0].key].then if self.rows else ""

    @property
    def bars(self) -> str:
        """The odds as a drawing for the page."""
        told = "; ".join(f"{row.words}: {row.odds}" for row in self.rows)
        return to_svg(
            odds_bars([Odds(label=r.words, share=r.share, words=r.odds) for r in self.rows]),
            title=gettext("The causes and their odds"), description=told,
        )  # fmt: skip


def finding_now(finding: Finding, *, at: datetime) -> FindingNow:
    """Works out a finding; it needs the job with machine, kind and depot, and the sheet."""
    job, held = finding.job, finding.sheet.finding
    kind = kind_of(job.machine)
    tests = held.tests_for(finding.symptom, kind)
    if not job.machine.drives.filter(kind=Drive.Kind.BELT).exists():
        tests = tuple(each for each in tests if each.reading not in ("width", "tension"))
    given = answers(finding, tests)
    isolated = rule.is_isolated(job.isolated_at, at=at)
    inside = _isolated_for(job)
    no_run = _no_run(job, inside)
    cut_off = job.isolated_at is not None or inside is not None
    # Who isolated it says when the guards are back; that it is long ago says nothing of them.
    may_run = not no_run and job.isolated_at is None
    answered = {each.test.key: each.answer for each in given}
    left = rule.left(tests, answered)
    rows: tuple[Row, ...] = ()
    standing, best, after_run = None, [], False
    try:
        now = rule.odds(finding.start, [(each.test, each.answer) for each in given])
    except rule.Contradiction:
        pass
    else:
        rows = tuple(
            Row(key=cause, words=held.causes[cause].words, share=now[cause])
            for cause in rule.in_order(now)
        )
        standing = rule.standing(now, held.ends)
        best = rule.ranked(
            now, [each for each in left if not (cut_off and each.needs_supply)],
            isolated=isolated, may_run=may_run,
            isolate_minutes=held.isolate_minutes, least_bits=held.least_bits,
        )  # fmt: skip
        after_run = (
            not no_run
            and job.isolated_at is not None
            and any(
                (each.way == rule.RUNNING or each.needs_supply)
                and rule.expected_drop(now, each) >= held.least_bits
                for each in left
            )
        )
    return FindingNow(
        finding=finding,
        symptom=held.symptom(finding.symptom).words,
        given=given,
        offers=offers(finding, left),
        rows=rows,
        standing=standing,
        best=tuple(best),
        isolated=isolated,
        cut_off=cut_off,
        no_run=no_run,
        after_run=after_run,
        started_from=started_from(finding, kind),
        held=held,
    )


def _isolated_for(job: Job) -> Job | None:
    """Another job of the machine for which somebody has it isolated; None where there is none."""
    # A job that waits for a part waits with its covers off, however long.
    inside = Job.objects.filter(
        machine=job.machine_id, state__in=(Job.State.UNDER_WAY, Job.State.WAITING),
        isolated_at__isnull=False,
    ).exclude(pk=job.pk)  # fmt: skip
    return inside.select_related("isolated_by").order_by("pk").first()


def _no_run(job: Job, other: Job | None) -> str:
    """Why nobody may start the machine now; empty where nothing speaks against it."""
    stop = job.machine.stops.standing().filter(always=True).first()
    if stop is not None:
        return gettext("Do not start it: {stop}.").format(stop=stop.words)
    if other is None:
        return ""
    return gettext("Do not start it: {isolated_by} has it isolated for {other}.").format(
        isolated_by=other.isolated_by, other=other.number
    )


def started_from(finding: Finding, kind: Kind) -> str:
    """From what the odds started, in words."""
    if finding.start_jobs:
        return gettext("Odds from {start_jobs} closed jobs of this depot").format(
            start_jobs=finding.start_jobs
        )
    stated = finding.sheet.finding.starting_for(finding.symptom, kind)
    told = cited(stated.source, stated.trust) if stated else ""
    return gettext("Starting odds, {source}").format(source=told[:1].lower() + told[1:])


def answers(finding: Finding, tests: tuple[rule.Test, ...]) -> tuple[Given, ...]:
    """The answers that stand, in the order given: those told, and those that a reading gave.

    A reading taken since the finding began answers its test by itself, unless somebody answered
    that test, or one that tells the same. One taken before it, at the same visit, does so where
    somebody said that it counts.
    """
    by_key = {test.key: test for test in tests}
    kinds = (FindingStep.Kind.ANSWER, FindingStep.Kind.EARLIER)
    standing = list(
        finding.steps.filter(kind__in=kinds, taken_back_at__isnull=True)
        .select_related("by")
        .order_by("at", "pk")
    )
    steps = [each for each in standing if each.kind == FindingStep.Kind.ANSWER]
    counted = {each.test: each for each in standing if each.kind == FindingStep.Kind.EARLIER}
    told = [
        Given(
            test=by_key[each.test], answer=each.answer, who=each.by.name, at=each.at,
            figures=each.figures, step=each,
        )
        for each in steps
        if each.test in by_key
    ]  # fmt: skip
    for test in rule.left(tests, {each.test.key: each.answer for each in told}):
        step = counted.get(test.key)
        given = _by_reading(finding, test, before=step is not None)
        if given is not None:
            told.append(given if given.before_min is None else replace(given, step=step))
    return tuple(sorted(told, key=lambda each: each.at))


def offers(finding: Finding, left: Sequence[rule.Test]) -> tuple[Given, ...]:
    """What readings of the same visit, taken before the finding began, would answer."""
    found = (_by_reading(finding, test, before=True) for test in left if test.reading)
    return tuple(each for each in found if each is not None and each.before_min is not None)


def _by_reading(finding: Finding, test: rule.Test, *, before: bool = False) -> Given | None:
    """What readings taken since the finding began say; of several drives or pulleys the worst.

    before: also those of the same visit from before it began, of the belt that is on.
    """
    since = finding.begun_at - VISIT if before else finding.begun_at
    rows = [
        row
        for model in _READINGS.get(test.reading, ())
        for row in model.objects.counting()
        .newest_first()
        .filter(drive__machine=finding.job.machine_id, at__gte=since)
        .select_related("record__by", "record__depot", "drive__machine__depot")
        if _speaks(row, test) and (row.at >= finding.begun_at or _of_this_belt(row))
    ]
    rows.sort(key=lambda row: (row.at, str(row.record_id)), reverse=True)
    last: dict[tuple[int, str], BeltReading] = {}
    for row in rows:
        last.setdefault((row.drive_id, getattr(row, "pulley", "")), row)
    answers = [key for key, _ in test.answers]
    said = [row for row in last.values() if _verdict(row, test) in test.verdicts]
    if not said:
        return None
    # The answers of such a test begin with what is wrong.
    worst = min(said, key=lambda row: answers.index(test.verdicts[_verdict(row, test)]))
    by = worst.record.by
    return Given(
        test=test,
        answer=test.verdicts[_verdict(worst, test)],
        who=by.name if by else "",
        at=worst.at,
        figures=str(worst),
        reading=worst.record,
        before_min=_before_min(worst, finding),
    )


def _of_this_belt(row: BeltReading) -> bool:
    """Whether no belt was fitted since: that also moves the motor."""
    fitted = fitted_since(row.drive)
    return fitted is None or row.at >= fitted


def _before_min(row: BeltReading, finding: Finding) -> int | None:
    if row.at >= finding.begun_at:
        return None
    return round((finding.begun_at - row.at) / timedelta(minutes=1))


def _speaks(row: BeltReading, test: rule.Test) -> bool:
    """A slot tells of the tension only where somebody said that the belt is slack there: "tight"
    is what its form begins with."""
    if isinstance(row, SlotReading) and test.reading == "tension":
        return row.tight is False
    return True


def _verdict(row: BeltReading, test: rule.Test) -> str:
    """What the reading found, in the words of the verdicts of the test that it answers."""
    if not isinstance(row, SlotReading):
        return row.verdict
    if test.reading == "tension":
        return "under"
    return "end" if row.out_m <= SLOT_END_M else "room"


@dataclass(frozen=True, kw_only=True)
class Turns:
    """What the drum should turn by its drive. now: with the belt as last read, None: not known."""

    drive: Drive
    new_rpm: float
    now_rpm: float | None


def turns_of(machine: Machine, *, at: datetime) -> Turns | None:
    """The turns to expect of the driven part; None where the drive's data do not say them, or
    nobody could count so many."""
    drive = machine.drives.filter(kind=Drive.Kind.BELT).order_by("stage").first()
    if drive is None:
        return None
    drive.machine = machine
    workout = drive_now(drive, at=at).workout
    if workout is None or workout.driven is None:
        return None
    part = workout.driven
    new_rpm = part.output_new * 30 / pi
    if new_rpm > COUNTABLE_RPM:
        return None
    return Turns(
        drive=drive,
        new_rpm=new_rpm,
        now_rpm=None if part.output_now is None else part.output_now * 30 / pi,
    )


def judge_turns(drive: Drive, *, turns: int, seconds: int, at: datetime) -> tuple[str, str]:
    """A verdict on counted turns, and the figures behind it in words.

    The worn belt's ratio counts where its width was read, so that its sinking is no slip.

    Returns:
        "right", "slow" or "very slow", empty where the count is too short to tell; and the words.

    Raises:
        DriveError: a figure is outside its range, or no slip explains the count.
    """
    workout = drive_now(drive, at=at).workout
    if workout is None or workout.geometry is None or drive.motor_speed_rpm is None:
        raise DriveError(gettext("the drive's data do not say how fast it should turn"))
    shape, driving = workout.geometry, Doubtful(drive.driver_m or 0.0, 0.0)
    motor = drive.motor_speed_rpm * pi / 30
    found = driven.slip_from_drum(
        drum_speed=driven.speed_from_turns(
            turns=Doubtful(turns, TURN_U), time=Doubtful(seconds, WATCH_U)
        ),
        motor_speed=Doubtful(motor, motor * PLATE_SHARE / sqrt(3)),
        driving=driving,
        driven=Doubtful(driving.value * (shape.ratio_now or shape.ratio_new), 0.0),
        stages=_gears(drive),
    )
    slip = found.slip
    told = gettext("{turns} turns in {seconds} s: slip {slip} ± {u} %").format(
        turns=turns, seconds=seconds, slip=f"{slip.value * 100:.1f}", u=f"{slip.u * 200:.1f}"
    )
    if slip.u > MOST_U:
        return "", told
    if slip.value > MUCH_SLIP:
        return gettext("very slow"), told
    return ("slow" if slip.value > LITTLE_SLIP else "right"), told


def _gears(drive: Drive) -> list[tuple[int, int]]:
    return [
        (each.teeth_in, each.teeth_out)
        for each in drive.machine.drives.all()
        if each.kind == Drive.Kind.GEAR and each.stage > drive.stage
        if each.teeth_in and each.teeth_out
    ]


def may_find(job: Job) -> bool:
    """Whether a finding may be begun on the job: it is open, and its work is not done."""
    return job.is_open and job.state != Job.State.DONE


def ended_of(job: Job) -> list[Finding]:
    """The sealed findings of a job, the newest first."""
    found = job.findings.filter(record__isnull=False).select_related(
        "sheet", "record__by", "record__depot"
    )
    return list(found)


@dataclass(frozen=True, kw_only=True)
class Ended:
    """A sealed finding: its symptom, the cause in words (empty: not certain), and what follows."""

    symptom: str
    cause: str
    then: str
    page: str
    record: Record


def ended(finding: Finding) -> Ended:
    """A sealed finding in words; it needs sheet and record."""
    held = finding.sheet.finding
    cause = held.causes.get(finding.cause)
    assert finding.record is not None
    symptom, words = finding.words
    return Ended(
        symptom=symptom,
        cause=words,
        then=(cause or held.causes[rule.OTHER]).then,
        page=cause.page if cause else "",
        record=finding.record,
    )


def sealed_odds(shares: Mapping[str, float]) -> dict[str, str]:
    """Odds as they are sealed: decimal text of four places, by cause."""
    return {cause: f"{share:.4f}" for cause, share in shares.items()}
