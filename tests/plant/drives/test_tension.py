"""Tension against printed forms in their own units, mechanics worked otherwise, and limits."""

from math import asin, cos, exp, hypot, inf, log, nan, pi, radians, sin, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from uncertainties import ufloat

from plant.drives import tension
from plant.drives.doubt import Doubtful
from plant.drives.errors import DriveError, NotSourced, OutOfRange
from plant.drives.facts import Trust
from plant.drives.tension import Stage, Verdict

LBF, HP, FT_MIN = 4.4482216152605, 745.6998715822702, 0.00508


def test_design_ratio_is_five_at_half_a_turn() -> None:
    # Belt-maker formula sheet: 1/(1 - 0.8 G) with G = 1 is 5 (seen, second hand).
    assert tension.design_ratio(wrap=pi) == pytest.approx(1 / (1 - 0.8 * 1.0))


@given(st.floats(radians(80), 2 * pi))
def test_design_ratio_and_arc_factor_are_one_statement(wrap: float) -> None:
    factor = tension.design_arc_factor(wrap=wrap)

    assert tension.design_ratio(wrap=wrap) == pytest.approx(1 / (1 - 0.8 * factor))


# Machinery's Handbook, 31st ed., p. 2581, Table 12 (seen): (D - d)/C and V-V factor.
TABLE_12 = [
    (0.0, 1.00), (0.1, 0.99), (0.3, 0.96), (0.4, 0.94), (0.5, 0.93), (0.6, 0.91), (0.7, 0.89),
    (0.9, 0.85), (1.0, 0.82), (1.1, 0.80), (1.2, 0.77), (1.3, 0.73), (1.4, 0.70), (1.5, 0.65),
]  # fmt: skip


@pytest.mark.parametrize(("ratio", "printed"), TABLE_12)
def test_design_arc_factor_agrees_with_the_handbook(ratio: float, printed: float) -> None:
    wrap = pi - 2 * asin(ratio / 2)

    assert tension.design_arc_factor(wrap=wrap) == pytest.approx(printed, abs=0.006)


def test_static_tension_in_the_printed_us_units() -> None:
    # Theory: half of TT + TS = 33000 (2.5 - G) hp / (G V) lbf (seen, second hand), no mass.
    hp, v, g = 0.75, 1150.0, 0.94
    found = tension.static_tension(
        design_power=hp * HP, speed=v * FT_MIN, belts=1, arc_factor=g, mass=0.0, method="theory"
    )

    assert found / LBF == pytest.approx(33000 * (2.5 - g) * hp / (g * v) / 2, rel=1e-6)


def test_the_two_us_and_si_forms_of_one_method_differ_by_one_part_in_a_hundred() -> None:
    # ANSI/RMA IP-20 (from memory): 15 (2.5 - G)/G hp 1000/(N V) + M V^2/1e6 lbf.
    hp, v, g, n = 1.5, 1500.0, 0.9, 2
    found = tension.static_tension(
        design_power=hp * HP, speed=v * FT_MIN, belts=n, arc_factor=g, mass=0.0, method="RMA"
    )

    us = 15 * (2.5 - g) / g * hp * 1000 / (n * v)
    assert found / LBF == pytest.approx(us, rel=0.012)
    theory = tension.static_tension(
        design_power=hp * HP, speed=v * FT_MIN, belts=n, arc_factor=g, mass=0.0, method="theory"
    )
    assert found / theory == pytest.approx(0.9)


def test_the_belts_own_mass_is_added_once_for_each_belt() -> None:
    for belts in (1, 3):
        light, heavy = (
            tension.static_tension(
                design_power=900, speed=10, belts=belts, arc_factor=0.95, mass=mass, method="RMA"
            )
            for mass in (0.0, 0.105)
        )
        assert heavy - light == pytest.approx(10.5)


