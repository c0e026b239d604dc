"""The package as a whole: sources, units, proof of every function, and what loading it costs."""

import ast
import importlib
import inspect
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[3]
PACKAGE = ROOT / "plant" / "drives"
MODULES = sorted(path.stem for path in PACKAGE.glob("*.py") if path.stem != "__init__")
EXAMPLES = ROOT / "fixtures" / "worked_examples"

# Function -> the test, in the test file of its module, that works it out anew with a general
# library, from a printed table or by hand, where no published example is held in a file.
RECOMPUTED: dict[str, str] = {
    "doubt.odds_words": "test_odds_are_never_told_as_sure",
    "doubt.agree": "test_two_figures_agree_within_twice_their_joint_doubt",
    "doubt.average": "test_average_of_repeated_readings",
    "doubt.probability_above": "test_odds_agree_with_scipy",
    "doubt.probability_below": "test_odds_agree_with_scipy",
    "doubt.propagate": "test_carried_doubt_agrees_with_the_uncertainties_library",
    "doubt.rectangular": "test_rectangular_doubt_is_the_spread_of_a_flat_distribution",
    "doubt.tool": "test_a_steel_rule_is_good_to_a_third_of_a_millimetre",
    "driven.driven_torque": "test_power_is_kept_through_a_stage_but_for_its_losses",
    "driven.gear_ratio": "test_gear_train",
    "driven.overhung_moment": "test_overhung_moment",
    "driven.ratio": "test_power_is_kept_through_a_stage_but_for_its_losses",
    "driven.slip": "test_slip_is_what_the_driven_speed_lacks",
    "driven.slip_from_drum": "test_slip_without_opening_the_guard",
    "driven.slip_from_speeds": "test_doubt_of_slip_agrees_with_the_uncertainties_library",
    "driven.slip_heat": "test_slip_heat_is_the_difference_of_the_powers",
    "driven.speed_from_turns": "test_counted_turns",
    "driven.torque": "test_torque_in_the_printed_units",
    "errors.mm": "test_lengths_are_refused_in_millimetres",
    "errors.finite": "test_a_figure_in_its_range_is_returned_and_both_ends_are_accepted",
    "fits.allowances": "test_the_sources_for_fitting_and_take_up_disagree_and_all_stand",
    "fits.cautions": "test_wrong_belts_for_the_pulley",
    "fits.mates": "test_mates_of_an_a_groove",
    "fits.neighbours": "test_next_lengths_each_side",
    "fits.rims_touch": "test_rims_touch_where_circles_of_the_rim_overlap",
    "fits.what_fits": "test_every_listed_length_in_the_slot_is_given_and_placed",
    "forecast.chi_square_tail": "test_chi_square_tail_agrees_with_scipy",
    "forecast.days_left": "test_days_left",
    "forecast.wear_line": "test_line_and_covariance_agree_with_numpy_and_scipy",
    "forecast.when": "test_interval_is_where_the_doubt_of_the_line_meets_the_limit",
    "forecast.which_first": "test_which_comes_first",
    "geometry.belt_passes": "test_belt_speed_and_passes",
    "geometry.centres_per_length": "test_centres_per_length_is_the_slope_of_the_root",
    "geometry.crossed_centres": "test_crossed_length_to_centres_and_back",
    "geometry.crossed_length": "test_crossed_length_is_two_inner_tangents_and_two_arcs",
    "geometry.crossed_wrap_angle": "test_crossed_length_is_two_inner_tangents_and_two_arcs",
    "geometry.open_centres_series": (
        "test_short_formula_is_never_longer_and_its_centres_never_shorter"
    ),
    "geometry.span": "test_wraps_make_a_whole_turn_and_span_closes_the_triangle",
    "geometry.usual_centres": "test_usual_centres_bracket_a_common_drive",
    "grooves.datum_diameter": "test_datum_diameter_from_the_rim",
    "grooves.deeper": "test_narrow_belts_need_the_deeper_iso_groove_and_din_cuts_both_deep",
    "grooves.systems": "test_every_groove_keeps_source_and_trust",
    "identify.doubt_after": "test_the_doubt_after_a_measurement_is_the_integral_of_the_wrong_side",
    "identify.identify": "test_odds_are_bayes_rule_with_textbook_distributions",
    "layout.belt_path": "test_three_inside_pulleys_are_the_hull_of_their_discs",
    "layout.travel_for_length": "test_travel_makes_the_belt_just_taut",
    "lengths.below_cord": "test_cord_line_by_lengths_and_by_widths",
    "lengths.cord_depth": "test_cord_line_by_lengths_and_by_widths",
    "lengths.cord_depth_from_widths": "test_cord_line_by_lengths_and_by_widths",
    "lengths.cord_from_effective": (
        "test_narrow_inch_belts_have_their_cords_inside_the_rim_and_ribbed_outside"
    ),
    "lengths.datum_from_outside": "test_din_lengths",
    "lengths.effective_from_cord": (
        "test_narrow_inch_belts_have_their_cords_inside_the_rim_and_ribbed_outside"
    ),
    "lengths.inside_offset": "test_inside_and_outside_differ_by_the_belt_wrapped_once_round",
    "lengths.outside_from_datum": "test_din_lengths",
    "lengths.outside_offset": "test_inside_and_outside_differ_by_the_belt_wrapped_once_round",
    "lengths.stocked": "test_every_row_of_the_inch_table_is_what_the_rule_gives",
    "lengths.system_for": "test_narrow_belts_have_one_system_whatever_is_wanted",
    "lengths.systems_of": "test_sections_are_held_in_the_systems_that_print_them",
    "lengths.tolerance": "test_tolerances_are_not_symmetrical_for_classical_belts",
    "marks.equivalents": "test_every_mark_we_write_reads_back_the_same",
    "marks.reading_of": "test_readings_can_be_made_from_a_section_and_a_length",
    "power.arc_factor": "test_three_printed_arc_factors_agree",
    "power.code_number": "test_the_inch_number_is_worked_out_from_the_datum_length",
    "power.compare": "test_comparison_keeps_answers_and_refusals_apart",
    "power.design_power": "test_design_power",
    "power.faires_small_diameter_factor": "test_faires_small_diameter_factor_and_equation",
    "power.form_1955_power": "test_the_form_of_1955_gives_the_printed_table",
    "power.limit_warnings": "test_limits_are_said_in_words",
    "power.method": "test_the_books_differ_by_a_factor_of_two",
    "power.methods_for": "test_sections_without_a_published_rating",
    "power.rma_1977_power": "test_rma_1977_by_hand",
    "power.service_factor": "test_service_factors",
    "power.shigley_service_range": "test_the_two_service_tables_lie_beside_each_other",
    "power.shigley_table_power": "test_between_entries_agrees_with_a_general_interpolator",
    "power.spa_table_power": "test_spa_table_entries_and_empty_corner",
    "power.wedge_capacity": "test_wedge_capacity_at_slip_has_the_limiting_ratio",
    "sections.section": "test_printed_sizes",
    "sections.width_at_cord": (
        "test_width_at_the_cord_is_the_datum_width_within_the_known_half_millimetre"
    ),
    "tension.band": "test_bands",
    "tension.deflection": "test_depth_pressed_is_a_sixty_fourth_inch_for_each_inch_of_span",
    "tension.flat_ratio": "test_limiting_ratio_by_small_steps_of_the_arc",
    "tension.from_deflection_force": "test_force_and_tension_are_each_others_inverse",
    "tension.from_strain": "test_tension_from_growth",
    "tension.hub_load_running": "test_hub_load_is_the_sum_of_two_forces",
    "tension.judge": "test_a_reading_near_the_edge_is_not_sure",
    "tension.limiting_ratio": "test_limiting_ratio_by_small_steps_of_the_arc",
    "tension.read_frequency": (
        "test_doubt_of_a_frequency_reading_agrees_with_the_uncertainties_library"
    ),
    "tension.rigidity_from_stiffness": "test_the_stiffness_term_is_the_stretch_of_the_belt",
    "tension.span_frequency": "test_span_frequency_of_a_concert_string",
    "life.ends": "test_the_day_is_where_the_weighted_line_meets_the_sooner_end",
    "life.limits": "test_the_ends_are_where_the_belt_path_and_the_groove_put_them",
    "pulleys.alignment": "test_the_worst_angle_is_that_of_plain_vectors",
    "pulleys.groove": "test_a_groove_is_worn_past_the_limit_of_the_trade_or_with_a_step",
    "tension.stiffness": "test_stiffness_of_the_two_forms_is_kept_apart",
    "tension.strain": "test_tension_from_growth",
    "tension.tabled_force": "test_tabled_forces",
    "tension.target": "test_target_of_a_worn_belt_is_higher",
    "wear.clearance": "test_clearance_and_ride_by_hand",
    "wear.groove_wear": "test_groove_wear_is_what_the_width_does_not_explain",
    "wear.loss_that_bottoms": "test_loss_that_bottoms_leaves_no_room",
    "wear.loss_that_ends_slot": "test_loss_that_ends_the_slot_agrees_with_a_general_root_finder",
    "wear.lost_wedge": "test_lost_wedge_action",
    "wear.reasons_to_change": "test_reasons_to_change",
    "wear.ride": "test_clearance_and_ride_by_hand",
    "wear.root": "test_own_root_finder_agrees_with_scipy",
    "wear.take_up": "test_take_up_used_and_left",
    "wear.take_up_rate": "test_take_up_for_each_millimetre_of_width",
    "wear.wear": "test_extra_centres_free_and_capped_agree_with_a_general_root_finder",
    "wear.width_loss": "test_width_loss_says_when_it_is_within_the_error",
    "working.alignment_lines": "test_a_calculator_repeats_an_alignment",
    "working.forecast_lines": "test_the_hours_left_are_a_line_through_the_readings",
    "working.lines": "test_a_calculator_gives_the_last_printed_figure",
    "workout.work_out": "test_drops_diameters_and_centres_agree_with_a_general_root_finder",
    "written.given_from_json": "test_json_comes_back_as_the_same_drive",
    "written.given_from_plain": "test_any_object_is_read_or_refused_in_words",
    "written.plain_from_json": "test_deep_nesting_is_refused",
    "written.to_json": "test_json_comes_back_as_the_same_drive",
    "written.to_plain": "test_json_holds_figures_doubts_and_lines",
    "written.to_text": "test_the_text_has_verdict_working_and_cautions",
    "written.used_words": "test_a_figure_without_doubt_is_written_without_one",
}


