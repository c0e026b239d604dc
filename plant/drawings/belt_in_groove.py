"""The belt in its groove: new, now, and on the floor, to scale."""

from math import pi, tan

from reportlab.graphics.shapes import Drawing

from plant.drawings.lettering import width_of
from plant.drawings.strokes import (
    CHAIN,
    DOTTED,
    GREY,
    HEAVY,
    HIDDEN,
    LETTER,
    MEDIUM,
    PAGE,
    PALE,
    SMALL_LETTER,
    Anchor,
    Point,
    closed,
    dimension,
    hatch,
    letter,
    outline,
    sheet,
    stroke,
)
from plant.length_words import length_text
from plant.translate import gettext as _

HEIGHT = 176.0
_SIDE = 47.0  # [pt] for the words on each side


def belt_in_groove(
    *,
    datum_width: float,
    groove_angle: float,
    groove_depth_below_datum: float,
    above_datum: float,
    belt_top_width_new: float,
    belt_height: float,
    belt_angle: float,
    drop_now: float,
    capped_drop: float,
    width_now: float,
    clearance: float,
    depth_guessed: bool = False,
    ride: float | None = None,
    label: str = "",
    key: bool = True,
    width: float = PAGE,
    height: float = HEIGHT,
) -> Drawing:
    """Draws the groove cut across, with the belt new (dashed), now (hatched) and on the floor.

    The belt is placed by its base: new it stands groove depth less clearance less drop below the
    datum line. Where the floor holds the belt, its flanks stand clear of the groove.

    Args:
        datum_width: [m] groove width at the datum line.
        groove_angle: [rad] whole angle of the groove.
        groove_depth_below_datum: [m] depth of the floor below the datum line.
        above_datum: [m] height of the rim above the datum line.
        belt_top_width_new: [m] top width of the belt when new.
        belt_height: [m] height of the belt.
        belt_angle: [rad] whole angle of the new belt.
        drop_now: [m] how far the worn belt has sunk by its flanks alone.
        capped_drop: [m] how far it has sunk at most, the floor holding it.
        width_now: [m] top width of the belt now.
        clearance: [m] room under the belt by its flanks alone; nought or less: on the floor.
        ride: [m] height of the belt above the rim (below: less than nought) as the sums or a gauge
            give it, for the figure; None takes it from the picture.
        depth_guessed: whether the groove depth is a guess, which is then written beside it.
        label: words under the picture, "Small pulley, 34°".
        key: whether to mark the place on the floor, and to name the outlines under the picture.
        width, height: [pt] size of the picture.

    Returns:
        The drawing.

    Raises:
        ValueError: a size is not above nought, or the belt would stand outside the groove.
    """
    for name, size in (
        ("datum width", datum_width),
        ("groove angle", groove_angle),
        ("groove depth", groove_depth_below_datum),
        ("belt width new", belt_top_width_new),
        ("belt width now", width_now),
        ("belt height", belt_height),
    ):
        if not size > 0:
            raise ValueError(f"{name} is {size:g}; it must be above nought")
    below_cord = groove_depth_below_datum - clearance - drop_now
    if not 0 <= below_cord <= belt_height:
        raise ValueError(
            f"the belt's cord would lie {below_cord:g} m above its base; "
            f"accepted: 0 to {belt_height:g} m"
        )
    top_over_rim = belt_height - below_cord - capped_drop - above_datum
    return _draw(
        half_datum=datum_width / 2,
        groove_slope=tan(groove_angle / 2),
        floor=-groove_depth_below_datum,
        rim=above_datum,
        base_new=-below_cord,
        base_now=-below_cord - capped_drop,
        belt_height=belt_height,
        top_new=belt_top_width_new,
        top_now=width_now,
        belt_slope=tan(belt_angle / 2),
        touches=clearance <= 0,
        depth_guessed=depth_guessed,
        ride=top_over_rim if ride is None else ride,
        caption=label,
        key=key,
        width=width,
        height=height,
    )


