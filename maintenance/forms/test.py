"""An electrical test: what its form of the rule sheet asks, each limit beside its box."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from maintenance.actions.test import Device, LeadTyped, Reading, with_unit
from maintenance.forms.entry import EntryForm, words_field
from maintenance.models import Instrument
from maintenance.rules import electrical as rule
from maintenance.rules.sheet import RuleSheet, cited
from maintenance.rules.words import day_text, list_text
from plant import units
from plant.fields import OpenQuantityField, QuantityField
from plant.lazy_text import gettext_lazy

NONE, HELD = "", "held"
_NEEDED = {"required": gettext_lazy("Enter this, or write below why it was not tested.")}


class ElectricalTestForm(EntryForm):
    """The readings that one form of test asks; passed or not is worked out."""

    instrument = forms.ChoiceField(
        label=gettext_lazy("Instrument"),
        required=False,
        help_text=gettext_lazy("Out of calibration, or none, its readings cannot make a pass."),
    )

    def __init__(
        self,
        *args: Any,
        asked_by: rule.Form,
        sheet: RuleSheet,
        instruments: Sequence[Instrument],
        on: date,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.asked_by, self.sheet = asked_by, sheet
        # A pass needs every reading; a test that failed anyway may leave some out, with a reason.
        self.all_needed = not str(self.data.get("not_tested", "")).strip()
        self.instruments = {str(each.pk): each for each in instruments}
        field = self.fields["instrument"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            (NONE, _("None of the register")),
            *((key, _with_calibration(each, on)) for key, each in self.instruments.items()),
        ]
        if asked_by.has_trips:
            self._ask_device()
        if asked_by.has_serial:
            self.fields["item_serial"] = forms.CharField(
                label=_("Serial number of the RCD")
                if asked_by.has_trips
                else _("Its serial number"),
                max_length=60,
                required=False,
                help_text=_("As marked on it: it is not the machine's. Kept for the next test."),
            )
        if asked_by.has_earth:
            self._ask_lead()
        for asked in asked_by.asked:
            self.fields[asked.key] = self._field(asked)
            if asked.kind == "trip":
                self.fields[f"{asked.key}_{HELD}"] = forms.BooleanField(
                    label=_("It did not trip"), required=False
                )
        self.fields["not_tested"] = words_field(
            _("Not tested, because"), high=400, rows=2, required=False,
            help_text=_("Only for a test that failed anyway: a pass needs every reading."),
        )  # fmt: skip
        self.fields["note"] = words_field(_("Note"), high=2000, required=False)

    def _ask_device(self) -> None:
        devices = self.asked_by.devices(self.sheet.rcd)
        self.fields["profile"] = forms.ChoiceField(
            label=_("Standard marked on the device"),
            help_text=_("The limits differ: a time that passes one device can fail another."),
            choices=[
                (NONE, _("Choose the standard")),
                *((each.key, each.name) for each in devices),
            ],
        )
        self.fields["rated_current"] = QuantityField(
            units.RCD_CURRENT, label=_("Rated residual current")
        )
        self.fields["rcd_type"] = forms.ChoiceField(
            label=_("Type marked on it"),
            choices=[(each, each) for each in reversed(rule.RCD_TYPES)],
        )

    def _ask_lead(self) -> None:
        earth = self.sheet.earth
        self.fields["lead_length"] = QuantityField(
            units.LEAD_LENGTH, label=_("Length of the lead"), required=self.all_needed,
            error_messages={"required": _("Enter the length of the lead.")},
            help_text=_("In m, or write the unit. 0 without a lead."),
        )  # fmt: skip
        self.fields["lead_core"] = forms.ChoiceField(
            label=_("Size of its earth core"),
            required=False,
            choices=[
                (NONE, _("Choose the size")),
                *(
                    (
                        f"{size:g}",
                        _("{size} mm2, {per} ohm/m").format(size=f"{size:g}", per=f"{per_m:g}"),
                    )
                    for size, per_m in sorted(earth.ohm_per_m.items())
                ),
            ],
        )

    def _field(self, asked: rule.Asked) -> forms.Field:
        if asked.kind == "confirm":
            return forms.BooleanField(label=asked.words, help_text=asked.hint)
        if asked.kind == "look":
            answers = rule.LOOKS if asked.may_lack else rule.LOOKS[:2]
            return forms.ChoiceField(
                label=asked.words,
                help_text=asked.hint,
                required=self.all_needed,
                error_messages=_NEEDED,
                choices=[(each, f"{each[:1].upper()}{each[1:]}") for each in answers],
                widget=forms.RadioSelect(attrs={"class": "answers"}),
            )
        if asked.kind == "trip":
            limits = self._trip_limits(asked)
            return QuantityField(
                units.TIME_MS,
                label=_("{asked}: trip time").format(asked=asked.words),
                error_messages=_NEEDED,
                required=self.all_needed and f"{asked.key}_{HELD}" not in self.data,
                help_text=_hint(
                    asked, _("Limit: {limits}. In ms, or write the unit: s.").format(limits=limits)
                ),
            )
        measure = rule.MEASURES["ohm" if asked.limit is None else asked.limit.unit]
        source, trust = asked.source, asked.trust
        if asked.limit is None:
            limit = _("at most {base_ohm} ohm + length x ohm/m of the core").format(
                base_ohm=f"{self.sheet.earth.base_ohm:g}"
            )
            source, trust = self.sheet.earth.source, self.sheet.earth.trust
        else:
            limit, source, trust = asked.limit.told, asked.limit.source, asked.limit.trust
        others = list_text([unit.symbol for unit in measure.units[1:]])
        unit = (
            _("In {unit}, or write the unit: {others}.").format(unit=measure.unit, others=others)
            if others
            else ""
        )
        return OpenQuantityField(
            measure,
            label=f"{asked.words}: {limit}",
            required=self.all_needed,
            error_messages=_NEEDED,
            help_text=_hint(
                asked, _("{unit} Limit: {source}.").format(unit=unit, source=cited(source, trust))
            ),
        )

    def _trip_limits(self, asked: rule.Asked) -> str:
        """The limits of every standard that may be chosen, equal ones together."""
        by_limit: dict[str, list[str]] = {}
        for device in self.asked_by.devices(self.sheet.rcd):
            row = device.row(asked.factor or 0.0)
            by_limit.setdefault(row.told, []).append(device.name)
        if len(by_limit) == 1:
            return next(iter(by_limit))
        return "; ".join(
            _("{limit} for {names}").format(limit=limit, names=list_text(names))
            for limit, names in by_limit.items()
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for asked in self.asked_by.asked:
            if asked.kind == "trip" and asked.key not in self.errors:
                both = cleaned.get(asked.key) and cleaned.get(f"{asked.key}_{HELD}")
                if both:
                    self.add_error(asked.key, _("Enter the time, or tick that it did not trip."))
        length, core = cleaned.get("lead_length"), cleaned.get("lead_core")
        if length is not None and not core and "lead_core" not in self.errors:
            if length.value_si > 0:
                self.add_error("lead_core", _("Choose the size: the limit is a sum."))
            else:
                cleaned["lead_core"] = f"{min(self.sheet.earth.ohm_per_m):g}"
        return cleaned

    @property
    def rows(self) -> list[tuple[rule.Asked, forms.BoundField, forms.BoundField | None]]:
        """Each thing asked with its box, and the tick beside a trip time."""
        return [
            (each, self[each.key], self[f"{each.key}_{HELD}"] if each.kind == "trip" else None)
            for each in self.asked_by.asked
        ]

    @property
    def given(self) -> dict[str, Any]:
        """What the action is told."""
        cleaned = self.cleaned_data
        device = lead = None
        if self.asked_by.has_trips:
            device = Device(
                profile=cleaned["profile"],
                rated=cleaned["rated_current"],
                rcd_type=cleaned["rcd_type"],
            )
        if cleaned.get("lead_length") is not None:
            lead = LeadTyped(length=cleaned["lead_length"], core_mm2=float(cleaned["lead_core"]))
        return {
            "instrument": self.instruments.get(cleaned["instrument"]),
            "device": device,
            "lead": lead,
            "item_serial": cleaned.get("item_serial", ""),
            "readings": dict(self._readings()),
            "not_tested": cleaned["not_tested"],
            "note": cleaned["note"],
            "record_id": cleaned["entry"],
        }

    def _readings(self) -> Iterable[tuple[str, Reading]]:
        for asked in self.asked_by.asked:
            value = self.cleaned_data.get(asked.key)
            if asked.kind == "confirm":
                if value:
                    yield asked.key, Reading(typed=rule.LOOKS[0])
            elif asked.kind == "look":
                if value:
                    yield asked.key, Reading(typed=value)
            elif asked.kind == "trip" and self.cleaned_data.get(f"{asked.key}_{HELD}"):
                yield asked.key, Reading(typed=rule.NO_TRIP)
            elif value is not None:
                yield asked.key, _figure(value)


def _figure(value: units.Typed) -> Reading:
    end: rule.End = value.end if isinstance(value, units.OpenTyped) else ""
    return Reading(typed=with_unit(value), si=value.value_si, end=end)


def _with_calibration(instrument: Instrument, on: date) -> str:
    until = instrument.valid_until(on)
    if until is None or instrument.refusal(on):
        return _("{instrument}: out of calibration").format(instrument=instrument)
    return _("{instrument}: calibrated until {until}").format(
        instrument=instrument, until=day_text(until)
    )


def _hint(asked: rule.Asked, more: str) -> str:
    return f"{asked.hint} {more}".strip()