@pytest.mark.parametrize(
    "bad",
    [
        {"speed": 0.0},
        {"speed": nan},
        {"belts": 0},
        {"arc_factor": 0.0},
        {"arc_factor": 1.3},
        {"mass": -0.1},
        {"design_power": -1.0},
        {"design_power": inf},
        {"method": "guess"},
    ],
)
def test_static_tension_outside_its_range_is_refused(bad: dict[str, object]) -> None:
    good: dict[str, object] = {
        "design_power": 900.0, "speed": 6.0, "belts": 1, "arc_factor": 0.94, "mass": 0.105,
        "method": "RMA",
    }  # fmt: skip
    with pytest.raises(OutOfRange, match="accepted"):
        tension.static_tension(**{**good, **bad})  # type: ignore[arg-type]


def test_effective_pull_carries_the_power() -> None:
    assert tension.effective_pull(power=750, speed=5.5) * 5.5 == pytest.approx(750)


# Shigley's Mechanical Engineering Design, Table 17-16 (from memory) against masses as GB/T
# 13575.1 gives them (from memory): two standards, so a fifth apart at most.
@pytest.mark.parametrize(
    ("section", "mass"), [("A", 0.105), ("B", 0.17), ("C", 0.30), ("D", 0.63), ("E", 0.97)]
)
def test_mass_from_the_printed_centrifugal_constant(section: str, mass: float) -> None:
    assert tension.mass_from_kc(kc=tension.KC[section].value) == pytest.approx(mass, rel=0.2)


def test_centrifugal_tension_in_the_printed_units() -> None:
    mass = tension.mass_from_kc(kc=0.561)

    # Fc = Kc (V/1000)^2 lbf at 3000 ft/min.
    assert tension.centrifugal(mass=mass, speed=3000 * FT_MIN) / LBF == pytest.approx(0.561 * 9)


def test_target_of_a_worn_belt_is_higher() -> None:
    def asked(small: float, large: float, centres: float) -> tension.Target:
        return tension.target(
            design_power=900, shaft_speed=1400 * pi / 30, small=small, large=large,
            centres=centres, belts=1, mass=0.105,
        )  # fmt: skip

    new, worn = asked(0.080, 0.180, 0.13114), asked(0.0715, 0.17245, 0.1445)

    assert worn.tension > new.tension * 1.05
    assert new.speed == pytest.approx(pi * 0.080 * 1400 / 60)
    assert new.span == pytest.approx(sqrt(0.13114**2 - 0.05**2))
    assert new.deflection == pytest.approx(new.span / 64)
    by_hand = 0.45 * (2.5 - new.arc_factor) / new.arc_factor * 900 / new.speed
    assert new.tension == pytest.approx(by_hand + 0.105 * new.speed**2)


# US Army TM 5-4310-339-15, section 5-5 (seen): normal to 150 % of normal; new up to twice.
@pytest.mark.parametrize(
    ("stage", "reading", "verdict"),
    [
        ("run-in", 99.9, Verdict.UNDER),
        ("run-in", 100.0, Verdict.WITHIN),
        ("run-in", 150.0, Verdict.WITHIN),
        ("run-in", 150.1, Verdict.OVER),
        ("new", 129.0, Verdict.UNDER),
        ("new", 140.0, Verdict.WITHIN),
        ("new", 199.0, Verdict.HIGH),
        ("new", 200.0, Verdict.HIGH),
        ("new", 200.1, Verdict.OVER),
    ],
)
def test_bands(stage: str, reading: float, verdict: Verdict) -> None:
    assert tension.band(required=100, stage=stage).verdict(reading) is verdict


def test_new_and_used_settings_of_another_manual_lie_in_the_band() -> None:
    # US Army TM 9-2320-312-24-2, Table 3 (seen): 534 N new, 400 N used for 3/8 in belts.
    assert tension.band(required=400, stage=Stage.NEW).verdict(534) is Verdict.WITHIN


