"""Part 1 of a bundle: what is missing, first in figures, then each gap of its own."""

from collections.abc import Iterable
from datetime import date

from django.db.models import Q
from django.utils.translation import gettext, ngettext

from maintenance.contents.followed import Followed
from maintenance.contents.gaps import LATER, UNREAD_DAYS, Gaps, LateWork, cited_of
from maintenance.contents.record import summary, who
from maintenance.models import Stay
from maintenance.rules import gaps as rule
from maintenance.rules.words import day_text, figure_text
from plant.counted_words import count_text
from plant.models import Record
from reports.contents.bundle_said import Said, span
from reports.pdf.bundle import Grid, Section


def in_figures(
    gaps: Gaps, failures: list[Followed], odd: list[tuple[Record, str]]
) -> tuple[tuple[str, str], ...]:
    tests = [each for each in gaps.late if each.is_test]
    services = [each for each in gaps.late if not each.is_test]
    still_open = [each for each in failures if each.ended_at is None]
    nothing = [each for each in still_open if each.nothing]
    period = gaps.period
    unknown = max(0, (min(period.known_from, period.last + rule.ONE_DAY) - period.first).days)
    return (
        (gettext("Days of which nothing is known"), str(unknown)),
        (
            gettext("Days in use without a check"),
            gettext("{days} of {in_use} days in use").format(
                days=len(gaps.checked.missing), in_use=len(gaps.in_use)
            ),
        ),
        (gettext("Safety tests late"), _sum_of(tests)),
        (gettext("Services late"), _sum_of(services)),
        (
            gettext("Failures"),
            gettext("{count}, of them {still_open} open").format(
                count=len(failures), still_open=len(still_open)
            ),
        ),
        (gettext("Failures with nothing done"), str(len(nothing))),
        (gettext("Records entered later"), str(len(gaps.later))),
        (gettext("Meter figures questioned"), str(len(gaps.questioned))),
        (gettext("Tests in doubt"), str(len(gaps.doubts))),
        (gettext("Times with no meter figure"), str(len(gaps.unread))),
        (gettext("Records not as they were sealed"), str(len(odd))),
    )


def _sum_of(late: Iterable[LateWork]) -> str:
    late = list(late)
    if not late:
        return "0"
    used, rest = sum(each.in_use for each in late), sum(each.not_in_use for each in late)
    return gettext("{count}: {used} in use, {rest} not in use").format(
        count=len(late), used=count_text(used, "day"), rest=count_text(rest, "day")
    )


def missing(
    said: Said, gaps: Gaps, failures: list[Followed], odd: list[tuple[Record, str]]
) -> tuple[Section, ...]:
    tests = [each for each in gaps.late if each.is_test]
    services = [each for each in gaps.late if not each.is_test]
    nothing = [each for each in failures if each.nothing and each.ended_at is None]
    still_open = [each for each in failures if not each.nothing and each.ended_at is None]
    return (
        _unknown(said, gaps),
        _unchecked(said, gaps),
        _late(
            "gap tests",
            gettext("1.3 Electrical and other safety tests late"),
            tests,
            gaps,
        ),
        _late("gap services", gettext("1.4 Services late"), services, gaps),
        _open(said, "gap nothing", gettext("1.5 Failures with nothing done"), nothing),
        _open(said, "gap open", gettext("1.6 Failures that still stand open"), still_open),
        _later(said, gaps),
        _questioned(said, gaps),
        _doubts(said, gaps),
        _unread(gaps),
        _odd(said, odd),
    )


def _unknown(said: Said, gaps: Gaps) -> Section:
    period, told = said.period, []
    if period.first < period.known_from:
        told.append(
            gettext(
                "The machine was entered here on {known_from}. Of the time from "
                "{first} until then nothing is known here: no check, no test, no "
                "service and no fault of it can be shown or denied."
            ).format(known_from=day_text(period.known_from), first=day_text(period.first))
        )
    told.append(
        gettext(
            "A shift is taken as a day. Whether the "
            "machine was run on a day on which it was out "
            "is not known; a day out counts as a day in use."
        )
    )
    told.append(gettext("What it is driven by, and its kind, are those of today."))
    if not gaps.often:
        told.append(
            gettext("No rule sheet was in force, so nothing says how often a check was wanted.")
        )
    if not gaps.lines:
        told.append(gettext("No plan runs on this machine, so nothing says when work was due."))
    for title, because in gaps.resting:
        told.append(
            gettext(
                "{title} is not asked of this machine now: {because} Since when is "
                "not known, so it is left out of what was late."
            ).format(title=title, because=because)
        )
    if gaps.checked.not_asked:
        days = len(gaps.checked.not_asked)
        told.append(
            ngettext(
                "On {days} day in use no rule said how often a check was wanted.",
                "On {days} days in use no rule said how often a check was wanted.",
                days,
            ).format(days=days)
        )
    return Section(key="gap unknown", title=gettext("1.1 What cannot be known"), words=tuple(told))


