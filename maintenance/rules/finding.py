"""From a symptom to a cause: odds over causes, moved by each answer, and the most telling test.

Bayes' rule with answers that depend on the cause alone. What is known of causes and tests is data
of the rule sheet (``finding_sheet``); nothing here knows a machine.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import fsum, log2
from typing import Literal, TypeAlias

from maintenance.rules.inspection import ISOLATED_FOR
from maintenance.rules.sheet import cited
from plant.translate import gettext

# An answer to every test; it moves no odds.
COULD_NOT = "could not tell"
# The cause that every list has: what the list does not name.
OTHER = "other"

# Standing: looked at from outside, nothing opened. Running: seen, heard or counted from outside,
# guards on. Isolated: everything that opens a guard or touches the drive.
Way: TypeAlias = Literal["standing", "running", "isolated"]
STANDING: Way = "standing"
RUNNING: Way = "running"
ISOLATED: Way = "isolated"
WAYS: tuple[Way, ...] = (STANDING, RUNNING, ISOLATED)


class Contradiction(ValueError):
    """The answers fit no cause of the list: each of them is ruled out by one answer or another."""


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One cause. then: what is done about it; page: which reading helps, empty for none."""

    key: str
    words: str
    then: str
    page: str
    supplies: frozenset[str] | None
    families: frozenset[str] | None


@dataclass(frozen=True, kw_only=True)
class Test:
    """One test: what to do, what may be seen, and how likely each is under each cause.

    needs_supply: what is looked at is what isolating shuts, lets out or switches off; isolated, it
    would tell of the isolating. minutes: [min] without isolating; group: tests that tell the same,
    of which one counts; reading: the kind of belt reading that answers it, and verdicts: its
    verdict to an answer; likelihoods: cause to the chances of the answers in their order, otherwise
    for the causes that are not named. All chances of a row add up to 1.
    """

    key: str
    short: str
    do: str
    way: Way
    opens_guard: bool
    touches: bool
    caution: str
    minutes: float
    answers: tuple[tuple[str, str], ...]
    group: str
    reading: str
    verdicts: Mapping[str, str]
    likelihoods: Mapping[str, tuple[float, ...]]
    otherwise: tuple[float, ...]
    symptoms: frozenset[str]
    supplies: frozenset[str] | None
    families: frozenset[str] | None
    source: str
    trust: str
    needs_supply: bool = False

    def chance(self, answer: str, *, cause: str) -> float:
        """[-] chance of this answer where that is the cause.

        Raises:
            KeyError: the test has no such answer.
        """
        row = self.likelihoods.get(cause, self.otherwise)
        return dict(zip((key for key, _ in self.answers), row, strict=True))[answer]

    @property
    def cited(self) -> str:
        """Where the chances are from, and how far that was seen."""
        return cited(self.source, self.trust)

    def words_of(self, answer: str) -> str:
        """The answer as it is read."""
        return gettext("Could not tell") if answer == COULD_NOT else dict(self.answers)[answer]


def odds(start: Mapping[str, float], told: Iterable[tuple[Test, str]]) -> dict[str, float]:
    """The odds of each cause after the answers; they add up to 1, whatever the answers' order.

    Args:
        start: [-] cause to its starting odds, of any common scale.
        told: each test with its answer; COULD_NOT moves nothing.

    Raises:
        Contradiction: no cause allows all of the answers.
        ValueError: starting odds below nought, or none above it.

    Source:
        Bayes' rule for several independent observations: MacKay, Information Theory, Inference,
        and Learning Algorithms, Cambridge 2003, section 2.3 (from memory).
    """
    if not start or min(start.values()) < 0 or max(start.values()) <= 0:
        raise ValueError("starting odds must be nought or more, and one above it")
    # In one order always, so that the last bits do not depend on who answered first.
    moving = sorted(
        ((test, answer) for test, answer in told if answer != COULD_NOT),
        key=lambda each: (each[0].key, each[1]),
    )
    weights = {}
    for cause, weight in start.items():
        for test, answer in moving:
            weight *= test.chance(answer, cause=cause)
        weights[cause] = weight
    whole = fsum(weights.values())
    if whole <= 0:
        raise Contradiction(gettext("the answers fit no cause of the list"))
    return {cause: weight / whole for cause, weight in weights.items()}


def entropy(shares: Iterable[float]) -> float:
    """[bit] doubt left in odds that add up to 1; nought when one of them is certain.

    Source:
        Shannon's entropy: MacKay 2003, section 2.4 (from memory).
    """
    return fsum(-share * log2(share) for share in shares if share > 0)


def expected_drop(now: Mapping[str, float], test: Test) -> float:
    """[bit] how much doubt an answer to this test is expected to take away; never below nought.

    Source:
        Mean information between cause and answer: MacKay 2003, section 8.1; chosen by as in
        his weighing problem, section 4.1 (from memory).
    """
    left = 0.0
    for answer, _ in test.answers:
        joint = {cause: share * test.chance(answer, cause=cause) for cause, share in now.items()}
        chance = fsum(joint.values())
        if chance > 0:
            left += chance * entropy(part / chance for part in joint.values())
    return max(0.0, entropy(now.values()) - left)


