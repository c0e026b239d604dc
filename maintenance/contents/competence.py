"""Whether somebody may sign for a kind of work on a day, and what a record keeps of it."""

from dataclasses import dataclass
from datetime import date

from maintenance.models.competence import Competence, Skill
from maintenance.rules import competence as rule
from plant.models import User
from plant.sealing import Canonical


@dataclass(frozen=True)
class Standing:
    """refusal: why the person cannot sign, or empty; kept: what the record keeps, where he can."""

    refusal: str
    kept: dict[str, Canonical]


def standing(user: User, *, depot_id: int, skill: Skill, family: str, on: date) -> Standing:
    """How the person stands for this work on this day; pages ask before a form is filled in."""
    rows = Competence.objects.of(user, depot_id=depot_id, skill=skill)
    held = [row.held for row in rows.select_related("record__depot")]
    found = rule.counting(held, family=family, on=on)
    if found is None:
        return Standing(rule.refusal(held, what=skill.within, family=family, on=on), {})
    until = found.valid_until.isoformat() if found.valid_until else None
    return Standing("", {"competence": str(skill), "until": until, "number": found.number})
