"""A list as pages have it, of rows made up for the page of the parts of a page."""

import django_tables2 as tables
from django.utils.safestring import SafeString

from plant.lazy_text import gettext_lazy as _
from plant.templatetags.marks import mark


class ShownTable(tables.Table):
    """Machines that are none."""

    number = tables.Column(verbose_name=_("Machine"))
    kind = tables.Column(verbose_name=_("Kind"))
    use = tables.Column(
        verbose_name=_("May it be used"), orderable=False, attrs={"td": {"class": "by-itself"}}
    )
    due = tables.Column(
        verbose_name=_("What is due"), orderable=False, attrs={"td": {"class": "by-itself"}}
    )
    hours = tables.Column(verbose_name=_("Hours"), attrs={"td": {"class": "number"}})

    noun, nouns = _("machine"), _("machines")

    class Meta:
        order_by = "number"
        empty_text = _(
            "No machine is like that. Machines are added by their plate, or brought in from a file."
        )

    def render_use(self, value: str) -> SafeString:
        return mark(value)

    def render_due(self, value: str) -> SafeString:
        return mark(value)

    def render_hours(self, value: float) -> str:
        return f"{value:,.1f} h"
