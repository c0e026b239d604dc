"""What a figure field takes, keeps and says."""

import pytest
from django import forms

from plant import units
from plant.fields import QuantityField
from plant.units import Typed


class ReadingForm(forms.Form):
    width = QuantityField(units.WIDTH)
    force = QuantityField(units.FORCE, required=False, help_text="At mid span.")


def test_plain_number_is_in_the_unit_that_is_shown() -> None:
    form = ReadingForm({"width": " 12.5 ", "force": ""})

    assert form.is_valid()
    assert form.cleaned_data == {"width": Typed("12.5", 0.0125, "mm"), "force": None}
    assert '<span class="unit" aria-hidden="true">mm</span>' in str(form["width"])


def test_fraction_of_an_inch_is_taken() -> None:
    # 1 in is 25.4 mm exactly: international yard and pound agreement, 1959.
    form = ReadingForm({"width": "5/16 in", "force": "40 lbf"})

    assert form.is_valid()
    assert form.cleaned_data["width"].value_si == pytest.approx(0.0254 * 5 / 16, rel=1e-15)
    assert form.cleaned_data["force"].unit == "lbf"


@pytest.mark.parametrize(
    "typed", ["12,5 mm", "twelve", "1e3", "-4", "11 000 mm", "12.5 kg", "9" * 45]
)
def test_anything_else_is_refused_in_words_and_kept(typed: str) -> None:
    form = ReadingForm({"width": typed, "force": ""})

    assert not form.is_valid()
    (said,) = form.errors["width"]
    assert "invalid" not in str(said).lower()
    assert str(said).endswith(".")
    assert f'value="{typed}"' in str(form["width"])
    assert 'aria-invalid="true"' in str(form["width"])


def test_message_is_the_one_of_the_units() -> None:
    with pytest.raises(units.NotAccepted) as refused:
        units.read("11000 mm", units.WIDTH)

    assert ReadingForm({"width": "11000 mm"}).errors["width"] == [str(refused.value)]


@pytest.mark.parametrize("typed", ["", "   "])
def test_empty_required_figure_says_what_to_do(typed: str) -> None:
    assert ReadingForm({"width": typed}).errors["width"] == ["Fill this in."]


def test_nul_character_is_refused() -> None:
    assert "width" in ReadingForm({"width": "12\x00"}).errors


def test_hint_names_the_other_units_unless_one_is_given() -> None:
    form = ReadingForm()

    assert form["width"].help_text == "In mm, or write the unit: cm, m, in."
    assert form["force"].help_text == "At mid span."
    assert "4:30 for hours and minutes" in QuantityField(units.HOURS).help_text


def test_figure_shown_again_is_the_one_that_was_typed() -> None:
    form = ReadingForm(initial={"width": Typed("5/16 in", 0.0079375, "in")})

    assert 'value="5/16 in"' in str(form["width"])


def test_same_text_again_is_no_change() -> None:
    kept = {"width": Typed("5/16 in", 0.0079375, "in")}

    assert ReadingForm({"width": "5/16 in"}, initial=kept).changed_data == []
    assert ReadingForm({"width": "1/4 in"}, initial=kept).changed_data == ["width"]


def test_phone_offers_figures_unless_told_otherwise() -> None:
    assert 'inputmode="decimal"' in str(ReadingForm()["width"])
    assert QuantityField(units.WIDTH, keypad="text").widget.attrs["inputmode"] == "text"
