"""Gathers a passport: whether the machine may be used, its last looks and tests, what is next."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Literal, TypeVar

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.contents.due import DueWork, told
from maintenance.contents.fitness import due_state_of_many, fitness_of
from maintenance.contents.record import who
from maintenance.models import Check, DueLine, ElectricalTest, Inspection, Move, Stay
from maintenance.rules import due as due_rule
from maintenance.rules import fitness as rule
from maintenance.rules.words import day_text, figure_text, moment_text
from plant.models import Machine, Place, Supply
from reports.contents.plate import link_of, plate_of
from reports.pdf.page import Printed
from reports.pdf.passport import Coming, Passport, Proof
from reports.pdf.plate import PlateField
from reports.pdf.service_sheet import Caution, Mark

NONE = gettext_noop("None on record")
R = TypeVar("R", Check, Inspection, ElectricalTest)
_ELECTRIC = (Supply.E230, Supply.E110, Supply.E400)
_ENGINES = (Supply.PETROL, Supply.DIESEL, Supply.GAS)


def passport(machine: Machine, *, at: datetime, by: str, number: str) -> Passport:
    """The machine as it stands, for whoever takes it along.

    Args:
        machine: its depot and kind must be read already.
        at: the moment of gathering; times are printed in the depot's zone.
        by: the name of who asked for it.
        number: what the passport is called.
    """
    on = machine.depot.day_of(at)
    fit = fitness_of(machine, on)
    work = _work(machine, on)
    due = due_state_of_many([machine], on)[machine.pk]
    weight, answer, because = _answer(fit, work)
    local = moment_text(at.astimezone(machine.depot.zone))
    return Passport(
        number=number,
        plate=plate_of(machine),
        printed=Printed(at=local, by=by),
        weight=weight,
        answer=answer,
        because=because,
        marks=(
            Mark("Where it is", str(Place(machine.place).label), since=_since(machine)),
            Mark("May it be used", fit.mark, since=_("as at {local}").format(local=local)),
            Mark("What is due", _word(due), since=_("as at {local}").format(local=local)),
        ),
        proofs=_proofs(machine),
        coming=_coming(work),
        gone_to=_gone_to(machine),
        report=(
            _("Scan the code with a phone and press Something wrong. No account is needed.")
            if machine.depot.checks_by_label
            else _("Sign in, scan the code with a phone and press Something wrong.")
        ),
        link=link_of(machine),
        short_code=machine.short_code,
        phone=machine.depot.phone,
        cautions=tuple(_cautions(machine)),
    )


def _answer(
    fit: rule.Fitness, work: Iterable[DueWork]
) -> tuple[Literal["stop", "care", "plain"], str, tuple[str, ...]]:
    """The answer at the top. Nothing on this page reads as fit that is stopped or not looked at."""
    reasons = tuple(f"{reason.rstrip('.')}." for reason in fit.reasons)
    past = tuple(
        f"{_word(each.state)}: {each.line.line.title}."
        for each in work
        if each.state in (due_rule.OVERDUE, due_rule.NEEDED_BEFORE_USE)
    )
    if fit.mark == rule.DO_NOT_USE:
        return "stop", "DO NOT USE", (*reasons, *past)
    if fit.mark == rule.NOT_YET_PASSED:
        told = _("Not yet passed: do not use it yet")
        return "care", told, (*reasons, *past)
    if past:
        return "care", _("Work is needed before use"), (*past, *reasons)
    if fit.mark == rule.WITH_A_NOTE:
        return "care", "Use, with a note", reasons
    return (
        "plain",
        _("OK to use when this was printed"),
        (_("Check it before each use all the same."),),
    )


def coming_of(machine: Machine, on: date) -> tuple[Coming, ...]:
    """What the machine's plan asks for next: what is past first, then by its day."""
    return _coming(_work(machine, on))


def _coming(work: Iterable[DueWork]) -> tuple[Coming, ...]:
    return tuple(Coming(each.line.line.title, _when(each), _word(each.state)) for each in work)


