"""What people type as figures: read to the last bit, shown again, refused in plain words."""

import subprocess
import sys
from dataclasses import replace
from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from fractions import Fraction
from math import inf, isclose, nan, pi
from time import perf_counter

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant import units
from plant.units import Measure, NotAccepted, Typed, Unit, decimal_string, read, show

PINT: pint.UnitRegistry[float] = pint.UnitRegistry()
CHOICES = [(measure, unit) for measure in units.MEASURES for unit in measure.units]
choices = st.sampled_from(CHOICES)


@pytest.mark.parametrize(
    ("text", "measure", "value_si", "unit"),
    [
        ("8", units.LENGTH, 0.008, "mm"),
        ("8 mm", units.LENGTH, 0.008, "mm"),
        ("8MM", units.LENGTH, 0.008, "mm"),
        (" +8.50  mm ", units.LENGTH, 0.0085, "mm"),
        ("12.5\u00a0cm", units.LENGTH, 0.125, "cm"),
        ("5/16 in", units.LENGTH, 0.0079375, "in"),
        ("1 1/2 in", units.LENGTH, 0.0381, "in"),
        ("1 1/2 inch", units.WIDTH, 0.0381, "in"),
        ("40 lbf", units.FORCE, 177.92886461042, "lbf"),
        ("0.31 s", units.TIME_MS, 0.31, "s"),
        ("28", units.TIME_MS, 0.028, "ms"),
        ("4:30", units.HOURS, 16_200.0, "h:min"),
        ("4:30 h", units.HOURS, 16_200.0, "h:min"),
        ("4.5", units.HOURS, 16_200.0, "h"),
        ("90 min", units.HOURS, 5_400.0, "min"),
        ("1450", units.SPEED, 1450 * pi / 30, "rpm"),
        ("1450 1/min", units.SPEED, 1450 * pi / 30, "1/min"),
        ("1450 r/min", units.SPEED, 1450 * pi / 30, "rpm"),
        ("-10", units.TEMPERATURE, 263.15, "°C"),
        ("-10 °C", units.TEMPERATURE, 263.15, "°C"),
        ("5 %", units.PERCENT, 0.05, "%"),
        ("200", units.INSULATION_RESISTANCE, 200e6, "Mohm"),
        ("0.2 MΩ", units.RESISTANCE, 200e3, "Mohm"),
        ("200 m\u2126", units.RESISTANCE, 0.2, "mohm"),
        ("30", units.RCD_CURRENT, 0.03, "mA"),
        ("50 kVA", units.APPARENT_POWER, 50e3, "kVA"),
    ],
)
def test_a_figure_is_read(text: str, measure: Measure, value_si: float, unit: str) -> None:
    typed = read(text, measure)

    assert typed.text_as_typed == text.replace("\u00a0", " ").strip()
    assert typed.unit == unit
    assert isclose(typed.value_si, value_si, rel_tol=1e-15)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "mm",
        "9**9**9",
        "8 mm 3",
        "1.5e3",
        "1e400",
        "nan",
        "inf",
        "-inf",
        "1_000",
        "10 000",
        "0x10",
        '12"',
        "12'",
        "12″",
        "12\n",
        "12\t mm",
        "１２",
        "١٢ mm",
        "12 mm²",
        "\u202e12 mm",
        "12 \u2066mm",
        "12\u200b",
        "1.",
        ".5",
        "1.2.3",
        "1.1234567",
        "1234567890",
        "--1",
        "5/16",
        "1 1/2",
        "5/0 in",
        "5/7 in",
        "1 3/2 in",
        "-1/2 in",
        "1/2 mm",
        "4:30",
        "12 N",
        "12 furlong",
        "12 Mm/",
        "x" * 65_536,
        "9" * 1_000_000,
        " " * 65_536 + "1",
    ],
)
def test_anything_else_is_refused_at_once(text: str) -> None:
    start = perf_counter()
    with pytest.raises(NotAccepted) as refused:
        read(text, units.LENGTH)

    assert perf_counter() - start < 0.05
    assert 3 <= len(str(refused.value).split()) <= 25


