"""The list of machines at other depots: four columns, and nothing that opens."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import django_tables2 as tables
from django.http import HttpRequest
from django.utils.translation import gettext

from maintenance.contents.elsewhere import told
from plant.lazy_text import gettext_lazy as _
from plant.models import Depot, Place


class ElsewhereTable(tables.Table):
    """Rows of ``maintenance.contents.elsewhere.TOLD``; whether each can go is read for the page."""

    number = tables.Column(verbose_name=_("Machine"), order_by="number_key")
    kind__name = tables.Column(verbose_name=_("Kind"))
    depot__name = tables.Column(verbose_name=_("Depot"))
    place = tables.Column(verbose_name=_("Where it is"))
    can_go = tables.Column(verbose_name=_("Can it go out"), orderable=False, empty_values=())

    noun, nouns = _("machine"), _("machines")

    class Meta:
        empty_text = _("No machine of another depot fits. Take a filter off.")
        order_by = "number"

    def __init__(self, rows: Any, *, on: date, depots: Sequence[Depot], **more: Any) -> None:
        super().__init__(rows, **more)
        self.on, self.depots = on, depots

    def before_render(self, request: HttpRequest) -> None:
        shown = [row.record for row in self.page.object_list]
        there = told(shown, self.on, self.depots)
        self.going = {row["pk"]: each.can_go for row, each in zip(shown, there, strict=True)}

    def render_place(self, value: str) -> str:
        return str(Place(value).label)

    def render_can_go(self, record: dict[str, Any]) -> str:
        return gettext("Yes") if self.going[record["pk"]] else gettext("No")
