"""All else that was sealed in a record, as label and value; and why words of it are gone."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Context, Decimal
from math import pi
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from maintenance.contents.record import ASKING, skill_words, who
from maintenance.rules.words import day_text, iso_text
from plant.drives.outcome import LABELS
from plant.models import Drive, Phone, Record
from plant.tool_words import tool_words

Fact = tuple[str, str]
_LABELS: dict[str, str] = {
    "account": _("Account number"),
    "chain": _("Chain of depot"),
    "counted": _("Counted"),
    "kept": _("Kept for"),
    "again_after": _("Erased again after record"),
    "asked_at": _("Asked for at"),
    "asked_by": _("Asked for by, account number"),
    "files": _("With kept files"),
    "others_words": _("With words of others"),
    "own_words": _("With their own words"),
    "listed_on": _("Listed on"),
    "of_kind": _("Records of the kind, key"),
    "upto": _("Up to record number"),
    "across": _("Distance between the gaps"),
    "action": _("Action"),
    "answer": _("Answer"),
    "asked": _("Questions asked"),
    "because": _("Why it was ended"),
    "belts": _("Number of belts"),
    "by_hand": _("Told by hand"),
    "by_label": _("By label"),
    "calibrated_until": _("Calibrated until"),
    "came_with": _("What came with it"),
    "cause": _("Cause"),
    "certificate": _("Certificate"),
    "cause_key": _("Cause, key of the list"),
    "cause_listed": _("Symptom and cause of the list, keys"),
    "clean": _("Clean"),
    "competence": _("Competence"),
    "condition": _("Condition"),
    "content_sha256": _("SHA-256 of what it says"),
    "corrected": _("Reading that was corrected"),
    "corroded": _("Rust or pitting on the flanks"),
    "counts": _("Counted"),
    "datum": _("Datum length"),
    "decision": _("Decision"),
    "device": _("RCD"),
    "dial": _("On the dial"),
    "counters": _("On the counter"),
    "dish": _("Gap under the groove gauge"),
    "differs": _("Differs from ours"),
    "done_on": _("Done on"),
    "driven": _("Driven pulley"),
    "driver": _("Motor pulley"),
    "due_back": _("Due back on"),
    "ended_in": _("Ended in"),
    "falls_due": _("Falls due while out"),
    "family": _("Family of machines"),
    "far": _("Gap at the far edge"),
    "five": _("At five times the rated current"),
    "form": _("Form, key"),
    "finding": _("Finding, number"),
    "found": _("As found"),
    "frees": _("Frees"),
    "from_file": _("Brought from a file"),
    "from": _("From"),
    "from_depot": _("From depot"),
    "fuel": _("Fuel"),
    "given": _("Answers"),
    "hour": _("Hour of the day"),
    "guards_on": _("Guards and covers on"),
    "half": _("At half the rated current"),
    "hirer": _("Hirer"),
    "hirer_phone": _("Hirer's phone"),
    "instrument": _("Instrument"),
    "isolated_at": _("Isolated at"),
    "isolated_by": _("Isolated by, account number"),
    "isolation": _("Isolation"),
    "item": _("Item"),
    "item_serial": _("Serial of what was tested"),
    "job": _("Job"),
    "jobs": _("Jobs looked over"),
    "joins": _("Joins earlier work"),
    "judged": _("Judged"),
    "kind": _("Kind of work"),
    "label": _("Link of the label"),
    "lead": _("Lead"),
    "learner": _("Worked as a learner"),
    "learners": _("Learners, account numbers"),
    "level": _("What a wrong answer does"),
    "limit": _("Limit"),
    "list": _("Which list"),
    "looked_at": _("Records looked at"),
    "looks": _("Looked at"),
    "mark": _("Outcome"),
    "estimated": _("Run without a dial, estimated"),
    "meter_is": _("The meter is"),
    "past": _("Past its last figure"),
    "rolled_over": _("Went round to nought"),
    "meter": _("On the dial"),
    "minutes": _("Minutes"),
    "missing": _("Did not come back"),
    "motor_in": _("Motor moved in first"),
    "move": _("Move"),
    "near": _("Gap at the near edge"),
    "next_check": _("Next check"),
    "not_measured": _("Old belt not measured, because"),
    "not_read": _("Tension not read, because"),
    "not_tested": _("Not tested, because"),
    "note": _("Note"),
    "note_shown": _("Note was shown"),
    "now": _("Now"),
    "old": _("Old belt"),
    "old_width": _("Record of the old width"),
    "own_work": _("Released own work"),
    "part": _("Part"),
    "parts": _("Parts"),
    "odds": _("Odds at the end"),
    "passed": _("Passed"),
    "passport": _("Passport goes with it"),
    "person": _("Person"),
    "plan": _("What is done about it"),
    "plan_reason": _("Why it goes all the same"),
    "profile": _("Device standard, key"),
    "pulley": _("Pulley"),
    "quantity": _("Quantity"),
    "questioned": _("Questioned because"),
    "rated": _("At the rated current"),
    "read_as": _("Read as"),
    "reading": _("Reading"),
    "reading_of": _("What was read"),
    "readings": _("Readings"),
    "reads": _("Reads, by unit"),
    "reason": _("Reason"),
    "received_on": _("Came on"),
    "record": _("Record"),
    "refused": _("Refused"),
    "rule": _("By the rule"),
    "row": _("Row"),
    "runs": _("Runs as it should"),
    "set": _("Set to"),
    "said": _("The instrument said"),
    "sha256": "SHA-256",
    "sheet": _("Rule sheet"),
    "shines": _("Floor of the groove shines"),
    "short": _("In short"),
    "short_code": _("The four characters"),
    "signed_in_on": _("Signed in on"),
    "site": _("Site"),
    "site_phone": _("Site phone"),
    "skill": _("For what work"),
    "slot_out": _("Slot: room left outwards"),
    "source": _("Source of the limit"),
    "standard": _("Device standard"),
    "started_from": _("Started from"),
    "starting_odds": _("Starting odds"),
    "step": _("Step in the flank"),
    "stock": _("Record of the stock"),
    "stop": _("Stop"),
    "stop_now": _("Stop it now"),
    "stop_works": _("Stop control works"),
    "stops": _("Stops freed"),
    "struck_out": _("Struck out"),
    "sums": _("Sums, version"),
    "symptom": _("Symptom"),
    "symptom_key": _("Symptom, key of the list"),
    "taken_by": _("Taken over by"),
    "taken_by_record": _("Taken by record"),
    "taken_out": _("Taken out"),
    "tension": _("Record of the tension"),
    "tested": _("What was tested"),
    "text": _("Words in"),
    "tight": _("Belt tight there"),
    "to": _("To"),
    "to_depot": _("To depot"),
    "together": _("All belts of the set new"),
    "told": _("What was said"),
    "tool": _("Tool"),
    "total": _("In all"),
    "trust": _("How far the source was seen"),
    "u": _("Doubt"),
    "until": _("Until"),
    "valid_until": _("Valid until"),
    "verdict": _("Verdict"),
    "was": _("Was"),
    "was_fitted": _("A new belt was fitted"),
    "was_mark": _("Mark as first told"),
    "went_with": _("What went with it"),
    "why": _("Why"),
    "width_lost": _("Width lost"),
    "width_u": _("Doubt of the width"),
    "words": _("As it was asked"),
    # What a verdict on a belt rests on.
    "driver_drop": _("Motor pulley, drop of the belt"),
    "driver_drop_free": _("Motor pulley, drop that the width alone gives"),
    "driver_odds_on_floor": _("Motor pulley, odds that the belt is on the floor"),
    "driver_ride": _("Motor pulley, belt above the rim"),
    "driver_room": _("Motor pulley, room under the belt"),
    "driven_drop": _("Driven pulley, drop of the belt"),
    "driven_drop_free": _("Driven pulley, drop that the width alone gives"),
    "driven_odds_on_floor": _("Driven pulley, odds that the belt is on the floor"),
    "driven_ride": _("Driven pulley, belt above the rim"),
    "driven_room": _("Driven pulley, room under the belt"),
    "extra_centres": _("Extra centre distance, as it sits"),
    "extra_centres_free": _("Extra centre distance, by the flanks alone"),
    "span": _("Free span"),
    "take_up_left": _("Take-up left"),
    "take_up_used": _("Take-up used"),
    "tension_low": _("Static tension, least"),
    "tension_high": _("Static tension, most"),
}


def facts(record: Record) -> list[Fact]:
    """Everything else that was sealed in the record's data, as label and value."""
    data = json.loads(record.content)["data"]
    if record.kind in ASKING:
        told = ("asked", "given", "judged")
        data = {key: value for key, value in data.items() if key not in told}
        if data.get("dial") is None:
            data.pop("dial", None)  # nobody gave a figure
    if record.kind in (Record.Kind.JOB, Record.Kind.FINDING):
        data.pop("steps", None)
    if record.kind == Record.Kind.COMPETENCE:
        data["skill"] = skill_words(data["skill"])
        data["family"] = data["family"].replace("_", " ") or gettext("every family")
    if record.kind == Record.Kind.TEST:
        data = {
            key: value
            for key, value in data.items()
            if key not in ("readings", "judged") and value is not None
        }
    if "signed_in_on" in data:
        data["signed_in_on"] = _named(data["signed_in_on"])
    return _flat(data, before="")


