"""Finding the cause of a fault: begun from a symptom, answered test by test, sealed at its end."""

import uuid
from collections.abc import Collection
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext

from maintenance.actions.job import isolate_job, locked_job, open_job, start_job
from maintenance.actions.signing import locked, sealed_before
from maintenance.contents import finding as contents
from maintenance.models import Finding, FindingStep, Job, RuleSheet
from maintenance.rules import finding as rule
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical
from plant.sealing import moment as sealed_moment

NOT_CERTAIN = "not certain"
COUNTED = "The reading of this visit, taken before, counts"
# How the words begin that the record takes from the finding itself.
STEPS = "finding_"


@transaction.atomic
def begin_finding(*, job: Job, symptom: str, at: datetime, by: User) -> Finding:
    """Begins to find the cause of a symptom, or goes on with what is under way.

    The starting odds are those of this moment and stay so.

    Raises:
        Refused: the work is done, no such symptom for this machine, or another one is under way.
    """
    job = _open_job(job, by=by)
    kind = contents.kind_of(job.machine)
    try:
        sheet = RuleSheet.objects.on(job.machine.depot.day_of(at))
    except RuleSheet.DoesNotExist as missing:
        raise Refused(gettext("There is no rule sheet yet. Ask for one.")) from missing
    if symptom not in {each.key for each in sheet.finding.symptoms_for(kind)}:
        raise Refused(gettext("Choose one of these."), field="symptom")
    before = job.findings.under_way().select_related("begun_by", "sheet").first()
    if before is not None and before.symptom == symptom:
        return before
    if before is not None:
        words = before.sheet.finding.symptom(before.symptom).words
        raise Refused(
            gettext("{begun_by} began with “{words}”. End that first.").format(
                begun_by=before.begun_by, words=words
            ),
            field="symptom",
        )
    held = sheet.finding
    start, jobs = rule.starting(
        held.stated_for(symptom, kind), contents.closed_causes(job.machine, symptom),
        enough=held.enough, strength=held.strength,
    )  # fmt: skip
    return Finding.objects.create(
        job=job, symptom=symptom, sheet=sheet, start=start, start_jobs=jobs, begun_by=by,
        begun_at=at,
    )  # fmt: skip


@transaction.atomic
def find_fault(*, machine: Machine, symptom: str, job: Job | None, at: datetime, by: User) -> Job:
    """Begins a finding from the machine: on one of its open jobs, or on a job of its own.

    The same sent again goes on with the job that was opened for it.

    Raises:
        Refused: no such symptom for this machine, or as for begin_finding.
    """
    machine = locked(machine)
    if job is None:
        live = Job.objects.open().exclude(state=Job.State.DONE).filter(machine=machine)
        going = Finding.objects.under_way().filter(job__in=live, symptom=symptom).first()
        job = going.job if going else None
    if job is None:
        held = contents.list_on(machine.depot.day_of(at))
        known = {each.key: each.words for each in held.symptoms_for(contents.kind_of(machine))}
        if symptom not in known:
            raise Refused(gettext("Choose one of these."), field="symptom")
        job = open_job(
            machine=machine, kind=Job.Kind.FAULT, title=known[symptom], symptom=known[symptom],
            at=at, by=by,
        )  # fmt: skip
    begin_finding(job=job, symptom=symptom, at=at, by=by)
    return job


@transaction.atomic
def answer_test(
    *, finding: Finding, test: str, answer: str, at: datetime, by: User, figures: str = ""
) -> FindingStep:
    """Keeps what was seen in one test. The same sent again adds nothing.

    Args:
        test, answer: keys of the list; COULD_NOT is an answer to any test, done or left out.
        figures: what the answer was worked out from, in words.

    Raises:
        Refused: not a test of this finding, the machine is not isolated for it (or is, and the
            test needs it running or supplied), or somebody answered it or one that tells the same.
    """
    finding = _locked(finding, by=by)
    tests = finding.sheet.finding.tests_for(finding.symptom, contents.kind_of(finding.job.machine))
    asked = next((each for each in tests if each.key == test), None)
    if asked is None or answer not in {rule.COULD_NOT, *(key for key, _ in asked.answers)}:
        raise Refused(gettext("That is no answer to this test. Open the page afresh."))
    given = contents.answers(finding, tests)
    told = {each.test.key: each for each in given if each.step is not None}
    if before := told.get(test):
        if before.answer == answer and before.step is not None:
            return before.step
        raise Refused(
            gettext("{who} answered this: {before}. Not saved. Take that back first.").format(
                who=before.who, before=before.words
            )
        )
    if answer != rule.COULD_NOT:
        for other in told.values():
            same = asked.group and other.test.group == asked.group
            if same and other.answer != rule.COULD_NOT:
                raise Refused(
                    gettext("{short} tells the same. Not saved. Take it back first.").format(
                        short=other.test.short
                    )
                )
        now = contents.finding_now(finding, at=at)
        # For what needs it running an isolation stands until its guards are said to be back.
        runs = asked.way == rule.RUNNING
        isolated = finding.job.isolated_at is not None if runs else now.isolated
        if asked.needs_supply:
            isolated = now.cut_off
        if refused := rule.refusal(asked, isolated=isolated, may_run=not now.no_run):
            raise Refused(" ".join(filter(None, (refused, now.no_run, "Not saved."))))
    return FindingStep.objects.create(
        finding=finding, kind=FindingStep.Kind.ANSWER, test=test, answer=answer,
        figures=figures[:200], by=by, at=at,
    )  # fmt: skip