def test_a_band_keeps_its_sources() -> None:
    found = tension.band(required=72, stage="run-in")

    assert (found.low, found.high, found.over) == (72, 108, 108)
    assert found.low_factor.trust is Trust.SEEN
    assert tension.band(required=72, stage="new").high_factor.trust is Trust.MEMORY
    for bad in ({"required": -1.0, "stage": "new"}, {"required": 72.0, "stage": "old"}):
        with pytest.raises(OutOfRange, match="accepted"):
            tension.band(**bad)  # type: ignore[arg-type]


def test_a_reading_near_the_edge_is_not_sure() -> None:
    band = tension.band(required=100, stage="run-in")

    sure = tension.judge(reading=Doubtful(125, 5), against=band)
    edge = tension.judge(reading=Doubtful(101, 5), against=band)
    slack = tension.judge(reading=Doubtful(60, 5), against=band)
    high = tension.judge(
        reading=Doubtful(175, 3), against=tension.band(required=100, stage=Stage.NEW)
    )

    assert (sure.verdict, sure.sure) == (Verdict.WITHIN, True)
    assert (edge.verdict, edge.sure) == (Verdict.WITHIN, False)
    assert edge.under == pytest.approx(0.4207, abs=1e-4)  # normal table, z = -0.20
    assert (slack.verdict, slack.sure) == (Verdict.UNDER, True)
    assert (high.verdict, high.sure) == (Verdict.HIGH, True)


def test_deflection_force_of_a_string_is_a_sixteenth_of_its_tension() -> None:
    found = tension.deflection_force(tension=160, span=0.4, length=1.2, stiffness=0)

    # Statics: both halves of the span pull back at the slope of the pressed belt.
    slope = (0.4 / 64) / hypot(0.2, 0.4 / 64)
    assert found == pytest.approx(10)
    assert found == pytest.approx(2 * 160 * slope, rel=1e-3)


def test_deflection_force_in_the_rma_form() -> None:
    # (k Ts + (t/L) Y)/16 in pounds: (1.5 x 20 + 0.4 x 6)/16 = 2.025 lbf.
    found = tension.deflection_force(
        tension=20 * LBF, span=0.4, length=1.0, factor=1.5,
        stiffness=tension.stiffness(section="A").value,
    )  # fmt: skip

    assert found / LBF == pytest.approx(2.025)


def test_the_stiffness_term_is_the_stretch_of_the_belt() -> None:
    # Statics of a stretching cord between fixed points, solved without the series.
    span, length, y, slack = 0.4, 1.0, 30.0, 200.0
    rigidity = tension.rigidity_from_stiffness(stiffness=y)

    def force(depth: float) -> float:
        grown = 2 * (hypot(span / 2, depth) - span / 2)
        pull = slack + rigidity * grown / length
        return 2 * pull * depth / hypot(span / 2, depth)

    for share in (0.5, 1.0, 1.5):
        depth = share * span / 64
        found = tension.deflection_force(
            tension=slack, span=span, length=length, stiffness=y, deflection=depth
        )
        assert found == pytest.approx(force(depth), rel=2e-3)


@given(
    st.floats(0, 2000),
    st.floats(0.05, 1.0),
    st.floats(2.0, 5.0),
    st.floats(0, 200),
    st.sampled_from(["RMA", "GB/T"]),
    st.floats(0.91, 1.09),
)
def test_force_and_tension_are_each_others_inverse(
    pull: float, span: float, times: float, stiffness: float, form: str, share: float
) -> None:
    depth = span / 64 * share
    force = tension.deflection_force(
        tension=pull, span=span, length=times * span, stiffness=stiffness, form=form,
        deflection=depth,
    )  # fmt: skip
    back = tension.from_deflection_force(
        force=force, span=span, length=times * span, stiffness=stiffness, form=form,
        deflection=depth,
    )  # fmt: skip

    assert back == pytest.approx(pull, rel=1e-9, abs=1e-6)