def _work(machine: Machine, on: date) -> list[DueWork]:
    lines = list(
        DueLine.objects.filter(machine=machine)
        .select_related("line", "counter__use_rate")
        .order_by("due_on", "pk")
    )
    for line in lines:
        line.machine = machine
    ranked = (due_rule.OVERDUE, due_rule.NEEDED_BEFORE_USE, due_rule.DUE_SOON, due_rule.NOTHING)
    dated = [each for each in told(lines, on) if each.line.due_on or each.line.due_tenths]
    return sorted(dated, key=lambda each: ranked.index(each.state))


def _word(state: str) -> str:
    return _("Not due yet") if state == due_rule.NOTHING else state.capitalize()


def _when(work: DueWork) -> str:
    line = work.line
    ways = []
    if line.due_on is not None:
        ways.append(day_text(line.due_on))
    if line.due_tenths is not None:
        ways.append(figure_text(line.due_tenths, line.line.measure))
    return " or ".join(ways) + (_(", whichever is first") if len(ways) > 1 else "")


def _since(machine: Machine) -> str:
    move = Move.objects.filter(machine=machine, to=machine.place).first()
    site = machine.site if machine.place == Place.OUT else ""
    since = _("since {at}").format(at=_local(move.at, machine)) if move else ""
    return ", ".join(part for part in (site, since) if part)


def _local(at: datetime, machine: Machine) -> str:
    return moment_text(at.astimezone(machine.depot.zone))


def _proofs(machine: Machine) -> tuple[Proof, ...]:
    """The newest check, look-over, inspection and electrical test; none is said so."""
    found: list[tuple[str, Check | Inspection | ElectricalTest | None]] = [
        (_("Last check"), _newest(Check.objects.filter(machine=machine)))
    ]
    for kind in Inspection.Kind:
        rows = Inspection.objects.filter(machine=machine, kind=kind)
        found.append((_("Last {kind}").format(kind=kind.label.lower()), _newest(rows)))
    test = _newest(ElectricalTest.objects.filter(machine=machine))
    if test is not None or machine.supply in _ELECTRIC:
        found.append((_("Last electrical test"), test))
    return tuple(
        Proof(what, _(NONE)) if each is None else _proof(what, each, machine)
        for what, each in found
    )


def _newest(rows: QuerySet[R]) -> R | None:
    return (
        rows.select_related("record__by", "record__depot").prefetch_related("record__texts").first()
    )


def _proof(what: str, row: Check | Inspection | ElectricalTest, machine: Machine) -> Proof:
    record = row.record
    role = f", {record.role}" if record.by is not None and record.role else ""
    if isinstance(row, ElectricalTest):
        result = row.result.capitalize()
        if row.item_serial:
            result = f"{result}: {row.what}"
    else:
        result = str(row.get_mark_display())
    return Proof(
        what,
        result,
        when=_local(record.happened_at, machine),
        who=f"{who(record)}{role}",
        record=record.number,
    )


def _gone_to(machine: Machine) -> tuple[PlateField, ...]:
    if machine.place != Place.OUT:
        return ()
    stay = Stay.objects.open().filter(machine=machine).select_related("hirer").first()
    if stay is None:
        return ()
    fields = (
        PlateField(_("Who has it"), stay.with_whom),
        PlateField(_("Where"), stay.site),
        PlateField(_("Out since"), _local(stay.out_at, machine)),
        PlateField(_("Due back on"), day_text(stay.due_back_on)),
        PlateField(_("Went with it"), stay.went_with),
    )
    return tuple(field for field in fields if field.value)


def _cautions(machine: Machine) -> Iterable[Caution]:
    """Common practice, no source; hazard, harm, act, in 15 words at most."""
    yield Caution("Stop", _("Guard off or loose: moving parts take fingers. Do not start it."))
    if machine.kind.belt_driven:
        yield Caution(
            "Take care",
            _("Belt can pull fingers in. Isolate and lock off before a cover comes off."),
        )
    if machine.supply in _ELECTRIC:
        yield Caution("Stop", _("Damaged cable or plug can kill. Leave it unplugged and tell us."))
    if machine.supply in _ENGINES:
        yield Caution("Stop", _("Exhaust gas can kill. Run it in the open air only."))
    yield Caution("Note", _("Repairs are for a competent person. Tell us; do not mend it on site."))
