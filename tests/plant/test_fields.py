"""What a figure field takes, keeps and says."""

import pytest
from django import forms

from plant import units
from plant.fields import QuantityField
from plant.length_words import told_in
from plant.units import Typed


class ReadingForm(forms.Form):
    width = QuantityField(units.WIDTH)
    force = QuantityField(units.FORCE, required=False, help_text="At mid span.")


def test_plain_number_is_in_the_unit_that_is_shown() -> None:
    form = ReadingForm({"width": " 12.5 ", "force": ""})

    assert form.is_valid()
    assert form.cleaned_data == {"width": Typed("12.5", 0.0125, "mm"), "force": None}
    assert '<span aria-hidden="true">mm</span>' in str(form["width"])


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


# --- for who reads inches ------------------------------------------------------------------------


def test_a_plain_number_of_who_reads_inches_is_kept_with_its_unit() -> None:
    with told_in("in"):
        form = ReadingForm({"width": "0.485", "width-unit": "in", "force": "24"})

        assert form.is_valid()
        typed = form.cleaned_data["width"]
        # 0.485 in is 12.319 mm exactly.
        assert (typed.text_as_typed, typed.unit) == ("0.485 in", "in")
        assert typed.value_si == pytest.approx(0.012319, rel=1e-15)
        assert form.cleaned_data["force"] == Typed("24", 24.0, "N")


def test_the_unit_stands_beside_the_box_and_goes_with_the_form() -> None:
    with told_in("in"):
        form = ReadingForm()
        drawn = str(form["width"])
        assert str(form["width"].help_text) == "In inches, or write the unit: mm, cm, m."

    assert '<span aria-hidden="true">in</span>' in drawn
    assert '<input type="hidden" name="width-unit" value="in">' in drawn
    assert "width-unit" not in str(ReadingForm()["force"])


@pytest.mark.parametrize(
    ("reader", "stood", "typed", "kept"),
    [
        ("mm", "in", "0.485", "0.485 in"),  # chosen otherwise since the page was opened
        ("in", "mm", "12.5", "12.5 mm"),
        ("in", None, "12.5", "12.5 mm"),  # a form from before the choice was there
        ("mm", None, "12.5", "12.5"),
        ("in", "in", "31/64", "31/64 in"),
        ("in", "in", "12.5 mm", "12.5 mm"),
        ("in", "ft", "12.5", "12.5 mm"),
    ],
)
def test_a_number_means_what_stood_beside_it(
    reader: str, stood: str | None, typed: str, kept: str
) -> None:
    sent = {"width": typed} | ({"width-unit": stood} if stood else {})

    with told_in(reader):
        form = ReadingForm(sent)
        assert form.is_valid(), form.errors
        assert form.cleaned_data["width"].text_as_typed == kept
        assert f'value="{kept}"' in str(form["width"])


def test_what_was_kept_without_a_unit_is_shown_with_it() -> None:
    with told_in("in"):
        assert 'value="80 mm"' in str(ReadingForm(initial={"width": "80"})["width"])
    assert 'value="80"' in str(ReadingForm(initial={"width": "80"})["width"])


def test_a_refusal_names_inches_to_who_reads_them() -> None:
    with told_in("in"):
        (far,) = ReadingForm({"width": "900", "width-unit": "in"}).errors["width"]
        (word,) = ReadingForm({"width": "wide", "width-unit": "in"}).errors["width"]

    # 10 m is 393.7007... in; what is named is accepted.
    assert far == "Enter 0 to 393.7 in. Write 900 in if that is meant." or far.startswith(
        "Enter 0 to 393.7 in."
    )
    assert word == "Enter a number alone or with in, mm, cm or m, for example 0.485 in."
    assert units.read("393.7", units.led_by(units.WIDTH, "in")).value_si <= 10
