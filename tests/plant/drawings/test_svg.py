import re
from xml.etree import ElementTree

import pytest
from reportlab.graphics.shapes import Drawing, Ellipse, Group, Line, Polygon, String
from reportlab.lib.colors import Color, black, white

from plant.drawings.belt_in_groove import belt_in_groove
from plant.drawings.drive_layout import drive_layout
from plant.drawings.strokes import HIDDEN, sheet, stroke
from plant.drawings.svg import to_svg
from plant.drawings.tension_band import tension_band

SVG = "{http://www.w3.org/2000/svg}"


def pictures() -> list[Drawing]:
    groove = belt_in_groove(
        datum_width=0.011,
        groove_angle=0.593412,
        groove_depth_below_datum=0.0087,
        above_datum=0.00275,
        belt_top_width_new=0.013,
        belt_height=0.008,
        belt_angle=0.698132,
        drop_now=0.0018,
        capped_drop=0.0018,
        width_now=0.0119,
        clearance=0.0021,
        label="Small pulley",
    )
    return [
        groove,
        drive_layout(small=0.08, large=0.18, centres_now=0.1345, slot_low=0.122, slot_high=0.1411),
        tension_band(low=12, high=18, reading=9.5, reading_doubt=1),
    ]


@pytest.mark.parametrize("picture", pictures(), ids=["groove", "layout", "band"])
def test_a_strict_policy_drops_nothing(picture: Drawing) -> None:
    svg = to_svg(picture, title="Belt in its groove", description="It rides 1.3 mm below the rim.")

    assert not re.search(r"style\s*=|<style|<!|<\?|<script|href|url\(", svg, re.IGNORECASE)
    assert svg.startswith("<svg ")
    root = ElementTree.fromstring(svg)
    assert root.get("role") == "img"
    assert root[0].tag == f"{SVG}title"
    assert root[0].text == "Belt in its groove"
    assert root[1].tag == f"{SVG}desc"
    assert root.get("aria-labelledby", "").split() == [root[0].get("id"), root[1].get("id")]
    # Every shape says its own fill, else it would turn out black.
    for shape in root.iter():
        if shape.tag in (f"{SVG}polygon", f"{SVG}polyline", f"{SVG}circle", f"{SVG}text"):
            assert shape.get("fill")
    assert root.get("viewBox") == f"0 -{picture.height:g} {picture.width:g} {picture.height:g}"


@pytest.mark.parametrize("picture", pictures(), ids=["groove", "layout", "band"])
def test_nothing_is_told_by_colour(picture: Drawing) -> None:
    svg = to_svg(picture, title="t", description="d")

    assert set(re.findall(r'(?:fill|stroke)="([^"]*)"', svg)) <= {"none", "currentColor"}


@pytest.mark.parametrize("picture", pictures(), ids=["groove", "layout", "band"])
def test_everything_lies_inside_the_picture(picture: Drawing) -> None:
    root = ElementTree.fromstring(to_svg(picture, title="t", description="d"))

    for shape in root.iter():
        for pair in (shape.get("points") or "").split():
            x, y = (float(part) for part in pair.split(","))
            assert 0 <= x <= picture.width
            assert -picture.height <= y <= 0


def test_a_dashed_line_stays_dashed() -> None:
    drawing = sheet(width=100, height=50)
    drawing.add(stroke([(0, 10), (90, 10)], dash=HIDDEN))

    line = ElementTree.fromstring(to_svg(drawing, title="t", description="d"))[2]

    # A closed path would run back between its own dashes and look solid.
    assert line.tag == f"{SVG}polyline"
    assert line.get("stroke-dasharray") == "3 1.8"
    assert line.get("points") == "0,-10 90,-10"
    assert line.get("fill") == "none"


def test_ids_on_one_page_differ() -> None:
    made = [to_svg(picture, title="t", description="d") for picture in pictures()]
    ids = [name for svg in made for name in re.findall(r' id="([^"]+)"', svg)]

    assert len(ids) == len(set(ids)) == 6


def test_text_is_escaped() -> None:
    drawing = Drawing(10, 10)
    drawing.add(String(1, 2, "a < b & c"))

    svg = to_svg(drawing, title="<script>", description='"<>&')
    root = ElementTree.fromstring(svg)

    assert "<script>" not in svg
    assert [node.text for node in root] == ["<script>", '"<>&', "a < b & c"]


def test_greys_are_ink_let_through_and_white_is_nothing() -> None:
    drawing = Drawing(10, 10)
    drawing.add(Polygon([0, 0, 5, 0, 5, 5], fillColor=Color(0.75, 0.75, 0.75), strokeColor=black))
    drawing.add(Polygon([0, 0, 5, 0, 5, 5], fillColor=white, strokeColor=None))

    grey, hidden = list(ElementTree.fromstring(to_svg(drawing, title="t", description="d")))[2:]

    assert (grey.get("fill"), grey.get("fill-opacity")) == ("currentColor", "0.25")
    assert (hidden.get("fill"), hidden.get("stroke")) == ("none", None)


def test_a_turned_group_turns_the_same_way_as_on_paper() -> None:
    drawing = Drawing(100, 100)
    group = Group(Line(10, 0, 20, 0))
    group.rotate(90)
    drawing.add(group)

    turned = ElementTree.fromstring(to_svg(drawing, title="t", description="d"))[2]

    # A quarter turn to the left takes (10, 0) to (0, 10): up the page, which SVG counts downwards.
    a, b, c, d, e, f = (float(v) for v in turned.get("transform", "")[7:-1].split())
    x, y = 10.0, 0.0
    assert (a * x + c * y + e, b * x + d * y + f) == pytest.approx((0, -10))


def test_a_shape_without_a_form_is_refused() -> None:
    drawing = Drawing(10, 10)
    drawing.add(Ellipse(5, 5, 3, 2))

    with pytest.raises(TypeError, match="Ellipse"):
        to_svg(drawing, title="t", description="d")
