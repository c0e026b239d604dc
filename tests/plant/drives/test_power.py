"""Power ratings against printed tables, each method by itself; the methods cannot be mixed."""

from dataclasses import replace
from math import asin, exp, inf, log10, nan, pi, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from plant.drives import power
from plant.drives.errors import DriveError, MixedMethods, NotSourced, OutOfRange
from plant.drives.facts import Fact, Trust

HP, INCH, FT_MIN, RPM = 745.6998715822702, 0.0254, 0.00508, pi / 30


# Shigley's Mechanical Engineering Design, Table 17-12 (from memory): D is not carried by the
# table method and is here to test the form of 1955 alone; columns 1000 to 5000 ft/min.
SHIGLEY = [
    ("A", 2.6, (0.47, 0.62, 0.53, 0.15, None), 0.023),
    ("A", 3.8, (0.93, 1.55, 1.92, 2.00, 1.71), 0.023),
    ("A", 5.0, (1.17, 2.03, 2.64, 2.96, 2.89), 0.023),
    ("B", 4.2, (1.07, 1.58, 1.68, 1.26, 0.22), 0.008),
    ("B", 7.0, (2.01, 3.46, 4.49, 5.01, 4.90), 0.008),
    ("C", 6.0, (1.84, 2.66, 2.72, 1.87, None), 0.05),
    ("C", 9.0, (3.34, 5.65, 7.21, 7.86, 7.39), 0.05),
    ("C", 12.0, (4.09, 7.15, 9.46, 10.9, 11.1), 0.05),
]


@pytest.mark.parametrize(("section", "inches", "row", "rounding"), SHIGLEY)
def test_the_form_of_1955_gives_the_printed_table(
    section: str, inches: float, row: tuple[float | None, ...], rounding: float
) -> None:
    for thousand, printed in enumerate(row, start=1):
        if printed is not None:
            found = power.form_1955_power(
                section=section, diameter=inches * INCH, speed=thousand * 1000 * FT_MIN
            )
            assert found / HP == pytest.approx(printed, abs=rounding + 0.002)


@pytest.mark.parametrize(("section", "inches", "row", "_rounding"), SHIGLEY)
def test_the_table_gives_its_own_entries(
    section: str, inches: float, row: tuple[float | None, ...], _rounding: float
) -> None:
    for thousand, printed in enumerate(row, start=1):
        speed = thousand * 1000 * FT_MIN
        if printed is None:
            with pytest.raises(OutOfRange, match="empty"):
                power.shigley_table_power(section=section, diameter=inches * INCH, speed=speed)
        else:
            found = power.shigley_table_power(section=section, diameter=inches * INCH, speed=speed)
            assert found / HP == pytest.approx(printed)


def test_between_entries_agrees_with_a_general_interpolator() -> None:
    other = RegularGridInterpolator(
        ([3.4, 3.8], [2000.0, 3000.0]), [[1.31, 1.57], [1.55, 1.92]], method="linear"
    )

    for inches, ft_min in ((3.5, 2100.0), (3.7, 2900.0), (3.6, 2500.0)):
        found = power.shigley_table_power(
            section="A", diameter=inches * INCH, speed=ft_min * FT_MIN
        )
        assert found / HP == pytest.approx(float(other((inches, ft_min))))


def test_the_last_row_of_the_table_holds_for_larger_pulleys_and_nothing_else_is_carried_on() -> (
    None
):
    last = power.shigley_table_power(section="A", diameter=5.0 * INCH, speed=3000 * FT_MIN)

    assert power.shigley_table_power(section="A", diameter=0.2, speed=3000 * FT_MIN) == last
    for section, inches, ft_min in (("A", 2.5, 3000), ("A", 3.0, 900), ("A", 3.0, 5100)):
        with pytest.raises(OutOfRange, match="accepted"):
            power.shigley_table_power(
                section=section, diameter=inches * INCH, speed=ft_min * FT_MIN
            )


