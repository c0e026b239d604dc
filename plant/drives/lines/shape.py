"""The lines of the shape of a drive: ratio, centre distance, belt speed."""

from math import asin, pi, sqrt

from plant.drives import geometry
from plant.drives.formula import FormulaLine
from plant.drives.lines.line import GEOMETRY, MECHANICS, MM, RPM, formula_line
from plant.drives.outcome import DriveWorkout, Geometry
from plant.translate import gettext, gettext_noop

LENGTH = "2 × √(C² − ((D − d)/2)²) + π × (D + d)/2 + (D − d) × asin((D − d)/(2 × C))"

_EFFECTIVE = gettext_noop("effective length that is tight at the centre distance now, new belt")
_TIGHT_NOW = {
    "datum": gettext_noop("datum length that is tight at the centre distance now, new belt"),
    "effective": _EFFECTIVE,
    "rim": _EFFECTIVE,
    "pitch": gettext_noop("pitch length that is tight at the centre distance now, new belt"),
}


def shape_lines(found: DriveWorkout, shape: Geometry) -> list[FormulaLine]:
    given = found.given
    assert given.driver is not None
    assert given.driven is not None
    small, large = sorted((given.driver, given.driven))
    done = [
        ratio_line("i", gettext("speed ratio, new belt"), driver=given.driver, driven=given.driven),
    ]
    at = shape.centres_new
    if at is not None:
        done.append(
            centres_line(
                "C",
                gettext("centre distance of a new belt of this length"),
                small=small,
                large=large,
                centres=at.value,
                u=at.u,
            )
        )
    if given.centres is not None and shape.length_for_centres is not None:
        done.append(
            formula_line(
                "Lc",
                gettext(_TIGHT_NOW[given.sized_at]),
                f"Lc = {LENGTH}",
                "2 × √({C}² − (({D} − {d}) / 2)²) + π × ({D} + {d}) / 2 "
                "+ ({D} − {d}) × asin(({D} − {d}) / (2 × {C}))",
                belt_length,
                value=shape.length_for_centres.value,
                scale=MM,
                unit="mm",
                decimals=0,
                source=GEOMETRY,
                validity=gettext("open belt; asin in radians"),
                u=shape.length_for_centres.u,
                d=(small * MM, 1),
                D=(large * MM, 1),
                C=(given.centres * MM, 1),
            )
        )
    if shape.speed_new is not None and given.motor_speed is not None:
        done.append(
            speed_line(
                "v",
                gettext("belt speed, new belt"),
                given.driver,
                given.motor_speed,
                shape.speed_new,
            )
        )
    if shape.passes_new is not None and shape.speed_new is not None and given.length is not None:
        done.append(
            formula_line(
                "B",
                gettext("bends of the belt in a second"),
                "B = 2 × v / L",
                "2 × {v} / {L}",
                lambda v, L: 2 * v / L,
                value=shape.passes_new,
                scale=1,
                unit="1/s",
                decimals=0,
                source=MECHANICS,
                validity=gettext("two pulleys"),
                v=(shape.speed_new, 2),
                L=(given.length, 3),
            )
        )
    return done


def belt_length(*, d: float, D: float, C: float) -> float:
    half = (D - d) / 2
    return 2 * sqrt(C**2 - half**2) + pi * (D + d) / 2 + (D - d) * asin(half / C)


def centres_line(
    symbol: str, name: str, *, small: float, large: float, centres: float, u: float | None
) -> FormulaLine:
    length = geometry.open_length(small=small, large=large, centres=centres)
    return formula_line(
        symbol,
        name,
        f"C such that {LENGTH} = L",
        "2 × √({C}² − (({D} − {d}) / 2)²) + π × ({D} + {d}) / 2 "
        "+ ({D} − {d}) × asin(({D} − {d}) / (2 × {C}))",
        belt_length,
        value=centres,
        scale=MM,
        unit="mm",
        decimals=1,
        source=GEOMETRY,
        validity=gettext("open belt, pulleys that do not touch; sag left out; asin in radians"),
        u=u,
        check=(length * MM, 1),
        d=(small * MM, 1),
        D=(large * MM, 1),
        C=(centres * MM, 1),
    )


def ratio_line(symbol: str, name: str, *, driver: float, driven: float) -> FormulaLine:
    return formula_line(
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
        D=(driven * MM, 1),
        d=(driver * MM, 1),
    )


def speed_line(symbol: str, name: str, diameter: float, shaft: float, value: float) -> FormulaLine:
    return formula_line(
        symbol,
        name,
        f"{symbol} = π × d × n / 60000",
        "π × {d} × {n} / 60000",
        lambda d, n: pi * d * n / 60000,
        value=value,
        scale=1,
        unit="m/s",
        decimals=2,
        source=MECHANICS,
        validity=gettext("d in mm, n in rpm; slip left out"),
        d=(diameter * MM, 1),
        n=(shaft * RPM, 0),
    )