@pytest.mark.parametrize(
    ("text", "measure", "words"),
    [
        ("1,5 mm", units.LENGTH, "Use a point for decimals, for example 12.5 mm."),
        ("1,500", units.SPEED, "Use a point for decimals, for example 12.5 rpm."),
        ("11 m", units.LENGTH, "Enter 0 to 10 000 mm. Write 11 mm if that is meant."),
        ("310 s", units.TIME_MS, "Enter 0 to 2 000 ms. Write 310 ms if that is meant."),
        ("5 A", units.LEAKAGE, "Enter 0 to 100 mA. Write 5 mA if that is meant."),
        ("10001", units.FORCE, "Enter 0 to 10 000 N."),
        ("-1", units.FORCE, "Enter 0 to 10 000 N."),
        ("20001", units.SPEED, "Enter 0 to 20 000 rpm."),
        ("501", units.POWER, "Enter 0 to 500 kW."),
        ("1000000", units.HOURS, "Enter 0 to 999 999.9 h."),
        ("1001", units.VOLTAGE, "Enter 0 to 1 000 V."),
        ("2.001 s", units.TIME_MS, "Enter 0 to 2 000 ms."),
        ("1001", units.RCD_CURRENT, "Enter 0 to 1 000 mA."),
        ("-41", units.TEMPERATURE, "Enter -40 to 120 °C."),
        ("121", units.TEMPERATURE, "Enter -40 to 120 °C."),
        ("5 MOHM", units.RESISTANCE, "Capitals matter here. Use ohm, mohm, kohm or Mohm."),
        (
            "10 kva",
            units.POWER,
            "kVA is apparent power. Enter kW; kVA becomes kW only with a power factor.",
        ),
        ('12"', units.LENGTH, "Write inches as in, for example 5/16 in or 1 1/2 in."),
        (
            "8 bar",
            units.LENGTH,
            "Enter a number alone or with mm, cm, m or in, for example 12.5 mm.",
        ),
        ("4:75", units.HOURS, "Enter a number alone or with h or min, for example 4:30."),
    ],
)
def test_a_refusal_says_what_would_be_accepted(text: str, measure: Measure, words: str) -> None:
    with pytest.raises(NotAccepted) as refused:
        read(text, measure)

    assert str(refused.value) == words


@pytest.mark.parametrize("text", ["81/min", "811/min", "1 1/min in", "3 MV", "5 Ma"])
def test_a_unit_is_never_guessed_out_of_digits_or_capitals(text: str) -> None:
    for measure in (units.SPEED, units.VOLTAGE, units.CURRENT):
        with pytest.raises(NotAccepted):
            read(text, measure)


@pytest.mark.parametrize("measure", units.MEASURES, ids=lambda measure: measure.name)
def test_both_ends_of_the_range_are_accepted(measure: Measure) -> None:
    # The widest unit, because at most nine digits are taken.
    unit = max(measure.units, key=lambda unit: units.to_si(1, measure, unit.symbol)).symbol
    for end in (measure.low, measure.high):
        typed = read(f"{units.from_si(end, measure, unit):.6f} {unit}", measure)
        assert isclose(typed.value_si, end, rel_tol=1e-9)
        if unit == measure.unit:
            assert typed.value_si == end


@given(text=st.text(max_size=60), measure=st.sampled_from(units.MEASURES))
def test_no_text_gives_anything_but_a_figure_in_range_or_a_short_refusal(
    text: str, measure: Measure
) -> None:
    typed = figure_or_refusal(text, measure)

    if isinstance(typed, Typed):
        assert measure.low <= typed.value_si <= measure.high
    else:
        assert len(typed.split()) <= 25


@given(
    text=st.text(alphabet="0123456789./:+-, \"'e_mMinNkfWhpΩ°C%٣３", max_size=24),
    measure=st.sampled_from(units.MEASURES),
)
def test_no_near_miss_gives_anything_but_a_figure_in_range_or_a_short_refusal(
    text: str, measure: Measure
) -> None:
    typed = figure_or_refusal(text, measure)

    if isinstance(typed, Typed):
        assert measure.low <= typed.value_si <= measure.high
        assert typed.unit in measure.symbols
        assert not set(text) & set(",\"'e_٣３")
    else:
        assert len(typed.split()) <= 25


def figure_or_refusal(text: str, measure: Measure) -> Typed | str:
    try:
        return read(text, measure)
    except NotAccepted as refused:
        return str(refused)


@given(choice=choices, number=st.decimals("-999999", "999999999", places=6))
def test_conversion_agrees_with_pint(choice: tuple[Measure, Unit], number: Decimal) -> None:
    measure, unit = choice
    boundless = replace(measure, low=-inf, high=inf)

    value = read(f"{number:f} {unit.symbol}", boundless).value_si

    by_pint = PINT.Quantity(float(number), unit.pint).to(measure.si_pint).magnitude
    assert isclose(value, by_pint, rel_tol=1e-12, abs_tol=1e-9 if unit.zero else 0.0)