# What was worked out and what it was worked out from: a page of figures without a reading.
WORKED_OUT = (_("Results"), _("Started from"))


def gathered(told: Iterable[Fact]) -> list[Fact]:
    """The same facts for paper, all that was worked out as one of them, and all it started from.

    Facts of one name are one, at the place of the first.
    """
    found: dict[str, list[str]] = {}
    for label, value in told:
        for each in map(gettext, WORKED_OUT):
            if label.startswith(f"{each}: "):
                found.setdefault(each, []).append(f"{label.removeprefix(f'{each}: ')} {value}")
                break
        else:
            found.setdefault(label, []).append(value)
    return [(label, "; ".join(values)) for label, values in found.items()]


def _named(phone: str) -> str:
    """The shared phone with its name beside its number; the seal holds the number alone."""
    number = phone.rpartition(" ")[2]
    row = Phone.objects.filter(pk=number).first() if number.isdigit() else None
    return f"{phone} ({row.name})" if row else phone


def words(record: Record) -> list[Fact]:
    """The words of the record; what was erased by law says so."""
    return [
        (
            label_of(text.name),
            gettext("erased on {erased_at}").format(erased_at=f"{text.erased_at:%Y-%m-%d}")
            if text.erased_at
            else text.text,
        )
        for text in record.texts.all()
        if text.name != "by_name"
        and not (record.kind in ASKING and text.name.startswith("word_"))
        and not (record.kind == Record.Kind.JOB and text.name.startswith("step_"))
        and not (record.kind == Record.Kind.FINDING and text.name.startswith("finding_"))
    ]