def _draw(
    *,
    half_datum: float,
    groove_slope: float,
    floor: float,
    rim: float,
    base_new: float,
    base_now: float,
    belt_height: float,
    top_new: float,
    top_now: float,
    belt_slope: float,
    touches: bool,
    depth_guessed: bool,
    ride: float,
    caption: str,
    key: bool,
    width: float,
    height: float,
) -> Drawing:
    drawing = sheet(width=width, height=height)
    half_rim = half_datum + rim * groove_slope
    half_floor = half_datum + floor * groove_slope
    highest = max(rim, base_new + belt_height)
    metal_below = 0.28 * (rim - floor)
    land = 0.42 * half_rim
    key_room = 12.0 if key else 0.0
    caption_room = key_room + (14.0 if caption else 2.0)
    above = 30.0  # for the two width dimensions
    scale = min(
        (height - caption_room - above) / (highest - floor + metal_below),
        (width - 2 * _SIDE) / (2 * (half_rim + land)),
    )
    middle = width / 2
    origin = caption_room + (metal_below - floor) * scale

    def at(x: float, y: float) -> Point:
        return middle + x * scale, origin + y * scale

    left, right = -half_rim - land, half_rim + land
    bottom = floor - metal_below
    groove = [
        at(left, rim),
        at(-half_rim, rim),
        at(-half_floor, floor),
        at(half_floor, floor),
        at(half_rim, rim),
        at(right, rim),
    ]
    metal = [*groove, at(right, bottom), at(left, bottom)]
    drawing.add(hatch(metal, gap=5.0, colour=GREY))
    drawing.add(stroke(groove, weight=HEAVY))

    def belt(*, base: float, top_width: float, slope: float) -> list[Point]:
        half_top = top_width / 2
        half_base = max(half_top - belt_height * slope, 0.15 * half_top)
        top = base + belt_height
        return [
            at(-half_top, top),
            at(half_top, top),
            at(half_base, base),
            at(-half_base, base),
        ]

    # A worn flank lies at the groove's angle; the new belt is drawn at its own.
    now = belt(base=base_now, top_width=top_now, slope=groove_slope)
    drawing.add(outline(now, weight=HEAVY, fill=PALE))
    drawing.add(hatch(now, angle=-pi / 4, gap=2.6))
    # By the time its base is on the floor a belt has worn to the groove's width there.
    if key and base_now - floor > 0.02 * belt_height:
        held = floor + belt_height
        half_held = half_datum + held * groove_slope
        drawing.add(stroke([at(-half_held, held), at(half_held, held)], weight=MEDIUM, dash=DOTTED))
    new = belt(base=base_new, top_width=top_new, slope=belt_slope)
    drawing.add(stroke(closed(new), weight=0.8, dash=HIDDEN))
    drawing.add(stroke([at(left * 0.98, 0), at(right * 0.98, 0)], dash=CHAIN, colour=GREY))

    high = at(0, highest)[1]
    room_between = 2 * (new[1][0] - middle) - 3
    for y, corner, words in (
        (high + 18.5, new[1], _("{top_new} new").format(top_new=length_text(top_new))),
        (high + 6.0, now[1], _("{top_now} now").format(top_now=length_text(top_now))),
    ):
        across = corner[0] - middle
        for side in (-across, across):
            drawing.add(stroke([(middle + side, corner[1] + 1.5), (middle + side, y + 2)]))
        for shape in dimension(start=(middle - across, y), end=(middle + across, y)):
            drawing.add(shape)
        drawing.add(letter(words, at=(middle, y + 2.2), anchor="middle", room=room_between))

    # To the right: the ride against the rim, and the room under the belt.
    post = at(right, 0)[0] + 11
    beside = post + 5
    room = width - beside
    top = base_now + belt_height
    for x, level in (
        (right, rim),
        (top_now / 2, top),
        (half_floor, floor),
        ((now[2][0] - middle) / scale, base_now),
    ):
        drawing.add(stroke([at(x, level), (post + 3, at(0, level)[1])]))
    for shape in dimension(start=(post, at(0, rim)[1]), end=(post, at(0, top)[1])):
        drawing.add(shape)
    said = [length_text(abs(ride)), _("above rim") if ride > 0 else _("below rim")]
    if said[0] == length_text(0.0):
        said = [_("level with"), _("the rim")]
    _beside(drawing, said, at=(beside, at(0, (rim + top) / 2)[1]), room=room)
    if touches:
        said = [_("no room,"), _("on floor")]
    else:
        said = [length_text(base_now - floor), _("room")]
        for shape in dimension(start=(post, at(0, floor)[1]), end=(post, at(0, base_now)[1])):
            drawing.add(shape)
    _beside(drawing, said, at=(beside, at(0, (floor + base_now) / 2)[1]), room=room)

    # To the left: the depth of the groove, from the datum line.
    post = at(left, 0)[0] - 11
    for x, level in ((left, 0.0), (-half_floor, floor)):
        drawing.add(stroke([at(x, level), (post - 3, at(0, level)[1])]))
    for shape in dimension(start=(post, at(0, floor)[1]), end=(post, at(0, 0)[1])):
        drawing.add(shape)
    said = [length_text(-floor), _("deep")]
    _beside(drawing, said, at=(post - 5, at(0, floor / 2)[1]), room=post - 5, anchor="end")
    if depth_guessed:
        frame_right, frame_low = post - 4, at(0, floor / 2)[1] - 2 * LETTER - 7.5
        frame = [
            (frame_right - 27, frame_low),
            (frame_right, frame_low),
            (frame_right, frame_low + LETTER + 3.2),
            (frame_right - 27, frame_low + LETTER + 3.2),
        ]
        drawing.add(stroke(closed(frame), weight=MEDIUM, dash=DOTTED))
        drawing.add(letter(_("guess"), at=(frame_right - 13.5, frame_low + 3), anchor="middle"))
    drawing.add(
        letter(_("datum"), at=(post - 5, at(0, 0)[1] - 2.2), anchor="end", size=SMALL_LETTER)
    )
    if caption:
        drawing.add(
            letter(caption, at=(middle, key_room + 2.5), anchor="middle", bold=True, room=width)
        )
    if key:
        _key(drawing, middle=middle)
    return drawing