@transaction.atomic
def count_reading(*, finding: Finding, test: str, at: datetime, by: User) -> FindingStep:
    """Lets a reading answer its test that was taken before the finding began, at the same visit.

    Nothing is touched for it, so the machine need not be isolated. Twice is once.

    Raises:
        Refused: there is no such reading, or that test has been answered.
    """
    finding = _locked(finding, by=by)
    kept = FindingStep.Kind.EARLIER
    before = finding.steps.filter(kind=kept, test=test, taken_back_at__isnull=True).first()
    if before is not None:
        return before
    if test not in {each.test.key for each in contents.finding_now(finding, at=at).offers}:
        raise Refused(
            gettext("No reading of this visit answers that any more. Open the page afresh.")
        )
    return FindingStep.objects.create(finding=finding, kind=kept, test=test, by=by, at=at)


@transaction.atomic
def take_back(*, finding: Finding, step: int, at: datetime, by: User) -> None:
    """Takes an answer back; it stays in the record as taken back. Twice is once.

    Raises:
        Refused: it is no answer of this finding, or the finding is sealed.
    """
    finding = _locked(finding, by=by)
    kinds = (FindingStep.Kind.ANSWER, FindingStep.Kind.EARLIER)
    found = finding.steps.filter(pk=step, kind__in=kinds).first()
    if found is None:
        raise Refused(gettext("That answer is not of this finding. Open the page afresh."))
    if found.taken_back_at is None:
        found.taken_back_at, found.taken_back_by = at, by
        found.save(update_fields=["taken_back_at", "taken_back_by"])


@transaction.atomic
def isolate_for(
    *, finding: Finding, confirmed: Collection[str], at: datetime, by: User
) -> FindingStep:
    """Confirms that the machine is isolated; the job is then under way.

    Raises:
        Refused: something is not confirmed, or the job cannot be begun yet.
    """
    finding = _locked(finding, by=by)
    isolate = isolate_job if finding.job.state == Job.State.UNDER_WAY else start_job
    isolate(job=finding.job, confirmed=confirmed, at=at, by=by)
    return FindingStep.objects.create(finding=finding, kind=FindingStep.Kind.ISOLATED, by=by, at=at)


@transaction.atomic
def run_again(*, finding: Finding, confirmed: bool, at: datetime, by: User) -> FindingStep:
    """All guards are back and it may be started; what opens a guard needs isolating afresh.

    Raises:
        Refused: not confirmed, somebody else isolated it, or the machine must not be started.
    """
    finding = _locked(finding, by=by)
    if not confirmed:
        raise Refused(
            gettext("Say that all guards are back and nobody is near."), field="guards_back"
        )
    if no_run := contents.finding_now(finding, at=at).no_run:
        raise Refused(no_run)
    job = finding.job
    if job.isolated_by_id not in (None, by.pk):
        # Whose tag hangs there may have a hand in it. Who takes over isolates it afresh.
        raise Refused(
            gettext(
                "{isolated_by} isolated it, and says when the guards are back. "
                "Nothing was changed. To take over, isolate it in your own name."
            ).format(isolated_by=job.isolated_by),
            field="guards_back",
        )
    job.isolated_at = job.isolated_by = None
    job.save(update_fields=["isolated_at", "isolated_by"])
    return FindingStep.objects.create(finding=finding, kind=FindingStep.Kind.RUNNING, by=by, at=at)


