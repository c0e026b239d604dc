"""Which passed checks a foreman may want to look at together with who did them.

Nothing here proves that a check was not done: each finding is a pattern, told with its figures and
an innocent reading where there is one. It keeps quiet about anybody with too few checks to have a
pattern. How long a question took is told by the phone, by a clock that no setting moves; when a
check was done is told by the phone too, so a clock that had to be put right is believed in nothing.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import exp, log
from statistics import median

from maintenance.rules.words import day_text
from plant.translate import gettext as _
from plant.translate import gettext_noop

# Fewer passed checks of one person, or of one kind, make no normal.
FEWEST = 15
# How many standard deviations below the usual a check is far out; 0.6745 of one is the median
# deviation of a normal spread. Source: Iglewicz and Hoaglin, How to Detect and Handle Outliers
# (1993): modified z-score, 3.5; also NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.
FAR_OUT, SIGMA = 3.5, 0.6745
# Of the logarithms of seconds a question: nobody is steadier than this (our own figure).
LEAST_SPREAD = 0.1
# [s] a question. A look from the phone to the machine and back, and a tap, take longer: the
# keystroke-level model has 1.35 s for a decision alone (Card, Moran and Newell 1980, from memory).
FLOOR_S = 1.0
# All from here on are our own figures. [s] Questions that differ by no more have one rhythm.
ALIKE_S, FEWEST_QUESTIONS = 0.3, 6
FEWEST_LIKE_IT = 3
SITTING, SITTING_CHECKS = timedelta(minutes=30), 3
BETWEEN_SITES = timedelta(minutes=5)
SENT_WITHIN, SENT_DAYS = timedelta(minutes=10), 5
BAND_MINUTES, BAND_DAYS, BAND_SHARE = 3, 10, 0.8

QUICK, RHYTHM = gettext_noop("Quick answers"), gettext_noop("One rhythm")
SITTINGS, SITES = gettext_noop("In one sitting"), gettext_noop("Sites close in time")
SENT, MINUTE = gettext_noop("Sent together"), gettext_noop("The same minutes")


@dataclass(frozen=True, kw_only=True)
class Done:
    """One passed check.

    key: what finds it again; person, machine, kind, site: what is compared, as text (site is empty
    where nobody knows it); at: when it was done, by the depot's clock; received_at: when it came.
    seconds: [s] by question, in any order; empty where no phone told them.
    steady: the phone's clock agreed with ours, so ``at`` may be compared with other moments.
    """

    key: str
    person: str
    machine: str
    kind: str
    site: str
    at: datetime
    received_at: datetime
    seconds: tuple[float, ...] = ()
    steady: bool = True

    @property
    def pace(self) -> float:
        """[s] a question, on average. Only of a check whose seconds are told."""
        return max(sum(self.seconds) / len(self.seconds), 0.01)


@dataclass(frozen=True, kw_only=True)
class Look:
    """One pattern of one person. words: what it is, with figures; newest: the last such check."""

    person: str
    pattern: str
    words: str
    newest: Done


@dataclass(frozen=True, kw_only=True)
class Normal:
    """What is usual: [s] a question, and below which it is unusual; from ``count`` checks."""

    usual: float
    quick_below: float
    count: int


def normal(paces: Sequence[float]) -> Normal | None:
    """The usual pace, by medians, which a few odd checks do not move. None of too few.

    Times are judged as logarithms, since they can only spread far to the slow side.

    Args:
        paces: [s] a question, of each check.
    """
    if len(paces) < FEWEST:
        return None
    logs = [log(each) for each in paces]
    middle = median(logs)
    spread = max(median_deviation(logs), LEAST_SPREAD)
    return Normal(
        usual=exp(middle), quick_below=exp(middle - FAR_OUT * spread / SIGMA), count=len(paces)
    )


def median_deviation(values: Sequence[float]) -> float:
    """The median of how far each value lies from the median of all."""
    middle = median(values)
    return median(abs(each - middle) for each in values)


def worth_a_look(checks: Iterable[Done], *, since: datetime) -> tuple[list[Look], list[str]]:
    """The patterns of each person, the newest first, and the people with too few checks for any.

    Args:
        checks: passed checks of one depot; the longer back, the better what is usual is known.
        since: only what happened from then on is told.
    """
    by_person: dict[str, list[Done]] = defaultdict(list)
    paces: dict[str, list[float]] = defaultdict(list)
    for each in sorted(checks, key=lambda each: (each.at, each.key)):
        by_person[each.person].append(each)
        if each.seconds:
            paces[each.kind].append(each.pace)
    kinds = {kind: normal(those) for kind, those in paces.items()}
    found: list[Look] = []
    quiet = []
    for person, own in by_person.items():
        if len(own) < FEWEST:
            quiet.append(person)
            continue
        timed = [each for each in own if each.seconds]
        fresh = [each for each in timed if each.at >= since]
        steady = [each for each in own if each.steady and each.at >= since]
        found += _quick(fresh, timed, kinds)
        found += _rhythm(fresh)
        found += _sittings(steady)
        found += _sites(steady)
        found += _sent(steady)
        found += _minutes(steady)
    return sorted(found, key=lambda look: look.newest.at, reverse=True), sorted(quiet)


def _quick(fresh: list[Done], timed: list[Done], kinds: dict[str, Normal | None]) -> Iterable[Look]:
    """Far below what is usual for this person and for this kind, or below any look at all."""
    own = normal([each.pace for each in timed])
    if own is None:
        return

    def is_quick(each: Done) -> bool:
        kind = kinds[each.kind]
        unusual = kind is not None and each.pace < min(own.quick_below, kind.quick_below)
        return unusual or each.pace < FLOOR_S

    quick = [each for each in fresh if is_quick(each)]
    if len(quick) < FEWEST_LIKE_IT:
        return
    newest = quick[-1]
    kind = kinds[newest.kind]
    usual = ""
    if newest.pace < FLOOR_S:
        usual = _("Under {floor} s leaves little time to look (our own figure). ").format(
            floor=f"{FLOOR_S:.0f}"
        )
    usual += (
        _("Usual for this person {own} s, for this kind of machine {kind} s.").format(
            own=f"{own.usual:.1f}", kind=f"{kind.usual:.1f}"
        )
        if kind
        else _("Usual for this person {own} s.").format(own=f"{own.usual:.1f}")
    )
    words = _(
        "{count} of {timed} timed checks were quick: {machine} on {day} "
        "took {pace} s a question, {asked} questions. {usual}"
    ).format(
        count=len(quick),
        timed=len(fresh),
        machine=newest.machine,
        day=day_text(newest.at.date()),
        pace=f"{newest.pace:.1f}",
        asked=len(newest.seconds),
        usual=usual,
    )
    yield _look(newest, QUICK, words)


def _rhythm(fresh: list[Done]) -> Iterable[Look]:
    """The longest answer is left out: it holds the reading of the page."""
    alike = [
        each
        for each in fresh
        if len(each.seconds) >= FEWEST_QUESTIONS
        and sorted(each.seconds)[-2] - min(each.seconds) <= ALIKE_S + 1e-9
    ]
    if len(alike) < FEWEST_LIKE_IT:
        return
    newest = alike[-1]
    low, high = min(newest.seconds), sorted(newest.seconds)[-2]
    words = _(
        "In {count} of {timed} timed checks all questions but one took "
        "the same to {alike} s: {machine} on {day}, {asked} questions "
        "of {low} to {high} s."
    ).format(
        count=len(alike),
        timed=len(fresh),
        alike=ALIKE_S,
        machine=newest.machine,
        day=day_text(newest.at.date()),
        asked=len(newest.seconds) - 1,
        low=f"{low:.1f}",
        high=f"{high:.1f}",
    )
    yield _look(newest, RHYTHM, words)


def _sittings(steady: list[Done]) -> Iterable[Look]:
    """One machine passed again and again within half an hour, as a week's sheet is filled in."""
    for own in _by_machine(steady):
        runs = _runs(own, SITTING)
        long = [run for run in runs if len(run) >= SITTING_CHECKS]
        if long:
            run = long[-1]
            words = _(
                "{count} checks of {machine} were passed within {run} on {day}, "
                "from {first_at} to {last_at}."
            ).format(
                count=len(run),
                machine=run[0].machine,
                run=_span(run),
                day=day_text(run[0].at.date()),
                first_at=f"{run[0].at:%H:%M}",
                last_at=f"{run[-1].at:%H:%M}",
            )
            yield _look(run[-1], SITTINGS, words)


