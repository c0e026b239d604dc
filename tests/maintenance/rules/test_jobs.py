"""The moves of a job."""

from itertools import product
from typing import Any, get_args

import pytest

from maintenance.rules.jobs import MOVES, OPEN, STATES, JobState, refusal, word

ALLOWED = {
    ("reported", "looked at"),
    ("reported", "called off"),
    ("looked at", "given out"),
    ("looked at", "called off"),
    ("given out", "under way"),
    ("given out", "looked at"),
    ("under way", "waiting"),
    ("under way", "work done"),
    ("waiting", "under way"),
    ("waiting", "called off"),
    ("work done", "closed"),
    ("work done", "under way"),
}
EVERYTHING: dict[str, Any] = {
    "reason": "wrong belt fitted",
    "decided": True,
    "given_to": "ann",
    "for_day": True,
    "waiting_for": "part",
}
KEYS = [state.key for state in STATES]


@pytest.mark.parametrize(("state", "to"), list(product(KEYS, KEYS)))
def test_every_pair_of_states(state: JobState, to: JobState) -> None:
    assert (refusal(state, to, **EVERYTHING) == "") is ((state, to) in ALLOWED)


def test_every_state_has_a_word_a_shape_and_its_moves() -> None:
    assert set(KEYS) == set(MOVES) == set(get_args(JobState))
    assert len({state.shape for state in STATES}) == len({s.word for s in STATES}) == 8
    assert word("closed") == "Checked and closed"
    assert set(KEYS) - OPEN == {"closed", "called off"}


@pytest.mark.parametrize(
    ("state", "to", "left_out", "words"),
    [
        ("reported", "looked at", "decided", "Decide first"),
        ("looked at", "given out", "given_to", "Name the person"),
        ("looked at", "given out", "for_day", "and the day"),
        ("under way", "waiting", "waiting_for", "what it waits for"),
        ("waiting", "called off", "reason", "why it is called off"),
        ("work done", "under way", "reason", "why it is sent back"),
    ],
)
def test_each_move_needs_its_words(
    state: JobState, to: JobState, left_out: str, words: str
) -> None:
    some = {key: value for key, value in EVERYTHING.items() if key != left_out}

    assert words in refusal(state, to, **some)


def test_a_job_given_back_needs_no_new_decision() -> None:
    assert refusal("given out", "looked at") == ""


def test_a_closed_job_says_to_raise_a_new_one() -> None:
    assert "Raise a new job" in refusal("closed", "under way", **EVERYTHING)


def test_a_learner_does_not_close_his_own_work() -> None:
    own = refusal("work done", "closed", by="ann", done_by=["ann"], done_by_learner=True)

    assert "closed by somebody else" in own
    other = refusal("work done", "closed", by="bob", done_by=["ann"], done_by_learner=True)
    assert other == ""


def test_what_is_still_blank_is_named() -> None:
    left = refusal("under way", "work done", still_blank={"cause", "action"})

    assert left == "Still to fill in: action and cause."
