"""The lines of a worn belt: how it sits, and what the wear uses of the slot."""

from collections.abc import Callable
from math import degrees, pi, radians, sqrt, tan

from plant.drives import geometry, lengths, wear
from plant.drives.doubt import Doubtful
from plant.drives.formula import FormulaLine
from plant.drives.lines.line import GEOMETRY, MM, WEDGE, formula_line
from plant.drives.lines.shape import LENGTH, belt_length, centres_line, ratio_line, speed_line
from plant.drives.outcome import DriveWorkout, Geometry, Seat, WearPart
from plant.translate import gettext


def wear_lines(found: DriveWorkout, worn: WearPart, shape: Geometry) -> list[FormulaLine]:
    given = found.given
    assert given.length is not None
    below, cord = _cord(found, worn)
    done: list[FormulaLine] = []
    if worn.loss is not None and worn.width_now is not None and worn.loss.value > 0:
        done.append(
            formula_line(
                "Δw",
                gettext("width lost"),
                "Δw = W − w",
                "{W} − {w}",
                lambda W, w: W - w,
                value=worn.loss.value,
                scale=MM,
                unit="mm",
                decimals=2,
                source=WEDGE,
                validity=gettext("both widths at the same height of the section"),
                u=worn.loss.u,
                W=(worn.width_new.value * MM, 1),
                w=(worn.width_now.value * MM, 1),
            )
        )
    done += [below, cord]
    for tag, seat in (("1", worn.driver), ("2", worn.driven)):
        done += _seated(tag, seat, worn, below=below.value, cord=cord.value)
    small, large = (
        (worn.driver, worn.driven) if shape.small_is_driver else (worn.driven, worn.driver)
    )
    new = shape.centres_new
    if worn.extra is not None and new is not None:
        done += _spread(small, large, worn, new)
    done.append(
        ratio_line(
            "i'",
            gettext("speed ratio, worn belt"),
            driver=worn.driver.diameter_now,
            driven=worn.driven.diameter_now,
        )
    )
    if shape.speed_now is not None and given.motor_speed is not None:
        done.append(
            speed_line(
                "v'",
                gettext("belt speed, worn belt"),
                worn.driver.diameter_now,
                given.motor_speed,
                shape.speed_now,
            )
        )
    done += _slot(found, worn, small, large)
    return done


def _cord(found: DriveWorkout, worn: WearPart) -> tuple[FormulaLine, FormulaLine]:
    """Where the cord line lies, from the length differences of the belt's system."""
    given = found.given
    system = lengths.system_for(given.section, wanted=lengths.System(given.length_system))
    below = lengths.below_cord(given.section, system=system)
    cord = lengths.cord_depth(given.section)
    validity = gettext("good to about 0.5 mm: the cord's place differs by source")
    u = wear.ROOM_HALF_WIDTH.value / sqrt(3)
    by_lengths = below.source.startswith("(Ld - Li)")
    height = below.value + cord.value
    return (
        formula_line(
            "t",
            gettext("belt below its cord line"),
            "t = (Ld − Li) / (2 × π)"
            if by_lengths
            else gettext("t = H − b, H: height of the belt"),
            "{x} / (2 × π)" if by_lengths else "{H} − {b}",
            (lambda x: x / (2 * pi)) if by_lengths else (lambda H, b: H - b),
            value=below.value,
            scale=MM,
            unit="mm",
            decimals=2,
            source=below.source,
            validity=validity,
            trust=below.trust,
            u=u,
            more={"x": (below.value * 2 * pi * MM, 1)}
            if by_lengths
            else {"H": (height * MM, 1), "b": (cord.value * MM, 2)},
        ),
        formula_line(
            "b",
            gettext("cord line below the belt's top"),
            "b = (La − Ld) / (2 × π)",
            "{x} / (2 × π)",
            lambda x: x / (2 * pi),
            value=cord.value,
            scale=MM,
            unit="mm",
            decimals=2,
            source=cord.source,
            validity=validity,
            trust=cord.trust,
            u=u,
            x=(cord.value * 2 * pi * MM, 1),
        ),
    )


