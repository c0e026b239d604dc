"""The weekly note: the few things to do next, each with its reason, its minutes and its parts."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Case, F, IntegerField, Q, Sum, Value, When
from django.utils.translation import gettext as _

from maintenance.contents.due import told
from maintenance.models import DueLine, Job, Labour, PartUsed, Stop
from maintenance.models.plan import DueLineQuerySet
from maintenance.rules.words import day_text, list_text
from plant.links import code_of
from plant.models import Depot, Machine, Place
from reports.contents.letter import Letter, Line, Part, address, one_line
from reports.contents.message import WHY_THIS_CAME, without_care
from reports.models import WeeklyNote

MOST_LINES = 5
AHEAD = timedelta(days=7)
_OUT_OF_IT = (Place.GONE, Place.MISSING)


@dataclass(frozen=True)
class NoteLine:
    """One thing to do next. ``by`` says until when; ``state`` is a mark; ``done``: no more so."""

    machine: Machine
    work: str
    why: str
    by: str
    takes: str
    parts: str
    state: str
    done: bool = False


def chosen(depot: Depot, *, on: date) -> tuple[list[dict[str, int]], int]:
    """The keys of what the note tells, the gravest first, and how many more there were.

    First what must not be used, then what is past on machines that are out, then past on others,
    then what falls due within a week.
    """
    stops = (
        Stop.objects.standing()
        .filter(machine__depot=depot)
        .exclude(kind=Stop.Kind.CARRY_ON, until__gte=on)
        .exclude(machine__place__in=_OUT_OF_IT)
        .order_by("since", "pk")
    )
    is_past = DueLineQuerySet.is_past(on)
    lines = (
        without_care(DueLine.objects.filter(machine__depot=depot))
        .filter(is_past | Q(plan_on__lte=on + AHEAD))
        .exclude(machine__place__in=_OUT_OF_IT)
        .exclude(machine__place=Place.LAID_UP, line__is_test=False)
        .annotate(
            turn=Case(
                When(is_past, machine__place=Place.OUT, then=Value(0)),
                When(is_past, then=Value(1)),
                default=Value(2),
                output_field=IntegerField(),
            )
        )
    )
    told_of = [{"stop": pk} for pk in stops.values_list("pk", flat=True)[:MOST_LINES]]
    in_turn = lines.order_by("turn", F("plan_on").asc(nulls_last=True), "pk")
    told_of += [
        {"due": pk, "cycle": cycle}
        for pk, cycle in in_turn.values_list("pk", "cycle")[: MOST_LINES - len(told_of)]
    ]
    return told_of, stops.count() + lines.count() - len(told_of)


def note_lines(note: WeeklyNote, *, at: datetime) -> list[NoteLine]:
    """The note's lines as they stand now; what has gone to another depot is not told any more."""
    on = note.depot.day_of(at)
    stops = {
        stop.pk: stop
        for stop in Stop.objects.filter(
            pk__in=[each["stop"] for each in note.lines if "stop" in each],
            machine__depot=note.depot,
        ).select_related("machine__kind", "machine__depot", "job")
    }
    due = DueLine.objects.filter(
        pk__in=[each["due"] for each in note.lines if "due" in each], machine__depot=note.depot
    ).select_related(
        "line", "counter__use_rate", "machine__kind", "machine__depot", "machine__use_rate"
    )
    works = {work.line.pk: work for work in told(due, on)}
    last = _last_time(list(works))
    found = []
    for each in note.lines:
        if "stop" in each and each["stop"] in stops:
            found.append(_stop_line(stops[each["stop"]], on))
        elif each.get("due") in works:
            work = works[each["due"]]
            line = work.line
            minutes, parts = last.get(line.pk, (None, ""))
            done = line.cycle > each["cycle"]
            found.append(
                NoteLine(
                    machine=line.machine,
                    work=line.line.title,
                    why=work.why,
                    by=_by(line, on),
                    takes=(
                        _("about {minutes} min, a guess").format(minutes=line.line.minutes)
                        if minutes is None
                        else _("{minutes} min, as last time").format(minutes=minutes)
                    ),
                    parts=_("{parts}, as last time").format(parts=parts)
                    if parts
                    else _("no parts noted so far"),
                    state="Done" if done else work.state,
                    done=done,
                )
            )
    return found


