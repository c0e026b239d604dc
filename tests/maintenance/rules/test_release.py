"""Who may free a machine."""

from typing import Any

import pytest

from maintenance.rules.release import refusal


def asked(**changed: Any) -> str:
    usual: dict[str, Any] = {
        "releaser": "bob",
        "done_by": ["ann"],
        "learner": False,
        "one_person_depot": False,
        "reason": "",
        "jobs_open": [],
    }
    return refusal(**(usual | changed))


def test_a_competent_second_person_may_release() -> None:
    assert asked() == ""
    assert asked(frees=["f1"]) == ""


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"learner": True}, "learner"),
        ({"not_competent": "Your competence ended."}, "competence ended"),
        ({"done_by": ["ann", "bob"]}, "second person"),
        ({"jobs_open": ["J-7", "J-9"]}, "close or call off J-7 and J-9"),
        ({"tests_open": ["earth path"]}, "retest of earth path"),
        ({"corrected_by": ["bob"]}, "turned a failure into a pass"),
        ({"frees": []}, "Name what"),
    ],
)
def test_each_reason_against_a_release(changed: dict[str, Any], words: str) -> None:
    assert words in asked(**changed)


def test_one_person_may_release_his_own_work_where_allowed_and_with_a_reason() -> None:
    alone: dict[str, Any] = {"done_by": ["bob"], "one_person_depot": True}

    assert "Write why" in asked(**alone, reason=" alone  ")
    assert asked(**alone, reason="Nobody else works here.") == ""


@pytest.mark.parametrize(
    "changed",
    [
        {"learner": True},
        {"not_competent": "Ended."},
        {"jobs_open": ["J-7"]},
        {"tests_open": ["RCD"]},
    ],
)
def test_a_one_person_depot_excuses_nothing_else(changed: dict[str, Any]) -> None:
    reason = "Nobody else works here."

    assert asked(done_by=["bob"], one_person_depot=True, reason=reason, **changed) != ""
