"""The working, line by line, so that a calculator gives the same last printed figure."""

from collections.abc import Callable
from math import asin, atan, degrees, exp, isfinite, pi, radians, sin, sqrt, tan

from plant.drives import driven, geometry, lengths, power, pulleys, tension, wear
from plant.drives.doubt import Doubtful
from plant.drives.facts import Trust
from plant.drives.forecast import WearLine, when
from plant.drives.formula import FormulaLine
from plant.drives.life import Limits
from plant.drives.outcome import (
    DriveWorkout,
    Geometry,
    PowerPart,
    Reading,
    Seat,
    Setting,
    TensionPart,
    WearPart,
)
from plant.translate import gettext

_MM = 1e3
_RPM = 30 / pi
_MOST_DECIMALS = 9
# A tie goes up, as on a calculator, also where it is one but for the last bits of the sum.
_TIES_UP = 1 + 1e-12

_GEOMETRY = "plane geometry of two circles and their outer tangents, exact"
_WEDGE = "geometry of the wedge"
_RMA = "ANSI/RMA IP-20 (1988)"
_GB = "GB/T 13575.1"
_ARMY = "US Army TM 5-4310-339-15, section 5-5"
_FRICTION = "Baker and Haynes, Engineering Statics: Open and Interactive, section 9.5"
_STRING = "mechanics of the string"
_MECHANICS = "mechanics"
_LENGTH = "2 × √(C² − ((D − d)/2)²) + π × (D + d)/2 + (D − d) × asin((D − d)/(2 × C))"


def lines(found: DriveWorkout) -> tuple[FormulaLine, ...]:
    """The working of every part that was worked out.

    Args:
        found: [SI] the worked-out drive; its own ``lines`` are not read.

    Returns:
        Lines in the order in which a fitter would work. Every input is printed with as many
        decimals as the printed result needs; asin is in radians, angles are in degrees.

    Raises:
        Nothing; every figure was checked when it was worked out.

    Source:
        Named in each line.
    """
    done: list[FormulaLine] = []
    if found.geometry is not None:
        done += _shape(found, found.geometry)
    if found.wear is not None and found.geometry is not None:
        done += _worn(found, found.wear, found.geometry)
    if found.power is not None:
        done += _rated(found.power)
    if found.tension is not None:
        done += _pulled(found, found.tension)
    if found.unjudged is not None:
        done += _readings(found, found.unjudged)
    done += _turned(found)
    return tuple(done)


def _line(
    symbol: str,
    name: str,
    expression: str,
    figures: str,
    compute: Callable[..., float],
    *,
    value: float,
    scale: float,
    unit: str,
    decimals: int,
    source: str,
    validity: str,
    trust: Trust = Trust.COMPUTED,
    u: float | None = None,
    warning: str = "",
    check: tuple[float, int] | None = None,
    more: dict[str, tuple[float, int]] | None = None,
    **inputs: tuple[float, int],
) -> FormulaLine:
    """One line; figures are rounded no further than the printed result can bear.

    figures: with {name} where an input stands; compute: the same sum in printed units; inputs:
    value in the printed unit and least decimals; more: further ones. check: for a result that is
    a root, the figure and its decimals that the sum gives when the root is put in.
    """
    inputs |= more or {}
    shown = value * scale
    target, places = (shown, decimals) if check is None else check
    wanted = _rounded(target, places)
    printed: dict[str, float] = {}
    extra = 0
    while True:
        printed = {key: round(number, least + extra) for key, (number, least) in inputs.items()}
        try:
            gives = _rounded(compute(**printed), places)
        except ZeroDivisionError:
            gives = ""  # an input that rounds to nothing wants more decimals
        if gives == wanted or extra >= _MOST_DECIMALS:
            break
        extra += 1
    texts = {
        key: _number(printed[key], least + extra if least + extra > least else least)
        for key, (_, least) in inputs.items()
    }
    text = figures.format(**texts)
    if check is not None:
        text = f"{text} = {_number(target, places)}"
    return FormulaLine(
        symbol=symbol,
        name=name,
        expression=expression,
        figures=text,
        result=_with_unit(shown, decimals, unit),
        unit=unit,
        value=value,
        source=source,
        validity=validity,
        trust=str(trust),
        doubt="" if u is None or u == 0 else _doubt(u * scale, decimals, unit),
        warning=warning,
    )


def _rounded(number: float, decimals: int) -> str:
    text = f"{number * _TIES_UP:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


def _number(number: float, decimals: int) -> str:
    text = _rounded(number, decimals)
    return f"(−{text[1:]})" if text.startswith("-") else text


def _with_unit(number: float, decimals: int, unit: str) -> str:
    text = _rounded(number, decimals).replace("-", "−")
    return f"{text} {unit}" if unit else text


def _doubt(u: float, decimals: int, unit: str) -> str:
    """Twice the standard uncertainty; at least one step of the last decimal."""
    text = f"± {max(2 * u, 10.0**-decimals):.{decimals}f}"
    return f"{text} {unit}" if unit else text


def _belt_length(*, d: float, D: float, C: float) -> float:
    half = (D - d) / 2
    return 2 * sqrt(C**2 - half**2) + pi * (D + d) / 2 + (D - d) * asin(half / C)