def _key(drawing: Drawing, *, middle: float) -> None:
    """The line under the picture that says which outline is which."""
    new, now = _("new"), _("now")
    names = (new, now, _("its top if on the floor"))
    sample, gap, after = 14.0, 3.0, 7.0
    widths = [width_of(name, size=SMALL_LETTER) for name in names]
    x = middle - (sum(widths) + 3 * (sample + gap) + 2 * after) / 2
    for name, words_width in zip(names, widths, strict=True):
        y = 5.2
        if name == now:
            box = [(x, y - 3), (x + sample, y - 3), (x + sample, y + 3), (x, y + 3)]
            drawing.add(outline(box, weight=MEDIUM, fill=PALE))
            drawing.add(hatch(box, angle=-pi / 4, gap=2.6))
        else:
            dash, weight = (HIDDEN, 0.8) if name == new else (DOTTED, MEDIUM)
            drawing.add(stroke([(x, y), (x + sample, y)], weight=weight, dash=dash))
        drawing.add(letter(name, at=(x + sample + gap, y - 2.3), size=SMALL_LETTER))
        x += sample + gap + words_width + after


def _beside(
    drawing: Drawing, lines: list[str], *, at: Point, room: float, anchor: Anchor = "start"
) -> None:
    """Short lines of lettering, their middle at the point [pt]."""
    leading = LETTER + 1.2
    y = at[1] + leading * (len(lines) - 1) / 2 - 0.33 * LETTER
    for words in lines:
        drawing.add(letter(words, at=(at[0], y), anchor=anchor, room=room))
        y -= leading