def _sites(steady: list[Done]) -> Iterable[Look]:
    """Back to back on machines that stood at different sites, as far as we were told."""
    jumps = [
        (one, other)
        for one, other in pairwise(steady)
        if one.site
        and other.site
        and one.site != other.site
        and other.at - timedelta(seconds=sum(other.seconds)) - one.at < BETWEEN_SITES
    ]
    if len(jumps) < FEWEST_LIKE_IT:
        return
    one, other = jumps[-1]
    words = _(
        "{count} times two sites lay under 5 min apart: {machine} at "
        "{site}, {at}, and {other_machine} at {other_site}, {other_at}, on {day}. A "
        "machine may have been moved without our being told."
    ).format(
        count=len(jumps),
        machine=one.machine,
        site=one.site,
        at=f"{one.at:%H:%M}",
        other_machine=other.machine,
        other_site=other.site,
        other_at=f"{other.at:%H:%M}",
        day=day_text(other.at.date()),
    )
    yield _look(other, SITES, words)


def _sent(steady: list[Done]) -> Iterable[Look]:
    """Many days of one machine that came in together."""
    for own in _by_machine(steady):
        own.sort(key=lambda each: each.received_at)
        start = 0
        batch: list[Done] = []
        for end, last in enumerate(own):
            while last.received_at - own[start].received_at > SENT_WITHIN:
                start += 1
            if len({each.at.date() for each in own[start : end + 1]}) >= SENT_DAYS:
                batch = own[start : end + 1]
        if batch:
            days = len({each.at.date() for each in batch})
            came = batch[-1].received_at.astimezone(batch[-1].at.tzinfo)
            words = _(
                "{count} checks of {machine}, of {days} days, came in together at "
                "{came} on {day}. A phone without signal does the same."
            ).format(
                count=len(batch),
                machine=batch[0].machine,
                days=days,
                came=f"{came:%H:%M}",
                day=day_text(came.date()),
            )
            yield _look(max(batch, key=lambda each: each.at), SENT, words)


