"""The cells of a list, put together outside the template: fifty rows have hundreds of them."""

from typing import Any

from django import template
from django.utils.formats import localize
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString
from django_tables2.columns import BoundColumn
from django_tables2.rows import BoundRow

register = template.Library()


@register.simple_tag
def cells(row: BoundRow) -> SafeString:
    """One row's cells; the first is its heading, the others say on a phone what they are."""
    (first, heading), *others = row.items()
    return format_html(
        '<th scope="row"{}>{}</th>', _kind(first), _shown(heading)
    ) + format_html_join(
        "\n",
        '<td data-label="{}"{}>{}</td>',
        ((column.header, _kind(column), _shown(cell)) for column, cell in others),
    )


def _kind(column: BoundColumn) -> SafeString | str:
    kind = column.column.attrs.get("td", {}).get("class")
    return format_html(' class="{}"', kind) if kind else ""


def _shown(cell: Any) -> SafeString:
    return conditional_escape(localize(cell))
