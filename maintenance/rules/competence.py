"""Whether somebody's competence counts on a day, and what is said where none does."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from maintenance.rules.words import day_text
from plant.translate import gettext as _

# So long before its last day an end is said aloud.
NOTICE = timedelta(days=30)
LONGEST = timedelta(days=3653)
REASON_LETTERS = 10


@dataclass(frozen=True, kw_only=True)
class Held:
    """One competence of one person, for one kind of work.

    family: the family of machines it is for, or empty for all of them; valid_until: its last day,
    None where it has none; ended_on: from this day on it counts no more.
    """

    number: str
    family: str
    valid_from: date
    valid_until: date | None = None
    ended_on: date | None = None

    def covers(self, family: str) -> bool:
        return self.family in ("", family)

    def counts(self, on: date) -> bool:
        if self.ended_on is not None and on >= self.ended_on:
            return False
        return self.valid_from <= on and (self.valid_until is None or on <= self.valid_until)

    def has_run_out(self, on: date) -> bool:
        ended = self.ended_on is not None and on >= self.ended_on
        return ended or (self.valid_until is not None and on > self.valid_until)


def counting(held: Iterable[Held], *, family: str, on: date) -> Held | None:
    """The competence that counts on that day for the family: the one that runs longest."""
    found = [each for each in held if each.covers(family) and each.counts(on)]
    return max(found, key=lambda each: each.valid_until or date.max, default=None)


def refusal(held: Collection[Held], *, what: str, family: str, on: date) -> str:
    """Why nothing of this counts on that day; empty when something does.

    Args:
        held: everything that the person was ever given for this kind of work.
        what: the kind of work, as it stands within a sentence.
    """
    if counting(held, family=family, on=on):
        return ""
    ask = _("Ask a foreman or the manager.")
    fitting = [each for each in held if each.covers(family)]
    past = [each for each in fitting if each.has_run_out(on)]
    if past:
        last = max(past, key=_last_day)
        if last.ended_on is not None and on >= last.ended_on:
            return _("Your competence for {what} was ended on {ended_on}. {ask}").format(
                what=what, ended_on=day_text(last.ended_on), ask=ask
            )
        return _("Your competence for {what} ended on {day}. {ask}").format(
            what=what, day=day_text(_last_day(last)), ask=ask
        )
    if fitting:
        first = min(each.valid_from for each in fitting)
        return _("Your competence for {what} begins on {first}. {ask}").format(
            what=what, first=day_text(first), ask=ask
        )
    if held:
        return _("Your competence for {what} is for other machines. {ask}").format(
            what=what, ask=ask
        )
    return _("You hold no competence for {what}. {ask}").format(what=what, ask=ask)


def ends_soon(*, valid_until: date | None, on: date) -> bool:
    """Whether its last day lies within the notice; a day past does not."""
    return valid_until is not None and on <= valid_until <= on + NOTICE


def dates_refusal(*, valid_from: date, valid_until: date | None, on: date) -> str:
    """Why these days cannot stand in a competence that is given today; empty when they can."""
    if valid_until is None:
        return ""
    if valid_until < valid_from:
        return _("Its last day lies before its first. Put one of them right.")
    if valid_until < on:
        return _("Its last day is past already. Give a later one.")
    if valid_until - valid_from > LONGEST:
        return _("It would run longer than ten years. Give an earlier last day, or none.")
    return ""


def _last_day(held: Held) -> date:
    """The last day on which it counted, of one that has run out."""
    days = [held.valid_until or date.max]
    if held.ended_on is not None:
        days.append(held.ended_on - timedelta(days=1))
    return min(days)