def _minutes(steady: list[Done]) -> Iterable[Look]:
    """Day after day inside the same few minutes of the clock."""
    for own in _by_machine(steady):
        days = {each.at.date() for each in own}
        by_minute = sorted(own, key=_minute)
        best: list[Done] = []
        start = 0
        for end, last in enumerate(by_minute):
            while _minute(last) - _minute(by_minute[start]) >= BAND_MINUTES:
                start += 1
            inside = by_minute[start : end + 1]
            if len({each.at.date() for each in inside}) > len({each.at.date() for each in best}):
                best = inside
        hits = len({each.at.date() for each in best})
        if hits >= BAND_DAYS and hits >= BAND_SHARE * len(days):
            words = _(
                "{machine} was checked between {early} and {late} on {hits} of "
                "{count} days. Work that begins on the minute looks the same."
            ).format(
                machine=own[0].machine,
                early=f"{best[0].at:%H:%M}",
                late=f"{best[-1].at:%H:%M}",
                hits=hits,
                count=len(days),
            )
            yield _look(max(best, key=lambda each: each.at), MINUTE, words)


def _minute(each: Done) -> int:
    return each.at.hour * 60 + each.at.minute


def _by_machine(checks: list[Done]) -> Iterable[list[Done]]:
    found: dict[str, list[Done]] = defaultdict(list)
    for each in checks:
        found[each.machine].append(each)
    return found.values()


def _runs(own: list[Done], within: timedelta) -> list[list[Done]]:
    """Cut where a check lies later than so long after the first of its run."""
    runs: list[list[Done]] = []
    for each in own:
        if runs and each.at - runs[-1][0].at <= within:
            runs[-1].append(each)
        else:
            runs.append([each])
    return runs


def _span(run: list[Done]) -> str:
    minutes = max(1, round((run[-1].at - run[0].at).total_seconds() / 60))
    return _("{minutes} min").format(minutes=minutes)


def _look(newest: Done, pattern: str, words: str) -> Look:
    return Look(person=newest.person, pattern=pattern, words=words, newest=newest)
