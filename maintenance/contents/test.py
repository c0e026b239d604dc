"""Electrical tests: which forms a machine has, what stands in doubt, and readings as told."""

import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, Min, OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext as _

from maintenance.models import DueLine, ElectricalTest, Instrument, RuleSheet
from maintenance.rules import electrical as rule
from maintenance.rules import sheet as sheet_rule
from maintenance.rules.words import day_text
from plant.models import Machine, User


def sheet_of(machine: Machine, *, at: datetime) -> sheet_rule.RuleSheet | None:
    """The rule sheet in force at the machine's depot; None where there is none."""
    try:
        return RuleSheet.objects.on(machine.depot.day_of(at)).rules
    except RuleSheet.DoesNotExist:
        return None


def forms_of(machine: Machine, sheet: sheet_rule.RuleSheet) -> tuple[rule.Form, ...]:
    """The tests that this machine may be given."""
    return sheet.test_forms_for(
        family=machine.kind.family,
        supply=machine.supply,
        protection=machine.protection,
        power_w=machine.power_w,
    )


def class_missing(machine: Machine, sheet: sheet_rule.RuleSheet) -> bool:
    """Whether a test of the machine itself waits for the class on its plate."""
    return not machine.protection and any(
        form.protections is not None
        and form.supplies is not None
        and form.fits(
            family=machine.kind.family, supply=machine.supply, protection=protection,
            power_w=machine.power_w,
        )
        for form in sheet.test_forms
        for protection in form.protections or ()
    )  # fmt: skip


def instruments_for(machine: Machine) -> QuerySet[Instrument]:
    """The instruments in use of the machine's depot, with their calibrations."""
    return (
        Instrument.objects.in_use()
        .filter(depot_id=machine.depot_id)
        .prefetch_related("calibrations")
    )


def last_used(user: User, instruments: Iterable[Instrument]) -> Instrument | None:
    """Of these, the one with which this person tested last."""
    by_pk = {each.pk: each for each in instruments}
    last = (
        ElectricalTest.objects.filter(record__by=user, made_with__in=list(by_pk))
        .order_by("-at", "-pk")
        .values_list("made_with", flat=True)
        .first()
    )
    return by_pk.get(last) if last is not None else None


def in_doubt(machines: Iterable[Machine]) -> dict[int, list[ElectricalTest]]:
    """Of each machine the last tests that passed and came into doubt; one query for them all."""
    found: dict[int, list[ElectricalTest]] = {}
    tests = (
        ElectricalTest.objects.filter(machine__in=list(machines))
        .newest_of_each()
        .filter(passed=True, doubted_by__isnull=False)
        .select_related("doubted_by__instrument", "record__depot")
    )
    for test in tests:
        found.setdefault(test.machine_id, []).append(test)
    return found


def doubt(test: ElectricalTest) -> str:
    """Why a passed test counts no longer, in one sentence; empty where it counts."""
    if test.doubted_by is None:
        return ""
    against = test.doubted_by
    on = day_text(test.record.depot.day_of(test.at))
    done = day_text(against.done_on)
    if against.struck_by_id is not None:
        because = _("whose calibration of {done} was entered by mistake and struck out").format(
            done=done
        )
    elif not against.found_good:
        because = _("which was found wrong on {done}").format(done=done)
    else:
        ended = day_text(against.valid_until or against.done_on)
        because = _("whose calibration of {done} had ended on {ended}").format(
            done=done, ended=ended
        )
    return _("Test again: {what}. It passed on {on} with {instrument}, {because}.").format(
        what=test.what, on=on, instrument=against.instrument.name, because=because
    )


def last_told(machine: Machine, form: rule.Form) -> dict[str, Any]:
    """What the last test by this form said of lead, device and serial, to begin the next with."""
    last = (
        ElectricalTest.objects.filter(machine=machine, form=form.key)
        .select_related("record")
        .order_by("-at", "-pk")
        .first()
    )
    return told_by(last) if last else {}


def last_told_of_many(machines: Iterable[Machine]) -> dict[int, dict[str, dict[str, Any]]]:
    """The same of many machines, by machine and form; one query."""
    found: dict[int, dict[str, dict[str, Any]]] = {}
    tests = ElectricalTest.objects.filter(machine__in=list(machines)).newest_of_each()
    for test in tests.select_related("record"):
        found.setdefault(test.machine_id, {})[test.form] = told_by(test)
    return found


def told_by(test: ElectricalTest) -> dict[str, Any]:
    """What the record of a test says of lead, device and serial, as a form takes it."""
    data = json.loads(test.record.content)["data"]
    told: dict[str, Any] = {}
    if lead := data.get("lead"):
        told["lead_length"] = lead["length"]["typed"]
        told["lead_core"] = lead["core"].removesuffix(" mm2")
    if serial := data.get("item_serial"):
        told["item_serial"] = serial
    if device := data.get("device"):
        told["profile"] = device["profile"]
        told["rated_current"] = device["rated_current"]["typed"]
        told["rcd_type"] = device["type"]
    return told


def tested_machines(user: User, *, on: date) -> Any:
    """The machines of the person's depots that a test falls due on, or that were tested, each
    with its last test and the day of the next; one query, whatever their number."""
    tests = ElectricalTest.objects.filter(machine=OuterRef("pk")).order_by("-at", "-pk")
    lines = DueLine.objects.filter(machine=OuterRef("pk"), line__key__in=_planned(on))
    next_due = lines.order_by().values("machine").annotate(first=Min("due_on")).values("first")
    doubted = tests.newest_of_each().filter(passed=True, doubted_by__isnull=False)
    return (
        Machine.objects.visible_to(user)
        .in_fleet()
        .filter(Q(Exists(tests)) | Q(Exists(lines)))
        .select_related("kind", "depot")
        .annotate(
            last_at=Subquery(tests.values("at")[:1]),
            last_passed=Subquery(tests.values("passed")[:1]),
            last_title=Subquery(tests.values("title")[:1]),
            last_serial=Subquery(tests.values("item_serial")[:1]),
            last_record=Subquery(tests.values("record")[:1]),
            last_doubted=Subquery(doubted.values("doubted_by")[:1]),
            test_due_on=Subquery(next_due),
        )
    )


def _planned(on: date) -> set[str]:
    """Keys of the plan lines that an electrical test satisfies."""
    try:
        sheet = RuleSheet.objects.on(on)
    except RuleSheet.DoesNotExist:
        return set()
    return {key for form in sheet.rules.test_forms for key in form.plan}
