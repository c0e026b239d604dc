"""Electrical tests: readings in, the result worked out, a failure stopping the machine."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.actions.instrument import locked_instrument
from maintenance.actions.plan import record_tested
from maintenance.actions.signing import held_as_learner, locked, sealed_before, words
from maintenance.actions.stop import raise_stop
from maintenance.contents.competence import standing
from maintenance.contents.test import forms_of, sheet_of
from maintenance.models import ElectricalTest, Instrument, Skill, Stop
from maintenance.rules import electrical as rule
from maintenance.rules import instrument as instrument_rule
from maintenance.rules import sheet as sheet_rule
from maintenance.rules.words import list_text
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical

LEARNER = gettext_noop("A learner cannot pass a test alone. A competent person enters it.")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What was found for one thing asked: a figure as typed, an answer, or no trip.

    si: [SI] the figure; end: ">" or "<" where the instrument showed the end of its range.
    """

    typed: str
    si: float | None = None
    end: rule.End = ""


@dataclass(frozen=True, kw_only=True)
class LeadTyped:
    """The lead of an earth path, as typed and in metres and mm2."""

    length: units.Typed
    core_mm2: float


@dataclass(frozen=True, kw_only=True)
class Device:
    """The RCD that is tested: its standard's key, rated residual current and type as marked."""

    profile: str
    rated: units.Typed
    rcd_type: str = gettext_noop("not marked")


