"""The steps of a job: each done or not, with the figure and the tool where it is measured."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from maintenance.actions.step import Answer
from maintenance.contents.step import asked, before_text, last
from maintenance.forms.entry import EntryForm, words_field
from maintenance.models import JobStep
from maintenance.rules import step as rule
from plant.fields import QuantityField

DONE, NOT_DONE = "ok", "not done"
_PARTS = ("figure", "tool", "sure", "done", "because")


@dataclass(frozen=True)
class Row:
    """One step as the page draws it. unit: of the figure that is asked for;
    told: the answer so far; shut: a guard, not isolated yet."""

    step: JobStep
    range: str
    unit: str
    told: str
    who: str
    shut: bool
    fields: dict[str, forms.BoundField]
    asks_again: bool

    @property
    def wrong(self) -> bool:
        return any(field.errors for field in self.fields.values())


class StepsForm(EntryForm):
    """Any of the steps may be answered, and the others left for later or for somebody else."""

    def __init__(
        self,
        *args: Any,
        steps: Sequence[JobStep],
        isolated: bool,
        tools: Mapping[str, str],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.steps, self.isolated = steps, isolated
        for step in steps:
            if self._is_shut(step):
                continue
            n, before = step.position, last(step)
            self.fields[f"seen_{n}"] = forms.IntegerField(
                widget=forms.HiddenInput, required=False, initial=before.pk if before else 0
            )
            if step.unit:
                self.fields[f"figure_{n}"] = QuantityField(
                    rule.measure_of(step.unit), label=_("Measured"), required=False
                )
                self.fields[f"tool_{n}"] = forms.CharField(
                    label=_("Measured with"),
                    required=False,
                    max_length=rule.LONGEST_TOOL,
                    initial=tools.get(step.unit, ""),
                )
                self.fields[f"sure_{n}"] = forms.BooleanField(
                    label=_("I have measured it again and it is right"), required=False
                )
            self.fields[f"done_{n}"] = forms.ChoiceField(
                label=_("Step {n}").format(n=n),
                required=False,
                choices=[(DONE, _("Done")), (NOT_DONE, _("Not done"))],
                widget=forms.RadioSelect(attrs={"class": "answers"}),
            )
            self.fields[f"because_{n}"] = words_field(
                _("Why it was not done"), high=400, rows=2, required=False
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for step in self.steps:
            told = self._told(step, cleaned)
            if told is None or self._has_errors(step):
                continue
            part, refused = rule.refusal(asked(step), told, isolated=self.isolated)
            if refused:
                self.add_error(f"{part}_{step.position}", refused)
        return cleaned

    def answers(self) -> dict[int, Answer]:
        """What was told, by position; steps left alone are not among them."""
        found = {}
        for step in self.steps:
            told = self._told(step, self.cleaned_data)
            if told is not None:
                seen = self.cleaned_data.get(f"seen_{step.position}") or 0
                found[step.position] = Answer(told=told, seen=seen)
        return found

    def rows(self) -> list[Row]:
        found = []
        for step in self.steps:
            n, before = step.position, last(step)
            names = [f"{part}_{n}" for part in ("seen", *_PARTS)]
            fields = {name.split("_")[0]: self[name] for name in names if name in self.fields}
            asks = bool(self.errors.get(f"sure_{n}")) or bool(self.data.get(f"sure_{n}"))
            found.append(
                Row(
                    step=step,
                    range=rule.range_text(asked(step)),
                    unit=rule.reader_unit(step.unit),
                    told=before_text(before) if before else "",
                    who=f"{before.by}" if before else "",
                    shut=self._is_shut(step),
                    fields=fields,
                    asks_again=asks,
                )
            )
        return found

    def _is_shut(self, step: JobStep) -> bool:
        return step.opens_guard and not self.isolated

    def _has_errors(self, step: JobStep) -> bool:
        return any(f"{part}_{step.position}" in self.errors for part in _PARTS)

    def _told(self, step: JobStep, cleaned: Mapping[str, Any]) -> rule.Told | None:
        """None where nothing was said; a tool alone is only the one remembered."""
        n = step.position
        done, because = cleaned.get(f"done_{n}", ""), cleaned.get(f"because_{n}", "")
        figure = cleaned.get(f"figure_{n}")
        if not (done or because or figure):
            return None
        is_done = done == DONE or (not done and figure is not None)
        return rule.Told(
            is_done=is_done,
            because=because,
            figure=figure if is_done else None,
            tool=cleaned.get(f"tool_{n}", "") if is_done else "",
            sure=bool(cleaned.get(f"sure_{n}")),
        )