def test_rma_1988_by_hand() -> None:
    # d r = 8.75: 8.75 (1.004 - 0.3304 - 0.011844 - 0.2126 log10 8.75).
    found = power.rma_1988_power(section="A", pitch_diameter=5 * INCH, shaft_speed=1750 * RPM)

    assert found / HP == pytest.approx(
        8.75 * (1.004 - 1.652 / 5 - 0.0001547 * 8.75**2 - 0.2126 * log10(8.75)), rel=1e-9
    )
    assert found / HP == pytest.approx(4.038, abs=0.001)


def test_the_ratio_term_of_the_rma_form() -> None:
    def hp(ratio: float, section: str = "A") -> float:
        return (
            power.rma_1988_power(
                section=section, pitch_diameter=5 * INCH, shaft_speed=1750 * RPM, ratio=ratio
            )
            / HP
        )

    # K2 r (1 - 1/KSR), 1.1106 for 1.65 and over.
    assert hp(2.25) - hp(1.0) == pytest.approx(1.652 * 1.75 * (1 - 1 / 1.1106))
    assert hp(1.0) == hp(1.019) < hp(1.02)
    assert hp(1.64) < hp(1.65) == hp(9.0)
    # Narrow bands and factor.
    assert hp(4.0, "3V") - hp(1.0, "3V") == pytest.approx(1.5295 * 1.75 * (1 - 1 / 1.1278))


# One A belt on 100 mm at 1450 rpm, worked out method by method from the constants as recalled,
# by another program; they show how far the books are apart.
@pytest.mark.parametrize(
    ("key", "kilowatts"),
    [
        ("form-1955", 0.981),
        ("faires", 1.343),
        ("gb", 1.32),
        ("rma-1977", 1.603),
        ("rma-1988", 1.979),
    ],
)
def test_the_books_differ_by_a_factor_of_two(key: str, kilowatts: float) -> None:
    found = power.method(key).rating(section="A", small=0.100, shaft_speed=1450 * RPM)

    assert found.watts / 1000 == pytest.approx(kilowatts, abs=0.001)


def test_the_1955_and_1977_and_1988_ratings_rise_in_that_order() -> None:
    def kw(key: str) -> float:
        return power.method(key).rating(section="B", small=0.14, shaft_speed=1450 * RPM).watts

    assert kw("form-1955") < kw("rma-1977") < kw("rma-1988")


def test_faires_small_diameter_factor_and_equation() -> None:
    # Faires, Design of Machine Elements, 4th ed.: C belt, 13 in, 719 rpm, Kd 1.14 (seen).
    found = power.faires_power(
        section="C", diameter=13 * INCH, speed=pi * 719 * 13 / 12 * FT_MIN,
        small_diameter_factor=1.14,
    )  # fmt: skip

    assert found / HP == pytest.approx(12.8303, rel=0.005)
    assert power.faires_small_diameter_factor(ratio=3.0) == pytest.approx(1.14)
    assert power.faires_small_diameter_factor(ratio=1.0) == 1.0
    assert power.faires_small_diameter_factor(ratio=1.5) == pytest.approx(1.11)


def test_gb_table_entries_and_between() -> None:
    def kw(diameter: float, rpm: float, section: str = "A", ratio: float = 1.0) -> float:
        return (
            power.gb_table_power(
                section=section, diameter=diameter, shaft_speed=rpm * RPM, ratio=ratio
            )
            / 1000
        )

    assert kw(0.100, 1450) == pytest.approx(1.32)
    assert kw(0.180, 2800) == pytest.approx(4.54)
    assert kw(0.050, 960, "Z") == pytest.approx(0.12)
    other = RegularGridInterpolator(([75.0, 90.0], [1200.0, 1450.0]), [[0.60, 0.68], [0.93, 1.07]])
    assert kw(0.080, 1400) == pytest.approx(float(other((80.0, 1400.0))))
    assert kw(0.100, 1450, ratio=2.25) == pytest.approx(1.32 + 0.17)
    assert kw(0.063, 1450, "Z", ratio=2.25) == pytest.approx(0.25)
    for bad in ((0.070, 1450, "A"), (0.100, 600, "A"), (0.100, 2900, "A"), (0.090, 1450, "Z")):
        with pytest.raises(OutOfRange, match="accepted"):
            kw(*bad)
    with pytest.raises(NotSourced):
        kw(0.14, 1450, "B")