def _seated(
    tag: str, seat: Seat, worn: WearPart, *, below: float, cord: float
) -> list[FormulaLine]:
    guess = gettext("the groove depth is a guess") if seat.depth_guessed else ""
    # How deep it sits: on its flanks, on the floor, or as the ride was measured.
    on_floor = seat.bottoms and not seat.measured
    sinks = gettext("(h{tag} − t), on the floor").format(tag=tag) if on_floor else f"y{tag}"
    if seat.measured:
        sinks += gettext(" by the ride measured")
    sunk_by = "({h} − {t})" if on_floor else "{y}"
    sunk: Callable[..., float] = (lambda h, t: h - t) if on_floor else (lambda y: y)
    seated = (
        {"h": (seat.depth * MM, 1), "t": (below * MM, 2)}
        if on_floor
        else {"y": (seat.drop.value * MM, 2)}
    )
    done: list[FormulaLine] = []
    free = seat.drop_free
    if free is not None and worn.loss is not None:
        done.append(
            formula_line(
                f"y{tag}",
                gettext("drop in the groove, {seat}").format(seat=seat.name),
                f"y{tag} = Δw / (2 × tan(α{tag} / 2))",
                "{w} / (2 × tan({a}° / 2))",
                lambda w, a: w / (2 * tan(radians(a) / 2)),
                value=free.value,
                scale=MM,
                unit="mm",
                decimals=2,
                source=WEDGE,
                validity=gettext("both flanks worn alike; loss up to a quarter of the width"),
                u=free.u,
                w=(worn.loss.value * MM, 2),
                a=(degrees(seat.angle), 0),
            )
        )
    if free is not None and not seat.measured:
        done.append(
            formula_line(
                f"r{tag}",
                gettext("room under the belt, {seat}").format(seat=seat.name),
                f"r{tag} = h{tag} − t − y{tag}",
                "{h} − {t} − {y}",
                lambda h, t, y: h - t - y,
                value=seat.room.value,
                scale=MM,
                unit="mm",
                decimals=1,
                source=WEDGE,
                validity=gettext("0 or less: on the floor; known to about 0.5 mm"),
                u=seat.room.u,
                warning=guess,
                h=(seat.depth * MM, 1),
                t=(below * MM, 2),
                y=(free.value * MM, 2),
            )
        )
    if seat.measured:
        done.append(
            formula_line(
                f"r{tag}",
                gettext("room under the belt by the ride, {seat}").format(seat=seat.name),
                f"r{tag} = h{tag} + a{tag} + e{tag} − (t + b)",
                "{h} + {a} + {e} − ({t} + {b})",
                lambda h, a, e, t, b: h + a + e - (t + b),
                value=seat.room.value,
                scale=MM,
                unit="mm",
                decimals=1,
                source=gettext(
                    "rim to floor less the belt's height; a: rim above the datum line, "
                    "e: ride as measured"
                ),
                validity=gettext("0 or less: on the floor"),
                u=seat.room.u,
                warning=guess,
                h=(seat.depth * MM, 1),
                a=(seat.above_datum * MM, 2),
                e=(seat.ride.value * MM, 1),
                t=(below * MM, 2),
                b=(cord * MM, 2),
            )
        )
    if not seat.measured and not seat.ride_new_measured:
        done.append(
            formula_line(
                f"e{tag}",
                gettext("belt above the rim, {seat}").format(seat=seat.name),
                f"e{tag} = b − a{tag} − {sinks}",
                f"{{b}} − {{a}} − {sunk_by}",
                lambda b, a, **seated: b - a - sunk(**seated),
                value=seat.ride.value,
                scale=MM,
                unit="mm",
                decimals=1,
                source=WEDGE,
                validity=gettext("below the rim negative; good to about 0.5 mm"),
                u=seat.ride.u,
                more=seated,
                b=(cord * MM, 2),
                a=(seat.above_datum * MM, 2),
            )
        )
    done.append(
        formula_line(
            f"d{tag}'",
            gettext("diameter that the cord runs on, {seat}").format(seat=seat.name),
            f"d{tag}' = d{tag} − 2 × {sinks}",
            f"{{d}} − 2 × {sunk_by}",
            lambda d, **seated: d - 2 * sunk(**seated),
            value=seat.diameter_now,
            scale=MM,
            unit="mm",
            decimals=1,
            source=WEDGE,
            validity=gettext("the cord keeps its place in the belt"),
            u=2 * seat.drop.u,
            more=seated,
            d=(seat.diameter_new * MM, 1),
        )
    )
    return done


def _spread(small: Seat, large: Seat, worn: WearPart, new: Doubtful) -> list[FormulaLine]:
    """How much further apart the shafts have to stand."""
    assert worn.extra is not None
    done = [
        centres_line(
            "C'",
            gettext("centre distance at which the worn belt is tight, by that length"),
            small=small.diameter_now,
            large=large.diameter_now,
            centres=new.value + worn.extra.value,
            u=None,
        ),
        _extra("x", gettext("extra centre distance"), "C'", new.value, worn.extra),
    ]
    free = worn.extra_free
    if free is not None and abs(free.value - worn.extra.value) > 5e-6:
        assert small.drop_free is not None
        assert large.drop_free is not None
        done += [
            centres_line(
                "Cf",
                gettext("the same on the flanks alone, as if there were no floor"),
                small=small.diameter_new - 2 * small.drop_free.value,
                large=large.diameter_new - 2 * large.drop_free.value,
                centres=new.value + free.value,
                u=None,
            ),
            _extra(
                "xf", gettext("extra centre distance on the flanks alone"), "Cf", new.value, free
            ),
        ]
    return done


def _extra(symbol: str, name: str, end: str, new: float, extra: Doubtful) -> FormulaLine:
    return formula_line(
        symbol,
        name,
        f"{symbol} = {end} − C",
        "{E} − {C}",
        lambda E, C: E - C,
        value=extra.value,
        scale=MM,
        unit="mm",
        decimals=1,
        source=GEOMETRY,
        validity=gettext("the cord keeps its length: the belt is narrow, not long"),
        u=extra.u,
        E=((new + extra.value) * MM, 1),
        C=(new * MM, 1),
    )


