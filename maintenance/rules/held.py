"""What would free a machine that must not be used, said step by step in the order of doing it."""

from dataclasses import dataclass
from datetime import date

from maintenance.rules.words import day_text
from plant.translate import gettext as _


@dataclass(frozen=True, kw_only=True)
class Standing:
    """One stop that stands, with what its end waits for.

    decision: nobody decided yet, and somebody with the right may; ended: last day of a note that is
    over; job, job_state: number and state of its job while that is neither done nor called off;
    countersign: number of a job that a learner did and nobody countersigned; test: the failed
    test that no later one of the same form has passed.
    """

    decision: bool = False
    ended: date | None = None
    job: str = ""
    job_state: str = ""
    countersign: str = ""
    test: str = ""


def steps(stops: tuple[Standing, ...], *, one_person: bool) -> tuple[str, ...]:
    """Each thing that is still to be done; the release check, which alone frees, comes last.

    Args:
        stops: all that makes it a machine not to be used.
        one_person: at its depot one person may release his own work.
    """
    told = []
    for stop in stops:
        if stop.ended is not None:
            told.append(
                _("The note ended on {ended}: a foreman decides again, or it is put right.").format(
                    ended=day_text(stop.ended)
                )
            )
        if stop.decision:
            told.append(_("A foreman decides: stop it, or carry on with a note until a day."))
    for stop in stops:
        if stop.job:
            told.append(
                _("{job} is done or called off (now: {job_state}).").format(
                    job=stop.job, job_state=stop.job_state
                )
            )
        if stop.countersign:
            told.append(
                _("{countersign}, a learner’s work, is countersigned.").format(
                    countersign=stop.countersign
                )
            )
        if stop.test:
            told.append(_("{test} is passed.").format(test=stop.test))
    told.append(
        _("A release check by a competent person.")
        if one_person
        else _("A release check by a competent person, not by who did the work.")
    )
    return tuple(dict.fromkeys(told))
