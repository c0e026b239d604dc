"""The look: contrast, weight, and nothing that a strict content policy drops."""

import gzip
import re
from pathlib import Path

import pytest
from django.apps import apps

ROOT = Path(__file__).parents[2]
CSS = ROOT / "plant/static/plant/site.css"
TEMPLATES = sorted(
    path
    for app in ("plant", "maintenance", "reports")
    for path in ROOT.glob(f"{app}/templates/**/*.html")
)


def luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance (W3C, 2023)."""
    digits = colour.lstrip("#")
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio. Source: WCAG 2.2, definition of contrast ratio (W3C, 2023)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def schemes() -> dict[str, dict[str, str]]:
    blocks = re.findall(r":root \{(.*?)\}", CSS.read_text(), re.S)
    found = [dict(re.findall(r"--([\w-]+): (#\w+);", block)) for block in blocks]
    light, dark = [colours for colours in found if colours][:2]
    return {"light": light, "dark": dark}


def test_contrast_of_black_and_white_is_21() -> None:
    # WCAG 2.2: the ratio runs from 1 to 21.
    assert contrast("#000", "#ffffff") == pytest.approx(21)
    assert contrast("#777", "#777777") == pytest.approx(1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "wash"])
def test_all_text_stands_seven_to_one(scheme: str, ground: str) -> None:
    colours = schemes()[scheme]

    low = {
        name: round(contrast(colours[name], colours[ground]), 2)
        for name in ("ink", "soft", "accent", "stop", "care", "fine")
        if contrast(colours[name], colours[ground]) < 7
    }

    assert low == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_edges_of_fields_and_the_main_act_can_be_seen(scheme: str) -> None:
    colours = schemes()[scheme]

    assert contrast(colours["edge"], colours["paper"]) >= 3
    assert contrast(colours["edge"], colours["wash"]) >= 3
    assert contrast(colours["on-accent"], colours["accent"]) >= 7


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_page_brings_no_style_or_script_of_its_own(path: Path) -> None:
    text = path.read_text()

    assert not re.search(r"\sstyle=|<style|javascript:|\son[a-z]+=|hx-on|js:", text)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text))


def test_frame_of_a_page_weighs_little() -> None:
    # The scripts and the style of a page leave most of 100 kB to its words.
    htmx = Path(apps.get_app_config("django_htmx").path) / "static/django_htmx/htmx-2.min.js"
    parts = [CSS, ROOT / "plant/static/plant/site.js", ROOT / "plant/static/plant/plate.svg", htmx]

    assert sum(len(gzip.compress(part.read_bytes())) for part in parts) < 40_000


def test_style_sheet_is_balanced_and_asks_for_nothing_else() -> None:
    text = re.sub(r"/\*.*?\*/", "", CSS.read_text(), flags=re.S)

    assert text.count("{") == text.count("}")
    assert "url(" not in text
    assert "@import" not in text


def test_every_class_of_a_template_is_in_the_style_sheet() -> None:
    styled = set(re.findall(r"\.([a-z][\w-]*)", CSS.read_text()))
    unknown = {}
    for path in TEMPLATES:
        used = re.sub(r"\{[%{].*?[%}]\}", " ", path.read_text())
        names = {name for found in re.findall(r'class="([^"]*)"', used) for name in found.split()}
        if names - styled:
            unknown[str(path.relative_to(ROOT))] = sorted(names - styled)

    assert unknown == {}


def test_no_file_for_the_browser_holds_the_marks_of_a_merge_left_half_done() -> None:
    """A browser drops the rule after such a mark without a word, and no other check reads these."""
    files = [*ROOT.glob("plant/static/**/*.css"), *ROOT.glob("plant/static/**/*.js"), *TEMPLATES]

    marked = [path.name for path in files if re.search(r"^[<>]{7} ", path.read_text(), re.M)]

    assert (len(files) > 100, marked) == (True, [])