def _unchecked(said: Said, gaps: Gaps) -> Section:
    checked = gaps.checked
    # Of the rule sheets only those in force on a day of the period; the first was before too.
    ends = [day for day, _ in gaps.often[1:]] + [said.period.last + rule.ONE_DAY]
    rules = dict.fromkeys(
        cited_of(each)
        for place, ((begin, each), end) in enumerate(zip(gaps.often, ends, strict=True))
        if each is not None
        and (place == 0 or begin <= said.period.last)
        and (end > said.period.first or place == len(ends) - 1)
    )
    strong: tuple[str, ...] = ()
    if checked.missing:
        strong = (
            ngettext(
                "On {days} day in use a check was wanted and none that held was done.",
                "On {days} days in use a check was wanted and none that held was done.",
                len(checked.missing),
            ).format(days=len(checked.missing)),
        )
    rows = [
        (day_text(first), day_text(last), str((last - first).days + 1), _where(said, first))
        for first, last in rule.runs(checked.missing)
    ]
    idle = ", ".join(_run_text(each) for each in rule.runs(checked.idle))
    told = [
        ngettext(
            "In the period the machine was known on {known} day: in use on "
            "{in_use}, not in use on {not_in_use}. Not in use no check is wanted; "
            "whoever takes the machine checks it first.",
            "In the period the machine was known on {known} days: in use on "
            "{in_use}, not in use on {not_in_use}. Not in use no check is wanted; "
            "whoever takes the machine checks it first.",
            gaps.known,
        ).format(
            known=gaps.known,
            in_use=len(gaps.in_use),
            not_in_use=gaps.known - len(gaps.in_use),
        ),
        gettext(
            "Of the days in use a check held on {held}, was missing on "
            "{missing}, and on {stopped} the machine was stopped all of the "
            "time, so that nobody should have used it."
        ).format(held=len(checked.held), missing=len(checked.missing), stopped=len(checked.idle)),
    ]
    if idle:
        told.append(gettext("Out while stopped: {idle}.").format(idle=idle))
    told += [gettext("Rule: {rule}.").format(rule=each) for each in rules]
    return Section(
        key="gap checks",
        title=gettext("1.2 Days in use without a check"),
        words=tuple(told),
        strong=strong,
        grid=Grid(
            (
                gettext("First day"),
                gettext("Last day"),
                gettext("Days"),
                gettext("Where it was"),
            ),
            (20, 20, 10, 50),
            tuple(rows),
        ),
    )


def _where(said: Said, day: date) -> str:
    """The site where it was on that day, as it was told."""
    begin, end = (rule.midnight(day + n * rule.ONE_DAY, said.period.zone) for n in (0, 1))
    stays = Stay.objects.filter(machine=said.machine, out_at__lt=end)
    open_then = stays.filter(Q(back_at__isnull=True) | Q(back_at__gt=begin))
    stay = open_then.order_by("-out_at", "-pk").first()
    return stay.site if stay else gettext("not told")


def _run_text(run: rule.Run) -> str:
    first, last = run
    return (
        day_text(first)
        if first == last
        else gettext("{first} to {last}").format(first=day_text(first), last=day_text(last))
    )