def test_a_force_below_the_belts_own_stiffness_means_slack() -> None:
    with pytest.raises(OutOfRange, match="slack"):
        tension.from_deflection_force(force=0.5, span=0.4, length=1.0, stiffness=26.7)
    assert tension.from_deflection_force(
        force=0.4 * 26.7 / 16, span=0.4, length=1.0, stiffness=26.7
    ) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    "bad",
    [
        {"span": 0.01},
        {"span": nan},
        {"length": 0.5},
        {"stiffness": -1.0},
        {"form": "other"},
        {"deflection": 0.4 / 64 * 1.6},
        {"deflection": 0.4 / 64 * 1.2, "form": "GB/T"},
        {"tension": -1.0},
        {"factor": 0.9},
    ],
)
def test_deflection_force_outside_its_range_is_refused(bad: dict[str, object]) -> None:
    good: dict[str, object] = {"tension": 70.0, "span": 0.4, "length": 1.0, "stiffness": 26.7}
    with pytest.raises(OutOfRange, match="accepted"):
        tension.deflection_force(**{**good, **bad})  # type: ignore[arg-type]


def test_stiffness_of_the_two_forms_is_kept_apart() -> None:
    assert tension.stiffness(section="A").value == pytest.approx(26.689, abs=1e-3)
    assert tension.stiffness(section="A", form="GB/T").value == 15
    assert tension.stiffness(section="SPZ", form="GB/T").trust is Trust.MEMORY
    with pytest.raises(NotSourced):
        tension.stiffness(section="SPZ")
    with pytest.raises(OutOfRange, match="RMA, GB/T"):
        tension.stiffness(section="A", form="ISO")


def test_tabled_forces() -> None:
    found = tension.tabled_force(section="A", small=0.080, speed=1400 * pi / 30)

    assert found.new / LBF == pytest.approx(5.5)
    assert found.used / LBF == pytest.approx(3.7)
    edge = tension.tabled_force(section="A", small=3.6 * 0.0254, speed=1000 * pi / 30)
    assert edge == found
    for gap in ({"small": 3.7 * 0.0254}, {"section": "SPZ"}, {"speed": 500 * pi / 30}):
        given_: dict[str, object] = {"section": "A", "small": 0.080, "speed": 1400 * pi / 30}
        with pytest.raises(NotSourced):
            tension.tabled_force(**{**given_, **gap})  # type: ignore[arg-type]


def test_span_frequency_of_a_concert_string() -> None:
    # A steel string, 0.38 m, 0.6 g/m, 73 N: c = sqrt(T/m) over twice the length, by hand.
    assert tension.span_frequency(tension=73, mass=0.006, span=0.38) == pytest.approx(
        sqrt(73 / 0.006) / 0.76
    )


@given(st.floats(2, 300), st.floats(0.02, 1.0), st.floats(0.05, 1.5))
def test_frequency_and_tension_are_each_others_inverse(f: float, mass: float, span: float) -> None:
    pull = 4 * mass * span**2 * f**2
    if pull > 20e3:
        return
    found = tension.from_span_frequency(frequency=f, mass=mass, span=span)

    assert tension.span_frequency(tension=found, mass=mass, span=span) == pytest.approx(f)


def test_a_slack_belt_does_not_swing() -> None:
    assert tension.span_frequency(tension=0, mass=0.105, span=0.2) == 0


def test_doubt_of_a_frequency_reading_agrees_with_the_uncertainties_library() -> None:
    found = tension.read_frequency(
        frequency=60, mass=0.105, span=0.25, height=0.008, u_frequency=1.2, u_mass=0.005,
        u_span=0.002,
    )  # fmt: skip

    other = 4 * ufloat(0.105, 0.005) * ufloat(0.25, 0.002) ** 2 * ufloat(60, 1.2) ** 2
    assert found.tension.value == pytest.approx(other.nominal_value)
    assert found.tension.u == pytest.approx(other.std_dev)
    assert (found.questioned, found.short_span, found.words) == (False, False, "")