@transaction.atomic
def record_test(
    *,
    machine: Machine,
    form: str,
    readings: Mapping[str, Reading],
    instrument: Instrument | None,
    at: datetime,
    by: User,
    lead: LeadTyped | None = None,
    device: Device | None = None,
    item_serial: str = "",
    not_tested: str = "",
    note: str = "",
    from_file: Mapping[str, Canonical] | None = None,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> ElectricalTest:
    """Keeps a test. Passed or not is worked out from the readings, never typed.

    A failure is always kept: it stops the machine, whoever measured and with whatever. A pass
    needs every reading, an instrument in calibration that reads them, and a competent person.

    Args:
        form: key of the form of the rule sheet, one of this machine's.
        instrument: of the register; a failure is kept without one.
        readings: by the key of what was asked; one left out needs not_tested.
        lead: for a form with an earth path; device: for one with trip times.
        item_serial: of a part with a plate of its own, by a form that has_serial.
        not_tested: why something was left out, of a test that failed anyway.
        from_file: where it was brought from a file: its hash, the row, and the instrument's word.

    Raises:
        Refused: not a test of this machine, a reading missing or out of range, or a pass that this
            instrument or this person cannot give.
    """
    machine = locked(machine)
    role = role_for(by, Right.WORK, machine.depot_id)
    note = words(note, field="note", what="note", high=2000)
    not_tested = words(not_tested, field="not_tested", what="reason")
    item_serial = words(item_serial, field="item_serial", what=_("serial number"), high=60)
    told: dict[str, Canonical] = {
        "form": form,
        "instrument": str(instrument) if instrument else None,
        "readings": [_told(key, reading) for key, reading in sorted(readings.items())],
        "lead": _lead_told(lead),
        "device": _device_told(device),
        "item_serial": item_serial or None,
    }
    texts = {"note": note, "not_tested": not_tested}
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.TEST, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return before.test_row
    sheet = sheet_of(machine, at=at)
    asked_by = _form(sheet, machine, form)
    assert sheet is not None  # it gave the form
    if item_serial and not asked_by.has_serial:
        raise Refused(_("This test is of the machine, whose serial is on its plate."))
    instrument = _instrument(instrument, machine)
    judged, missing = judged_by(
        asked_by, readings, sheet=sheet, lead=lead, device=device, reason=not_tested
    )
    passed = not missing and rule.outcome(list(judged.values()))
    day = machine.depot.day_of(at)
    if missing and rule.outcome(list(judged.values()) or [_NOTHING_FAILED]):
        left = list_text([asked.words for asked in missing])
        raise Refused(
            _("Nothing failed, so a pass needs every reading. Not tested: {left}.").format(
                left=left
            ),
            field=missing[0].key,
        )
    competence = standing(
        by, depot_id=machine.depot_id, skill=Skill.TEST, family=machine.kind.family, on=day
    )
    if passed:
        _refuse_pass(asked_by, instrument=instrument, machine=machine, by=by, at=at)
        if competence.refusal:
            raise Refused(competence.refusal)
    valid_until = instrument.valid_until(day) if instrument else None
    record = seal(
        kind=Record.Kind.TEST, depot=machine.depot, machine=machine,
        data={
            **told,
            "tested": asked_by.name,
            "sheet": f"{sheet.name}, {sheet.dated.isoformat()}",
            "calibrated_until": valid_until.isoformat() if valid_until else None,
            "standard": _device(sheet, asked_by, device).name if device else None,
            "passed": passed,
            "competence": competence.kept or None,
            "judged": [_judged_told(asked, judged.get(asked.key)) for asked in asked_by.asked],
            **({"from_file": dict(from_file)} if from_file else {}),
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    known = instrument.known() if instrument else []
    doubted_by = instrument_rule.doubted_by(known, day=day)
    test = ElectricalTest.objects.create(
        machine=machine, at=at, form=asked_by.key, item=asked_by.item, title=asked_by.name,
        profile=device.profile if device else "", item_serial=item_serial,
        instrument=str(instrument) if instrument else "", made_with=instrument, passed=passed,
        doubted_by_id=doubted_by.id if doubted_by else None, record=record,
    )  # fmt: skip
    if not passed:
        raise_stop(
            machine=machine, record=record, at=at, kind=Stop.Kind.STOP,
            what=_("Electrical test failed"),
            told=" ".join(each.reason for each in judged.values() if not each.passed),
            item_key=item_key(asked_by), always=True,
        )  # fmt: skip
    elif doubted_by is None:
        record_tested(
            test=test, keys=asked_by.plan, at=at, by=by,
            told=_("{asked_by}: passed, record {record}").format(
                asked_by=asked_by.name, record=record.number
            ),
        )  # fmt: skip
    return test


def _judged_told(asked: rule.Asked, judged: rule.Judgement | None) -> Canonical:
    """How one reading was judged, for the record; None: it was not tested."""
    return {
        "reading": asked.key,
        "asked": asked.words,
        "passed": judged.passed if judged else None,
        "limit": judged.limit if judged else "not tested",
        "source": judged.source if judged else asked.source,
        "trust": judged.trust if judged else asked.trust,
    }


def with_unit(typed: units.Typed) -> str:
    """As typed; a plain number with the unit of its box, since the record stands alone."""
    text = typed.text_as_typed
    return text if any(each.isalpha() for each in text) else f"{text} {typed.unit}"


def item_key(form: rule.Form) -> str:
    """The lasting name of what a failed test stops."""
    return f"test_{form.key}"


def against_instrument(form: rule.Form, instrument: Instrument | None, *, on: date) -> str:
    """Why this instrument cannot make a pass by this form on that day; empty where it can."""
    if instrument is None:
        return _("A pass names its instrument. Choose it.")
    if refused := instrument.refusal(on):
        return refused
    if lacks := form.units - set(instrument.reads):
        shown = list_text([Instrument.Reads(unit).label.lower() for unit in sorted(lacks)])
        return _("{instrument} does not read {shown}, by the register.").format(
            instrument=instrument.name, shown=shown
        )
    return ""


def reading(asked: rule.Asked, text: str) -> Reading:
    """What was found for one thing asked, from a text with its unit.

    Raises:
        NotAccepted: as units.read_open().
    """
    unit = asked.limit.unit if asked.limit else {"earth": "ohm", "trip": "ms"}.get(asked.kind)
    if unit is None or (asked.kind == "trip" and rule.NO_TRIP in text):
        return Reading(typed=text)
    typed = units.read_open(text, rule.MEASURES[unit])
    return Reading(typed=with_unit(typed), si=typed.value_si, end=typed.end)


def _refuse_pass(
    form: rule.Form, *, instrument: Instrument | None, machine: Machine, by: User, at: datetime
) -> None:
    """What speaks against a pass, and never against a failure."""
    if refused := against_instrument(form, instrument, on=machine.depot.day_of(at)):
        raise Refused(refused, field="instrument")
    if held_as_learner(by, machine.depot):
        raise Refused(_(LEARNER))


def _instrument(instrument: Instrument | None, machine: Machine) -> Instrument | None:
    if instrument is None:
        return None
    found = locked_instrument(instrument)
    if found.depot_id != machine.depot_id or found.withdrawn_by_id is not None:
        raise Refused(_("Choose an instrument in use at this depot."), field="instrument")
    return found


def _form(sheet: sheet_rule.RuleSheet | None, machine: Machine, key: str) -> rule.Form:
    for each in forms_of(machine, sheet) if sheet else ():
        if each.key == key:
            return each
    raise Refused(_("The rule sheet has no such test for this machine. Open the page afresh."))


def judged_by(
    form: rule.Form,
    readings: Mapping[str, Reading],
    *,
    sheet: sheet_rule.RuleSheet,
    lead: LeadTyped | None,
    device: Device | None,
    reason: str,
) -> tuple[dict[str, rule.Judgement], list[rule.Asked]]:
    """Each reading judged, and what was left out with a reason.

    Raises:
        Refused: something is missing without a reason, or cannot be judged.
    """
    known = {asked.key for asked in form.asked}
    if set(readings) - known:
        raise Refused(_("Something was sent that this test does not ask. Open the page afresh."))
    profile = _device(sheet, form, device) if form.has_trips else None
    if form.has_earth and lead is None and "earth" in readings:
        raise Refused(_("Enter the length of the lead."), field="lead_length")
    judged, missing = {}, []
    for asked in form.asked:
        reading = readings.get(asked.key)
        if reading is None:
            if asked.kind == "confirm":
                raise Refused(
                    _("{asked}: confirm this first.").format(asked=asked.words), field=asked.key
                )
            if not reason:
                raise Refused(
                    _("Enter this, or write below why it was not tested."), field=asked.key
                )
            missing.append(asked)
            continue
        try:
            judged[asked.key] = rule.judge(
                asked,
                _found(asked, reading),
                earth=sheet.earth,
                lead=_lead(lead),
                device=profile,
            )
        except ValueError as wrong:
            told = f"{str(wrong)[:1].upper()}{str(wrong)[1:]}."
            raise Refused(told, field=asked.key) from wrong
    return judged, missing


def _found(asked: rule.Asked, reading: Reading) -> rule.Found:
    if asked.kind in ("confirm", "look"):
        look = next((each for each in rule.LOOKS if each == reading.typed), None)
        return rule.Found(look=look)
    unit = asked.limit.unit if asked.limit else "ohm" if asked.kind == "earth" else "ms"
    if reading.si is None:
        return rule.Found()
    # To a millionth, so that 0.3 s is 300 ms and not a hair more.
    figure = round(units.from_si(reading.si, rule.MEASURES[unit], unit), 6)
    return rule.Found(figure=figure, end=reading.end)


def _lead(lead: LeadTyped | None) -> rule.Lead | None:
    if lead is None:
        return None
    return rule.Lead(length_m=round(lead.length.value_si, 6), core_mm2=lead.core_mm2)


def _device(sheet: sheet_rule.RuleSheet, form: rule.Form, device: Device | None) -> rule.RcdProfile:
    for each in form.devices(sheet.rcd):
        if device is not None and each.key == device.profile:
            return each
    raise Refused(_("Choose the standard that is marked on the device."), field="profile")


def _told(key: str, reading: Reading) -> dict[str, Canonical]:
    told: dict[str, Canonical] = {"reading": key, "typed": reading.typed}
    if reading.si is not None:
        told["si"] = units.decimal_string(reading.si)
        told["end"] = reading.end
    return told


def _lead_told(lead: LeadTyped | None) -> Canonical:
    if lead is None:
        return None
    return {
        "length": {
            "typed": with_unit(lead.length),
            "si": units.decimal_string(lead.length.value_si),
            "unit": "m",
        },
        "core": _("{core_mm2} mm2").format(core_mm2=f"{lead.core_mm2:g}"),
    }


def _device_told(device: Device | None) -> Canonical:
    if device is None:
        return None
    return {
        "profile": device.profile,
        "rated_current": {
            "typed": with_unit(device.rated),
            "si": units.decimal_string(device.rated.value_si),
            "unit": "A",
        },
        "type": device.rcd_type,
    }


_NOTHING_FAILED = rule.Judgement(passed=True, limit="", reason="")