def _by(line: DueLine, on: date) -> str:
    """The day to plan for; of hours that no figure shows to be up, since when they likely are."""
    if line.plan_on is None:
        return ""
    if line.plan_on >= on:
        return _("Do it by {plan_on}.").format(plan_on=day_text(line.plan_on))
    is_past = line.hours_past or (line.past_after is not None and line.past_after < on)
    how = _("Estimated from the days out.") if line.is_estimate else _("Read the meter.")
    return (
        ""
        if is_past
        else _("Likely due since {plan_on}. {how}").format(plan_on=day_text(line.plan_on), how=how)
    )


def _stop_line(stop: Stop, on: date) -> NoteLine:
    freed = stop.released_by_id is not None
    noted = stop.kind == Stop.Kind.CARRY_ON and stop.until is not None and stop.until >= on
    job = stop.job
    return NoteLine(
        machine=stop.machine,
        work=_("Put right, then a release check ({job})").format(job=job.number)
        if job
        else _("Put right, then a release check"),
        why=one_line(stop.words),
        by="",
        takes=_("time not known"),
        parts=_("parts not known"),
        state="Done" if freed else "Use, with a note" if noted else "Do not use",
        done=freed,
    )


def _last_time(due_lines: list[int]) -> dict[int, tuple[int | None, str]]:
    """By due line, the minutes and the parts of its newest closed job; three queries."""
    jobs = Job.objects.filter(due_line__in=due_lines, state=Job.State.CLOSED)
    newest = {
        job.pk: job.due_line_id for job in jobs.order_by("due_line", "closed_at").only("due_line")
    }
    by_line = {line: pk for pk, line in newest.items()}
    minutes = dict(
        Labour.objects.filter(job__in=by_line.values())
        .values_list("job")
        .annotate(n=Sum("minutes"))
        .order_by()
    )
    parts: dict[int, list[str]] = {}
    for part in PartUsed.objects.filter(job__in=by_line.values()).order_by("pk"):
        if part.kept:
            parts.setdefault(part.job_id, []).append(
                _("{kept} x {what}").format(kept=part.kept, what=one_line(part.what))
            )
    return {
        line: (minutes.get(pk), list_text(parts.get(pk, [])))
        for line, pk in by_line.items()
        if line is not None
    }


def weekly(note: WeeklyNote, *, at: datetime) -> Letter:
    """The note as a letter, with the link that opens it for seven days without a password."""
    code = code_of("note", note.uid)
    page = address("reports:note", code)
    lines = tuple(
        Line(
            one_line(f"{each.machine.number} {each.machine.kind.name}: {each.work}"),
            each.why,
            _("{by} Takes {takes}; {parts}.")
            .format(by=each.by, takes=each.takes, parts=each.parts)
            .strip(),
        )
        for each in note_lines(note, at=at)
    )
    things = "1 thing" if len(lines) == 1 else _("{count} things").format(count=len(lines))
    more = (
        _(" {left_out} more wait on the page Due.").format(left_out=note.left_out)
        if note.left_out
        else ""
    )
    where = one_line(note.depot.name)
    closing = [
        _(
            "The link works until {what} without a password. Who has it sees "
            "these machines, so pass it on with care."
        ).format(what=day_text(note.depot.day_of(note.ends_at))),
        _(WHY_THIS_CAME),
        address("reports:messages"),
    ]
    if not lines:
        return Letter(
            subject=_("{where}: nothing to do this week").format(where=where),
            opening=_(
                "Week of {week_of}, {where}: no machine is stopped and nothing falls due this week."
            ).format(week_of=day_text(note.week_of), where=where),
            closing=tuple(closing[1:]),
        )
    return Letter(
        subject=_("{where}: {things} to do, week of {week_of}").format(
            where=where, things=things, week_of=day_text(note.week_of)
        ),
        opening=_("Week of {week_of}, {where}: {things} to do next.{more}").format(
            week_of=day_text(note.week_of), where=where, things=things, more=more
        ),
        parts=(Part(_("To do next"), lines, len(lines)),),
        act=(_("Open the note"), page),
        closing=(_("Stop, isolate and lock off before you open a guard."), *closing),
    )
