"""Headings are matched whatever their dress, and cells are read for what they mean."""

import pytest

from plant.columns import date_ways, fold
from plant.drives.sections import System
from plant.machine_columns import BY_FIELD, COLUMNS, TABLE, _belt_of
from plant.units import MEASURES


@pytest.mark.parametrize("column", COLUMNS, ids=lambda column: column.field)
def test_each_column_is_known_by_its_own_name(column) -> None:
    for heading in (column.name, column.name.upper(), f" {column.name.replace(' ', '_')}."):
        assert TABLE.match([heading]) == {heading: column.field}


def test_no_two_columns_share_a_heading() -> None:
    heads = [fold(words) for column in COLUMNS for words in {fold(column.name), *column.headings}]

    assert len(set(heads)) >= len(heads) - len(COLUMNS)
    for column in COLUMNS:
        for words in column.headings:
            assert TABLE.match([words]) == {words: column.field}


def test_of_two_headings_for_one_field_the_first_has_it() -> None:
    assert TABLE.match(["Make", "Manufacturer", "Colour"]) == {"Make": "maker"}


@pytest.mark.parametrize(
    ("heading", "field", "unit"),
    [
        ("Power (hp)", "power", "hp"),
        ("POWER KW", "power", "kW"),
        ("Rated power [kW]", "power", "kW"),
        ("Weight in lbs", "mass", "lb"),
        ("weight_kg", "mass", "kg"),
        ("Centre distance, mm", "centres", "mm"),
        ("Hours run", "meter", ""),
        ("Running hours (h)", "meter", "h"),
    ],
)
def test_a_heading_may_carry_its_unit(heading: str, field: str, unit: str) -> None:
    assert TABLE.match([heading]) == {heading: field}
    assert TABLE.unit_in(heading, BY_FIELD[field]) == unit


@pytest.mark.parametrize("heading", ["Power (kVA)", "Weight (stone)", "Colour (mm)", "(kg)", "%"])
def test_a_unit_that_the_figure_cannot_have_is_no_match(heading: str) -> None:
    assert TABLE.match([heading]) == {}


@pytest.mark.parametrize(
    ("typed", "ways"),
    [
        ("2026-03-04", {"plain": "2026-03-04"}),
        ("2026-03-04T00:00:00", {"plain": "2026-03-04"}),
        ("4 Mar 26", {"plain": "2026-03-04"}),
        ("4-March-2026", {"plain": "2026-03-04"}),
        ("03/04/26", {"day": "2026-04-03", "month": "2026-03-04"}),
        ("25.12.2025", {"day": "2025-12-25"}),
        ("12/25/2025", {"month": "2025-12-25"}),
        ("04/04/2026", {"day": "2026-04-04", "month": "2026-04-04"}),
        ("29/02/2025", {}),
        ("31/13/2025", {}),
        ("4 Foo 2026", {}),
        ("2026-3-4", {}),
        ("45000", {}),
        ("٠٣/٠٤/٢٠٢٦", {}),
    ],
)
def test_a_date_is_read_in_every_way_that_it_can_be(typed: str, ways: dict[str, str]) -> None:
    assert {order: day.isoformat() for order, day in date_ways(typed).items()} == ways


def test_a_column_of_figures_has_a_measure_of_the_project() -> None:
    assert all(column.measure is None or column.measure in MEASURES for column in COLUMNS)


def test_a_belt_sized_at_the_rim_is_kept_by_its_effective_length():
    # ANSI/RMA IP-22: the figures after 3V are tenths of an inch of effective length.
    belt, refused = _belt_of("3V300", System.ISO_DIN)
    assert not refused
    assert belt["belt_datum_m"] == pytest.approx(30 * 0.0254)