def functions() -> dict[str, Callable[..., Any]]:
    found: dict[str, Callable[..., Any]] = {}
    for stem in MODULES:
        module = importlib.import_module(f"plant.drives.{stem}")
        for name, value in vars(module).items():
            if name.startswith("_") or not inspect.isfunction(value):
                continue
            if value.__module__ == module.__name__:
                found[f"{stem}.{name}"] = value
    return found


FUNCTIONS = functions()


def test_the_package_is_not_empty() -> None:
    assert len(FUNCTIONS) > 80


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_public_function_states_units_and_source(name: str) -> None:
    words = inspect.getdoc(FUNCTIONS[name]) or ""
    sections = dict(re.findall(r"^(\w+):\n((?:[ ]{4}.*\n?|\n)+)", words + "\n", re.MULTILINE))

    for section in ("Args", "Returns", "Raises", "Source"):
        assert sections.get(section, "").strip(), f"{name} has no {section}"
    parameters = inspect.signature(FUNCTIONS[name]).parameters
    for parameter in parameters:
        if parameter.startswith("_"):
            continue
        assert re.search(rf"\b{parameter}\b", sections["Args"]), f"{name}: {parameter} is not told"
    if any(value.annotation in (float, "float") for value in parameters.values()):
        assert "[" in sections["Args"], f"{name} takes figures without units"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_two_or_more_arguments_go_by_name(name: str) -> None:
    by_place = [
        one
        for one in inspect.signature(FUNCTIONS[name]).parameters.values()
        if one.kind is one.POSITIONAL_OR_KEYWORD
    ]
    assert len(by_place) <= 2, f"{name}: {[one.name for one in by_place]}"


