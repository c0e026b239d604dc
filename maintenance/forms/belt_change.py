"""Forms of a belt that is changed at the machine, and of the days that a belt takes to get."""

from maintenance.actions.belt_life import MOST_LEAD_DAYS
from maintenance.forms.entry import EntryForm
from plant.fields import WholeField


class LeadForm(EntryForm):
    days = WholeField(
        min_value=0, max_value=MOST_LEAD_DAYS, label="Days to get a belt",
        help_text="14 is common practice, no source.",
    )  # fmt: skip