def _centres(
    symbol: str, name: str, *, small: float, large: float, centres: float, u: float | None
) -> FormulaLine:
    length = geometry.open_length(small=small, large=large, centres=centres)
    return _line(
        symbol,
        name,
        f"C such that {_LENGTH} = L",
        "2 × √({C}² − (({D} − {d}) / 2)²) + π × ({D} + {d}) / 2 "
        "+ ({D} − {d}) × asin(({D} − {d}) / (2 × {C}))",
        _belt_length,
        value=centres,
        scale=_MM,
        unit="mm",
        decimals=1,
        source=_GEOMETRY,
        validity=gettext("open belt, pulleys that do not touch; sag left out; asin in radians"),
        u=u,
        check=(length * _MM, 1),
        d=(small * _MM, 1),
        D=(large * _MM, 1),
        C=(centres * _MM, 1),
    )


# --- shape ---------------------------------------------------------------------------------------


def _shape(found: DriveWorkout, shape: Geometry) -> list[FormulaLine]:
    given = found.given
    assert given.driver is not None
    assert given.driven is not None
    small, large = sorted((given.driver, given.driven))
    done = [
        _ratio("i", "speed ratio, new belt", driver=given.driver, driven=given.driven),
    ]
    at = shape.centres_new
    if at is not None:
        done.append(
            _centres(
                "C",
                "centre distance of a new belt of this length",
                small=small,
                large=large,
                centres=at.value,
                u=at.u,
            )
        )
    if given.centres is not None and shape.length_for_centres is not None:
        done.append(
            _line(
                "Lc",
                f"{given.label('length').removesuffix(' of the belt')} that is tight at the centre "
                "distance now, new belt",
                f"Lc = {_LENGTH}",
                "2 × √({C}² − (({D} − {d}) / 2)²) + π × ({D} + {d}) / 2 "
                "+ ({D} − {d}) × asin(({D} − {d}) / (2 × {C}))",
                _belt_length,
                value=shape.length_for_centres.value,
                scale=_MM,
                unit="mm",
                decimals=0,
                source=_GEOMETRY,
                validity=gettext("open belt; asin in radians"),
                u=shape.length_for_centres.u,
                d=(small * _MM, 1),
                D=(large * _MM, 1),
                C=(given.centres * _MM, 1),
            )
        )
    if shape.speed_new is not None and given.motor_speed is not None:
        done.append(
            _speed("v", "belt speed, new belt", given.driver, given.motor_speed, shape.speed_new)
        )
    if shape.passes_new is not None and shape.speed_new is not None and given.length is not None:
        done.append(
            _line(
                "B",
                "bends of the belt in a second",
                "B = 2 × v / L",
                "2 × {v} / {L}",
                lambda v, L: 2 * v / L,
                value=shape.passes_new,
                scale=1,
                unit="1/s",
                decimals=0,
                source=_MECHANICS,
                validity=gettext("two pulleys"),
                v=(shape.speed_new, 2),
                L=(given.length, 3),
            )
        )
    return done


def _ratio(symbol: str, name: str, *, driver: float, driven: float) -> FormulaLine:
    return _line(
        symbol,
        name,
        f"{symbol} = driven / motor pulley",
        "{D} / {d}",
        lambda D, d: D / d,
        value=driven / driver,
        scale=1,
        unit="",
        decimals=3,
        source=gettext("equal belt speed on both pulleys"),
        validity=gettext("slip left out"),
        D=(driven * _MM, 1),
        d=(driver * _MM, 1),
    )


def _speed(symbol: str, name: str, diameter: float, shaft: float, value: float) -> FormulaLine:
    return _line(
        symbol,
        name,
        f"{symbol} = π × d × n / 60000",
        "π × {d} × {n} / 60000",
        lambda d, n: pi * d * n / 60000,
        value=value,
        scale=1,
        unit="m/s",
        decimals=2,
        source=_MECHANICS,
        validity=gettext("d in mm, n in rpm; slip left out"),
        d=(diameter * _MM, 1),
        n=(shaft * _RPM, 0),
    )


# --- wear ----------------------------------------------------------------------------------------


