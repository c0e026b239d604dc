"""The states of a job and the moves between them."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal, TypeAlias

from maintenance.rules.words import list_text
from plant.translate import gettext as _
from plant.translate import gettext_noop

JobState: TypeAlias = Literal[
    "reported",
    "looked at",
    "given out",
    "under way",
    "waiting",
    "work done",
    "closed",
    "called off",
]


@dataclass(frozen=True, kw_only=True)
class State:
    """A state: its word, and the shape of its mark."""

    key: JobState
    word: str
    shape: str


STATES: tuple[State, ...] = (
    State(key="reported", word="Reported", shape="speech bubble"),
    State(key="looked at", word="Looked at", shape="eye"),
    State(key="given out", word="Given out", shape="hand"),
    State(key="under way", word="Under way", shape="spanner"),
    State(key="waiting", word="Waiting", shape="pause bars"),
    State(key="work done", word="Work done", shape="half-filled circle"),
    State(key="closed", word="Checked and closed", shape="filled circle with tick"),
    State(key="called off", word="Called off", shape="circle with a stroke"),
)

MOVES: dict[JobState, tuple[JobState, ...]] = {
    "reported": ("looked at", "called off"),
    "looked at": ("given out", "called off"),
    "given out": ("under way", "looked at"),
    "under way": ("waiting", "work done"),
    "waiting": ("under way", "called off"),
    "work done": ("closed", "under way"),
    "closed": (),
    "called off": (),
}

# Keys, looked up where they are shown.
WAITING_FOR: tuple[str, ...] = (
    gettext_noop("part"), gettext_noop("hirer"), gettext_noop("outside repairer"),
    gettext_noop("help"),
)  # fmt: skip

OPEN: frozenset[JobState] = frozenset(state for state, onward in MOVES.items() if onward)


def word(state: JobState) -> str:
    """The state as it is written on screen and paper."""
    return next(each.word for each in STATES if each.key == state)


def refusal(
    state: JobState,
    to: JobState,
    *,
    reason: str = "",
    decided: bool = False,
    given_to: str = "",
    for_day: bool = False,
    waiting_for: str = "",
    by: str = "",
    done_by: Collection[str] = (),
    done_by_learner: bool = False,
    still_blank: Collection[str] = (),
    countersign_wanted: bool = False,
) -> str:
    """Why a job may not move on like this; empty when it may.

    Args:
        state, to: where it is and where it should go.
        reason: for calling off and for sending back.
        decided: stop or carry on was decided, for *Looked at*.
        given_to, for_day: the person, and whether a day was set, for *Given out*.
        waiting_for: one of WAITING_FOR, for *Waiting*.
        by: who makes the move.
        done_by: who worked on it as a learner, where done_by_learner; they do not close it.
        done_by_learner: whether anybody did.
        still_blank: names of what must be filled in before *Work done* and closing (symptom,
            cause, action).
        countersign_wanted: a learner worked on it, and nobody competent has looked at it since.
    """
    if to not in MOVES[state]:
        onward = [word(each) for each in MOVES[state]]
        if not onward:
            return _("A job that is {state} stays so. Raise a new job linked to it.").format(
                state=word(state)
            )
        return _("A job that is {state} can go to {onward} only.").format(
            state=word(state), onward=list_text(onward)
        )
    if to == "looked at" and state == "reported" and not decided:
        return _("Decide first: stop this machine, or carry on with a note.")
    if to == "given out" and not (given_to and for_day):
        return _("Name the person and the day.")
    if to == "waiting" and waiting_for not in WAITING_FOR:
        return _("Say what it waits for: {waiting_for}.").format(waiting_for=", ".join(WAITING_FOR))
    if to == "called off" and not reason.strip():
        return _("Write why it is called off, or which job it repeats.")
    if to == "under way" and state == "work done" and not reason.strip():
        return _("Write why it is sent back.")
    if to in ("work done", "closed") and still_blank:
        return _("Still to fill in: {list_text}.").format(list_text=list_text(sorted(still_blank)))
    if to == "closed" and done_by_learner and by in done_by:
        return _("A learner's work is closed by somebody else.")
    if to == "closed" and countersign_wanted:
        return _("A learner did this. A competent person countersigns it first.")
    return ""


def countersign_refusal(
    *,
    wanted: bool,
    learner: bool,
    not_competent: str,
    by: str,
    learners: Collection[str],
) -> str:
    """Why this person may not countersign; empty when he may.

    Args:
        wanted: a learner did the work, it is done, and nobody has countersigned it.
        learner: whether he is a learner himself.
        not_competent: why his competence does not count that day, in words; or empty.
        learners: everybody who worked on it as a learner.
    """
    if not wanted:
        return _("Nothing here waits to be countersigned. Nothing was changed.")
    if by in learners:
        return _("Nobody countersigns their own work. Ask a second person.")
    if learner:
        return _("A learner countersigns nothing. Ask a competent person.")
    return not_competent
