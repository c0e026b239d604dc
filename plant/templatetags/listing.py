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
from django_tables2.rows import BoundRow

register = template.Library()


@register.simple_tag
def rows_of(table: Table) -> SafeString:
    """The rows of the page that is shown; the first cell of each is its heading, the others say
    on a phone what they are."""
    columns = list(table.columns)
    cells = [_cell(column) for column in columns]
    opened = [
        format_html('<th scope="row"{}>', _kind(columns[0])),
        *(
            format_html('<td data-label="{}"{}>', column.header, _kind(column))
            for column in columns[1:]
        ),
    ]
    closed = ["</th>", *("</td>\n" for _ in columns[1:])]
    parts = []
    for row in table.paginated_rows:
        parts.append("<tr>\n")
        for begin, cell, end in zip(opened, cells, closed, strict=True):
            parts += begin, _shown(cell(row)), end
        parts.append("</tr>\n")
    return mark_safe("".join(parts))  # noqa: S308 - each part is escaped or our own


def _cell(column: BoundColumn) -> Callable[[BoundRow], Any]:
    """How a row's cell of this column is got.

    Where the table's own method is asked whatever the value, and asks for the record alone, it is
    called straight: the library looks each time for a value and for what the method takes.
    """
    render = column.render
    straight = not column.column.empty_values and column.link is None
    if straight and _takes_record_alone(getattr(render, "__func__", render)):
        return lambda row: render(record=row.record)
    name = column.name
    return lambda row: row.get_cell(name)


@cache
def _takes_record_alone(method: Callable[..., Any]) -> bool:
    return list(inspect.signature(method).parameters) == ["self", "record"]


def _shown(cell: Any) -> str:
    if isinstance(cell, SafeString):
        return cell
    return html.escape(cell if isinstance(cell, str) else str(localize(cell)))


def _kind(column: BoundColumn) -> SafeString | str:
    kind = column.column.attrs.get("td", {}).get("class")
    return format_html(' class="{}"', kind) if kind else ""