def test_every_public_function_is_proved() -> None:
    by_example = {
        tomllib.loads(path.read_text(encoding="utf-8"))["function"].removeprefix("plant.drives.")
        for path in EXAMPLES.glob("*.toml")
    }
    unproved = set(FUNCTIONS) - by_example - set(RECOMPUTED)
    assert not unproved, f"no worked example and no recomputation: {sorted(unproved)}"


@cache
def bodies_of(module: str) -> dict[str, str]:
    """The functions of the tests of that module, as they are written."""
    source = (Path(__file__).parent / f"test_{module}.py").read_text(encoding="utf-8")
    return {
        node.name: ast.get_source_segment(source, node) or ""
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FunctionDef)
    }


def test_the_table_of_recomputed_functions_is_true() -> None:
    """Each entry names a test that exists and uses the function, itself or through a helper."""
    for name, test in RECOMPUTED.items():
        assert name in FUNCTIONS, f"there is no {name}"
        module, _, function = name.partition(".")
        bodies = bodies_of(module)
        assert test in bodies, f"{name}: there is no {test}"
        helpers = [
            body
            for helper, body in bodies.items()
            if not helper.startswith("test_") and re.search(rf"\b{helper}\(", bodies[test])
        ]
        used = any(re.search(rf"\b{function}\(", body) for body in (bodies[test], *helpers))
        # The lines and the answers of a drive come out of one call.
        assert used or (name == "working.lines" and ".lines" in bodies[test]), (
            f"{test} does not use {name}"
        )


def test_no_function_is_in_the_table_without_need() -> None:
    by_example = {
        tomllib.loads(path.read_text(encoding="utf-8"))["function"].removeprefix("plant.drives.")
        for path in EXAMPLES.glob("*.toml")
    }
    assert not by_example & set(RECOMPUTED)


def test_the_mathematics_load_fast_and_bring_no_framework() -> None:
    code = (
        "import sys, time\n"
        "began = time.perf_counter()\n"
        "import plant.drives.workout\n"
        "took = time.perf_counter() - began\n"
        "heavy = {name.partition('.')[0] for name in sys.modules} & "
        "{'numpy', 'scipy', 'django', 'pint', 'reportlab', 'celery'}\n"
        "print(sorted(heavy), took)\n"
    )
    answers = [
        subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout
        for _ in range(3)
    ]

    assert all(answer.startswith("[] ") for answer in answers), answers
    # The best of three: a busy machine must not decide. A second would be a slow import indeed.
    assert min(float(answer.split()[-1]) for answer in answers) < 1.0


def test_no_module_imports_more_than_the_standard_library_and_words() -> None:
    words = {
        f"plant.{name}": PACKAGE.parent / f"{name}.py" for name in ("length_words", "translate")
    }
    for file in (*PACKAGE.rglob("*.py"), *words.values()):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            for name in names:
                top = name.partition(".")[0]
                ours = name.startswith("plant.drives") or name in words
                assert ours or top in sys.stdlib_module_names, f"{file.stem} imports {name}"