@pytest.mark.parametrize(
    ("symbol", "measure", "exact"),
    [
        # NIST Special Publication 811 (2008), appendix B.8: inch, pound and kilogram-force are
        # exact there; pound-force is the pound times standard gravity (printed 4.448 222), and
        # the horsepower is 550 foot pound-force a second (printed 745.6999).
        ("in", units.LENGTH, Fraction("0.0254")),
        ("lb", units.MASS, Fraction("0.45359237")),
        ("kgf", units.FORCE, Fraction("9.80665")),
        ("lbf", units.FORCE, Fraction("4.4482216152605")),
        ("lbf", units.FORCE, Fraction("0.45359237") * Fraction("9.80665")),
        ("hp", units.POWER, 550 * Fraction("0.3048") * Fraction("4.4482216152605")),
        ("min", units.HOURS, Fraction(60)),
        ("kohm", units.RESISTANCE, Fraction(1000)),
        ("Mohm", units.RESISTANCE, Fraction(10**6)),
        ("mohm", units.RESISTANCE, Fraction(1, 1000)),
    ],
)
def test_factors_are_those_published(symbol: str, measure: Measure, exact: Fraction) -> None:
    assert isclose(read(f"1 {symbol}", measure).value_si, float(exact), rel_tol=1e-14)


def test_factors_agree_with_the_figures_as_printed() -> None:
    # NIST Special Publication 811 (2008), appendix B.8, to the seven figures printed there.
    assert f"{units.to_si(1, units.FORCE, 'lbf'):.6f}" == "4.448222"
    assert f"{units.to_si(1, units.POWER, 'hp'):.4f}" == "745.6999"
    assert f"{units.to_si(1, units.SPEED, 'rpm'):.7f}" == "0.1047198"
    assert f"{units.to_si(1, units.ANGLE, 'deg'):.8f}" == "0.01745329"


@given(
    choice=choices,
    places=st.integers(0, 6),
    steps=st.integers(0, 999_999),
)
def test_what_is_shown_reads_back(choice: tuple[Measure, Unit], places: int, steps: int) -> None:
    measure, unit = choice
    boundless = replace(measure, low=-inf, high=inf)
    value = units.to_si(float(Decimal(steps).scaleb(-places)), measure, unit.symbol)

    shown = show(value, boundless, unit=unit.symbol, decimals=places)

    assert shown == f"{Decimal(steps).scaleb(-places):.{places}f} {unit.symbol}"
    again = read(shown, boundless)
    assert again.unit == unit.symbol
    assert isclose(again.value_si, value, rel_tol=1e-12, abs_tol=1e-15)


@pytest.mark.parametrize(
    ("shown", "words"),
    [
        (show(0.012, units.LENGTH), "12.0 mm"),
        (show(0.012, units.LENGTH, doubt=0.0007), "12.0 ± 0.7 mm"),
        (show(0.012, units.LENGTH, doubt=0.00002), "12.00 ± 0.02 mm"),
        (show(0.012, units.LENGTH, doubt=0.0), "12.0 ± 0.0 mm"),
        (show(0.012, units.LENGTH, decimals=0, doubt=0.0002), "12 ± 1 mm"),
        (show(0.012, units.LENGTH, "cm"), "1.20 cm"),
        (show(0.0254, units.LENGTH, "in"), "1.000 in"),
        (show(0.01225, units.LENGTH), "12.3 mm"),
        (show(-0.00001, units.LENGTH), "0.0 mm"),
        (show(293.15, units.TEMPERATURE, doubt=2.0), "20 ± 2 °C"),
        (show(16_380.0, units.HOURS), "4.6 h"),
        (show(16_380.0, units.HOURS, "h:min"), "4:33"),
        (show(3_599_999_640.0, units.HOURS), "999999.9 h"),
        (show(1450 * pi / 30, units.SPEED), "1450 rpm"),
        (show(0.028, units.TIME_MS), "28 ms"),
        (show(200e6, units.INSULATION_RESISTANCE), "200.00 Mohm"),
    ],
)
def test_a_figure_is_shown_with_its_unit(shown: str, words: str) -> None:
    assert shown == words


@pytest.mark.parametrize(
    ("value", "unit", "doubt"),
    [(nan, None, None), (inf, None, None), (1.0, "N", None), (1.0, None, nan), (1.0, None, -1.0)],
)
def test_what_cannot_be_shown_is_refused(
    value: float, unit: str | None, doubt: float | None
) -> None:
    with pytest.raises(ValueError, match="length"):
        show(value, units.LENGTH, unit, None, doubt)