def test_the_ratio_increment_grows_with_the_speed_as_the_ratio_term_does() -> None:
    # A constant torque: watts for each rpm stay within the rounding of 0.01 kW.
    for band in power._GB_EXTRA_A[1:]:
        rates = [kw / rpm for kw, rpm in zip(band, power._GB_SPEEDS, strict=True)]
        assert max(rates) * 1450 - min(rates) * 1450 < 0.025


def test_spa_table_entries_and_empty_corner() -> None:
    def kw(diameter: float, rpm: float) -> float:
        return power.spa_table_power(diameter=diameter, shaft_speed=rpm * RPM) / 1000

    assert kw(0.112, 1500) == pytest.approx(4.41)
    assert kw(0.100, 1250) == pytest.approx((2.41 + 3.35) / 2)
    with pytest.raises(OutOfRange, match="empty"):
        kw(0.236, 3000)
    for bad in ((0.085, 1000), (0.260, 1000), (0.1, 99), (0.1, 3100)):
        with pytest.raises(OutOfRange, match="accepted"):
            kw(*bad)


# Machinery's Handbook, 31st ed., p. 2581, Table 12 (seen).
@pytest.mark.parametrize(
    ("ratio", "printed", "flat"),
    [(0.0, 1.0, 0.75), (0.4, 0.94, 0.80), (0.9, 0.85, 0.85), (1.5, 0.65, 0.65)],
)
def test_arc_factor_table(ratio: float, printed: float, flat: float) -> None:
    assert power.arc_factor_by_ratio(ratio=ratio) == pytest.approx(printed)
    assert power.arc_factor_by_ratio(ratio=ratio, flat_large=True) == pytest.approx(flat)


def test_arc_factor_between_rows_and_beyond_them() -> None:
    assert power.arc_factor_by_ratio(ratio=0.2) == pytest.approx(0.975)
    assert power.arc_factor_by_ratio(ratio=0.8) == pytest.approx(0.87)
    for bad in (-0.01, 1.51, nan):
        with pytest.raises(OutOfRange, match="accepted"):
            power.arc_factor_by_ratio(ratio=bad)
    for degrees in (89.0, 181.0):
        with pytest.raises(OutOfRange, match="accepted"):
            power.arc_factor_by_degrees(wrap=radians(degrees))


@given(st.floats(0.0, 1.4))
def test_three_printed_arc_factors_agree(ratio: float) -> None:
    wrap = pi - 2 * asin(ratio / 2)

    handbook = power.method("rma-1988").arc_factor(wrap=wrap).value

    assert handbook == pytest.approx(power.method("shigley").arc_factor(wrap=wrap).value, abs=0.015)
    assert handbook == pytest.approx(power.method("gb").arc_factor(wrap=wrap).value, abs=0.015)
    assert handbook == pytest.approx(power.arc_factor(wrap=wrap), abs=0.008)


def test_arc_beyond_the_table_is_refused_by_the_methods() -> None:
    for key in ("rma-1988", "faires", "shigley", "gb", "rma-1977"):
        with pytest.raises(OutOfRange, match="accepted"):
            power.method(key).arc_factor(wrap=radians(75))
        with pytest.raises(OutOfRange, match="accepted"):
            power.method(key).arc_factor(wrap=radians(182))


# Pulley maker's brochure (seen, second hand): RMA-type factor by code number.
@pytest.mark.parametrize(
    ("section", "code", "printed"),
    [
        ("A", 26, 0.81), ("A", 31, 0.84), ("A", 34, 0.86), ("A", 36, 0.87), ("A", 37, 0.88),
        ("A", 43, 0.90), ("A", 48, 0.93), ("A", 90, 1.06), ("A", 105, 1.10), ("A", 112, 1.11),
        ("B", 35, 0.81), ("B", 42, 0.85), ("B", 46, 0.87), ("B", 93, 1.01), ("B", 96, 1.02),
        ("B", 100, 1.03), ("B", 112, 1.05),
    ],
)  # fmt: skip
def test_rma_length_factors(section: str, code: float, printed: float) -> None:
    found = power.method("rma-1988").length_factor(section=section, length=1.0, code=code)

    assert found.value == pytest.approx(printed, abs=0.0051)