def _worn(found: DriveWorkout, worn: WearPart, shape: Geometry) -> list[FormulaLine]:
    given = found.given
    assert given.length is not None
    below, cord = _cord(found, worn)
    done: list[FormulaLine] = []
    if worn.loss is not None and worn.width_now is not None and worn.loss.value > 0:
        done.append(
            _line(
                "Δw",
                "width lost",
                "Δw = W − w",
                "{W} − {w}",
                lambda W, w: W - w,
                value=worn.loss.value,
                scale=_MM,
                unit="mm",
                decimals=2,
                source=_WEDGE,
                validity=gettext("both widths at the same height of the section"),
                u=worn.loss.u,
                W=(worn.width_new.value * _MM, 1),
                w=(worn.width_now.value * _MM, 1),
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
        _ratio(
            "i'",
            "speed ratio, worn belt",
            driver=worn.driver.diameter_now,
            driven=worn.driven.diameter_now,
        )
    )
    if shape.speed_now is not None and given.motor_speed is not None:
        done.append(
            _speed(
                "v'",
                "belt speed, worn belt",
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
        _line(
            "t",
            "belt below its cord line",
            "t = (Ld − Li) / (2 × π)"
            if by_lengths
            else gettext("t = H − b, H: height of the belt"),
            "{x} / (2 × π)" if by_lengths else "{H} − {b}",
            (lambda x: x / (2 * pi)) if by_lengths else (lambda H, b: H - b),
            value=below.value,
            scale=_MM,
            unit="mm",
            decimals=2,
            source=below.source,
            validity=validity,
            trust=below.trust,
            u=u,
            more={"x": (below.value * 2 * pi * _MM, 1)}
            if by_lengths
            else {"H": (height * _MM, 1), "b": (cord.value * _MM, 2)},
        ),
        _line(
            "b",
            "cord line below the belt's top",
            "b = (La − Ld) / (2 × π)",
            "{x} / (2 × π)",
            lambda x: x / (2 * pi),
            value=cord.value,
            scale=_MM,
            unit="mm",
            decimals=2,
            source=cord.source,
            validity=validity,
            trust=cord.trust,
            u=u,
            x=(cord.value * 2 * pi * _MM, 1),
        ),
    )


def _seated(
    tag: str, seat: Seat, worn: WearPart, *, below: float, cord: float
) -> list[FormulaLine]:
    where = f", {seat.name}"
    guess = gettext("the groove depth is a guess") if seat.depth_guessed else ""
    # How deep it sits: on its flanks, on the floor, or as the ride was measured.
    on_floor = seat.bottoms and not seat.measured
    sinks = gettext("(h{tag} − t), on the floor").format(tag=tag) if on_floor else f"y{tag}"
    if seat.measured:
        sinks += gettext(" by the ride measured")
    sunk_by = "({h} − {t})" if on_floor else "{y}"
    sunk: Callable[..., float] = (lambda h, t: h - t) if on_floor else (lambda y: y)
    seated = (
        {"h": (seat.depth * _MM, 1), "t": (below * _MM, 2)}
        if on_floor
        else {"y": (seat.drop.value * _MM, 2)}
    )
    done: list[FormulaLine] = []
    free = seat.drop_free
    if free is not None and worn.loss is not None:
        done.append(
            _line(
                f"y{tag}",
                f"drop in the groove{where}",
                f"y{tag} = Δw / (2 × tan(α{tag} / 2))",
                "{w} / (2 × tan({a}° / 2))",
                lambda w, a: w / (2 * tan(radians(a) / 2)),
                value=free.value,
                scale=_MM,
                unit="mm",
                decimals=2,
                source=_WEDGE,
                validity=gettext("both flanks worn alike; loss up to a quarter of the width"),
                u=free.u,
                w=(worn.loss.value * _MM, 2),
                a=(degrees(seat.angle), 0),
            )
        )
    if free is not None and not seat.measured:
        done.append(
            _line(
                f"r{tag}",
                f"room under the belt{where}",
                f"r{tag} = h{tag} − t − y{tag}",
                "{h} − {t} − {y}",
                lambda h, t, y: h - t - y,
                value=seat.room.value,
                scale=_MM,
                unit="mm",
                decimals=1,
                source=_WEDGE,
                validity=gettext("0 or less: on the floor; known to about 0.5 mm"),
                u=seat.room.u,
                warning=guess,
                h=(seat.depth * _MM, 1),
                t=(below * _MM, 2),
                y=(free.value * _MM, 2),
            )
        )
    if seat.measured:
        done.append(
            _line(
                f"r{tag}",
                f"room under the belt by the ride{where}",
                f"r{tag} = h{tag} + a{tag} + e{tag} − (t + b)",
                "{h} + {a} + {e} − ({t} + {b})",
                lambda h, a, e, t, b: h + a + e - (t + b),
                value=seat.room.value,
                scale=_MM,
                unit="mm",
                decimals=1,
                source=gettext(
                    "rim to floor less the belt's height; a: rim above the datum line, "
                    "e: ride as measured"
                ),
                validity=gettext("0 or less: on the floor"),
                u=seat.room.u,
                warning=guess,
                h=(seat.depth * _MM, 1),
                a=(seat.above_datum * _MM, 2),
                e=(seat.ride.value * _MM, 1),
                t=(below * _MM, 2),
                b=(cord * _MM, 2),
            )
        )
    if not seat.measured and not seat.ride_new_measured:
        done.append(
            _line(
                f"e{tag}",
                f"belt above the rim{where}",
                f"e{tag} = b − a{tag} − {sinks}",
                f"{{b}} − {{a}} − {sunk_by}",
                lambda b, a, **seated: b - a - sunk(**seated),
                value=seat.ride.value,
                scale=_MM,
                unit="mm",
                decimals=1,
                source=_WEDGE,
                validity=gettext("below the rim negative; good to about 0.5 mm"),
                u=seat.ride.u,
                more=seated,
                b=(cord * _MM, 2),
                a=(seat.above_datum * _MM, 2),
            )
        )
    done.append(
        _line(
            f"d{tag}'",
            f"diameter that the cord runs on{where}",
            f"d{tag}' = d{tag} − 2 × {sinks}",
            f"{{d}} − 2 × {sunk_by}",
            lambda d, **seated: d - 2 * sunk(**seated),
            value=seat.diameter_now,
            scale=_MM,
            unit="mm",
            decimals=1,
            source=_WEDGE,
            validity=gettext("the cord keeps its place in the belt"),
            u=2 * seat.drop.u,
            more=seated,
            d=(seat.diameter_new * _MM, 1),
        )
    )
    return done


def _spread(small: Seat, large: Seat, worn: WearPart, new: Doubtful) -> list[FormulaLine]:
    """How much further apart the shafts have to stand."""
    assert worn.extra is not None
    done = [
        _centres(
            "C'",
            "centre distance at which the worn belt is tight, by that length",
            small=small.diameter_now,
            large=large.diameter_now,
            centres=new.value + worn.extra.value,
            u=None,
        ),
        _extra("x", "extra centre distance", "C'", new.value, worn.extra),
    ]
    free = worn.extra_free
    if free is not None and abs(free.value - worn.extra.value) > 5e-6:
        assert small.drop_free is not None
        assert large.drop_free is not None
        done += [
            _centres(
                "Cf",
                "the same on the flanks alone, as if there were no floor",
                small=small.diameter_new - 2 * small.drop_free.value,
                large=large.diameter_new - 2 * large.drop_free.value,
                centres=new.value + free.value,
                u=None,
            ),
            _extra("xf", "extra centre distance on the flanks alone", "Cf", new.value, free),
        ]
    return done


def _extra(symbol: str, name: str, end: str, new: float, extra: Doubtful) -> FormulaLine:
    return _line(
        symbol,
        name,
        f"{symbol} = {end} − C",
        "{E} − {C}",
        lambda E, C: E - C,
        value=extra.value,
        scale=_MM,
        unit="mm",
        decimals=1,
        source=_GEOMETRY,
        validity=gettext("the cord keeps its length: the belt is narrow, not long"),
        u=extra.u,
        E=((new + extra.value) * _MM, 1),
        C=(new * _MM, 1),
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
            _line(
                f"wf{tag}",
                f"width at which it reaches the floor, {seat.name}",
                f"wf{tag} = W − 2 × tan(α{tag} / 2) × (h{tag} − t)",
                "{W} − 2 × tan({a}° / 2) × ({h} − {t})",
                lambda W, a, h, t: W - 2 * tan(radians(a) / 2) * (h - t),
                value=seat.width_bottoms,
                scale=_MM,
                unit="mm",
                decimals=1,
                source=_WEDGE,
                validity=gettext("belt not compressed"),
                warning=guess if seat.depth_guessed else "",
                W=(worn.width_new.value * _MM, 1),
                a=(degrees(seat.angle), 0),
                h=(seat.depth * _MM, 1),
                t=((seat.depth - room) * _MM, 2),
            )
        )
    if slot is None or given.centres is None or given.slot_out is None:
        return done
    if slot.travel_from_geometry:
        needed = slot.high - slot.left.value
        done.append(
            _line(
                "s",
                "take-up left",
                "s = A + o − C'",
                "{A} + {o} − {C}",
                lambda A, o, C: A + o - C,
                value=slot.left.value,
                scale=_MM,
                unit="mm",
                decimals=1,
                source=gettext("A: centre distance now, o: room left outwards; ") + _GEOMETRY,
                validity=gettext("slide along the line of centres"),
                u=slot.left.u,
                A=(given.centres * _MM, 1),
                o=(given.slot_out * _MM, 1),
                C=(needed * _MM, 1),
            )
        )
    if slot.since is not None:
        done.append(
            _line(
                "s",
                "take-up left",
                "s = o − xw",
                "{o} − {x}",
                lambda o, x: o - x,
                value=slot.left.value,
                scale=_MM,
                unit="mm",
                decimals=1,
                source=gettext(
                    "o: room left when the slot was read; xw: x now less x at the width of then"
                ),
                validity=gettext("belt tight when the slot was read"),
                u=slot.left.u,
                o=(given.slot_out * _MM, 1),
                x=(slot.since.value * _MM, 1),
            )
        )
    if slot.used_read is not None and given.slot_out_new is not None:
        done.append(
            _line(
                "xs",
                "take-up used, read on the slot",
                "xs = on − o",
                "{on} − {o}",
                lambda on, o: on - o,
                value=slot.used_read.value,
                scale=_MM,
                unit="mm",
                decimals=1,
                source=gettext("on: room left outwards when the belt was new, o: room left now"),
                validity=gettext("belt tight at both readings"),
                u=slot.used_read.u,
                on=(given.slot_out_new * _MM, 1),
                o=(given.slot_out * _MM, 1),
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
        _line(
            "ws",
            "width at which the slot ends",
            f"d' at this width and C at the end of the slot give L: {_LENGTH}",
            "2 × √({C}² − (({D} − {d}) / 2)²) + π × ({D} + {d}) / 2 "
            "+ ({D} − {d}) × asin(({D} − {d}) / (2 × {C}))",
            _belt_length,
            value=worn.width_ends_slot,
            scale=_MM,
            unit="mm",
            decimals=1,
            source=_GEOMETRY,
            validity=gettext("drops at this width, held by the floors; asin in radians"),
            check=(at_end * _MM, 1),
            d=(sunk[0] * _MM, 1),
            D=(sunk[1] * _MM, 1),
            C=(end * _MM, 1),
        )
    ]


# --- power ---------------------------------------------------------------------------------------


def _rated(rated: PowerPart) -> list[FormulaLine]:
    done = [
        _line(
            "Pd",
            "design power",
            "Pd = P × Ks",
            "{P} × {k}",
            lambda P, k: P * k,
            value=rated.design_power.value,
            scale=1e-3,
            unit="kW",
            decimals=3,
            source=rated.service_source,
            validity=gettext("Ks for the load, hours a day and start"),
            trust=Trust(rated.service_trust),
            u=rated.design_power.u,
            P=(rated.power * 1e-3, 2),
            k=(rated.service_factor, 1),
        )
    ]
    for one in rated.ratings:
        if one.each is None or one.basic is None:
            continue
        assert one.arc_factor is not None
        assert one.length_factor is not None
        title = power.METHODS[one.method].title
        done.append(
            _line(
                "P1",
                f"power of one belt, {title}",
                "P1 = P0 × Kθ × KL",
                "{P} × {k} × {l}",
                lambda P, k, l: P * k * l,
                value=one.each,
                scale=1e-3,
                unit="kW",
                decimals=2,
                source=one.source,
                validity=one.words,
                trust=Trust(one.trust),
                P=(one.basic * 1e-3, 3),
                k=(one.arc_factor, 3),
                l=(one.length_factor, 2),
            )
        )
        if one.method == rated.chosen and one.belts is not None:
            done.append(
                _line(
                    "N",
                    f"belts needed, {title}",
                    gettext("N = Pd / P1, rounded up"),
                    "{P} / {p}",
                    lambda P, p: P / p,
                    value=float(one.belts),
                    scale=1,
                    unit="belt" if one.belts == 1 else "belts",
                    decimals=0,
                    source=gettext(
                        "Mott, Machine Elements in Mechanical Design, 4th ed., Example 7-1"
                    ),
                    validity=one.words,
                    check=(rated.design_power.value / one.each, 2),
                    P=(rated.design_power.value * 1e-3, 3),
                    p=(one.each * 1e-3, 2),
                )
            )
    return done


# --- tension -------------------------------------------------------------------------------------


def _pulled(found: DriveWorkout, pulled: TensionPart) -> list[FormulaLine]:
    setting = pulled.this_belt or pulled.new_belt
    whose = gettext("this belt") if pulled.this_belt is not None else gettext("new belt")
    shape = found.geometry
    assert shape is not None
    done = [
        _line(
            "K",
            f"arc factor, {whose}",
            "K = 1.25 × (1 − 5^(−θ / 180))",
            "1.25 × (1 − 5^(−{a} / 180))",
            lambda a: 1.25 * (1 - 5 ** (-a / 180)),
            value=setting.arc_factor,
            scale=1,
            unit="",
            decimals=3,
            source=gettext(
                "5 to 1 design ratio; Machinery's Handbook, 31st ed., p. 2581, Table 12"
            ),
            validity="θ 83 to 180 degrees",
            trust=Trust.SECOND_HAND,
            a=(degrees(setting.wrap), 1),
        )
    ]
    for coefficient, required, method in (
        (450, setting.required_rma, tension.Method.RMA),
        (500, setting.required_theory, tension.Method.THEORY),
    ):
        fact = tension.COEFFICIENTS[method]
        done.append(
            _line(
                "Ts",
                f"tension of each strand, run-in, by {method}, {whose}",
                f"Ts = {coefficient} × (2.5 − K) / K × Pd / (N × v) + m × v²",
                f"{coefficient} × (2.5 − {{K}}) / {{K}} × {{P}} / ({{N}} × {{v}}) + {{m}} × {{v}}²",
                _static(coefficient),
                value=required,
                scale=1,
                unit="N",
                decimals=0,
                source=fact.source,
                validity=gettext("Pd in kW, v in m/s, m in kg/m"),
                trust=fact.trust,
                u=setting.required.u if method == setting.method else None,
                K=(setting.arc_factor, 3),
                P=(setting.design_power * 1e-3, 3),
                N=(setting.belts, 0),
                v=(setting.speed, 2),
                m=(setting.mass, 3),
            )
        )
    done += _band(setting, whose)
    if pulled.reading is not None:
        done += _readings(found, pulled.reading)
    done += _margin(pulled, shape, setting, whose, found)
    return done


def _static(coefficient: int) -> Callable[..., float]:
    def required(K: float, P: float, N: float, v: float, m: float) -> float:
        return coefficient * (2.5 - K) / K * P / (N * v) + m * v**2

    return required


def _band(setting: Setting, whose: str) -> list[FormulaLine]:
    low, high, _ = tension.BAND_FACTORS[tension.Stage(setting.stage)]
    done: list[FormulaLine] = []
    for word, symbol, factor, value in (
        (gettext("low end"), "Tl", low, setting.low),
        (gettext("high end"), "Th", high, setting.high),
    ):
        done.append(
            _line(
                symbol,
                f"tension band, {word}, {whose}, {setting.stage}",
                f"{symbol} = {factor.value:g} × Ts",
                "{k} × {T}",
                lambda k, T: k * T,
                value=value,
                scale=1,
                unit="N",
                decimals=0,
                source=factor.source,
                validity=gettext("belt {stage}").format(stage=setting.stage),
                trust=factor.trust,
                k=(factor.value, 1),
                T=(setting.required.value, 0),
            )
        )
    done.append(
        _line(
            "δ",
            f"press the span in by, {whose}",
            "δ = l / 64",
            "{l} / 64",
            lambda l: l / 64,
            value=setting.deflection,
            scale=_MM,
            unit="mm",
            decimals=1,
            source=_ARMY,
            validity=gettext("at the middle of the free span l"),
            trust=Trust.SEEN,
            l=(setting.span * _MM, 1),
        )
    )
    for word, value, force, frequency in (
        (gettext("low end"), setting.low, setting.force_low, setting.frequency_low),
        (gettext("high end"), setting.high, setting.force_high, setting.frequency_high),
    ):
        if force is not None and setting.stiffness is not None:
            done.append(_force(word, value, force, setting, whose))
        done.append(
            _line(
                "f",
                f"frequency of the plucked span, {word}, {whose}",
                "f = √(T / (4 × m × l²))",
                "√({T} / (4 × {m} × {l}²))",
                lambda T, m, l: sqrt(T / (4 * m * l**2)),
                value=frequency,
                scale=1,
                unit="Hz",
                decimals=0,
                source=_STRING,
                validity=gettext("l in m, first mode, belt at rest; stiffness left out"),
                T=(value, 0),
                m=(setting.mass, 3),
                l=(setting.span, 4),
            )
        )
    done.append(
        _line(
            "H",
            f"load on each shaft at the high end, {whose}",
            "H = 2 × N × T × sin(θ / 2)",
            "2 × {N} × {T} × sin({a}° / 2)",
            lambda N, T, a: 2 * N * T * sin(radians(a) / 2),
            value=setting.hub_load,
            scale=1,
            unit="N",
            decimals=0,
            source=gettext("sum of the strand tensions"),
            validity=gettext("at rest; compare with what the bearing may carry"),
            N=(setting.belts, 0),
            T=(setting.high, 0),
            a=(degrees(setting.wrap), 1),
        )
    )
    return done


def _force(word: str, value: float, force: float, setting: Setting, whose: str) -> FormulaLine:
    assert setting.stiffness is not None
    rma = setting.force_form == tension.StiffnessForm.RMA
    return _line(
        "F",
        f"force at mid-span, {word}, {whose}",
        "F = (T + Y × l / L) / 16" if rma else "F = (T + Y) / 16",
        "({T} + {Y} × {l} / {L}) / 16" if rma else "({T} + {Y}) / 16",
        (lambda T, Y, l, L: (T + Y * l / L) / 16) if rma else (lambda T, Y, l, L: (T + Y) / 16),
        value=force,
        scale=1,
        unit="N",
        decimals=1,
        source=gettext("{rma} and IP-22").format(rma=_RMA) if rma else _GB,
        validity=gettext("one belt, pressed in by l / 64"),
        trust=Trust.MEMORY,
        T=(value, 0),
        Y=(setting.stiffness, 1),
        l=(setting.span * _MM, 1),
        L=(setting.length * _MM, 1),
    )


def _readings(found: DriveWorkout, reading: Reading) -> list[FormulaLine]:
    if reading.tension.value == 0:
        return []
    given = found.given
    if reading.kind == "frequency":
        assert given.reading_frequency is not None
        return [
            _line(
                "T",
                "tension read, by frequency",
                "T = 4 × m × l² × f²",
                "4 × {m} × {l}² × {f}²",
                lambda m, l, f: 4 * m * l**2 * f**2,
                value=reading.tension.value,
                scale=1,
                unit="N",
                decimals=0,
                source=_STRING,
                validity=gettext("l in m, first mode, belt at rest; stiffness left out"),
                u=reading.tension.u,
                m=(reading.mass, 3),
                l=(reading.span, 4),
                f=(given.reading_frequency, 1),
            )
        ]
    return [_by_force(found, reading)]


def _by_force(found: DriveWorkout, reading: Reading) -> FormulaLine:
    given = found.given
    assert given.reading_force is not None
    assert reading.stiffness is not None
    rma = given.force_form == tension.StiffnessForm.RMA
    depth = reading.span / 64 if given.reading_depth is None else given.reading_depth
    inputs = {
        "F": (given.reading_force, 1),
        "Y": (reading.stiffness, 1),
        "l": (reading.span * _MM, 1),
        "q": (depth * _MM, 1),
    }
    if rma:
        inputs["L"] = (reading.length * _MM, 1)
    return _line(
        "T",
        "tension read, by force",
        "T = (F − Y × l / L / 16 × (64 × δ / l)³) × l / (4 × δ)"
        if rma
        else "T = (F − Y / 16 × 64 × δ / l) × l / (4 × δ)",
        "({F} − {Y} × {l} / {L} / 16 × (64 × {q} / {l})³) × {l} / (4 × {q})"
        if rma
        else "({F} − {Y} / 16 × 64 × {q} / {l}) × {l} / (4 × {q})",
        (lambda F, Y, l, q, L: (F - Y * l / L / 16 * (64 * q / l) ** 3) * l / (4 * q))
        if rma
        else (lambda F, Y, l, q: (F - Y / 16 * 64 * q / l) * l / (4 * q)),
        value=reading.tension.value,
        scale=1,
        unit="N",
        decimals=0,
        source=gettext("{rma} and IP-22").format(rma=_RMA) if rma else _GB,
        validity=gettext("one belt, pressed in by δ at the middle of the free span l"),
        trust=Trust.MEMORY,
        u=reading.tension.u,
        more=inputs,
    )


def _margin(
    pulled: TensionPart, shape: Geometry, setting: Setting, whose: str, found: DriveWorkout
) -> list[FormulaLine]:
    if pulled.this_belt is not None:
        margin, flat = pulled.slip_now, pulled.on_floor
    else:
        margin, flat = pulled.slip_new, False
    angle = pulled.groove_angle
    if margin is None or angle is None:
        return []
    held = (margin.tight + margin.slack) / 2
    wedge = "" if flat else " / sin(α / 2)"
    own = setting.mass * setting.speed**2
    done = [
        _line(
            "R",
            f"strand ratio at which it slips, {whose}",
            f"R = e^(μ × θ × π / 180{wedge})",
            "e^({m} × {t} × π / 180)" if flat else "e^({m} × {t} × π / 180 / sin({a}° / 2))",
            (lambda m, t: exp(m * t * pi / 180))
            if flat
            else (lambda m, t, a: exp(m * t * pi / 180 / sin(radians(a) / 2))),
            value=margin.limiting,
            scale=1,
            unit="",
            decimals=1,
            source=_FRICTION,
            validity=gettext("μ is an assumption unless measured"),
            trust=Trust.PRACTICE,
            m=(pulled.friction, 2),
            t=(degrees(setting.wrap), 1),
            more={} if flat else {"a": (degrees(angle), 0)},
        )
    ]
    if margin.margin <= 0:
        return done
    done.append(
        _line(
            "M",
            f"margin against slip at the design power, {whose}",
            "M = R × (T − Te/2 − m × v²) / (T + Te/2 − m × v²)",
            "{R} × ({T} − {p} / 2 − {q}) / ({T} + {p} / 2 − {q})",
            lambda R, T, p, q: R * (T - p / 2 - q) / (T + p / 2 - q),
            value=margin.margin,
            scale=1,
            unit="",
            decimals=1,
            source=gettext("Euler-Eytelwein belt friction, ") + _FRICTION,
            validity=gettext("below 1 it slips; T is the tension read, or else required"),
            trust=Trust.PRACTICE,
            R=(margin.limiting, 1),
            T=(held, 0),
            p=(setting.pull, 0),
            q=(own, 1),
        )
    )
    return done


# --- the driven side -----------------------------------------------------------------------------


def _turned(found: DriveWorkout) -> list[FormulaLine]:
    turned, shape, given = found.driven, found.geometry, found.given
    if turned is None or shape is None or given.motor_speed is None:
        return []
    done: list[FormulaLine] = []
    gear = driven.gear_ratio([driven.GearStage(a, b) for a, b in given.gears])
    for word, ratio, speed, output in (
        (gettext("new belt"), shape.ratio_new, turned.driven_new, turned.output_new),
        (gettext("worn belt"), shape.ratio_now, turned.driven_now, turned.output_now),
    ):
        if ratio is None or speed is None or output is None:
            continue
        done.append(
            _line(
                "n2",
                f"speed of the driven pulley, {word}",
                "n2 = n1 / i × (1 − s)",
                "{n} / {i} × (1 − {s})",
                lambda n, i, s: n / i * (1 - s),
                value=speed,
                scale=_RPM,
                unit="rpm",
                decimals=0,
                source=_MECHANICS,
                validity=gettext("slip s assumed unless counted"),
                trust=Trust.PRACTICE,
                n=(given.motor_speed * _RPM, 0),
                i=(ratio, 3),
                s=(turned.slip, 3),
            )
        )
        if given.gears:
            done.append(
                _line(
                    "n3",
                    f"speed behind the gears, {word}",
                    "n3 = n2 / ig",
                    "{n} / {g}",
                    lambda n, g: n / g,
                    value=output,
                    scale=_RPM,
                    unit="rpm",
                    decimals=1,
                    source=_MECHANICS,
                    validity=gettext("ig: product of teeth out / teeth in"),
                    n=(speed * _RPM, 0),
                    g=(gear, 2),
                )
            )
    return done


# --- the pulleys ---------------------------------------------------------------------------------


def alignment_lines(found: pulleys.Alignment) -> tuple[FormulaLine, ...]:
    """The working of an alignment, so that a calculator gives the same.

    Args:
        found: [m, rad] the alignment.

    Returns:
        [mm, degrees] a line each for offset, the belt's angle and the turn.

    Raises:
        Nothing.

    Source:
        Named in each line.
    """
    gaps = {"g1": (found.near * 1e3, 1), "g2": (found.far * 1e3, 1)}
    plane = gettext("geometry of two planes and a belt between them")
    at_first = abs(found.fleet) >= abs(found.turn - found.fleet)
    worst: tuple[str, Callable[..., float]]
    if at_first:
        worst = ("{f}", lambda f: f)
    elif found.turn > found.fleet:
        worst = ("{t} − {f}", lambda f, t: t - f)
    else:
        worst = ("{f} − {t}", lambda f, t: f - t)
    return (
        _line(
            "e",
            "offset of the pulleys",
            "e = (g1 + g2) / 2",
            "({g1} + {g2}) / 2",
            lambda g1, g2: (g1 + g2) / 2,
            value=found.offset.value,
            scale=1e3,
            unit="mm",
            decimals=1,
            source=gettext("g1, g2: gaps under the straight edge; {plane}").format(plane=plane),
            validity=gettext("faces as far from the grooves on both pulleys"),
            u=found.offset.u,
            more=gaps,
        ),
        _line(
            "φ",
            "angle of the belt to the first pulley",
            "φ = atan(e / l)",
            "atan({e} / {l}) × 180 / π",
            lambda e, l: degrees(atan(e / l)),
            value=found.fleet,
            scale=180 / pi,
            unit="°",
            decimals=2,
            source=gettext("l: free span; {plane}").format(plane=plane),
            validity=gettext("atan in radians"),
            more={"e": (found.offset.value * 1e3, 1), "l": (found.span * 1e3, 1)},
        ),
        _line(
            "θ",
            "turn of the second pulley",
            "θ = atan((g2 − g1) / a)",
            "atan(({g2} − {g1}) / {a}) × 180 / π",
            lambda g1, g2, a: degrees(atan((g2 - g1) / a)),
            value=found.turn,
            scale=180 / pi,
            unit="°",
            decimals=2,
            source=gettext("a: distance between the gaps; {plane}").format(plane=plane),
            validity=gettext("atan in radians"),
            more={**gaps, "a": (found.across * 1e3, 1)},
        ),
        _line(
            "ψ",
            "worst angle of the belt to a groove",
            "ψ = the larger of |φ| and |θ − φ|",
            *worst,
            value=found.worst.value,
            scale=180 / pi,
            unit="°",
            decimals=2,
            source=plane,
            validity=gettext("limit {limit}°, {source}").format(
                limit=f"{degrees(found.limit.value):.2f}", source=found.limit.source
            ),
            trust=found.limit.trust,
            u=found.worst.u,
            warning=gettext("out of line") if found.lies == pulleys.Lies.OVER else "",
            more={"f": (degrees(found.fleet), 2)}
            | ({} if at_first else {"t": (degrees(found.turn), 2)}),
        ),
    )


def forecast_lines(line: WearLine, *, ends: Limits, now: float) -> tuple[FormulaLine, ...]:
    """The working of how many hours a belt has left, so that a calculator gives the same.

    Args:
        line: [m/h, m] the line through its widths.
        ends: [m] the widths at which it comes to its end.
        now: [h] running hours now.

    Returns:
        [mm, h] the wear, the width on the line now, and the hours left to each end that is known;
        nothing for a line that is not believed or shows no wear.

    Raises:
        Nothing.

    Source:
        Named in each line; the intervals are those of forecast.when().
    """
    if not (line.believable and line.wears):
        return ()
    on_line, u = line.width_at(now)
    fall, begin = -line.slope * 1e5, line.intercept * 1e3
    straight = gettext("straight line through the widths, each counted by its own error")
    found = [
        FormulaLine(
            symbol="r",
            name="wear in 100 h of running",
            expression=gettext("fall of the line through {readings} widths").format(
                readings=line.readings
            ),
            figures="",
            result=_with_unit(fall, 2, "mm"),
            unit="mm",
            value=-line.slope,
            source=straight,
            validity=gettext("steady wear, after the belt has run in"),
            trust=str(Trust.COMPUTED),
            doubt=_doubt(sqrt(line.var_slope) * 1e5, 2, "mm"),
        ),
        _line(
            "wn",
            "width on the line now",
            "w0 − r × H / 100",
            "{begin} − {fall} × {hours} / 100",
            lambda begin, fall, hours: begin - fall * hours / 100,
            value=on_line,
            scale=1e3,
            unit="mm",
            decimals=1,
            source=straight,
            validity=gettext("w0: the line's width at 0 h, H: running hours now"),
            u=u,
            begin=(begin, 1),
            fall=(fall, 2),
            hours=(now, 1),
        ),
    ]
    for symbol, name, end, u_end in (
        ("Hs", gettext("hours left to the end of the slot"), ends.slot, ends.u_slot),
        ("Hf", gettext("hours left until it is on the floor"), ends.bottom, ends.u_bottom),
    ):
        if end is None:
            continue
        crossing = when(line, width_limit=end, now=now, u_limit=u_end)
        if crossing.left is None or crossing.early is None or crossing.late is None:
            continue
        late = f"{crossing.late - now:.0f} h" if isfinite(crossing.late) else gettext("no end")
        validity = (
            gettext("90 in 100: {early} to {late}")
            .format(early=f"{crossing.early - now:.0f}", late=late)
            .replace("-", "−")
        )
        found.append(
            _line(
                symbol, name, "100 × (wn − we) / r", "100 × ({on_line} − {end}) / {fall}",
                lambda on_line, end, fall: 100 * (on_line - end) / fall,
                value=crossing.left, scale=1, unit="h", decimals=0, source=straight,
                validity=gettext("we: width at that end; {validity}").format(validity=validity),
                on_line=(on_line * 1e3, 1), end=(end * 1e3, 1), fall=(fall, 2),
            )
        )  # fmt: skip
    return tuple(found)
