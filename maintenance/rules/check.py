"""What a set of answers to a check means for the machine."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from plant.translate import gettext as _

Answer: TypeAlias = Literal["ok", "wrong", "could not check"]
Level: TypeAlias = Literal["always", "stops", "decide"]
CheckMark: TypeAlias = Literal["passed", "not passed", "decide", "stop"]

OK: Answer = "ok"
WRONG: Answer = "wrong"
COULD_NOT: Answer = "could not check"
ANSWERS: tuple[Answer, ...] = (OK, WRONG, COULD_NOT)

ALWAYS: Level = "always"
STOPS: Level = "stops"
DECIDE: Level = "decide"
LEVELS: tuple[Level, ...] = (ALWAYS, STOPS, DECIDE)

PASSED: CheckMark = "passed"
NOT_PASSED: CheckMark = "not passed"
TO_DECIDE: CheckMark = "decide"
STOP: CheckMark = "stop"


@dataclass(frozen=True, kw_only=True)
class Item:
    """One question: always critical, stops the machine, or leaves it to a foreman to decide."""

    key: str
    level: Level
    short: str = ""


@dataclass(frozen=True, kw_only=True)
class Given:
    """One answer, with the word that *wrong* and *could not check* need."""

    answer: Answer
    word: str = ""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What the answers mean; every tuple holds item keys in the order asked.

    mark: stop outranks decide, decide outranks not passed, not passed outranks passed.
    stops: wrong on an item that stops the machine (always critical ones included).
    always: those of them that nobody may decide otherwise.
    decides: wrong on an item that leaves it to a foreman; the machine stands until he does.
    could_not: everything that could not be checked.
    """

    mark: CheckMark
    stops: tuple[str, ...]
    always: tuple[str, ...]
    decides: tuple[str, ...]
    could_not: tuple[str, ...]


class CheckRefused(ValueError):
    """The answers do not fit the questions; problems says all that is wrong, by item key."""

    def __init__(self, problems: Mapping[str, str]) -> None:
        super().__init__(" ".join(problems.values()))
        self.problems = dict(problems)


def outcome(answers: Mapping[str, Given], items: Sequence[Item]) -> Outcome:
    """Judges a check. Only a full set of answers to exactly the questions asked is judged.

    Args:
        answers: item key to what was answered.
        items: the questions that were asked, in their order.

    Raises:
        CheckRefused: a question without an answer, an answer without a question, or no word
            beside *wrong* or *could not check*.
        ValueError: no questions, a question asked twice, or a level that does not exist.
    """
    _refuse_bad_items(items)
    _refuse_bad_answers(answers, items)

    def keys(answer: Answer, *levels: Level) -> tuple[str, ...]:
        return tuple(i.key for i in items if i.level in levels and answers[i.key].answer == answer)

    stops = keys(WRONG, ALWAYS, STOPS)
    decides = keys(WRONG, DECIDE)
    mark: CheckMark = PASSED
    if stops:
        mark = STOP
    elif decides:
        mark = TO_DECIDE
    elif keys(COULD_NOT, ALWAYS, STOPS):
        mark = NOT_PASSED
    return Outcome(
        mark=mark,
        stops=stops,
        always=keys(WRONG, ALWAYS),
        decides=decides,
        could_not=keys(COULD_NOT, *LEVELS),
    )


def _refuse_bad_items(items: Sequence[Item]) -> None:
    if not items:
        raise ValueError("a check needs at least one question")
    if len({item.key for item in items}) != len(items):
        raise ValueError("a question is asked twice")
    for item in items:
        if item.level not in LEVELS:
            raise ValueError(f"{item.key}: level must be one of {LEVELS}, not {item.level!r}")


def _refuse_bad_answers(answers: Mapping[str, Given], items: Sequence[Item]) -> None:
    problems: dict[str, str] = {}
    asked = {item.key for item in items}
    for item in items:
        name = item.short or item.key
        given = answers.get(item.key)
        if given is None:
            problems[item.key] = _(
                "{name}: no answer. Answer OK, Wrong or Could not check."
            ).format(name=name)
        elif given.answer not in ANSWERS:
            problems[item.key] = _(
                "{name}: the answer must be OK, Wrong or Could not check."
            ).format(name=name)
        elif given.answer != OK and not given.word.strip():
            problems[item.key] = _(
                "{name}: say in a word what is wrong, or why not checked."
            ).format(name=name)
    for key in answers:
        if key not in asked:
            problems[key] = _("{key}: this was not asked.").format(key=key)
    if problems:
        raise CheckRefused(problems)