def _slot(found: DriveWorkout, worn: WearPart, small: Seat, large: Seat) -> list[FormulaLine]:
    given, slot = found.given, worn.take_up
    done: list[FormulaLine] = []
    guess = gettext("the groove depth is a guess")
    for tag, seat in (("1", worn.driver), ("2", worn.driven)):
        if seat.width_bottoms is None or seat.width_bottoms >= worn.width_new.value:
            continue
        loss = worn.width_new.value - seat.width_bottoms
        room = loss / (2 * tan(seat.angle / 2))
        done.append(
            formula_line(
                f"wf{tag}",
                gettext("width at which it reaches the floor, {seat}").format(seat=seat.name),
                f"wf{tag} = W − 2 × tan(α{tag} / 2) × (h{tag} − t)",
                "{W} − 2 × tan({a}° / 2) × ({h} − {t})",
                lambda W, a, h, t: W - 2 * tan(radians(a) / 2) * (h - t),
                value=seat.width_bottoms,
                scale=MM,
                unit="mm",
                decimals=1,
                source=WEDGE,
                validity=gettext("belt not compressed"),
                warning=guess if seat.depth_guessed else "",
                W=(worn.width_new.value * MM, 1),
                a=(degrees(seat.angle), 0),
                h=(seat.depth * MM, 1),
                t=((seat.depth - room) * MM, 2),
            )
        )
    if slot is None or given.centres is None or given.slot_out is None:
        return done
    if slot.travel_from_geometry:
        needed = slot.high - slot.left.value
        done.append(
            formula_line(
                "s",
                gettext("take-up left"),
                "s = A + o − C'",
                "{A} + {o} − {C}",
                lambda A, o, C: A + o - C,
                value=slot.left.value,
                scale=MM,
                unit="mm",
                decimals=1,
                source=gettext("A: centre distance now, o: room left outwards; ") + GEOMETRY,
                validity=gettext("slide along the line of centres"),
                u=slot.left.u,
                A=(given.centres * MM, 1),
                o=(given.slot_out * MM, 1),
                C=(needed * MM, 1),
            )
        )
    if slot.since is not None:
        done.append(
            formula_line(
                "s",
                gettext("take-up left"),
                "s = o − xw",
                "{o} − {x}",
                lambda o, x: o - x,
                value=slot.left.value,
                scale=MM,
                unit="mm",
                decimals=1,
                source=gettext(
                    "o: room left when the slot was read; xw: x now less x at the width of then"
                ),
                validity=gettext("belt tight when the slot was read"),
                u=slot.left.u,
                o=(given.slot_out * MM, 1),
                x=(slot.since.value * MM, 1),
            )
        )
    if slot.used_read is not None and given.slot_out_new is not None:
        done.append(
            formula_line(
                "xs",
                gettext("take-up used, read on the slot"),
                "xs = on − o",
                "{on} − {o}",
                lambda on, o: on - o,
                value=slot.used_read.value,
                scale=MM,
                unit="mm",
                decimals=1,
                source=gettext("on: room left outwards when the belt was new, o: room left now"),
                validity=gettext("belt tight at both readings"),
                u=slot.used_read.u,
                on=(given.slot_out_new * MM, 1),
                o=(given.slot_out * MM, 1),
            )
        )
    done += _slot_ends(found, worn, small, large)
    return done


def _slot_ends(found: DriveWorkout, worn: WearPart, small: Seat, large: Seat) -> list[FormulaLine]:
    """The width at which the slot ends, with the check that the belt is then tight there."""
    length, slot = found.given.length, worn.take_up
    if worn.width_ends_slot is None or slot is None or length is None:
        return []
    loss = worn.width_new.value - worn.width_ends_slot
    sunk = [
        seat.diameter_new
        - 2
        * min(
            loss / (2 * tan(seat.angle / 2)),
            max(worn.width_new.value - (seat.width_bottoms or 0.0), 0.0)
            / (2 * tan(seat.angle / 2)),
        )
        for seat in (small, large)
    ]
    start = geometry.open_centres(small=small.diameter_new, large=large.diameter_new, length=length)
    end = start + slot.travel.value
    at_end = geometry.open_length(small=sunk[0], large=sunk[1], centres=end)
    return [
        formula_line(
            "ws",
            gettext("width at which the slot ends"),
            f"d' at this width and C at the end of the slot give L: {LENGTH}",
            "2 × √({C}² − (({D} − {d}) / 2)²) + π × ({D} + {d}) / 2 "
            "+ ({D} − {d}) × asin(({D} − {d}) / (2 × {C}))",
            belt_length,
            value=worn.width_ends_slot,
            scale=MM,
            unit="mm",
            decimals=1,
            source=GEOMETRY,
            validity=gettext("drops at this width, held by the floors; asin in radians"),
            check=(at_end * MM, 1),
            d=(sunk[0] * MM, 1),
            D=(sunk[1] * MM, 1),
            C=(end * MM, 1),
        )
    ]