@pytest.mark.parametrize(
    ("text", "tenths"),
    [
        ("4:30", 45),
        ("4:32", 45),
        ("4:33", 46),
        ("4.55", 46),
        ("4.549999", 45),
        ("999999.9", 9_999_999),
    ],
)
def test_hours_are_kept_in_tenths_with_halves_going_up(text: str, tenths: int) -> None:
    assert units.tenths_of_hour(read(text, units.HOURS).value_si) == tenths


@given(tenths=st.integers(0, 9_999_999))
def test_every_count_of_tenths_comes_back(tenths: int) -> None:
    typed = read(show(units.seconds_of_tenths(tenths), units.HOURS), units.HOURS)

    assert units.tenths_of_hour(typed.value_si) == tenths


@pytest.mark.parametrize(
    ("value", "text"),
    [
        # Frozen: records are sealed over these texts.
        (0.0, "0"),
        (-0.0, "0"),
        (0.008, "0.008"),
        (1300.0, "1300"),
        (0.1 + 0.2, "0.3"),
        (1 / 3, "0.333333333333"),
        (-2 / 3, "-0.666666666667"),
        (177.92886461042, "177.92886461"),
        (1450 * pi / 30, "151.843644924"),
        (123456789012.5, "123456789012"),
        (123456789013.5, "123456789014"),
        (9.9999999999995, "10"),
        (1234567890123456.0, "1234567890120000"),
        (1e22, "10000000000000000000000"),
        (2.5e-9, "0.0000000025"),
    ],
)
def test_the_sealed_text_of_a_figure_is_frozen(value: float, text: str) -> None:
    assert decimal_string(value) == text


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e30, max_value=1e30))
def test_the_sealed_text_is_the_rounding_of_the_decimal_standard(value: float) -> None:
    # The General Decimal Arithmetic Specification 1.70, "plus" at precision 12, half to even.
    rounded = Context(prec=12, rounding=ROUND_HALF_EVEN).plus(Decimal(value))

    text = decimal_string(value)

    assert Decimal(text) == rounded
    assert text == decimal_string(float(text))
    assert set(text) <= set("-.0123456789")
    assert text == "0" or "." not in text or text[-1] != "0"
    with localcontext(prec=3):
        assert decimal_string(value) == text


@pytest.mark.parametrize(("value", "digits"), [(nan, 12), (inf, 12), (1.0, 0), (1.0, 18)])
def test_no_sealed_text_without_a_number(value: float, digits: int) -> None:
    with pytest.raises(ValueError, match=r"decimal string|accepted"):
        decimal_string(value, digits)


def test_metric_figures_never_load_pint() -> None:
    loaded = (
        "import sys; from plant import units as u; "
        "[u.show(u.read('1', m).value_si, m) for m in u.MEASURES]; u.read('8 mm', u.LENGTH); "
        "print('pint' in sys.modules); u.read('1 in', u.LENGTH); print('pint' in sys.modules)"
    )

    out = subprocess.run([sys.executable, "-c", loaded], capture_output=True, text=True, check=True)

    assert out.stdout.split() == ["False", "True"]


def test_a_word_for_every_refused_unit_of_power() -> None:
    for unit in ("kW", "W", "hp"):
        with pytest.raises(NotAccepted, match="real power"):
            read(f"5 {unit}", units.APPARENT_POWER)


@pytest.mark.parametrize(
    ("text", "end", "value_si", "shown"),
    [
        ("> 99.9", ">", 99.9e6, "> 99.9"),
        (">99.9 Mohm", ">", 99.9e6, "> 99.9 Mohm"),
        ("<500 kohm", "<", 0.5e6, "< 500 kohm"),
        (" 2.5 ", "", 2.5e6, "2.5"),
    ],
)
def test_a_figure_beyond_the_range_of_an_instrument_keeps_its_sign(
    text: str, end: str, value_si: float, shown: str
) -> None:
    read = units.read_open(text, units.INSULATION_RESISTANCE)

    assert (read.end, read.value_si, read.text_as_typed) == (end, value_si, shown)


@pytest.mark.parametrize("text", [">", ">>5", "> -1", "5 >", ">=5", "<>5", "> 1,5", "", "> 5 V"])
def test_a_sign_makes_nothing_else_acceptable(text: str) -> None:
    with pytest.raises(units.NotAccepted):
        units.read_open(text, units.INSULATION_RESISTANCE)