@transaction.atomic
def end_finding(
    *,
    finding: Finding,
    at: datetime,
    by: User,
    shown: str | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Seals the finding: in its cause where one is found by the odds, else as not certain.

    Args:
        shown: the key of the cause that stood on the button, empty for not certain; None: none did.

    Raises:
        Refused: somebody else has sealed it, or what is found now is not what was shown.
    """
    job = locked_job(finding.job)
    machine = job.machine
    role = role_for(by, Right.WORK, machine.depot_id)
    finding = _read(finding, job)
    told: dict[str, Canonical] = {"job": job.number, "finding": str(finding.pk)}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.FINDING, machine=machine, by=by,
        told=told, texts={}, beside=STEPS,
    ):  # fmt: skip
        return before
    if finding.record is not None:
        raise Refused(
            gettext("{by} has sealed this already. Nothing was added.").format(by=finding.record.by)
        )
    now = contents.finding_now(finding, at=at)
    steps, texts = _sealed_steps(finding, now)
    cause = now.rows[0].key if now.found else ""
    if shown is not None and shown != cause:
        raise Refused(
            gettext(
                "Somebody answered meanwhile, and it looks different now. Not sealed. Look again."
            )
        )
    record = seal(
        kind=Record.Kind.FINDING, depot=machine.depot, machine=machine,
        data={
            **told,
            "symptom_key": finding.symptom,
            "symptom": now.symptom,
            "sheet": str(finding.sheet),
            "started_from": now.started_from,
            "starting_odds": dict(contents.sealed_odds(finding.start)),
            "steps": steps,
            "isolated_at": sealed_moment(job.isolated_at) if job.isolated_at else None,
            "isolated_by": str(job.isolated_by_id) if job.isolated_by_id else None,
            "odds": dict(contents.sealed_odds({row.key: row.share for row in now.rows})),
            "cause_key": cause or None,
            "ended_in": now.cause or NOT_CERTAIN,
        },
        happened_at=at, received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    finding.cause, finding.ended_at, finding.record = cause, at, record
    finding.save(update_fields=["cause", "ended_at", "record"])
    return record


def _sealed_steps(
    finding: Finding, now: contents.FindingNow
) -> tuple[list[Canonical], dict[str, str]]:
    """Everything that was done in its order, with the cautions that stood before it."""
    tests = {each.key: each for each in now.held.tests}
    rows: list[tuple[datetime, dict[str, Canonical], str]] = []
    for each in finding.steps.select_related("by").order_by("at", "pk"):
        step: dict[str, Canonical] = {"kind": each.kind, "account": str(each.by_id)}
        if each.kind == FindingStep.Kind.ANSWER:
            step |= _asked(tests[each.test], each.answer)
            step["figures"] = each.figures
        elif each.kind == FindingStep.Kind.EARLIER:
            step |= {"test": each.test, "words": tests[each.test].do, "told": COUNTED}
        if each.test:
            step["taken_back"] = each.taken_back_at is not None
        rows.append((each.at, step, each.by.name))
    for given in now.given:
        if given.reading is not None:
            step = {
                "kind": "reading",
                "record": given.reading.number,
                **_asked(given.test, given.answer),
                "figures": ", ".join(filter(None, (given.figures, given.age))),
            }
            rows.append((given.at, step, given.who))
    rows.sort(key=lambda row: row[0])
    texts = {f"{STEPS}{n}_by": name for n, (_, _, name) in enumerate(rows, 1)}
    return [
        {**step, "at": sealed_moment(at), "text": f"{STEPS}{n}_by"}
        for n, (at, step, _) in enumerate(rows, 1)
    ], texts


def _asked(test: rule.Test, answer: str) -> dict[str, Canonical]:
    return {
        "test": test.key,
        "words": test.do,
        "caution": test.caution,
        "isolated": test.way == rule.ISOLATED,
        "answer": answer,
        "told": test.words_of(answer),
    }


def _open_job(job: Job, *, by: User) -> Job:
    job = locked_job(job)
    role_for(by, Right.WORK, job.machine.depot_id)
    if job.state == Job.State.DONE or not job.is_open:
        raise Refused(gettext("The work on this job is done. Nothing was saved."))
    return job


def _locked(finding: Finding, *, by: User) -> Finding:
    """The finding read afresh under the machine's lock, while it is not sealed."""
    finding = _read(finding, _open_job(finding.job, by=by))
    if finding.record_id is not None:
        raise Refused(gettext("This finding is sealed. Nothing was saved. Begin another one."))
    return finding


def _read(finding: Finding, job: Job) -> Finding:
    found = Finding.objects.select_related("sheet", "record__by").get(pk=finding.pk, job=job)
    found.job = job
    return found
