"""The rows of a list, put together outside the template: fifty rows have hundreds of cells."""

import html
import inspect
from collections.abc import Callable
from functools import cache
from typing import Any

from django import template
from django.utils.formats import localize
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django_tables2 import Table
from django_tables2.columns import BoundColumn

register = template.Library()


@register.simple_tag
def rows_of(table: Table) -> SafeString:
    """The rows of the page that is shown; the first cell of each is its heading, the others say
    on a phone what they are."""
    columns = []
    for place, column in enumerate(table.columns):
        kind = column.column.attrs.get("td", {}).get("class")
        said = format_html(' class="{}"', kind) if kind else ""
        if place == 0:
            opened, closed = format_html('<th scope="row"{}>', said), "</th>"
        else:
            opened, closed = (
                format_html('<td data-label="{}"{}>', column.header, said),
                "</td>\n",
            )
        columns.append((opened, _straight(column), column.name, closed))
    parts: list[str] = []
    for row in table.paginated_rows:
        record = row.record
        parts.append("<tr>\n")
        for opened, straight, name, closed in columns:
            cell = row.get_cell(name) if straight is None else straight(record)
            parts += opened, _shown(cell), closed
        parts.append("</tr>\n")
    return mark_safe("".join(parts))  # noqa: S308 - each part is escaped or our own


def _straight(column: BoundColumn) -> Callable[[Any], Any] | None:
    """The table's own method for this column, where it may be called straight with the record.

    So it is where it is asked whatever the value, and asks for the record alone. The library looks
    each time for a value and for what the method takes.
    """
    render: Callable[[Any], Any] = column.render
    if column.column.empty_values or column.link is not None:
        return None
    return render if _takes_record_alone(getattr(render, "__func__", render)) else None


@cache
def _takes_record_alone(method: Callable[..., Any]) -> bool:
    return list(inspect.signature(method).parameters) == ["self", "record"]


def _shown(cell: Any) -> str:
    if isinstance(cell, SafeString):
        return cell
    return html.escape(cell if isinstance(cell, str) else str(localize(cell)))
