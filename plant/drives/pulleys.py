"""Pulleys out of line by the straight edge, and worn grooves by the gauge: figures and limits."""

from dataclasses import dataclass
from enum import StrEnum
from math import atan, degrees, hypot, pi, sqrt

from plant.drives.doubt import Doubtful, probability_above
from plant.drives.errors import finite
from plant.drives.facts import Fact, Trust
from plant.length_words import length_text, number_text, spread_text
from plant.translate import gettext as _

# Limits that stand in where a rule sheet names none.
ALIGNMENT = Fact(0.5 * pi / 180, "V-belts: half a degree out of line at most", Trust.PRACTICE)
DISH = Fact(0.8e-3, "dish of a flank under the groove gauge, at most 0.8 mm", Trust.PRACTICE)
# Odds between this and one less this decide nothing, as in the verdict on the belt.
UNDECIDED = 0.20


class Lies(StrEnum):
    """Where a figure lies against its limit."""

    WITHIN = "within"
    OVER = "over"
    UNSURE = "not certain"


@dataclass(frozen=True, slots=True)
class Alignment:
    """How far two pulleys are out of line.

    offset [m]: from face to face, half way across; fleet [rad]: of the belt to the plane of the
    pulley that the straight edge lies on; turn [rad]: of the other pulley's plane against it;
    worst [rad]: the larger of the two angles at which the belt meets a groove; lies: against
    ``limit``; odds: that it is over the limit.
    """

    near: float
    far: float
    across: float
    span: float
    offset: Doubtful
    fleet: float
    turn: float
    worst: Doubtful
    limit: Fact
    odds: float
    lies: Lies

    @property
    def words(self) -> str:
        """In one sentence: how far out of line, and what to do."""
        told = _(
            "{offset} over {span} of span and turned by {turn}°: {worst} ± "
            "{degrees}° out of line at the worst groove; limit {limit}° "
            "({trust})"
        ).format(
            offset=length_text(self.offset.value),
            span=length_text(self.span, 0),
            turn=f"{degrees(self.turn):.2f}",
            worst=f"{degrees(self.worst.value):.2f}",
            degrees=f"{degrees(2 * self.worst.u):.2f}",
            limit=f"{degrees(self.limit.value):.2f}",
            trust=self.limit.trust,
        )
        if self.lies == Lies.OVER:
            return _(
                "The pulleys are out of line: {told}. Line them up before a belt is fitted."
            ).format(told=told)
        if self.lies == Lies.UNSURE:
            return _(
                "Not certain whether the pulleys are in line: {told}. Measure with feelers."
            ).format(told=told)
        return _("The pulleys are in line: {told}.").format(told=told)


def alignment(
    *, near: float, far: float, across: float, span: float, u_gap: float, limit: Fact = ALIGNMENT
) -> Alignment:
    """Works out how far two pulleys are out of line from two gaps under a straight edge.

    The straight edge lies on the face of one pulley, along the line of centres, and reaches over
    the other; the gaps to that one's face are taken at its two edges.

    Args:
        near, far: [m] gaps at the edge nearer to the first pulley and at the farther one.
        across: [m] distance between these two points: the diameter of that face.
        span: [m] free span of the belt.
        u_gap: [m] standard uncertainty of one gap.
        limit: [rad] most that is allowed, with its source.

    Returns:
        [m, rad] offset, angles and where the worst lies against the limit.

    Raises:
        OutOfRange: a gap is not 0 to 100 mm, or a length not within its range.

    Source:
        Plane geometry of two pulley planes and a belt between them, exact for pulleys that are
        turned about an axis across the line of centres; JCGM 100:2008, clause 5.1.2. Faces of
        equal distance from the grooves; a difference between them is measured as offset. The
        limit: common practice, no source.
    """
    for name, gap in (("near gap", near), ("far gap", far)):
        finite(name, gap, low=0, high=0.1, unit="m")
    finite("distance between the gaps", across, low=0.01, high=3, unit="m")
    finite("free span", span, low=0.01, high=10, unit="m")
    finite("doubt of a gap", u_gap, low=0, high=0.01, unit="m")
    offset = (near + far) / 2
    fleet, turn = atan(offset / span), atan((far - near) / across)
    own, other = abs(fleet), abs(turn - fleet)
    by_offset = u_gap / sqrt(2) / span / (1 + (offset / span) ** 2)
    by_turn = sqrt(2) * u_gap / across / (1 + ((far - near) / across) ** 2)
    # Sum and difference of two equally doubtful gaps do not depend on one another.
    worst = Doubtful(own, by_offset) if own > other else Doubtful(other, hypot(by_offset, by_turn))
    odds = probability_above(limit=limit.value, mean=worst.value, u=worst.u)
    return Alignment(
        near=near,
        far=far,
        across=across,
        span=span,
        offset=Doubtful(offset, u_gap / sqrt(2)),
        fleet=fleet,
        turn=turn,
        worst=worst,
        limit=limit,
        odds=odds,
        lies=_lies(odds),
    )


