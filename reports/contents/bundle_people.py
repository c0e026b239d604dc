"""Parts 5 and 6 of a bundle: who signed, and what they were competent for."""

from collections.abc import Collection

from django.utils.translation import gettext, ngettext

from maintenance.contents.gaps import Period
from maintenance.contents.record import summary, who
from maintenance.contents.record_facts import ON_THAT_DAY, facts
from maintenance.models import Competence
from maintenance.rules.words import day_text
from plant.models import Record, User
from plant.models.record import BY_RULE
from plant.rights import Right, depots_where
from reports.contents.bundle_said import Said
from reports.pdf.bundle import Grid, Section

_SIGNED = (Record.Kind.TEST, Record.Kind.RELEASE, Record.Kind.INSPECTION)


def people(said: Said, records: list[Record], *, by: User) -> Section:
    signed: dict[int, tuple[User, set[str], int]] = {}
    by_label = by_rule = 0
    for record in records:
        if record.by is None:
            by_rule += record.role == BY_RULE
            by_label += record.role != BY_RULE
            continue
        person, roles, count = signed.get(record.by.pk, (record.by, set(), 0))
        signed[person.pk] = (person, roles | {record.role}, count + 1)
    depots = {each.depot_id for each in records} | {said.machine.depot_id}
    # The records came with the machine; the register of people of its old depot did not.
    seen = depots & depots_where(by, Right.SEE)
    held = _competences(said.period, signed, seen)
    nothing = gettext("none") if seen == depots else gettext("none listed")
    told = [
        ngettext(
            "Signed at the machine's label without an account: {count} record.",
            "Signed at the machine's label without an account: {count} records.",
            by_label,
        ).format(count=by_label)
    ]
    if by_rule:
        told.append(
            ngettext(
                "Made by a rule, signed by nobody: {count} record.",
                "Made by a rule, signed by nobody: {count} records.",
                by_rule,
            ).format(count=by_rule)
        )
    if seen != depots:
        told.append(
            gettext(
                "Competences that were given in a depot which "
                "who asked for this may not see are not "
                "listed; what counted on the day stands in part 6."
            )
        )
    return Section(
        key="people",
        title=gettext("5. Who signed, and what they were competent for"),
        words=tuple(told),
        grid=Grid(
            (
                gettext("Person"),
                gettext("In the role of"),
                gettext("Records"),
                gettext("Competences that counted in the period"),
            ),
            (20, 14, 9, 57),
            tuple(
                (
                    person.name,
                    ", ".join(sorted(roles)),
                    str(count),
                    "\n".join(held.get(person.pk, ())) or nothing,
                )
                for person, roles, count in sorted(signed.values(), key=lambda e: e[0].name)
            ),
        ),
    )


def _competences(
    period: Period, people: Collection[int], depots: Collection[int]
) -> dict[int, list[str]]:
    """What counted in the period of each of these people, as given in these depots."""
    held: dict[int, list[str]] = {}
    rows = Competence.objects.filter(user__in=people, depot__in=depots).select_related(
        "record__depot"
    )
    for each in rows.order_by("skill", "valid_from", "pk"):
        ended = [day for day in (each.valid_until, each.ended_on) if day is not None]
        if each.valid_from > period.last or (ended and min(ended) < period.first):
            continue
        begun = day_text(each.valid_from)
        time = (
            gettext("{valid_from} to {valid_until}").format(
                valid_from=begun, valid_until=day_text(each.valid_until)
            )
            if each.valid_until
            else gettext("{valid_from}, no last day").format(valid_from=begun)
        )
        if each.ended_on:
            time = gettext("{time}, ended {ended_on}: {because}").format(
                time=time, ended_on=day_text(each.ended_on), because=each.ended_because
            )
        held.setdefault(each.user_id, []).append(
            gettext("{skill}, {machines}: {time}. {told} (record {record}).").format(
                skill=each.get_skill_display(),
                machines=each.for_machines,
                time=time,
                told=each.told,
                record=each.record.number,
            )
        )
    return held


def competence(said: Said, records: list[Record]) -> Section:
    rows = []
    for record in records:
        kept = dict(facts(record)).get(gettext(ON_THAT_DAY))
        if kept is None and record.kind not in _SIGNED:
            continue
        rows.append(
            (
                said.when(record.happened_at),
                summary(record),
                who(record),
                kept or gettext("none sealed with it"),
                record.number,
            )
        )
    return Section(
        key="competence",
        title=gettext("6. Competence on the day, as it was sealed"),
        words=(gettext("A failed test or look needs none; a pass and a release do."),),
        grid=Grid(
            (
                gettext("When"),
                gettext("What"),
                gettext("Who"),
                gettext("Competence on that day"),
                gettext("Record"),
            ),
            (16, 25, 17, 30, 12),
            tuple(rows),
        ),
    )