# Under these stand figures of a drive; elsewhere "length" may be that of a lead.
_OF_DRIVE = ("started_from", "figures")


def _flat(part: Any, *, before: str, of_drive: bool = False) -> list[Fact]:
    if isinstance(part, dict):
        if set(part) == {"competence", "until", "number"}:
            return [_signed_with(part)]
        if {"si", "unit"} <= set(part):
            return [(before, _figure(part))]
        found = []
        for key, value in part.items():
            own = _sentence(gettext(LABELS[key])) if of_drive and key in LABELS else label_of(key)
            label = f"{before}: {own.lower()}" if before else own
            found += _flat(value, before=label, of_drive=of_drive or key in _OF_DRIVE)
        return found
    if isinstance(part, list):
        if all(isinstance(each, str) for each in part):
            sentences = all(each.endswith((".", "?", "!")) for each in part)
            return [(before, (" " if sentences else ", ").join(part) or gettext("none"))]
        found = []
        for n, each in enumerate(part, 1):
            found += _flat(each, before=f"{before} {n}", of_drive=of_drive)
        return found
    return [(before, _value(part))]


# In these a reader thinks; all else stays in the unit in which it is sealed.
_SHOWN_IN = {
    "m": (" mm", Decimal(1000)),
    "rad": ("°", Decimal(180) / Decimal(pi)),
    "rad/s": (" rpm", Decimal(30) / Decimal(pi)),
}
# Twelve are sealed: more than a reader takes in, and more than any tool of ours reads.
_SIX_FIGURES = Context(prec=6)
_ALMOST_NOTHING = Decimal("0.000001")  # of odds and shares


