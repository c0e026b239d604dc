"""A list as pages have it, of rows made up for the page of the parts of a page."""

import django_tables2 as tables
from django.utils.safestring import SafeString

from plant.templatetags.marks import mark


class ShownTable(tables.Table):
    """Machines that are none."""

    number = tables.Column(verbose_name="Machine")
    kind = tables.Column(verbose_name="Kind")
    use = tables.Column(
        verbose_name="May it be used", orderable=False, attrs={"td": {"class": "by-itself"}}
    )
    due = tables.Column(
        verbose_name="What is due", orderable=False, attrs={"td": {"class": "by-itself"}}
    )
    hours = tables.Column(verbose_name="Hours", attrs={"td": {"class": "number"}})

    noun, nouns = "machine", "machines"

    class Meta:
        order_by = "number"
        empty_text = (
            "No machine is like that. Machines are added by their plate, or brought in from a file."
        )

    def render_use(self, value: str) -> SafeString:
        return mark(value)

    def render_due(self, value: str) -> SafeString:
        return mark(value)

    def render_hours(self, value: float) -> str:
        return f"{value:,.1f} h"
