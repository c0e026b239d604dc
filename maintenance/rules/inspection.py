"""What a look-over or an inspection finds: answers and figures in, the outcome of a check out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal, TypeAlias

from maintenance.rules.check import (
    ANSWERS,
    COULD_NOT,
    OK,
    WRONG,
    Answer,
    CheckRefused,
    Given,
    Outcome,
    outcome,
)
from maintenance.rules.due import add_months
from maintenance.rules.sheet import Interval, Point
from maintenance.rules.words import day_text
from plant.translate import gettext as _

Lacking: TypeAlias = Literal["none on it"]
NONE_ON_IT: Lacking = "none on it"
# A machine that was locked off this morning may be running by tomorrow (our own figure).
ISOLATED_FOR = timedelta(hours=12)


@dataclass(frozen=True, kw_only=True)
class Found:
    """What was found at one point.

    answer: empty where a figure is given instead; figure: [unit of the point].
    """

    answer: str = ""
    word: str = ""
    figure: float | None = None


@dataclass(frozen=True, kw_only=True)
class Judged:
    """One point judged: by the answer given, or by its figure against the limits."""

    answer: Answer | Lacking
    word: str


def judge(found: Mapping[str, Found], points: Sequence[Point]) -> tuple[Outcome, dict[str, Judged]]:
    """Judges a whole list. A figure outside its limits is wrong, whoever thinks otherwise.

    Args:
        found: point key to what was found there.
        points: the points that were asked, in their order.

    Raises:
        CheckRefused: a point without an answer, an answer without a point, no word beside *wrong*
            or *could not check*, *none on it* where every such machine has one, or an answer in a
            word where a figure decides.
    """
    problems: dict[str, str] = {}
    judged: dict[str, Judged] = {}
    for point in points:
        given = found.get(point.key, Found())
        if refused := _refusal(given, point):
            problems[point.key] = refused
        else:
            judged[point.key] = _judged(given, point)
    known = {point.key for point in points}
    problems |= {
        key: _("{key}: this was not asked.").format(key=key) for key in found if key not in known
    }
    if problems:
        raise CheckRefused(problems)
    counted = [point for point in points if judged[point.key].answer != NONE_ON_IT]
    given_words = {
        key: Given(answer=one.answer, word=one.word)
        for key, one in judged.items()
        if one.answer != NONE_ON_IT
    }
    return outcome(given_words, [point.item() for point in counted]), judged


def _refusal(given: Found, point: Point) -> str:
    name = point.short
    if given.answer == "" and given.figure is None:
        if point.unit:
            return _("{name}: type the figure, or say that it could not be checked.").format(
                name=name
            )
        return _("{name}: no answer. Answer OK, Wrong or Could not check.").format(name=name)
    if given.answer and given.figure is not None:
        return _("{name}: a figure, or an answer instead of it, not both.").format(name=name)
    if given.figure is not None and not point.unit:
        return _("{name}: no figure is asked for here.").format(name=name)
    if given.answer == NONE_ON_IT:
        return (
            ""
            if point.may_lack
            else _("{name}: every machine of this kind has one.").format(name=name)
        )
    if given.answer and given.answer not in ANSWERS:
        return _("{name}: the answer must be OK, Wrong or Could not check.").format(name=name)
    if point.unit and given.answer in (OK, WRONG):
        return _("{name}: the figure decides. Type it with its unit.").format(name=name)
    if given.answer in (WRONG, COULD_NOT) and not given.word.strip():
        return _("{name}: say in a word what is wrong, or why not checked.").format(name=name)
    return ""


def _judged(given: Found, point: Point) -> Judged:
    if given.figure is None:
        answer = next(a for a in (*ANSWERS, NONE_ON_IT) if a == given.answer)
        return Judged(answer=answer, word=given.word)
    low = point.least is not None and given.figure < point.least
    high = point.most is not None and given.figure > point.most
    if not low and not high:
        return Judged(answer=OK, word=given.word)
    told = _("{figure} {unit}; the limit is {limit}").format(
        figure=f"{given.figure:g}", unit=point.unit, limit=point.limit
    )
    return Judged(answer=WRONG, word=f"{told}. {given.word}" if given.word else told)


def isolation_refusal(
    points: Sequence[Point], *, isolated_at: datetime | None, at: datetime
) -> str:
    """Why the isolated part cannot be asked or kept; empty when it can, or there is none."""
    if not any(point.isolated for point in points):
        return ""
    if isolated_at is None:
        return _("Isolate the machine and confirm it before the isolated points.")
    if isolated_at > at:
        return _("The isolation was confirmed after this. Confirm it again.")
    if at - isolated_at > ISOLATED_FOR:
        return _("The isolation was confirmed over 12 hours ago. Look again, and confirm it again.")
    return ""


def look_over_due(interval: Interval | None, *, looked_on: date | None) -> date | None:
    """The last day on which the last look-over still holds.

    None: it has no interval, or was never looked over, so that there is nothing to count from.
    """
    if interval is None or looked_on is None:
        return None
    if interval.every_months:
        return add_months(looked_on, interval.every_months)
    if interval.every_days:
        return looked_on + timedelta(days=interval.every_days)
    return None


def holds_from(interval: Interval | None, *, on: date) -> date | None:
    """The earliest day of a look-over that still holds today; None without an interval."""
    if interval is None or look_over_due(interval, looked_on=on) is None:
        return None
    day = on - timedelta(days=interval.every_days or 0)
    if interval.every_months:
        day = add_months(on, -interval.every_months)
    # A month may be short at its end: the day found by counting back need not count forward.
    while (due := look_over_due(interval, looked_on=day)) is not None and due < on:
        day += timedelta(days=1)
    return day


def look_over_words(interval: Interval | None, *, looked_on: date | None, on: date) -> str:
    """How the look-over stands today, in one line; empty where nothing is to be told."""
    due = look_over_due(interval, looked_on=looked_on)
    if interval is None or due is None:
        return ""
    if due < on:
        return _("Look-over overdue since {due}. {interval}.").format(
            due=day_text(due), interval=interval.words
        )
    return _("Look-over due by {due}. {interval}.").format(
        due=day_text(due), interval=interval.words
    )