def test_length_factor_of_the_narrow_example() -> None:
    # Mott, Machine Elements in Mechanical Design, 4th ed., Example 7-1 (seen): 5V, 100 in, 0.96.
    found = power.method("rma-1988").length_factor(section="5V", length=100 * INCH)

    assert found.value == pytest.approx(0.96)


# Shigley's Mechanical Engineering Design, Table 17-14 (from memory).
@pytest.mark.parametrize(
    ("section", "code", "printed"),
    [
        ("A", 26, 0.85), ("A", 35, 0.85), ("A", 38, 0.90), ("A", 46, 0.90), ("A", 48, 0.95),
        ("A", 60, 1.00), ("A", 75, 1.00), ("A", 78, 1.05), ("A", 112, 1.10), ("A", 120, 1.15),
        ("B", 46, 0.85), ("B", 62, 0.95), ("B", 97, 1.00), ("B", 195, 1.20), ("C", 75, 0.85),
        ("C", 158, 1.00), ("C", 330, 1.20),
    ],
)  # fmt: skip
def test_shigley_length_factors(section: str, code: float, printed: float) -> None:
    found = power.method("shigley").length_factor(section=section, length=1.0, code=code)

    assert found.value == printed


def test_the_inch_number_is_worked_out_from_the_datum_length() -> None:
    # Machinery's Handbook, 31st ed., p. 2575 (seen): A26 = 27.3, B35 = 36.8, C51 = 53.9 in.
    for section, length, number in (("A", 27.3, 26), ("B", 36.8, 35), ("CX", 53.9, 51)):
        assert power.code_number(section=section, length=length * INCH) == pytest.approx(number)
    with pytest.raises(NotSourced):
        power.code_number(section="SPA", length=1.0)
    # The same belt under the other length system, 690 mm, still finds its end row.
    found = power.method("rma-1988").length_factor(section="A", length=0.690)
    assert found.value == pytest.approx(0.81)
    with pytest.raises(OutOfRange, match="accepted"):
        power.method("rma-1988").length_factor(section="A", length=0.670)


def test_gb_length_factors() -> None:
    def factor(length: float) -> float:
        return power.method("gb").length_factor(section="A", length=length).value

    assert factor(0.700) == pytest.approx(0.83)
    assert factor(0.690) == pytest.approx(0.81 + 0.02 * 60 / 70)
    with pytest.raises(OutOfRange):
        factor(0.629)


def per_belt(key: str) -> power.BeltPower:
    return power.method(key).per_belt(
        section="A",
        small=0.080,
        shaft_speed=1400 * RPM,
        ratio=2.25,
        wrap=2.36,
        length=0.690,
        code=26,
    )


def test_a_belts_power_is_its_rating_times_its_own_factors() -> None:
    found = per_belt("gb")

    assert found.watts == pytest.approx(found.rating.watts * found.arc.value * found.length.value)
    assert found.method is power.method("gb")
    assert found.length.value < 1
    assert found.arc.trust is Trust.MEMORY


def test_parts_of_two_methods_cannot_be_put_together() -> None:
    gb, rma = per_belt("gb"), per_belt("rma-1988")

    with pytest.raises(MixedMethods, match=r"arc factor is of RMA 1988, the rating of GB/T"):
        power.BeltPower(gb.rating, rma.arc, gb.length)
    with pytest.raises(MixedMethods, match="length factor"):
        replace(gb, length=rma.length)
    with pytest.raises(MixedMethods):
        replace(gb, rating=rma.rating)
    with pytest.raises(TypeError):
        gb.rating * rma.arc  # type: ignore[operator]


def test_methods_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        power.METHODS["gb"] = power.METHODS["faires"]  # type: ignore[index]
    with pytest.raises(AttributeError):
        power.method("gb").title = "x"  # type: ignore[misc]