def test_twice_the_expected_frequency_is_questioned() -> None:
    expected = 4 * 0.105 * 0.25**2 * 50**2

    def read(frequency: float) -> tension.FrequencyReading:
        return tension.read_frequency(
            frequency=frequency, mass=0.105, span=0.25, height=0.008, expected=expected
        )

    second, third, first = read(104), read(148), read(62)

    assert second.questioned
    assert second.mode == 2
    assert "about 2 times" in second.words
    assert second.tension_if_mode == pytest.approx(second.tension.value / 4)
    assert third.mode == 3
    assert not first.questioned
    assert not read(25).questioned


def test_a_short_span_is_said_to_read_high() -> None:
    short = tension.read_frequency(frequency=98, mass=0.105, span=0.13, height=0.008)
    long = tension.read_frequency(frequency=98, mass=0.105, span=0.16, height=0.008)

    assert short.short_span
    assert "16 belt heights" in short.words
    assert not long.short_span


@pytest.mark.parametrize("bad", [{"height": 0.0}, {"u_span": -0.1}, {"frequency": nan}])
def test_a_frequency_reading_outside_its_range_is_refused(bad: dict[str, float]) -> None:
    good = {"frequency": 60.0, "mass": 0.105, "span": 0.25, "height": 0.008}
    with pytest.raises(OutOfRange, match="accepted"):
        tension.read_frequency(**{**good, **bad})


def test_tension_from_growth() -> None:
    grown = tension.strain(slack=0.500, tensioned=0.5025)

    assert grown == pytest.approx(0.005)
    assert tension.from_strain(strain=grown, rigidity=55e3) == pytest.approx(275)
    for bad in ({"slack": 0.5, "tensioned": 0.49}, {"slack": 0.5, "tensioned": 0.52}):
        with pytest.raises(OutOfRange):
            tension.strain(**bad)


def test_hub_load_is_the_sum_of_two_forces() -> None:
    wrap = radians(148.5)
    # The strands as vectors: each leaves at half of the wrap from the line of centres.
    x = 2 * 72 * cos((pi - wrap) / 2)
    assert tension.hub_load_static(tension=72, wrap=wrap, belts=2) == pytest.approx(2 * x)
    a = (pi - wrap) / 2
    running = hypot((100 + 40) * cos(a), (100 - 40) * sin(a))
    assert tension.hub_load_running(tight=100, slack=40, wrap=wrap, belts=1) == pytest.approx(
        running
    )


@given(st.floats(0, 1000), st.floats(0, 1), st.floats(pi / 2, 1.4 * pi))
def test_hub_load_at_rest_equals_running_without_pull(
    tight: float, share: float, wrap: float
) -> None:
    rest = tension.hub_load_static(tension=tight, wrap=wrap, belts=1)
    same = tension.hub_load_running(tight=tight, slack=tight, wrap=wrap, belts=1)
    turning = tension.hub_load_running(tight=tight, slack=tight * share, wrap=wrap, belts=1)

    assert same == pytest.approx(rest, rel=1e-6, abs=1e-4)
    assert turning <= 1.5 * rest + tight


def test_a_slack_strand_tighter_than_the_tight_one_is_refused() -> None:
    with pytest.raises(OutOfRange, match="slack strand"):
        tension.hub_load_running(tight=40, slack=100, wrap=pi, belts=1)


def test_limiting_ratio_by_small_steps_of_the_arc() -> None:
    # Each small bit of arc adds mu T d(theta)/sin(half angle): summed without the exponential.
    mu, wrap, angle, steps = 0.3, radians(150), radians(34), 200_000
    ratio = 1.0
    for _ in range(steps):
        ratio *= 1 + mu * wrap / steps / sin(angle / 2)

    assert tension.limiting_ratio(mu=mu, wrap=wrap, groove_angle=angle) == pytest.approx(
        ratio, rel=1e-3
    )
    assert tension.flat_ratio(mu=0.3, wrap=radians(150)) == pytest.approx(2.193, abs=1e-3)
    assert tension.limiting_ratio(mu=0, wrap=2.0, groove_angle=angle) == 1


