"""How a list is drawn: count in words, sorting by the heading, pages, what an empty one says."""

from typing import Any

import django_tables2 as tables
import pytest
from django.template import engines
from django.test import RequestFactory


class MachineTable(tables.Table):  # type: ignore[misc]
    noun, nouns = "machine", "machines"
    number = tables.Column()
    hours = tables.Column(verbose_name="Meter", attrs={"td": {"class": "number"}})
    note = tables.Column(orderable=False)

    class Meta:
        empty_text = "No machine here yet. Add the first one."


def rows(count: int) -> list[dict[str, Any]]:
    return [{"number": f"MX-{n:04d}", "hours": n, "note": "<b>"} for n in range(count)]


def draw(table: tables.Table, address: str = "/machines") -> str:
    template = engines["django"].from_string("{% load django_tables2 %}{% render_table table %}")
    return template.render({"table": table}, request=_request(address))


def _request(address: str) -> Any:
    from django.contrib.auth.models import AnonymousUser

    request = RequestFactory().get(address)
    request.user = AnonymousUser()
    return request


def test_count_and_pages_stand_in_words() -> None:
    table = MachineTable(rows(3012))
    table.paginate(page=2, per_page=50)

    text = draw(table, "/machines?q=mx&page=2")

    assert "51 to 100 of 3,012 machines" in text
    assert "page 2 of 61" in text
    assert 'rel="prev" href="?q=mx&amp;page=1"' in text
    assert 'rel="next" href="?q=mx&amp;page=3"' in text


@pytest.mark.parametrize(
    ("count", "words"), [(1, "1 to 1 of 1 machine<"), (2, "1 to 2 of 2 machines<")]
)
def test_one_is_not_counted_as_many(count: int, words: str) -> None:
    table = MachineTable(rows(count))
    table.paginate(per_page=50)

    text = draw(table)

    assert words in text
    assert "<nav" not in text


def test_heading_sorts_and_says_how_it_is_sorted() -> None:
    text = draw(MachineTable(rows(3), order_by="-hours"), "/machines?sort=-hours&page=4&q=mx")

    assert text.count("aria-sort") == 1
    assert 'class="number" aria-sort="descending"' in text
    assert 'href="?sort=hours&amp;q=mx"' in text
    assert 'href="?sort=number&amp;q=mx"' in text
    assert "sort=note" not in text


def test_each_cell_knows_its_label_and_the_first_names_the_row() -> None:
    text = draw(MachineTable(rows(2)))

    assert text.count('<th scope="row">MX-') == 2
    assert text.count('<td data-label="Meter" class="number">') == 2
    assert '<td data-label="Note">&lt;b&gt;</td>' in text


def test_empty_list_says_how_to_begin() -> None:
    text = draw(MachineTable([]))

    assert '<p class="empty">No machine here yet. Add the first one.</p>' in text
    assert "<table" not in text