@dataclass(frozen=True, slots=True)
class Groove:
    """The groove of one pulley as it was found. dish [m]; None: not gauged or not looked at."""

    name: str
    dish: Doubtful | None
    shines: bool | None
    step: bool | None
    corroded: bool | None
    limit: Fact
    lies: Lies | None

    @property
    def worn(self) -> bool:
        """Whether a new belt on it will not last: dished past its limit, or with a step."""
        return self.lies == Lies.OVER or bool(self.step)

    @property
    def words(self) -> str:
        """In one sentence or two: what was found, and what to do."""
        found = []
        if self.dish is not None:
            found.append(
                _("dished {dish} ± {spread_text}, limit {limit} ({trust})").format(
                    dish=number_text(self.dish.value),
                    spread_text=spread_text(2 * self.dish.u),
                    limit=length_text(self.limit.value),
                    trust=self.limit.trust,
                )
            )
        for seen, yes, no in (
            (self.step, _("a step in the flank"), _("no step")),
            (self.corroded, _("flanks rusted or pitted"), _("flanks clean")),
            (self.shines, _("floor shines"), _("floor does not shine")),
        ):
            if seen is not None:
                found.append(yes if seen else no)
        told = f"{self.name.capitalize()}: {', '.join(found)}."
        if self.worn:
            return _(
                "{told} The groove is worn: a new belt on it does not last. Change the pulley."
            ).format(told=told)
        if self.lies == Lies.UNSURE:
            return _("{told} Not certain: gauge it again with a feeler.").format(told=told)
        if self.corroded:
            return _("{told} Clean the flanks: rust wears a belt quickly.").format(told=told)
        return told


def groove(
    *,
    name: str,
    dish: Doubtful | None,
    shines: bool | None = None,
    step: bool | None = None,
    corroded: bool | None = None,
    limit: Fact = DISH,
) -> Groove:
    """Judges the groove of one pulley.

    Args:
        name: "motor pulley" or "driven pulley".
        dish: [m] largest gap between flank and groove gauge, with its standard uncertainty.
        shines, step, corroded: [-] what was seen; None: not looked at.
        limit: [m] most dish that is allowed, with its source.

    Returns:
        [m] what was found, and where the dish lies against the limit.

    Raises:
        OutOfRange: the dish is not 0 to 20 mm.

    Source:
        The limit and the signs: common practice, no source.
    """
    lies = None
    if dish is not None:
        finite("dish of the groove", dish.value, low=0, high=0.02, unit="m")
        lies = _lies(probability_above(limit=limit.value, mean=dish.value, u=dish.u))
    return Groove(name, dish, shines, step, corroded, limit, lies)


def _lies(odds: float) -> Lies:
    if odds >= 1 - UNDECIDED:
        return Lies.OVER
    return Lies.WITHIN if odds <= UNDECIDED else Lies.UNSURE