@dataclass(frozen=True, kw_only=True)
class Next:
    """The test to do next.

    bits: [bit] expected to go; share: of the doubt there is; minutes: [min] with isolating, where
    the machine has to be isolated first.
    """

    test: Test
    bits: float
    share: float
    minutes: float
    isolate_first: bool

    @property
    def percent(self) -> int:
        """[%] of the doubt that is expected to go."""
        return round(self.share * 100)


def ranked(
    now: Mapping[str, float],
    tests: Iterable[Test],
    *,
    isolated: bool,
    may_run: bool,
    isolate_minutes: float,
    least_bits: float,
) -> list[Next]:
    """The tests that may be done now and tell something, by bits a minute, the best first.

    Args:
        tests: those left.
        isolated: whether the machine is; else an isolated test costs the isolating too.
        may_run: whether it may be started at all.
        isolate_minutes: [min]; least_bits: [bit] below which a test tells nothing.
    """
    doubt = entropy(now.values())
    found = []
    for test in tests:
        first = test.way == ISOLATED and not isolated
        bits = expected_drop(now, test)
        if bits < least_bits or (not first and refusal(test, isolated=isolated, may_run=may_run)):
            continue
        found.append(
            Next(
                test=test,
                bits=bits,
                share=bits / doubt,
                minutes=test.minutes + (isolate_minutes if first else 0),
                isolate_first=first,
            )
        )
    return sorted(found, key=lambda n: (-n.bits / n.minutes, WAYS.index(n.test.way), n.test.key))


def refusal(test: Test, *, isolated: bool, may_run: bool) -> str:
    """Why this test is not done or answered now; empty when it may be.

    What opens a guard or touches the drive waits for isolation; what runs, and what needs the
    supply, waits for its end.
    """
    if test.way == ISOLATED and not isolated:
        return gettext("Isolate the machine first, and confirm it.")
    if test.needs_supply and isolated:
        return gettext("It is isolated, so this tells nothing of the fault.")
    if test.way == RUNNING and isolated:
        return gettext("It is isolated. Put all guards back and say so before it is started.")
    if test.way == RUNNING and not may_run:
        return gettext("It must not be started now.")
    return ""


def is_isolated(isolated_at: datetime | None, *, at: datetime) -> bool:
    """Whether a confirmation of that moment still holds; it holds for 12 hours (our own figure)."""
    return isolated_at is not None and isolated_at <= at <= isolated_at + ISOLATED_FOR


def left(tests: Sequence[Test], answered: Mapping[str, str]) -> list[Test]:
    """The tests still to be answered: without those that would tell what another has told.

    Args:
        answered: test key to answer.
    """
    told = {
        test.group
        for test in tests
        if test.group and answered.get(test.key, COULD_NOT) != COULD_NOT
    }
    return [test for test in tests if test.key not in answered and test.group not in told]


@dataclass(frozen=True, kw_only=True)
class Ends:
    """When a finding ends in a cause: odds of at least share, and so many times the second's."""

    share: float
    times: float


@dataclass(frozen=True, kw_only=True)
class Standing:
    """The leading cause and whether it is found. second: odds of the cause after it."""

    cause: str
    share: float
    second: float
    found: bool


def standing(now: Mapping[str, float], ends: Ends) -> Standing:
    """Which cause leads; something that the list does not name is never found by leading."""
    first, *after = in_order(now)
    share, second = now[first], now[after[0]] if after else 0.0
    found = first != OTHER and share >= ends.share and share >= ends.times * second
    return Standing(cause=first, share=share, second=second, found=found)


def in_order(now: Mapping[str, float]) -> list[str]:
    """The causes by their odds, the likeliest first; equal ones by their names."""
    return sorted(now, key=lambda cause: (-now[cause], cause))


def starting(
    stated: Mapping[str, float],
    closed: Mapping[str, int],
    *,
    enough: int,
    strength: float,
) -> tuple[dict[str, float], int]:
    """The odds to start from, and from how many of the depot's closed jobs (0: the stated ones).

    Args:
        stated: [-] cause to odds that add up to 1.
        closed: cause to the number of closed jobs; one not in the list counts as something else.
        enough: from so many jobs on they count; strength: [jobs] that the stated odds stand for.

    Source:
        Mean of a Dirichlet prior with the stated odds times strength as its counts: MacKay 2003,
        section 23.5; Gelman et al., Bayesian Data Analysis, section 3.4 (both from memory).
    """
    jobs = sum(closed.values())
    if jobs < enough:
        return dict(stated), 0
    counts = dict.fromkeys(stated, 0)
    for cause, count in closed.items():
        counts[cause if cause in counts else OTHER] += count
    whole = strength + jobs
    return {
        cause: (strength * share + counts[cause]) / whole for cause, share in stated.items()
    }, jobs


def odds_text(share: float) -> str:
    """Odds in words: about 7 in 10."""
    if share < 0.05:
        return gettext("less than 1 in 20")
    if share > 0.95:
        return gettext("more than 19 in 20")
    tenths = min(9, max(1, round(share * 10)))
    return gettext("about {tenths} in 10").format(tenths=tenths)


def some(keys: frozenset[str] | None, key: str) -> bool:
    """Whether a list of families or supplies holds this one; None holds all."""
    return keys is None or key in keys