def test_every_method_is_sourced_and_rates_what_it_says() -> None:
    for method in power.METHODS.values():
        assert method.source
        assert method.validity
        assert method.arc_source
        assert method.length_source
        for section in method.sections:
            large = {"D": 0.36, "E": 0.55, "8V": 0.35, "Z": 0.071}.get(section, 0.18)
            speed = 700 if section in ("D", "E", "8V", "Z", "C", "CX") else 1450
            assert method.rating(section=section, small=large, shaft_speed=speed * RPM).watts > 50


@given(st.floats(0.075, 0.18), st.floats(0.001, 0.05), st.floats(700, 1450))
def test_a_larger_pulley_never_carries_less_at_the_same_speed(
    small: float, more: float, rpm: float
) -> None:
    for key in ("rma-1988", "rma-1977", "form-1955", "faires"):
        rate = power.method(key).rating
        one = rate(section="A", small=small, shaft_speed=rpm * RPM).watts
        assert rate(section="A", small=small + more, shaft_speed=rpm * RPM).watts > one


def test_sections_without_a_published_rating() -> None:
    assert power.methods_for("SPZ") == ()
    assert power.methods_for("PJ") == ()
    assert {m.key for m in power.methods_for("A")} == set(power.METHODS) - {"spa-maker"}
    with pytest.raises(NotSourced, match="friction can carry"):
        power.compare(section="SPZ", small=0.08, shaft_speed=150, ratio=1, wrap=pi, length=1.0)
    with pytest.raises(NotSourced, match="does not rate section SPZ"):
        power.method("gb").rating(section="SPZ", small=0.08, shaft_speed=150)
    with pytest.raises(NotSourced):
        power.method("best")
    with pytest.raises(NotSourced):
        power.rma_1988_power(section="SPA", pitch_diameter=0.1, shaft_speed=150)


def test_one_makers_bare_rating_has_no_factors() -> None:
    maker = power.method("spa-maker")

    assert maker.rating(section="SPA", small=0.112, shaft_speed=1500 * RPM).watts == pytest.approx(
        4410
    )
    with pytest.raises(NotSourced, match="own arc factors"):
        maker.per_belt(section="SPA", small=0.112, shaft_speed=150, ratio=1, wrap=pi, length=1.0)
    with pytest.raises(NotSourced, match="own length factors"):
        maker.length_factor(section="SPA", length=1.0)


def test_comparison_keeps_answers_and_refusals_apart() -> None:
    found = {
        each.method.key: each
        for each in power.compare(
            section="A", small=0.080, shaft_speed=1400 * RPM, ratio=2.25, wrap=2.36,
            length=0.690, code=26,
        )
    }  # fmt: skip

    assert all(each.power is not None for each in found.values())
    slow = power.compare(
        section="A", small=0.080, shaft_speed=600 * RPM, ratio=2.25, wrap=2.36, length=0.690
    )
    refused = {each.method.key: each.refusal for each in slow if each.power is None}
    assert set(refused) == {"gb", "shigley"}
    assert "accepted" in refused["gb"]


@pytest.mark.parametrize(
    "bad",
    [
        {"small": 0.0},
        {"small": nan},
        {"shaft_speed": inf},
        {"shaft_speed": 1000.0},
        {"ratio": 0.5},
        {"ratio": nan},
        {"small": 0.021, "shaft_speed": 600.0},
    ],
)
@pytest.mark.parametrize("key", ["rma-1988", "rma-1977", "form-1955", "faires", "shigley", "gb"])
def test_ratings_outside_their_range_are_refused(key: str, bad: dict[str, float]) -> None:
    good = {"small": 0.1, "shaft_speed": 150.0, "ratio": 1.0}
    with pytest.raises(OutOfRange):
        power.method(key).rating(section="A", **{**good, **bad})


# ANSI/RMA IP-20 service factors (from memory; the same numbers in Mott and Norton).
@pytest.mark.parametrize(
    ("load", "hours", "high", "printed"),
    [
        ("uniform", 4, False, 1.0), ("uniform", 24, True, 1.3), ("heavy", 8, True, 1.5),
        ("heavy", 5, False, 1.2), ("heavy", 6, False, 1.3), ("extra heavy", 16, True, 1.8),
        ("medium", 10, False, 1.2), ("medium", 10.5, False, 1.3),
    ],
)  # fmt: skip
def test_service_factors(load: str, hours: float, high: bool, printed: float) -> None:
    found = power.service_factor(load=load, hours_a_day=hours, high_torque=high)

    assert found.value == printed
    assert found.trust is Trust.MEMORY


