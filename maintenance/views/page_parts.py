"""Parts of the page: each component in all its states, by the templates that pages use."""

import django_tables2 as tables
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.messages.storage.base import Message
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.contents import page_parts as contents
from maintenance.forms.page_parts import FILLED, WRONG, EveryField
from maintenance.tables_page_parts import ShownTable
from plant.http import UserRequest, anywhere, today_at
from plant.rights import Right
from plant.templatetags.marks import MARK_SETS

ALL_ROWS, ROWS_A_PAGE = 20, 6


@login_required
@require_safe
def page_parts(request: UserRequest) -> HttpResponse:
    """Nothing here is of any depot, and nothing is kept."""
    anywhere(request.user, Right.PEOPLE)
    at = now()
    table = ShownTable(contents.rows(ALL_ROWS))
    pages = {"per_page": ROWS_A_PAGE, "silent": True}
    tables.RequestConfig(request, paginate=pages).configure(table)
    table.worked_out_at = at
    return render(
        request,
        "maintenance/page_parts.html",
        {
            "machine": contents.machine(), "mark_sets": MARK_SETS.items(),
            "told": [
                Message(messages.SUCCESS, _("Saved: what was done, in a few words.")),
                Message(messages.WARNING, _("Not saved: what is in the way, and what to do.")),
            ],
            "empty_form": EveryField(auto_id="empty_%s"),
            "filled_form": EveryField(FILLED, auto_id="filled_%s", use_required_attribute=False),
            "wrong_form": EveryField(WRONG, auto_id="wrong_%s", use_required_attribute=False),
            "table": table, "no_rows": ShownTable([], prefix="none-"),
            "pictures": contents.pictures(today_at(request.user, at)),
        },
    )  # fmt: skip