def _figure(part: dict[str, Any]) -> str:
    """One figure on one line: what was typed and the sealed value, or what was worked out to six
    figures; then its mark, its tool and what else was sealed beside it."""
    unit = "" if part["unit"] in ("", "1") else f" {part['unit']}"
    if typed := part.get("typed"):
        sealed = f"{part['si']}{unit}"
        told = f"{typed} ({sealed})" if unit and typed != sealed else typed
    else:
        shown, times = _SHOWN_IN.get(part["unit"], (unit, Decimal(1)))
        six = _SIX_FIGURES.create_decimal(Decimal(part["si"]) * times).normalize()
        told = f"{six:f}{shown}"
        if not unit and 0 < six < _ALMOST_NOTHING:
            told = gettext("less than {least}").format(least=f"{_ALMOST_NOTHING:f}")
    marks = dict(Drive.Mark.choices)
    more = [str(marks.get(mark, mark))] if (mark := part.get("mark")) else []
    if tool := part.get("tool"):
        more.append(tool_words(tool))
    beside = {"typed", "si", "unit", "mark", "tool"}
    for key, value in part.items():
        if key not in beside and value not in (None, ""):
            more += [f"{label.lower()}: {text}" for label, text in _flat({key: value}, before="")]
    return ", ".join([told, *more])


def _value(value: object) -> str:
    if value is None:
        return gettext("none")
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    return str(value) or gettext("none")


def label_of(name: str) -> str:
    if name in _LABELS:
        return gettext(_LABELS[name])
    return _sentence(name.replace("_", " "))


def _sentence(plain: str) -> str:
    return plain[:1].upper() + plain[1:]


ON_THAT_DAY = _("Competence on that day")


def _signed_with(kept: dict[str, Any]) -> Fact:
    """The competence as it counted when the record was signed."""
    until = kept["until"]
    last = (
        gettext("last day {what}").format(what=iso_text(until))
        if until
        else gettext("without a last day")
    )
    told = gettext("{competence}, {last}, given in record {number}").format(
        competence=skill_words(kept["competence"]), last=last, number=kept["number"]
    )
    return gettext(ON_THAT_DAY), told


def signed_with(record: Record) -> str:
    """The competence with which it was signed, as it counted on that day; "" where none was."""
    kept = json.loads(record.content)["data"].get("competence")
    return _signed_with(kept)[1] if kept else ""


def signed_name(record: Record) -> str:
    """The name as it was sealed; who was called otherwise since is still called so here."""
    return next((t.text for t in record.texts.all() if t.name == "by_name"), "") or gettext(
        "name erased"
    )


@dataclass(frozen=True)
class Erasure:
    """Why words or photos of a record are gone, and the record that says so."""

    record: Record
    words: str


def erasures(record: Record) -> list[Erasure]:
    """Each once; read with ``texts__erased_with`` and ``photos__erased_with``, depot and signer."""
    found = {
        each.erased_with.pk: each.erased_with
        for each in [*record.texts.all(), *record.photos.all()]
        if each.erased_with is not None
    }
    return [Erasure(each, _why_erased(each)) for each in found.values()]


def _why_erased(record: Record) -> str:
    data = json.loads(record.content)["data"]
    on = day_text(record.depot.day_of(record.happened_at))
    if data["move"] == "time over":
        return gettext(
            "Words and photos of this record were erased on {on} by rule, kept {kept}."
        ).format(on=on, kept=data["kept"])
    return gettext("Words of this record were erased on {on} by {record}, for {person}.").format(
        on=on, record=who(record), person=data["person"]
    )