def _late(key: str, title: str, late: list[LateWork], gaps: Gaps) -> Section:
    told = gettext("Days late count from the day after it was due; a day put off stays late.")
    return Section(
        key=key,
        title=title,
        words=(told,) if gaps.lines else (gettext("No plan runs on this machine."),),
        grid=Grid(
            (
                gettext("What"),
                gettext("Was due"),
                gettext("Done"),
                gettext("Days late"),
                gettext("In use"),
                gettext("Not in use"),
            ),
            (30, 24, 18, 10, 8, 10),
            tuple(
                (
                    each.title,
                    _due(each),
                    day_text(each.late.done_on)
                    if each.late.done_on
                    else gettext("Not done by {last}").format(last=day_text(each.late.last)),
                    str(each.late.days),
                    str(each.in_use),
                    str(each.not_in_use),
                )
                for each in sorted(
                    late, key=lambda each: (each.title, each.late.due_on or date.max)
                )
            ),
        ),
    )


def _due(work: LateWork) -> str:
    late = work.late
    ways = []
    if late.due_on is not None:
        ways.append(day_text(late.due_on))
    if late.due_tenths is not None:
        ways.append(figure_text(late.due_tenths, work.measure))
    return " or ".join(ways)


def _open(said: Said, key: str, title: str, failures: list[Followed]) -> Section:
    return Section(
        key=key,
        title=title,
        grid=Grid(
            (
                gettext("Found"),
                gettext("What"),
                gettext("Open for"),
                gettext("How it stands"),
                gettext("Record"),
            ),
            (16, 36, 12, 24, 12),
            tuple(
                (
                    said.when(each.found.happened_at),
                    each.words,
                    span(said.at - each.found.happened_at),
                    each.stands or gettext("No job"),
                    each.found.number,
                )
                for each in failures
            ),
        ),
    )


def _later(said: Said, gaps: Gaps) -> Section:
    return Section(
        key="gap later",
        title=gettext("1.7 Records entered later than they happened"),
        words=(
            gettext("Received more than {later} after what they tell (our own limit).").format(
                later=span(LATER)
            ),
        ),
        grid=Grid(
            (
                gettext("Happened"),
                gettext("Received"),
                gettext("Later by"),
                gettext("What"),
                gettext("By"),
                gettext("Record"),
            ),
            (15, 15, 12, 28, 17, 13),
            tuple(
                (
                    said.when(each.happened_at),
                    said.when(each.received_at),
                    span(each.received_at - each.happened_at),
                    summary(each),
                    who(each),
                    each.number,
                )
                for each in gaps.later
            ),
        ),
    )


def _questioned(said: Said, gaps: Gaps) -> Section:
    return Section(
        key="gap questioned",
        title=gettext("1.8 Meter figures that were questioned"),
        grid=Grid(
            (
                gettext("When"),
                gettext("Figure"),
                gettext("Why it was questioned"),
                gettext("Now"),
                gettext("Record"),
            ),
            (16, 20, 34, 17, 13),
            tuple(
                (
                    said.when(each.happened_at),
                    summary(each),
                    why,
                    gettext("counts since a decision") if counts else gettext("does not count"),
                    each.number,
                )
                for each, why, counts in gaps.questioned
            ),
        ),
    )


def _doubts(said: Said, gaps: Gaps) -> Section:
    return Section(
        key="gap doubt",
        title=gettext("1.9 Tests in doubt for their instrument"),
        grid=Grid(
            (gettext("When"), gettext("Why"), gettext("Record")),
            (18, 66, 16),
            tuple((said.when(each.happened_at), why, each.number) for each, why in gaps.doubts),
        ),
    )


def _unread(gaps: Gaps) -> Section:
    told = gettext(
        "Stretches of more than {unread_days} days (our own limit) with "
        "days in use and no figure of the running hours."
    ).format(unread_days=UNREAD_DAYS)
    return Section(
        key="gap meter",
        title=gettext("1.10 Times with no meter figure"),
        words=(told,)
        if gaps.has_meter
        else (gettext("The machine has no meter of running hours."),),
        grid=Grid(
            (gettext("From"), gettext("To"), gettext("Days")),
            (30, 30, 40),
            tuple(
                (day_text(first), day_text(last), str((last - first).days + 1))
                for first, last in gaps.unread
            ),
        )
        if gaps.has_meter
        else None,
    )


def _odd(said: Said, odd: list[tuple[Record, str]]) -> Section:
    return Section(
        key="gap seal",
        title=gettext("1.11 Records that are not as they were sealed"),
        grid=Grid(
            (gettext("When"), gettext("What is not as it was"), gettext("Record")),
            (18, 66, 16),
            tuple((said.when(e.happened_at), why, e.number) for e, why in odd),
        ),
    )