def test_the_two_service_tables_lie_beside_each_other() -> None:
    for load, range_ in zip(
        ("uniform", "medium", "heavy", "extra heavy"),
        ("uniform", "light shock", "medium shock", "heavy shock"),
        strict=True,
    ):
        for high in (False, True):
            low, most = power.shigley_service_range(load=range_, high_torque=high)
            for hours in (4, 9, 20):
                factor = power.service_factor(load=load, hours_a_day=hours, high_torque=high)
                assert low - 1e-9 <= factor.value <= most + 1e-9


def test_an_idler_adds_to_the_service_factor() -> None:
    plain = power.service_factor(load="heavy", hours_a_day=8, high_torque=True)
    outside = power.service_factor(
        load="heavy", hours_a_day=8, high_torque=True, idler="outside tight"
    )

    assert outside.value - plain.value == pytest.approx(0.2)
    for bad in ({"load": "brutal"}, {"idler": "somewhere"}, {"hours_a_day": 25.0}):
        good: dict[str, object] = {"load": "heavy", "hours_a_day": 8.0, "high_torque": True}
        with pytest.raises(OutOfRange, match="accepted"):
            power.service_factor(**{**good, **bad})  # type: ignore[arg-type]
    with pytest.raises(OutOfRange):
        power.shigley_service_range(load="brutal", high_torque=True)


def test_every_machine_is_in_a_class_that_is_held() -> None:
    for load in power.MACHINE_LOADS.values():
        assert power.service_factor(load=load, hours_a_day=8, high_torque=True).value > 1


def test_design_power() -> None:
    assert power.design_power(power=50 * HP, service_factor=1.3) / HP == pytest.approx(65)
    with pytest.raises(OutOfRange):
        power.design_power(power=500, service_factor=0.9)


def test_number_of_belts_of_a_printed_example() -> None:
    # Mott, Machine Elements in Mechanical Design, 4th ed., Example 7-1, p. 279 (seen).
    found = power.belts_from_print(
        design_power=65 * HP, rating=27.55 * HP, arc_factor=0.94, length_factor=0.96,
        source="Mott, Example 7-1",
    )  # fmt: skip

    assert found.count == 3
    assert found.exact == pytest.approx(2.61, abs=0.01)
    assert found.use == pytest.approx(found.exact / 3)
    with pytest.raises(NotSourced, match="name the one chart"):
        power.belts_from_print(
            design_power=1e3, rating=1e3, arc_factor=1, length_factor=1, source=" "
        )


def test_a_whole_quotient_is_not_rounded_up() -> None:
    assert power.belts_needed(design_power=3 * 0.1, per_belt=1).count == 1
    assert power.belts_needed(design_power=3000, per_belt=1000).count == 3
    assert power.belts_needed(design_power=0.1 * 3 * 1e4, per_belt=1e3).count == 3
    assert power.belts_needed(design_power=3001, per_belt=1000).count == 4
    assert power.belts_needed(design_power=0, per_belt=1000).count == 1
    belt = per_belt("gb")
    assert power.belts_needed(design_power=2.5 * belt.watts, per_belt=belt).count == 3
    with pytest.raises(OutOfRange):
        power.belts_needed(design_power=1e3, per_belt=0)


def test_strength_capacity_of_a_printed_compressor_drive() -> None:
    # Khurmi and Gupta, A Textbook of Machine Design, Example 20.1 (inputs seen, answers from
    # memory): 90 kW, 6 belts; strands 671 N and 67.7 N without the belt's own mass.
    wrap = pi - 2 * asin((1.0 - 1 / 3) / 2 / 1.75)
    found = power.strength_capacity(
        most_tension=2.5e6 * 375e-6, mass=0.375, speed=1600 / 60, mu=0.25, wrap=wrap,
        groove_angle=radians(35),
    )  # fmt: skip

    own = 0.375 * (1600 / 60) ** 2
    assert found.tight - own == pytest.approx(671, abs=0.5)
    assert found.slack - own == pytest.approx(67.7, abs=0.1)
    assert found.watts == pytest.approx(16.08e3, rel=0.001)
    assert power.belts_needed(design_power=90e3, per_belt=found.watts).count == 6
    assert found.trust is Trust.PRACTICE