@pytest.mark.parametrize("bad", [{"mu": -0.1}, {"mu": 1.3}, {"wrap": 7.0}, {"groove_angle": 34.0}])
def test_friction_outside_its_range_is_refused(bad: dict[str, float]) -> None:
    good = {"mu": 0.3, "wrap": 2.6, "groove_angle": radians(34)}
    with pytest.raises(DriveError, match="accepted"):
        tension.limiting_ratio(**{**good, **bad})
    with pytest.raises(DriveError, match="accepted"):
        tension.flat_ratio(mu=1.3, wrap=2.6)


def margin(*, pull: float, at: float = 120, on_floor: bool = False) -> tension.SlipMargin:
    return tension.slip_margin(
        tension=at, pull=pull, mass=0.105, speed=6.0, mu=0.3, wrap=2.6,
        groove_angle=radians(34), on_floor=on_floor,
    )  # fmt: skip


def test_the_margin_is_one_at_the_greatest_pull() -> None:
    own = 0.105 * 36
    ratio = exp(0.3 * 2.6 / sin(radians(17)))
    # Pull at which (Ts + Te/2 - own) = ratio (Ts - Te/2 - own), by a general root-finder.
    most = brentq(lambda te: (120 + te / 2 - own) - ratio * (120 - te / 2 - own), 0, 240)

    found = margin(pull=100)

    assert found.most_pull == pytest.approx(most)
    assert margin(pull=most).margin == pytest.approx(1)
    assert not found.slips
    assert found.tight - found.slack == pytest.approx(100)
    assert margin(pull=most * 1.01).slips


def test_a_belt_on_the_floor_slips_where_a_wedged_one_holds() -> None:
    assert not margin(pull=130).slips
    assert margin(pull=130, on_floor=True).slips


def test_a_slack_belt_carries_nothing() -> None:
    found = margin(pull=50, at=0)

    assert found.slips
    assert found.margin == 0
    assert found.most_pull == 0
    assert margin(pull=400).margin == 0


@given(st.floats(20, 500), st.floats(0, 100), st.floats(0, 60))
def test_more_pull_never_gives_more_margin(at: float, pull: float, more: float) -> None:
    assert margin(pull=pull + more, at=at).margin <= margin(pull=pull, at=at).margin + 1e-12


@given(st.floats(20, 400), st.floats(1, 90), st.floats(0, 100))
def test_more_tension_never_slips_sooner(at: float, pull: float, more: float) -> None:
    assert margin(pull=pull, at=at + more).margin >= margin(pull=pull, at=at).margin - 1e-12


def test_design_constant_is_the_logarithm_of_five() -> None:
    assert log(tension.design_ratio(wrap=1.0)) == pytest.approx(0.5123, abs=5e-5)


def test_depth_pressed_is_a_sixty_fourth_inch_for_each_inch_of_span() -> None:
    # US Army TM 5-3820-233-12/1: 1.5625 in at a span of 100 in.
    assert tension.deflection(span=100 * 0.0254) == pytest.approx(1.5625 * 0.0254)
    with pytest.raises(OutOfRange):
        tension.deflection(span=0.01)


@pytest.mark.parametrize(
    "bad", [{"speed": inf}, {"speed": nan}, {"small": nan}, {"small": -0.1}, {"speed": -1.0}]
)
def test_a_table_is_not_asked_for_what_is_no_number(bad: dict[str, float]) -> None:
    with pytest.raises(OutOfRange, match="accepted"):
        tension.tabled_force(section="A", **{"small": 0.08, "speed": 150.0, **bad})
