"""Giving somebody a competence, ending it, and asking for it before something is signed."""

import uuid
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from maintenance.actions.signing import is_learner, sealed_before, words
from maintenance.contents.competence import standing
from maintenance.models.competence import Competence, Skill
from maintenance.rules import competence as rule
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, MachineKind, Membership, Record, User
from plant.rights import TABLE, Right, role_for
from plant.sealing import Canonical

# What a person's role must carry for the competence to be of any use.
NEEDS: dict[Skill, Right] = {
    Skill.TEST: Right.WORK,
    Skill.RELEASE: Right.RELEASE,
    Skill.INSPECT: Right.CHECK,
    Skill.COUNTERSIGN: Right.RELEASE,
}
NOT_FOR_LEARNERS = (Skill.RELEASE, Skill.COUNTERSIGN)
LONGEST_TOLD = 200


def require(
    user: User, *, depot_id: int, skill: Skill, family: str, on: date
) -> dict[str, Canonical]:
    """The competence that counts for this work on this day, as the record keeps it.

    Raises:
        Refused: none counts; the words say since when, and whom to ask.
    """
    found = standing(user, depot_id=depot_id, skill=skill, family=family, on=on)
    if found.refusal:
        raise Refused(_("{refusal} Not saved.").format(refusal=found.refusal))
    return found.kept


@transaction.atomic
def give(
    *,
    person: User,
    depot: Depot,
    skill: Skill,
    valid_from: date,
    valid_until: date | None,
    told: str,
    at: datetime,
    by: User,
    family: str = "",
    reason: str = "",
    record_id: uuid.UUID | None = None,
) -> Competence:
    """Gives a competence, sealed with the ground for it.

    Args:
        family: the family of machines; empty for every family.
        valid_until: its last day; None where the certificate has none.
        told: the certificate, or what was seen of the person's work.
        reason: in a one-person depot, why nobody else can give it.

    Raises:
        Refused: not of this depot, a learner where none may be, to oneself, or days not in order.
    """
    _locked(person)
    role = role_for(by, Right.PEOPLE, depot.pk)
    told = words(told, field="told", what=_("certificate or ground"), low=1, high=LONGEST_TOLD)
    reason = words(reason, field="reason", what="reason")
    data: dict[str, Canonical] = {
        "move": "given",
        "account": str(person.pk),
        "skill": str(skill),
        "family": family,
        "from": valid_from.isoformat(),
        "until": valid_until.isoformat() if valid_until else None,
    }
    texts = {"person": person.name, "told": told, "reason": reason}
    if before := _before(record_id, depot=depot, by=by, data=data, texts=texts):
        return before.competence_row
    _refuse_person(person, depot=depot, skill=skill)
    if family and not MachineKind.objects.filter(family=family).exists():
        raise Refused(_("There is no such family of machines. Choose one."), field="family")
    refused = rule.dates_refusal(
        valid_from=valid_from, valid_until=valid_until, on=depot.day_of(at)
    )
    if refused:
        raise Refused(refused, field="valid_until")
    if person.pk == by.pk:
        if not depot.one_person:
            raise Refused(_("Nobody gives a competence to themselves. Ask another manager."))
        if len(reason) < rule.REASON_LETTERS:
            raise Refused(
                _("This is for yourself. Write why nobody else gives it."), field="reason"
            )
    record = seal(
        kind=Record.Kind.COMPETENCE, depot=depot, data=data, happened_at=at, received_at=at, by=by,
        role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    return Competence.objects.create(
        user=person,
        depot=depot,
        skill=skill,
        family=family,
        valid_from=valid_from,
        valid_until=valid_until,
        told=told,
        record=record,
    )


@transaction.atomic
def end(
    *,
    competence: Competence,
    because: str,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Competence:
    """Ends it from today on; what was signed with it before goes on standing.

    Raises:
        Refused: it has ended already, or no reason is given.
    """
    _locked(competence.user)
    competence = Competence.objects.select_related("depot", "user", "record__depot").get(
        pk=competence.pk
    )
    depot, person = competence.depot, competence.user
    role = role_for(by, Right.PEOPLE, depot.pk)
    because = words(because, field="because", what="reason", low=1, high=LONGEST_TOLD)
    data: dict[str, Canonical] = {
        "move": "ended",
        "account": str(person.pk),
        "skill": competence.skill,
        "family": competence.family,
        "number": competence.record.number,
    }
    texts = {"person": person.name, "because": because}
    if _before(record_id, depot=depot, by=by, data=data, texts=texts):
        return competence
    today = depot.day_of(at)
    if competence.ended_on is not None or competence.held.has_run_out(today):
        raise Refused(_("This competence has ended already. Nothing was changed."))
    record = seal(
        kind=Record.Kind.COMPETENCE, depot=depot, data=data, happened_at=at, received_at=at, by=by,
        role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    competence.ended_on, competence.ended_because = today, because
    competence.end_record = record
    competence.save(update_fields=["ended_on", "ended_because", "end_record"])
    return competence


def _locked(person: User) -> None:
    """Two changes to one person's competences come one after the other."""
    User.objects.select_for_update().only("pk").get(pk=person.pk)


def _before(
    record_id: uuid.UUID | None,
    *,
    depot: Depot,
    by: User,
    data: dict[str, Canonical],
    texts: dict[str, str],
) -> Record | None:
    before = sealed_before(
        record_id=record_id, kind=Record.Kind.COMPETENCE, machine=None, by=by,
        told=data, texts=texts,
    )  # fmt: skip
    if before is not None and before.depot_id != depot.pk:
        raise Refused(_("Another entry was saved under this number. Open the page afresh."))
    return before


def _refuse_person(person: User, *, depot: Depot, skill: Skill) -> None:
    held = set(Membership.objects.of(person).filter(depot=depot).values_list("role", flat=True))
    if not held or not person.is_active:
        raise Refused(_("This person does not work at this depot now. Not saved."))
    if skill in NOT_FOR_LEARNERS and is_learner(person, depot.pk):
        raise Refused(_("A learner cannot hold this competence. Not saved."), field="skill")
    if not held & set(TABLE[NEEDS[skill]][0]):
        raise Refused(_("No role of this person here does such work. Not saved."), field="skill")