def test_a_belt_whose_own_mass_takes_all_its_strength_is_refused() -> None:
    with pytest.raises(OutOfRange, match="own mass"):
        power.strength_capacity(
            most_tension=300, mass=0.375, speed=30, mu=0.25, wrap=2.7, groove_angle=radians(35)
        )


def test_wedge_capacity_at_slip_has_the_limiting_ratio() -> None:
    found = power.wedge_capacity(
        tension=120, mass=0.105, speed=6, mu=0.3, wrap=2.6, groove_angle=radians(34),
        mu_trust=Trust.SEEN,
    )  # fmt: skip

    own = 0.105 * 36
    assert (found.tight - own) / (found.slack - own) == pytest.approx(
        exp(0.3 * 2.6 / sin(radians(17)))
    )
    assert found.tight + found.slack == pytest.approx(240)
    assert found.watts == pytest.approx((found.tight - found.slack) * 6)
    assert found.trust is Trust.SEEN
    floor = power.wedge_capacity(
        tension=120, mass=0.105, speed=6, mu=0.3, wrap=2.6, groove_angle=radians(34), on_floor=True
    )
    assert floor.watts < found.watts * 0.5
    strong = power.strength_capacity(
        most_tension=found.tight, mass=0.105, speed=6, mu=0.3, wrap=2.6, groove_angle=radians(34)
    )
    assert strong.watts == pytest.approx(found.watts)
    floored = power.strength_capacity(
        most_tension=found.tight, mass=0.105, speed=6, mu=0.3, wrap=2.6, groove_angle=radians(34),
        on_floor=True,
    )  # fmt: skip
    assert floored.limiting == pytest.approx(exp(0.78))


def test_no_tension_carries_no_power() -> None:
    found = power.wedge_capacity(
        tension=0, mass=0.105, speed=6, mu=0.3, wrap=2.6, groove_angle=radians(34)
    )

    assert found.watts == 0
    assert power.ASSUMED_MU.trust is Trust.PRACTICE


def test_limits_are_said_in_words() -> None:
    least = Fact(0.075, "Klein, Table 441.1", Trust.SEEN)

    assert power.limit_warnings(family="classical", speed=6, length=0.69) == ()
    passed = power.limit_warnings(
        family="classical", speed=34, length=0.69, small=0.070, min_diameter=least
    )
    assert [round(each.value, 2) for each in passed] == [34, 34, 98.55, 0.07]
    assert "balanced" in passed[0].words
    assert "Cast-iron" in passed[1].words
    assert "bends 99 times" in passed[2].words
    assert passed[3].limit is least
    near = power.limit_warnings(family="classical", speed=27, length=2.0)
    assert len(near) == 1
    assert "near the limit" in near[0].words
    assert power.limit_warnings(family="narrow", speed=30, length=1.0) == ()
    assert power.limit_warnings(family="cogged", speed=25, length=0.5, small=0.08,
                                min_diameter=least) == ()  # fmt: skip
    with pytest.raises(NotSourced):
        power.limit_warnings(family="synchronous", speed=6, length=1.0)
    with pytest.raises(DriveError):
        power.limit_warnings(family="narrow", speed=nan, length=1.0)


def test_rma_1977_by_hand() -> None:
    # 100 mm datum is 3.937 in old pitch diameter; at 1450 rpm d r = 5.709.
    found = power.rma_1977_power(section="A", pitch_diameter=0.100, shaft_speed=1450 * RPM)

    d, dr = 0.100 / INCH, 0.100 / INCH * 1.45
    assert found / HP == pytest.approx(
        dr * (0.8542 - 1.342 / d - 0.0002436 * dr**2 - 0.1703 * log10(dr)), rel=1e-9
    )
    assert found == pytest.approx(1603, abs=1)
