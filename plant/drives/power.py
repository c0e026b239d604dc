"""Power of a belt by each published method, kept apart; service factors and belt counts."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, cos, log10, pi
from types import MappingProxyType
from typing import TypeVar

from plant.drives.errors import DriveError, MixedMethods, NotSourced, OutOfRange, finite
from plant.drives.facts import Fact, Trust
from plant.drives.tension import design_arc_factor, flat_ratio, limiting_ratio, slip_margin
from plant.length_words import length_text
from plant.translate import gettext as _

_HP = 745.6998715822702  # [W] exact: 550 ft lbf/s
_INCH = 0.0254  # [m] exact
_FT_MIN = 0.3048 / 60  # [m/s] exact
_RPM = pi / 30  # [rad/s]
_Row = TypeVar("_Row")
_MOST_SPEED = 33.0  # [m/s] 6500 ft/min, the end of the printed rating tables


# --- the formulas and tables, each with the diameter that its own book means ---------------------


@dataclass(frozen=True, slots=True)
class _Four:
    """Constants K1 to K4 of the logarithmic rating form, inch and hp."""

    k1: float
    k2: float
    k3: float
    k4: float


# ANSI/RMA IP-20 (1988) and IP-22, as printed in Machinery's Handbook (from memory).
_RMA_1988: dict[str, _Four] = {
    "A": _Four(1.004, 1.652, 0.0001547, 0.2126),
    "AX": _Four(1.462, 2.239, 0.0002198, 0.4238),
    "B": _Four(1.769, 4.372, 0.0003081, 0.3658),
    "BX": _Four(2.051, 3.532, 0.0003097, 0.5735),
    "C": _Four(3.325, 12.07, 0.0005828, 0.6886),
    "CX": _Four(3.272, 6.655, 0.0005298, 0.8637),
    "D": _Four(7.160, 43.21, 0.001384, 1.454),
    "3V": _Four(1.1691, 1.5295, 0.00015229, 0.15960),
    "5V": _Four(3.3038, 7.7810, 0.00036432, 0.43343),
    "8V": _Four(8.6628, 49.323, 0.0015804, 1.1669),
}
# ANSI/RMA IP-20 (1977), as quoted in Shigley & Mischke, Mechanical Engineering Design, 5th ed.
# (from memory).
_RMA_1977: dict[str, _Four] = {
    "A": _Four(0.8542, 1.342, 0.0002436, 0.1703),
    "B": _Four(1.506, 3.520, 0.0004193, 0.2931),
    "C": _Four(2.786, 9.788, 0.0007460, 0.5214),
    "D": _Four(5.922, 34.72, 0.001522, 1.064),
    "E": _Four(8.642, 66.32, 0.002192, 1.532),
}
# Pitch diameter less datum diameter (classical, 2 hd) or less outside diameter (narrow) [in];
# ANSI/RMA IP-20 (1988) and IP-22 (from memory).
_TO_PITCH: dict[str, float] = {
    "A": 0.250, "AX": 0.250, "B": 0.350, "BX": 0.350, "C": 0.400, "CX": 0.400, "D": 0.600,
    "3V": -0.05, "5V": -0.10, "8V": -0.20,
}  # fmt: skip
_NARROW = ("3V", "5V", "8V")
# Lower ends of the ratio bands and their factor; ANSI/RMA IP-20 and IP-22 (from memory; the
# narrow bands, not the factors, were also seen on a maker's sheet).
_KSR_CLASSICAL = (
    (1.00, 1.02, 1.05, 1.08, 1.11, 1.15, 1.21, 1.28, 1.40, 1.65),
    (1.0, 1.0112, 1.0226, 1.0344, 1.0463, 1.0586, 1.0711, 1.0840, 1.0972, 1.1106),
)
_KSR_NARROW = (
    (1.00, 1.02, 1.06, 1.12, 1.19, 1.27, 1.39, 1.58, 1.95, 3.39),
    (1.0, 1.0096, 1.0266, 1.0473, 1.0655, 1.0805, 1.0956, 1.1089, 1.1198, 1.1278),
)


def rma_1988_power(
    *, section: str, pitch_diameter: float, shaft_speed: float, ratio: float = 1.0
) -> float:
    """Power of one belt by the form of 1988, at half a turn and the reference length.

    Args:
        section: [-] A, AX, B, BX, C, CX, D, 3V, 5V or 8V.
        pitch_diameter: [m] PITCH diameter of the small pulley, as the form means it.
        shaft_speed: [rad/s] speed of the faster shaft.
        ratio: [-] speed ratio, 1 or more.

    Returns:
        [W] rated power of one belt.

    Raises:
        NotSourced: no constants are held for this section.
        OutOfRange: the belt speed exceeds 33 m/s, the form gives no power, or a figure is
            outside its range.

    Source:
        ANSI/RMA IP-20 (1988) and IP-22 as printed in Machinery's Handbook (from memory).
        Example: worked_examples/rma_1988_power.toml.
    """
    constants = _held(_RMA_1988, section, "the RMA 1988 constants")
    return _logarithmic(
        constants,
        pitch_diameter=pitch_diameter,
        shaft_speed=shaft_speed,
        ratio=ratio,
        bands=_KSR_NARROW if section in _NARROW else _KSR_CLASSICAL,
    )


def rma_1977_power(
    *, section: str, pitch_diameter: float, shaft_speed: float, ratio: float = 1.0
) -> float:
    """Power of one belt by the form of 1977, at half a turn and the reference length.

    Args:
        section: [-] A, B, C, D or E.
        pitch_diameter: [m] old PITCH diameter, which is today's datum diameter.
        shaft_speed: [rad/s] speed of the faster shaft.
        ratio: [-] speed ratio, 1 or more.

    Returns:
        [W] rated power of one belt.

    Raises:
        NotSourced: no constants are held for this section.
        OutOfRange: the belt speed exceeds 33 m/s, the form gives no power, or a figure is
            outside its range.

    Source:
        ANSI/RMA IP-20 (1977), quoted in Shigley & Mischke, Mechanical Engineering Design,
        5th ed. (from memory).
    """
    return _logarithmic(
        _held(_RMA_1977, section, "the RMA 1977 constants"),
        pitch_diameter=pitch_diameter,
        shaft_speed=shaft_speed,
        ratio=ratio,
        bands=_KSR_CLASSICAL,
    )


def _held(table: dict[str, _Row], section: str, what: str) -> _Row:
    if section not in table:
        raise NotSourced(
            _("{what} are not held for section {section}; held: {table}").format(
                what=what, section=section, table=", ".join(table)
            )
        )
    return table[section]


def _small(diameter: float) -> float:
    return finite("small pulley", diameter, low=0.02, high=2, unit="m")


def _belt_speed(diameter: float, shaft_speed: float) -> float:
    finite("shaft speed", shaft_speed, low=0.1, high=1200, unit="rad/s")
    speed = _small(diameter) * shaft_speed / 2
    return finite("belt speed", speed, low=0.05, high=_MOST_SPEED, unit="m/s")


def _ratio(ratio: float) -> float:
    return finite("speed ratio", ratio, low=1, high=20, unit="")


def _positive(watts: float) -> float:
    if watts <= 0:
        raise OutOfRange(
            _(
                "the rating comes out at nothing: the pulley is too small or the belt too fast for "
                "this section; accepted: figures that give more than 0 W"
            )
        )
    return watts


def _logarithmic(
    constants: _Four,
    *,
    pitch_diameter: float,
    shaft_speed: float,
    ratio: float,
    bands: tuple[tuple[float, ...], tuple[float, ...]],
) -> float:
    _belt_speed(pitch_diameter, shaft_speed)
    d, r = pitch_diameter / _INCH, shaft_speed / _RPM / 1000
    ksr = bands[1][bisect_right(bands[0], _ratio(ratio)) - 1]
    c = constants
    basic = d * r * (c.k1 - c.k2 / d - c.k3 * (d * r) ** 2 - c.k4 * log10(d * r))
    return _positive((basic + c.k2 * r * (1 - 1 / ksr)) * _HP)


# X, Y, Z of the form of 1955 (from memory). E is left out: it does not reproduce the E column of
# Shigley's Table 17-12.
_FORM_1955: dict[str, tuple[float, float, float]] = {
    "A": (1.945, 3.801, 0.0136),
    "B": (3.434, 9.830, 0.0234),
    "C": (6.372, 26.948, 0.0416),
    "D": (13.616, 93.899, 0.0848),
}


def form_1955_power(*, section: str, diameter: float, speed: float) -> float:
    """Power of one belt by the form of 1955, at half a turn, ratio 1 and reference length.

    Args:
        section: [-] A, B, C or D.
        diameter: [m] pitch diameter of the small pulley (today's datum diameter).
        speed: [m/s] belt speed.

    Returns:
        [W] rated power of one belt.

    Raises:
        NotSourced: no constants are held for this section.
        OutOfRange: the speed exceeds 33 m/s, the form gives no power, or a figure is outside
            its range.

    Source:
        hp = X S^0.91 - Y S/d - Z S^3 with S in 1000 ft/min (from memory). It generates Shigley's
        Mechanical Engineering Design, Table 17-12, to 0.023 hp (A), 0.008 (B), 0.05 (C, D).
    """
    x, y, z = _held(_FORM_1955, section, "the 1955 constants")
    finite("belt speed", speed, low=0.05, high=_MOST_SPEED, unit="m/s")
    s = speed / _FT_MIN / 1000
    return _positive((x * s**0.91 - y * s / (_small(diameter) / _INCH) - z * s**3) * _HP)


_SHIGLEY_SPEEDS = (1000.0, 2000.0, 3000.0, 4000.0, 5000.0)  # [ft/min]
# Shigley's Mechanical Engineering Design, Table 17-12 (from memory, checked against the form of
# 1955): small pulley pitch diameter [in] -> hp per belt. The last row is that diameter and over.
_SHIGLEY_HP: dict[str, dict[float, tuple[float | None, ...]]] = {
    "A": {
        2.6: (0.47, 0.62, 0.53, 0.15, None),
        3.0: (0.66, 1.01, 1.12, 0.93, 0.38),
        3.4: (0.81, 1.31, 1.57, 1.53, 1.12),
        3.8: (0.93, 1.55, 1.92, 2.00, 1.71),
        4.2: (1.03, 1.74, 2.20, 2.38, 2.19),
        4.6: (1.11, 1.89, 2.44, 2.69, 2.58),
        5.0: (1.17, 2.03, 2.64, 2.96, 2.89),
    },
    "B": {
        4.2: (1.07, 1.58, 1.68, 1.26, 0.22),
        4.6: (1.27, 1.99, 2.29, 2.08, 1.24),
        5.0: (1.44, 2.33, 2.80, 2.76, 2.10),
        5.4: (1.59, 2.62, 3.24, 3.34, 2.82),
        5.8: (1.72, 2.87, 3.61, 3.85, 3.45),
        6.2: (1.82, 3.09, 3.94, 4.28, 4.00),
        6.6: (1.92, 3.29, 4.23, 4.67, 4.48),
        7.0: (2.01, 3.46, 4.49, 5.01, 4.90),
    },
    "C": {
        6.0: (1.84, 2.66, 2.72, 1.87, None),
        7.0: (2.48, 3.94, 4.64, 4.44, 3.12),
        8.0: (2.96, 4.90, 6.09, 6.36, 5.52),
        9.0: (3.34, 5.65, 7.21, 7.86, 7.39),
        10.0: (3.64, 6.25, 8.11, 9.06, 8.89),
        11.0: (3.88, 6.74, 8.84, 10.0, 10.1),
        12.0: (4.09, 7.15, 9.46, 10.9, 11.1),
    },
}


def shigley_table_power(*, section: str, diameter: float, speed: float) -> float:
    """Power of one belt from the printed table, straight lines between its entries.

    Args:
        section: [-] A, B or C.
        diameter: [m] pitch diameter of the small pulley; above the last row that row holds.
        speed: [m/s] belt speed, 5.08 to 25.4 m/s (1000 to 5000 ft/min).

    Returns:
        [W] rated power of one belt at half a turn, ratio 1 and reference length.

    Raises:
        NotSourced: no table is held for this section.
        OutOfRange: outside the table, which is not carried on beyond its ends.

    Source:
        Budynas & Nisbett, Shigley's Mechanical Engineering Design, Table 17-12 (from memory).
    """
    table = _held(_SHIGLEY_HP, section, "the entries of Table 17-12")
    rows = tuple(table)
    inches = min(_small(diameter) / _INCH, rows[-1])
    return (
        _grid(
            rows=rows,
            columns=_SHIGLEY_SPEEDS,
            cells=tuple(table.values()),
            row=_end("small pulley", inches, rows, "in"),
            column=_end("belt speed", speed / _FT_MIN, _SHIGLEY_SPEEDS, "ft/min"),
        )
        * _HP
    )


def _end(name: str, value: float, ends: Sequence[float], unit: str) -> float:
    """The value, lifted off a rounding of 1e-9 beyond the table's ends; refused further out."""
    finite(name, value, low=ends[0] * (1 - 1e-9), high=ends[-1] * (1 + 1e-9), unit=unit)
    return min(max(value, ends[0]), ends[-1])


def _grid(
    *,
    rows: Sequence[float],
    columns: Sequence[float],
    cells: Sequence[Sequence[float | None]],
    row: float,
    column: float,
) -> float:
    """Straight-line value between the four entries round a point of a printed table."""
    i, up = _place(rows, row)
    j, across = _place(columns, column)
    total = 0.0
    for r, share_r in ((i, 1 - up), (i + 1, up)):
        for c, share_c in ((j, 1 - across), (j + 1, across)):
            # A speed of 1500.0000000000002 rpm stands in the row of 1500, not in an empty one.
            if share_r * share_c < 1e-9:
                continue
            cell = cells[r][c]
            if cell is None:
                raise OutOfRange(
                    _("the printed table leaves this corner empty: too fast for the size")
                )
            total += share_r * share_c * cell
    return total


def _place(axis: Sequence[float], value: float) -> tuple[int, float]:
    i = min(max(bisect_right(axis, value) - 1, 0), len(axis) - 2)
    return i, (value - axis[i]) / (axis[i + 1] - axis[i])


# Faires, Design of Machine Elements, 4th ed., Table 17.3: a, c, e (A, C, D seen; B from memory).
_FAIRES: dict[str, tuple[float, float, float]] = {
    "A": (2.684, 5.326, 0.0136),
    "B": (4.737, 13.962, 0.0234),
    "C": (8.792, 38.819, 0.0416),
    "D": (18.788, 137.7, 0.0848),
}
# Faires, 4th ed., Table 17.4: lower ends of the ratio bands; Kd rises by 0.01 from 1.00 (from
# memory; 1.14 in the last band agrees with the worked example).
_FAIRES_KD = (
    1.000, 1.020, 1.033, 1.056, 1.082, 1.110, 1.143, 1.179, 1.223, 1.275, 1.341, 1.430, 1.563,
    1.815, 2.949,
)  # fmt: skip


def faires_small_diameter_factor(*, ratio: float) -> float:
    """Factor by which a speed ratio lets a small pulley count as a larger one.

    Args:
        ratio: [-] speed ratio, 1 to 20.

    Returns:
        [-] Kd, 1.00 to 1.14.

    Raises:
        OutOfRange: the ratio is below 1 or over 20.

    Source:
        Faires, Design of Machine Elements, 4th ed., Table 17.4 (from memory).
    """
    return 1 + (bisect_right(_FAIRES_KD, _ratio(ratio)) - 1) / 100


def faires_power(
    *, section: str, diameter: float, speed: float, small_diameter_factor: float = 1.0
) -> float:
    """Power of one belt by Faires' equation, at half a turn and the reference length.

    Args:
        section: [-] A, B, C or D.
        diameter: [m] pitch diameter of the small pulley.
        speed: [m/s] belt speed.
        small_diameter_factor: [-] Kd, 1.00 to 1.14.

    Returns:
        [W] rated power of one belt.

    Raises:
        NotSourced: no constants are held for this section.
        OutOfRange: the speed exceeds 33 m/s, the form gives no power, or a figure is outside
            its range.

    Source:
        Faires, Design of Machine Elements, 4th ed., Table 17.3 and its equation (seen for A, C
        and D; B from memory). Example: worked_examples/faires_power.toml.
    """
    a, c, e = _held(_FAIRES, section, "Faires' constants")
    finite("belt speed", speed, low=0.05, high=_MOST_SPEED, unit="m/s")
    finite("small-diameter factor", small_diameter_factor, low=1, high=1.14, unit="")
    v, d = speed / _FT_MIN, _small(diameter) / _INCH
    hp = (a * (1000 / v) ** 0.09 - c / (small_diameter_factor * d) - e * v**2 / 1e6) * v / 1000
    return _positive(hp * _HP)


_GB_SPEEDS = (700.0, 800.0, 950.0, 1200.0, 1450.0, 1600.0, 2000.0, 2400.0, 2800.0)  # [rpm]
# The Z table's third column is headed 960.
_GB_SPEEDS_Z = (700.0, 800.0, 960.0, 1200.0, 1450.0, 1600.0, 2000.0, 2400.0, 2800.0)
# GB/T 13575.1-1992, as in Pu Lianggui, Mechanical Design, Table 8-4a (from memory):
# datum diameter [mm] -> kW per belt.
_GB_KW: dict[str, dict[float, tuple[float, ...]]] = {
    "Z": {
        50.0: (0.09, 0.10, 0.12, 0.14, 0.16, 0.17, 0.20, 0.22, 0.26),
        56.0: (0.11, 0.12, 0.14, 0.17, 0.19, 0.20, 0.25, 0.30, 0.33),
        63.0: (0.13, 0.15, 0.18, 0.22, 0.25, 0.27, 0.32, 0.37, 0.41),
        71.0: (0.17, 0.20, 0.23, 0.27, 0.30, 0.33, 0.39, 0.46, 0.50),
        80.0: (0.20, 0.22, 0.26, 0.30, 0.35, 0.39, 0.44, 0.50, 0.56),
    },
    "A": {
        75.0: (0.40, 0.45, 0.51, 0.60, 0.68, 0.73, 0.84, 0.92, 1.00),
        90.0: (0.61, 0.68, 0.77, 0.93, 1.07, 1.15, 1.34, 1.50, 1.64),
        100.0: (0.74, 0.83, 0.95, 1.14, 1.32, 1.42, 1.66, 1.87, 2.05),
        112.0: (0.90, 1.00, 1.15, 1.39, 1.61, 1.74, 2.04, 2.30, 2.51),
        125.0: (1.07, 1.19, 1.37, 1.66, 1.92, 2.07, 2.44, 2.74, 2.98),
        140.0: (1.26, 1.41, 1.62, 1.96, 2.28, 2.45, 2.87, 3.22, 3.48),
        160.0: (1.51, 1.69, 1.95, 2.36, 2.73, 2.94, 3.42, 3.80, 4.06),
        180.0: (1.76, 1.97, 2.27, 2.74, 3.16, 3.40, 3.93, 4.32, 4.54),
    },
}
_GB_RATIOS = (1.00, 1.02, 1.05, 1.09, 1.13, 1.19, 1.25, 1.35, 1.52, 2.00)
# The same book, Table 8-4b: increment for the ratio, A only, kW (from memory). None is held for
# Z, which is then rated as at ratio 1: the careful side.
_GB_EXTRA_A: tuple[tuple[float, ...], ...] = (
    (0.0,) * 9,
    (0.01, 0.01, 0.01, 0.02, 0.02, 0.02, 0.03, 0.03, 0.04),
    (0.02, 0.02, 0.03, 0.03, 0.04, 0.04, 0.06, 0.07, 0.08),
    (0.03, 0.03, 0.04, 0.05, 0.06, 0.06, 0.08, 0.10, 0.11),
    (0.04, 0.04, 0.05, 0.07, 0.08, 0.09, 0.11, 0.13, 0.15),
    (0.05, 0.05, 0.06, 0.08, 0.09, 0.11, 0.13, 0.16, 0.19),
    (0.06, 0.06, 0.07, 0.10, 0.11, 0.13, 0.16, 0.19, 0.23),
    (0.07, 0.08, 0.08, 0.11, 0.13, 0.15, 0.19, 0.23, 0.26),
    (0.08, 0.09, 0.10, 0.13, 0.15, 0.17, 0.22, 0.26, 0.30),
    (0.09, 0.10, 0.11, 0.15, 0.17, 0.19, 0.24, 0.29, 0.34),
)


def gb_table_power(
    *, section: str, diameter: float, shaft_speed: float, ratio: float = 1.0
) -> float:
    """Power of one belt from the GB/T tables, straight lines between their entries.

    Args:
        section: [-] Z or A.
        diameter: [m] datum diameter of the small pulley: Z 50 to 80, A 75 to 180 mm.
        shaft_speed: [rad/s] speed of the small pulley, 700 to 2800 rpm.
        ratio: [-] speed ratio; its increment is held for A only.

    Returns:
        [W] rated power of one belt at half a turn and the reference length.

    Raises:
        NotSourced: no table is held for this section.
        OutOfRange: outside the table, which is not carried on beyond its ends.

    Source:
        GB/T 13575.1-1992, as in Pu Lianggui, Mechanical Design, Tables 8-4a and 8-4b
        (from memory; no second copy to check against).
    """
    table = _held(_GB_KW, section, "the GB/T 13575.1 ratings")
    speeds = _GB_SPEEDS_Z if section == "Z" else _GB_SPEEDS
    rows = tuple(table)
    rpm = _end("speed", shaft_speed / _RPM, speeds, "rpm")
    kw = _grid(
        rows=rows,
        columns=speeds,
        cells=tuple(table.values()),
        row=_end("small pulley", diameter * 1000, rows, "mm"),
        column=rpm,
    )
    band = bisect_right(_GB_RATIOS, _ratio(ratio)) - 1
    if section == "A":
        i, across = _place(speeds, rpm)
        extra = _GB_EXTRA_A[band]
        kw += extra[i] * (1 - across) + extra[i + 1] * across
    return kw * 1000


_SPA_DIAMETERS = (
    90.0, 100.0, 106.0, 112.0, 118.0, 132.0, 150.0, 170.0, 190.0, 212.0, 236.0, 250.0,
)  # fmt: skip
# Speed of the small pulley [rpm] -> kW per belt; one maker's sheet, maker not named (seen,
# second hand).
_SPA_KW: dict[float, tuple[float | None, ...]] = {
    100.0: (0.26, 0.33, 0.37, 0.41, 0.46, 0.55, 0.68, 0.82, 0.95, 1.10, 1.27, 1.36),
    500.0: (1.02, 1.34, 1.54, 1.73, 1.92, 2.37, 2.94, 3.56, 4.18, 4.86, 5.59, 6.02),
    1000.0: (1.79, 2.41, 2.78, 3.15, 3.51, 4.36, 5.43, 6.60, 7.76, 9.01, 10.36, 11.13),
    1500.0: (2.45, 3.35, 3.88, 4.41, 4.93, 6.14, 7.66, 9.32, 10.93, 12.65, 14.45, 15.47),
    3000.0: (3.88, 5.47, 6.40, 7.31, 8.21, 10.22, 12.65, 15.11, 17.30, 19.36, None, None),
}


def spa_table_power(*, diameter: float, shaft_speed: float) -> float:
    """Power of one SPA belt from one maker's table, straight lines between its entries.

    Args:
        diameter: [m] datum diameter of the small pulley, 90 to 250 mm.
        shaft_speed: [rad/s] speed of the small pulley, 100 to 3000 rpm.

    Returns:
        [W] rated power of one belt at half a turn, ratio 1 and reference length.

    Raises:
        OutOfRange: outside the table, which is not carried on beyond its ends.

    Source:
        Basic power table of one belt maker, maker not named (seen, second hand). Between 1500
        and 3000 rpm the straight line reads low.
    """
    rows = tuple(_SPA_KW)
    return 1000 * _grid(
        rows=rows,
        columns=_SPA_DIAMETERS,
        cells=tuple(_SPA_KW.values()),
        row=_end("speed", shaft_speed / _RPM, rows, "rpm"),
        column=_end("small pulley", diameter * 1000, _SPA_DIAMETERS, "mm"),
    )


# --- arc factors ---------------------------------------------------------------------------------

# Machinery's Handbook, 31st ed., p. 2581, Table 12 (seen): (D - d)/C, V-V, V-flat. The rows 0.20
# and 0.80 could not be read and are left out.
_TABLE_12 = (
    (0.0, 0.1, 0.3, 0.4, 0.5, 0.6, 0.7, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5),
    (1.00, 0.99, 0.96, 0.94, 0.93, 0.91, 0.89, 0.85, 0.82, 0.80, 0.77, 0.73, 0.70, 0.65),
    (0.75, 0.76, 0.79, 0.80, 0.81, 0.83, 0.84, 0.85, 0.82, 0.80, 0.77, 0.73, 0.70, 0.65),
)


def arc_factor_by_ratio(*, ratio: float, flat_large: bool = False) -> float:
    """Arc factor from (D - d)/C, as the handbook prints it.

    Args:
        ratio: [-] difference of the diameters over the centre distance, 0 to 1.5.
        flat_large: [-] True where the large pulley is flat (V-flat drive).

    Returns:
        [-] factor on the rating.

    Raises:
        OutOfRange: the ratio is outside 0 to 1.5; the table is not carried on.

    Source:
        Machinery's Handbook, 31st ed., p. 2581, Table 12 (seen). Example:
        worked_examples/arc_factor.toml.
    """
    finite("(D - d)/C", ratio, low=0, high=1.5, unit="")
    i, up = _place(_TABLE_12[0], ratio)
    column = _TABLE_12[2 if flat_large else 1]
    return column[i] * (1 - up) + column[i + 1] * up


def arc_factor_by_degrees(*, wrap: float) -> float:
    """Arc factor from the contact angle, by the curve under Shigley's table.

    Args:
        wrap: [rad] contact angle on the small pulley, 90 to 180 degrees.

    Returns:
        [-] factor on the rating.

    Raises:
        OutOfRange: the wrap is outside 90 to 180 degrees.

    Source:
        Budynas & Nisbett, Shigley's Mechanical Engineering Design, Table 17-13, footnote
        (from memory).
    """
    degrees = wrap * 180 / pi
    finite("wrap", degrees, low=90 * (1 - 1e-9), high=180 * (1 + 1e-9), unit="degrees")
    return 0.143543 + 0.007468 * degrees - 0.000015052 * degrees**2


# GB/T 13575.1, as in Pu Lianggui, Mechanical Design, Table 8-5 (from memory).
_GB_ARC = (
    (90.0, 95.0, 100.0, 105.0, 110.0, 115.0, 120.0, 125.0, 130.0, 135.0, 140.0, 145.0, 150.0,
     155.0, 160.0, 165.0, 170.0, 175.0, 180.0),
    (0.69, 0.72, 0.74, 0.76, 0.78, 0.80, 0.82, 0.84, 0.86, 0.88, 0.89, 0.91, 0.92, 0.93, 0.95,
     0.96, 0.98, 0.99, 1.00),
)  # fmt: skip


def _arc_by_table_12(wrap: float) -> float:
    # (D - d)/C = 2 cos(wrap/2) exactly, since wrap = pi - 2 asin((D - d)/(2 C)).
    finite("wrap", wrap, low=0, high=pi * (1 + 1e-9), unit="rad")
    return arc_factor_by_ratio(ratio=max(2 * cos(wrap / 2), 0.0))


def _arc_by_gb(wrap: float) -> float:
    degrees = _end("wrap", wrap * 180 / pi, _GB_ARC[0], "degrees")
    i, up = _place(_GB_ARC[0], degrees)
    return _GB_ARC[1][i] * (1 - up) + _GB_ARC[1][i + 1] * up


# --- length factors ------------------------------------------------------------------------------

# ANSI/RMA IP-20: code number -> factor. A 26 to 48 and 90 to 112, B 35 to 48 and 90 to 112 seen in
# a pulley maker's brochure (second hand); all others from memory.
_RMA_LENGTHS: dict[str, dict[float, float]] = {
    "A": {
        26: 0.81, 31: 0.84, 32: 0.85, 33: 0.86, 35: 0.87, 38: 0.88, 42: 0.90, 46: 0.92, 48: 0.93,
        51: 0.94, 55: 0.96, 60: 0.98, 68: 1.00, 75: 1.02, 80: 1.04, 85: 1.05, 90: 1.06, 96: 1.08,
        105: 1.10, 112: 1.11, 120: 1.13, 128: 1.14,
    },
    "B": {
        35: 0.81, 38: 0.83, 42: 0.85, 46: 0.87, 48: 0.88, 51: 0.89, 55: 0.90, 60: 0.92, 68: 0.95,
        75: 0.97, 81: 0.98, 85: 0.99, 90: 1.00, 97: 1.02, 105: 1.04, 112: 1.05, 120: 1.07,
        128: 1.08, 144: 1.11, 158: 1.13, 173: 1.15, 180: 1.16, 195: 1.18, 210: 1.19,
    },
    "C": {
        51: 0.80, 60: 0.82, 68: 0.85, 75: 0.87, 81: 0.89, 85: 0.90, 90: 0.91, 96: 0.92, 105: 0.94,
        112: 0.95, 120: 0.97, 128: 0.98, 144: 1.00, 158: 1.02, 173: 1.04, 180: 1.05, 195: 1.07,
        210: 1.08,
    },
    "D": {
        120: 0.86, 128: 0.87, 144: 0.90, 158: 0.92, 173: 0.93, 180: 0.94, 195: 0.96, 210: 0.96,
    },
}  # fmt: skip
# ANSI/RMA IP-22 (from memory): effective length [in] -> factor. 5V 100 in = 0.96 agrees with
# Mott, Machine Elements in Mechanical Design, 4th ed., Example 7-1.
_NARROW_LENGTHS: dict[str, dict[float, float]] = {
    "3V": {
        25: 0.83, 28: 0.85, 31.5: 0.87, 35.5: 0.89, 40: 0.92, 45: 0.94, 50: 0.96, 56: 0.98,
        63: 1.00, 71: 1.02, 80: 1.04, 90: 1.07, 100: 1.09, 112: 1.11, 125: 1.13, 140: 1.15,
    },
    "5V": {
        50: 0.85, 56: 0.87, 63: 0.89, 71: 0.91, 80: 0.93, 90: 0.95, 100: 0.96, 112: 0.98,
        125: 1.00, 140: 1.02, 160: 1.04, 180: 1.06, 200: 1.08,
    },
    "8V": {
        100: 0.87, 112: 0.88, 125: 0.90, 140: 0.92, 160: 0.94, 180: 0.95, 200: 0.97, 224: 0.98,
        250: 1.00, 280: 1.02, 315: 1.03, 355: 1.05, 400: 1.07, 450: 1.09, 500: 1.10,
    },
}  # fmt: skip
# Code number in inches = (datum length - offset) / 25.4 mm; Machinery's Handbook, 31st ed.,
# p. 2575, Table 8 (A, B, C seen; to 210 in).
_RMA_OFFSET_IN = {"A": 1.3, "B": 1.8, "C": 2.9, "D": 3.3, "E": 4.5}
# Half an inch step and the length tolerance of a short belt together; same table, +/- 0.6 in.
_CODE_SLACK = 0.6

# Shigley's Mechanical Engineering Design, Table 17-14 (from memory): upper end of each band of
# nominal inside length [in]. Between two bands the lower factor is taken.
_SHIGLEY_FACTORS = (0.85, 0.90, 0.95, 1.00, 1.05, 1.10, 1.15, 1.20)
_SHIGLEY_BANDS: dict[str, tuple[float, ...]] = {
    # lower ends of the bands 0.90 and up; below the first one 0.85 holds
    "A": (38, 48, 60, 78, 96, 120),
    "B": (48, 62, 78, 105, 128, 158, 195),
    "C": (81, 105, 128, 162, 210, 270, 330),
    "D": (144, 173, 240, 270, 360, 480, 540),
}
# GB/T 13575.1-2008, as in Pu Lianggui, Mechanical Design (from memory): datum length [mm].
_GB_LENGTHS: dict[str, dict[float, float]] = {
    "Z": {
        406: 0.87, 475: 0.90, 530: 0.93, 625: 0.96, 700: 0.99, 780: 1.00, 920: 1.04, 1080: 1.07,
        1330: 1.13, 1420: 1.14, 1540: 1.15,
    },
    "A": {
        630: 0.81, 700: 0.83, 790: 0.85, 890: 0.87, 990: 0.89, 1100: 0.91, 1250: 0.93, 1430: 0.96,
        1550: 0.98, 1640: 0.99, 1750: 1.00, 1940: 1.02, 2050: 1.04, 2200: 1.06, 2300: 1.07,
        2480: 1.09, 2700: 1.10,
    },
}  # fmt: skip


def code_number(*, section: str, length: float) -> float:
    """Inch number that a classical belt of a datum length would carry.

    Args:
        section: [-] A, B, C, D or E, cogged or not.
        length: [m] datum length.

    Returns:
        [in] nominal inside length; not rounded.

    Raises:
        NotSourced: no offset is held for this section.
        OutOfRange: the length is not within 0.3 to 25 m.

    Source:
        Machinery's Handbook, 31st ed., p. 2575, Table 8 (seen for A, B and C; numbers to 210).
    """
    finite("belt length", length, low=0.3, high=25, unit="m")
    plain = section.rstrip("X")
    if plain not in _RMA_OFFSET_IN:
        raise NotSourced(_("no inch number is held for section {section}").format(section=section))
    return length / _INCH - _RMA_OFFSET_IN[plain]


def _in_table(name: str, table: dict[float, float], value: float, unit: str, slack: float) -> float:
    ends = tuple(table)
    finite(name, value, low=ends[0] - slack, high=ends[-1] + slack, unit=unit)
    value = min(max(value, ends[0]), ends[-1])
    i, up = _place(ends, value)
    factors = tuple(table.values())
    return factors[i] * (1 - up) + factors[i + 1] * up


def _length_by_rma(section: str, length: float, code: float | None) -> float:
    if section in _NARROW_LENGTHS:
        inches = length / _INCH if code is None else code
        return _in_table("effective length", _NARROW_LENGTHS[section], inches, "in", _CODE_SLACK)
    table = _held(_RMA_LENGTHS, section.rstrip("X"), "the RMA length factors")
    number = code_number(section=section, length=length) if code is None else code
    return _in_table("inch number", table, number, "in", _CODE_SLACK)


def _length_by_shigley(section: str, length: float, code: float | None) -> float:
    bands = _held(_SHIGLEY_BANDS, section, "the factors of Table 17-14")
    number = code_number(section=section, length=length) if code is None else code
    finite("inch number", number, low=15, high=660, unit="in")
    # Worked back from a length, a number may sit a little under the step that the belt carries.
    step = number if code is not None else number + _CODE_SLACK
    return _SHIGLEY_FACTORS[bisect_right(bands, step)]


def _length_by_gb(section: str, length: float, code: float | None) -> float:
    table = _held(_GB_LENGTHS, section, "the GB/T length factors")
    return _in_table("datum length", table, length * 1000, "mm", 0.0)


# --- methods: a rating, its factors and its source stay together ---------------------------------


@dataclass(frozen=True, slots=True)
class Rating:
    """Power of one belt [W] at half a turn and reference length, bound to its method."""

    watts: float
    section: str
    method: "PowerMethod"


@dataclass(frozen=True, slots=True)
class Factor:
    """A correction [-] bound to the method that it belongs to."""

    value: float
    kind: str
    method: "PowerMethod"
    source: str
    trust: Trust


@dataclass(frozen=True, slots=True)
class BeltPower:
    """Corrected power of one belt; it cannot be put together from two methods."""

    rating: Rating
    arc: Factor
    length: Factor

    def __post_init__(self) -> None:
        for factor in (self.arc, self.length):
            if factor.method is not self.rating.method:
                raise MixedMethods(
                    _(
                        "the {kind} factor is of {of_factor}, the rating of {of_rating}: they "
                        "are not made for each other"
                    ).format(
                        kind=factor.kind,
                        of_factor=factor.method.title,
                        of_rating=self.rating.method.title,
                    )
                )

    @property
    def watts(self) -> float:
        """Power of one belt [W], arc and length counted."""
        return self.rating.watts * self.arc.value * self.length.value

    @property
    def method(self) -> "PowerMethod":
        """The method that all three parts belong to."""
        return self.rating.method


@dataclass(frozen=True, slots=True, eq=False)
class PowerMethod:
    """One published way to rate a belt, whole: its rating, its factors, its source."""

    key: str
    title: str
    sections: tuple[str, ...]
    source: str
    trust: Trust
    validity: str
    arc_source: str
    arc_trust: Trust
    length_source: str
    length_trust: Trust
    _rating: Callable[[str, float, float, float], float]
    _arc: Callable[[float], float]
    _length: Callable[[str, float, float | None], float]

    def rating(
        self, *, section: str, small: float, shaft_speed: float, ratio: float = 1.0
    ) -> Rating:
        """Rates one belt at half a turn and the reference length.

        Args:
            section: [-] belt section.
            small: [m] datum diameter of the small pulley (narrow inch: outside diameter).
            shaft_speed: [rad/s] speed of the small pulley's shaft.
            ratio: [-] speed ratio, 1 or more.

        Returns:
            [W] the rating, bound to this method.

        Raises:
            NotSourced: this method does not hold the section.
            OutOfRange: outside the range for which the method is printed.

        Source:
            ``source`` of this method.
        """
        if section not in self.sections:
            raise NotSourced(
                _("{title} does not rate section {section}; it rates {sections}").format(
                    title=self.title, section=section, sections=", ".join(self.sections)
                )
            )
        return Rating(self._rating(section, small, shaft_speed, ratio), section, self)

    def arc_factor(self, *, wrap: float) -> Factor:
        """This method's correction for a contact angle below half a turn.

        Args:
            wrap: [rad] contact angle on the small pulley.

        Returns:
            [-] the factor, bound to this method.

        Raises:
            OutOfRange: outside the printed range; nothing is carried on beyond it.
            NotSourced: the method's own factors are not held.

        Source:
            ``arc_source`` of this method.
        """
        return Factor(self._arc(wrap), "arc", self, self.arc_source, self.arc_trust)

    def length_factor(self, *, section: str, length: float, code: float | None = None) -> Factor:
        """This method's correction for the length of the belt.

        Args:
            section: [-] belt section.
            length: [m] datum length (narrow inch: effective length).
            code: [in] the inch number that stands on the belt; None works it out.

        Returns:
            [-] the factor, bound to this method.

        Raises:
            OutOfRange: outside the printed range; nothing is carried on beyond it.
            NotSourced: the method's own factors are not held for this section.

        Source:
            ``length_source`` of this method.
        """
        return Factor(
            self._length(section, length, code),
            "length",
            self,
            self.length_source,
            self.length_trust,
        )

    def per_belt(
        self,
        *,
        section: str,
        small: float,
        shaft_speed: float,
        ratio: float,
        wrap: float,
        length: float,
        code: float | None = None,
    ) -> BeltPower:
        """Power of one belt in its drive, rating and factors all of this method.

        Args:
            section: [-] belt section.
            small: [m] datum diameter of the small pulley (narrow inch: outside diameter).
            shaft_speed: [rad/s] speed of the small pulley's shaft.
            ratio: [-] speed ratio, 1 or more.
            wrap: [rad] contact angle on the small pulley.
            length: [m] datum length of the belt (narrow inch: effective length).
            code: [in] the inch number that stands on the belt; None works it out.

        Returns:
            [W] corrected power with the parts that make it up. For a joined belt this is one
            strand (common practice, no source).

        Raises:
            NotSourced: a part of the method is not held for this section.
            OutOfRange: outside the range for which a part is printed.

        Source:
            ``source``, ``arc_source`` and ``length_source`` of this method.
        """
        return BeltPower(
            self.rating(section=section, small=small, shaft_speed=shaft_speed, ratio=ratio),
            self.arc_factor(wrap=wrap),
            self.length_factor(section=section, length=length, code=code),
        )


def _rate_rma_1988(section: str, small: float, shaft_speed: float, ratio: float) -> float:
    pitch = _small(small) + _TO_PITCH[section] * _INCH
    return rma_1988_power(
        section=section, pitch_diameter=pitch, shaft_speed=shaft_speed, ratio=ratio
    )


def _rate_rma_1977(section: str, small: float, shaft_speed: float, ratio: float) -> float:
    return rma_1977_power(
        section=section, pitch_diameter=small, shaft_speed=shaft_speed, ratio=ratio
    )


def _rate_1955(section: str, small: float, shaft_speed: float, ratio: float) -> float:
    _ratio(ratio)
    return form_1955_power(section=section, diameter=small, speed=_belt_speed(small, shaft_speed))


def _rate_shigley(section: str, small: float, shaft_speed: float, ratio: float) -> float:
    _ratio(ratio)
    return shigley_table_power(
        section=section, diameter=small, speed=_belt_speed(small, shaft_speed)
    )


def _rate_faires(section: str, small: float, shaft_speed: float, ratio: float) -> float:
    return faires_power(
        section=section,
        diameter=small,
        speed=_belt_speed(small, shaft_speed),
        small_diameter_factor=faires_small_diameter_factor(ratio=ratio),
    )


def _rate_gb(section: str, small: float, shaft_speed: float, ratio: float) -> float:
    return gb_table_power(section=section, diameter=small, shaft_speed=shaft_speed, ratio=ratio)


def _rate_spa(section: str, small: float, shaft_speed: float, ratio: float) -> float:
    _ratio(ratio)
    return spa_table_power(diameter=small, shaft_speed=shaft_speed)


def _no_arc(wrap: float) -> float:
    raise NotSourced(_("this maker's own arc factors are not held; only the bare rating is given"))


def _no_length(section: str, length: float, code: float | None) -> float:
    raise NotSourced(
        _("this maker's own length factors are not held; only the bare rating is given")
    )


_IP20 = "ANSI/RMA IP-20 (1988) and IP-22, as printed in Machinery's Handbook"
_KL_IP20 = "ANSI/RMA IP-20 and IP-22 length factors; short and long A and B seen second hand"
_T12 = "Machinery's Handbook, 31st ed., p. 2581, Table 12"
_T13 = "Shigley's Mechanical Engineering Design, Table 17-13, footnote"
_T14 = "Shigley's Mechanical Engineering Design, Table 17-14"
_PU = "Pu Lianggui, Mechanical Design"

METHODS: MappingProxyType[str, PowerMethod] = MappingProxyType(
    {
        method.key: method
        for method in (
            PowerMethod(
                "rma-1988", "RMA 1988", tuple(_RMA_1988), _IP20, Trust.MEMORY,
                "belt speed to 33 m/s; 3V, 5V and 8V doubtful",
                _T12, Trust.SEEN, _KL_IP20, Trust.MEMORY,
                _rate_rma_1988, _arc_by_table_12, _length_by_rma,
            ),
            PowerMethod(
                "rma-1977", "RMA 1977", tuple(_RMA_1977),
                "ANSI/RMA IP-20 (1977), in Shigley & Mischke, Mechanical Engineering Design, 5th"
                " ed.",
                Trust.MEMORY, "belt speed to 33 m/s", _T13, Trust.MEMORY, _T14, Trust.MEMORY,
                _rate_rma_1977, lambda wrap: arc_factor_by_degrees(wrap=wrap), _length_by_shigley,
            ),
            PowerMethod(
                "form-1955", "form of 1955", tuple(_FORM_1955),
                "form behind Shigley's Mechanical Engineering Design, Table 17-12", Trust.MEMORY,
                "belt speed to 33 m/s; no increment for the ratio",
                _T13, Trust.MEMORY, _T14, Trust.MEMORY,
                _rate_1955, lambda wrap: arc_factor_by_degrees(wrap=wrap), _length_by_shigley,
            ),
            PowerMethod(
                "shigley", "Shigley Table 17-12", tuple(_SHIGLEY_HP),
                "Budynas & Nisbett, Shigley's Mechanical Engineering Design, Table 17-12",
                Trust.MEMORY, "5.08 to 25.4 m/s (1000 to 5000 ft/min); no increment for the ratio",
                _T13, Trust.MEMORY, _T14, Trust.MEMORY,
                _rate_shigley, lambda wrap: arc_factor_by_degrees(wrap=wrap), _length_by_shigley,
            ),
            PowerMethod(
                "faires", "Faires", tuple(_FAIRES),
                "Faires, Design of Machine Elements, 4th ed., Tables 17.3 and 17.4", Trust.MEMORY,
                "belt speed to 33 m/s",
                "Faires, 4th ed., Table 17.5; the figures of Machinery's Handbook, p. 2581",
                Trust.MEMORY,
                "Faires, 4th ed., Table 17.6; the figures of ANSI/RMA IP-20", Trust.MEMORY,
                _rate_faires, _arc_by_table_12, _length_by_rma,
            ),
            PowerMethod(
                "gb", "GB/T 13575.1", tuple(_GB_KW),
                f"GB/T 13575.1-1992, in {_PU}, Tables 8-4a and 8-4b", Trust.MEMORY,
                "700 to 2800 rpm; Z 50 to 80 mm, A 75 to 180 mm",
                f"{_PU}, Table 8-5", Trust.MEMORY,
                f"GB/T 13575.1-2008, in {_PU}", Trust.MEMORY,
                _rate_gb, _arc_by_gb, _length_by_gb,
            ),
            PowerMethod(
                "spa-maker", "SPA table of one maker", ("SPA",),
                "basic power table of one belt maker, maker not named", Trust.SECOND_HAND,
                "100 to 3000 rpm, 90 to 250 mm; bare rating, no factors",
                "not held", Trust.SECOND_HAND, "not held", Trust.SECOND_HAND,
                _rate_spa, _no_arc, _no_length,
            ),
        )
    }
)  # fmt: skip


def method(key: str) -> PowerMethod:
    """The rating method of a key.

    Args:
        key: [-] one of the keys of ``METHODS``.

    Returns:
        [-] the method.

    Raises:
        NotSourced: there is no such method.

    Source:
        Each method names its own.
    """
    if key not in METHODS:
        raise NotSourced(
            _("no rating method {key} is held; held: {methods}").format(
                key=f"{key!r}", methods=", ".join(METHODS)
            )
        )
    return METHODS[key]


def methods_for(section: str) -> tuple[PowerMethod, ...]:
    """The methods that rate a section.

    Args:
        section: [-] belt section.

    Returns:
        [-] the methods; empty where nothing published is held (SPZ, SPB, SPC, light duty,
        ribbed): ``wedge_capacity`` then still says what friction can carry.

    Raises:
        Nothing; an unknown section has no method.

    Source:
        Each method names its own.
    """
    return tuple(found for found in METHODS.values() if section in found.sections)


@dataclass(frozen=True, slots=True)
class Compared:
    """One method's answer, or why it gives none."""

    method: PowerMethod
    power: BeltPower | None
    refusal: str


def compare(
    *,
    section: str,
    small: float,
    shaft_speed: float,
    ratio: float,
    wrap: float,
    length: float,
    code: float | None = None,
) -> tuple[Compared, ...]:
    """Asks every method that rates a section; they differ by up to a factor of two.

    Args:
        section: [-] belt section.
        small: [m] datum diameter of the small pulley (narrow inch: outside diameter).
        shaft_speed: [rad/s] speed of the small pulley's shaft.
        ratio: [-] speed ratio, 1 or more.
        wrap: [rad] contact angle on the small pulley.
        length: [m] datum length of the belt (narrow inch: effective length).
        code: [in] the inch number that stands on the belt; None works it out.

    Returns:
        [W] one answer or refusal for each method, never mixed.

    Raises:
        NotSourced: no method rates the section.

    Source:
        Each method names its own.
    """
    found = methods_for(section)
    if not found:
        raise NotSourced(
            _(
                "no published rating is held for section {section}; what friction "
                "can carry at a given tension can still be worked out"
            ).format(section=section)
        )
    answers: list[Compared] = []
    for each in found:
        try:
            power = each.per_belt(
                section=section,
                small=small,
                shaft_speed=shaft_speed,
                ratio=ratio,
                wrap=wrap,
                length=length,
                code=code,
            )
        except DriveError as refused:
            answers.append(Compared(each, None, str(refused)))
        else:
            answers.append(Compared(each, power, ""))
    return tuple(answers)


# --- service factors, design power, number of belts ----------------------------------------------

_HOURS = (5.0, 10.0, 24.0)  # upper ends of the bands of hours a day
# ANSI/RMA IP-20, service factors (from memory): normal torque, then high starting torque.
_SERVICE: dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "uniform": ((1.0, 1.1, 1.2), (1.1, 1.2, 1.3)),
    "medium": ((1.1, 1.2, 1.3), (1.2, 1.3, 1.4)),
    "heavy": ((1.2, 1.3, 1.4), (1.4, 1.5, 1.6)),
    "extra heavy": ((1.3, 1.4, 1.5), (1.5, 1.6, 1.8)),
}
_IDLERS = {
    "none": 0.0,
    "inside slack": 0.0,
    "outside slack": 0.1,
    "inside tight": 0.1,
    "outside tight": 0.2,
}
# Which load class a machine is put in: common practice, no source.
MACHINE_LOADS: dict[str, str] = {
    "centrifugal pump": "uniform",
    "light fan": "uniform",
    "belt conveyor": "medium",
    "site saw": "medium",
    "rotary pump": "medium",
    "vibrating screen": "medium",
    "generator": "medium",
    "concrete mixer": "heavy",
    "mortar mixer": "heavy",
    "piston compressor": "heavy",
    "piston pump": "heavy",
    "plate compactor": "heavy",
    "bucket elevator": "heavy",
    "crusher": "extra heavy",
    "hoist": "extra heavy",
    "breaker": "extra heavy",
}


def service_factor(
    *, load: str, hours_a_day: float, high_torque: bool, idler: str = "none"
) -> Fact:
    """Factor by which the power is raised for the kind of work.

    Args:
        load: [-] "uniform", "medium", "heavy" or "extra heavy"; see ``MACHINE_LOADS``.
        hours_a_day: [h] running hours a day; between the printed bands the longer one counts.
        high_torque: [-] high starting torque: single-phase motor started under load,
            single-cylinder engine, clutch start.
        idler: [-] "none", "inside slack", "outside slack", "inside tight" or "outside tight".

    Returns:
        [-] the factor with its source.

    Raises:
        OutOfRange: no such class or idler, or hours outside 0 to 24.

    Source:
        ANSI/RMA IP-20, service factors (from memory). Placing small plant in a class is common
        practice, no source.
    """
    if load not in _SERVICE:
        raise OutOfRange(
            _("no load class {load}; accepted: {service}").format(
                load=f"{load!r}", service=", ".join(_SERVICE)
            )
        )
    if idler not in _IDLERS:
        raise OutOfRange(
            _("no idler place {idler}; accepted: {idlers}").format(
                idler=f"{idler!r}", idlers=", ".join(_IDLERS)
            )
        )
    finite("hours a day", hours_a_day, low=0, high=24, unit="h")
    band = bisect_left(_HOURS, hours_a_day)
    value = _SERVICE[load][1 if high_torque else 0][band] + _IDLERS[idler]
    return Fact(round(value, 2), _("ANSI/RMA IP-20, service factors"), Trust.MEMORY)


# Shigley's Mechanical Engineering Design, Table 17-15 (from memory): normal, high torque.
_SHIGLEY_SERVICE: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    "uniform": ((1.0, 1.2), (1.1, 1.3)),
    "light shock": ((1.1, 1.3), (1.2, 1.4)),
    "medium shock": ((1.2, 1.4), (1.4, 1.6)),
    "heavy shock": ((1.3, 1.5), (1.5, 1.8)),
}


def shigley_service_range(*, load: str, high_torque: bool) -> tuple[float, float]:
    """Range of service factors as Shigley's table gives it.

    Args:
        load: [-] "uniform", "light shock", "medium shock" or "heavy shock".
        high_torque: [-] high starting torque.

    Returns:
        [-] low and high end of the factor.

    Raises:
        OutOfRange: no such class.

    Source:
        Shigley's Mechanical Engineering Design, Table 17-15 (from memory).
    """
    if load not in _SHIGLEY_SERVICE:
        raise OutOfRange(
            _("no load class {load}; accepted: {shigley_service}").format(
                load=f"{load!r}", shigley_service=", ".join(_SHIGLEY_SERVICE)
            )
        )
    return _SHIGLEY_SERVICE[load][1 if high_torque else 0]


def design_power(*, power: float, service_factor: float) -> float:
    """Power that the belts are chosen for.

    Args:
        power: [W] power of the motor or engine, or what the machine takes.
        service_factor: [-] factor for the kind of work, 1.0 to 2.0.

    Returns:
        [W] the product.

    Raises:
        OutOfRange: the power is not within 0 to 1 MW or the factor not within 1.0 to 2.0.

    Source:
        ANSI/RMA IP-20 (from memory).
    """
    finite("power", power, low=0, high=1e6, unit="W")
    return power * finite("service factor", service_factor, low=1, high=2, unit="")


@dataclass(frozen=True, slots=True)
class BeltsNeeded:
    """How many belts carry the design power."""

    count: int  # whole belts, at least one
    exact: float  # [-] before rounding up
    use: float  # [-] share of the belts' power that is used


def belts_needed(*, design_power: float, per_belt: BeltPower | float) -> BeltsNeeded:
    """Number of belts for a design power.

    Args:
        design_power: [W] power times service factor.
        per_belt: [W] corrected power of one belt (or of one strand of a joined belt); a
            ``BeltPower`` keeps its method, a plain figure is the caller's own.

    Returns:
        [-] whole belts, the exact quotient and the share used.

    Raises:
        OutOfRange: the design power is not within 0 to 2 MW, or a belt carries nothing.

    Source:
        Mott, Machine Elements in Mechanical Design, 4th ed., Example Problem 7-1: the quotient
        rounded up. Example: worked_examples/belts_needed.toml.
    """
    finite("design power", design_power, low=0, high=2e6, unit="W")
    watts = per_belt.watts if isinstance(per_belt, BeltPower) else per_belt
    finite("power of one belt", watts, low=1, high=1e6, unit="W")
    exact = design_power / watts
    # A quotient that is whole but for rounding is that whole number.
    count = max(ceil(exact * (1 - 1e-12)), 1)
    return BeltsNeeded(count, exact, exact / count)


def belts_from_print(
    *, design_power: float, rating: float, arc_factor: float, length_factor: float, source: str
) -> BeltsNeeded:
    """Number of belts from figures read off one printed chart.

    Args:
        design_power: [W] power times service factor.
        rating: [W] basic power of one belt, as printed.
        arc_factor: [-] as printed by the same source.
        length_factor: [-] as printed by the same source.
        source: [-] the one chart that all three figures stand on.

    Returns:
        [-] whole belts, the exact quotient and the share used.

    Raises:
        OutOfRange: a figure is outside its range.
        NotSourced: the source is not named.

    Source:
        Mott, Machine Elements in Mechanical Design, 4th ed., Example Problem 7-1. Example:
        worked_examples/belts_from_print.toml.
    """
    if not source.strip():
        raise NotSourced(_("name the one chart that rating and factors were read from"))
    finite("rating", rating, low=1, high=1e6, unit="W")
    finite("arc factor", arc_factor, low=0.4, high=1.0, unit="")
    finite("length factor", length_factor, low=0.5, high=1.5, unit="")
    return belts_needed(design_power=design_power, per_belt=rating * arc_factor * length_factor)


# --- what friction can carry ---------------------------------------------------------------------

# Friction of a V-belt's flank on iron: an assumption, shown as one wherever it is used.
ASSUMED_MU = Fact(0.3, "friction of a V-belt on a dry groove, assumed", Trust.PRACTICE)


@dataclass(frozen=True, slots=True)
class WedgeCapacity:
    """What friction in the groove can carry, one belt, at a point just short of slip."""

    watts: float  # [W]
    pull: float  # [N] greatest effective pull
    tight: float  # [N] tight strand at that point, m v^2 counted in
    slack: float  # [N] slack strand at that point, m v^2 counted in
    limiting: float  # [-] strand ratio at slip
    trust: Trust  # of the friction figure that it stands on


def wedge_capacity(
    *,
    tension: float,
    mass: float,
    speed: float,
    mu: float,
    wrap: float,
    groove_angle: float,
    on_floor: bool = False,
    mu_trust: Trust = Trust.PRACTICE,
) -> WedgeCapacity:
    """Power at which a belt of a given static tension begins to slip.

    This says when it slips, not how long it lasts: it stands in for no rating.

    Args:
        tension: [N] static tension of each strand, one belt.
        mass: [kg/m] mass of one belt for each metre.
        speed: [m/s] belt speed.
        mu: [-] friction, an assumption unless measured; see ``ASSUMED_MU``.
        wrap: [rad] contact angle on the small pulley.
        groove_angle: [rad] included angle of its groove.
        on_floor: [-] True when the belt has bottomed.
        mu_trust: [-] how far the friction figure is to be trusted.

    Returns:
        [W, N] power and strand tensions of one belt at slip.

    Raises:
        OutOfRange: a figure is outside its range.

    Source:
        Euler-Eytelwein belt friction in a wedge; Baker and Haynes, Engineering Statics: Open
        and Interactive, section 9.5; strands at static tension plus and minus half of the pull.
    """
    found = slip_margin(
        tension=tension,
        pull=0.0,
        mass=mass,
        speed=speed,
        mu=mu,
        wrap=wrap,
        groove_angle=groove_angle,
        on_floor=on_floor,
    )
    pull = found.most_pull
    return WedgeCapacity(
        pull * speed, pull, tension + pull / 2, tension - pull / 2, found.limiting, mu_trust
    )


def strength_capacity(
    *,
    most_tension: float,
    mass: float,
    speed: float,
    mu: float,
    wrap: float,
    groove_angle: float,
    on_floor: bool = False,
    mu_trust: Trust = Trust.PRACTICE,
) -> WedgeCapacity:
    """Power at slip when the tight strand is at the most that the belt may bear.

    Args:
        most_tension: [N] greatest tension of the tight strand, such as stress times area.
        mass: [kg/m] mass of one belt for each metre.
        speed: [m/s] belt speed.
        mu: [-] friction, an assumption unless measured.
        wrap: [rad] contact angle on the small pulley.
        groove_angle: [rad] included angle of its groove.
        on_floor: [-] True when the belt has bottomed.
        mu_trust: [-] how far the friction figure is to be trusted.

    Returns:
        [W, N] power and strand tensions of one belt.

    Raises:
        OutOfRange: a figure is outside its range, or m v^2 alone takes up all of the tension.

    Source:
        Khurmi and Gupta, A Textbook of Machine Design, V-belt drives (inputs seen, answers from
        memory). Example: worked_examples/strength_capacity.toml.
    """
    finite("greatest tension", most_tension, low=0, high=50e3, unit="N")
    finite("mass", mass, low=0, high=3, unit="kg/m")
    finite("belt speed", speed, low=0, high=60, unit="m/s")
    own = mass * speed**2
    if own >= most_tension:
        raise OutOfRange(
            _(
                "at {speed} m/s the belt's own mass takes up {own} N, all that it "
                "may bear ({most_tension} N); accepted: a slower belt"
            ).format(speed=f"{speed:g}", own=f"{own:.0f}", most_tension=f"{most_tension:g}")
        )
    limit = (
        flat_ratio(mu=mu, wrap=wrap)
        if on_floor
        else limiting_ratio(mu=mu, wrap=wrap, groove_angle=groove_angle)
    )
    slack = (most_tension - own) / limit
    pull = most_tension - own - slack
    return WedgeCapacity(pull * speed, pull, most_tension, slack + own, limit, mu_trust)


# --- limits --------------------------------------------------------------------------------------

# Belt speed [m/s] to look twice at, and above which pulleys need balancing; then passes a second.
SPEED_LIMITS: dict[str, tuple[Fact, Fact]] = {
    "classical": (
        Fact(25.0, "belt speed, classical, low end of the usual limit", Trust.MEMORY),
        Fact(30.0, "belt speed, classical; also seen on one maker's sheet", Trust.SECOND_HAND),
    ),
    "narrow": (
        Fact(35.0, "belt speed, narrow, low end of the usual limit", Trust.MEMORY),
        Fact(40.0, "belt speed, narrow", Trust.MEMORY),
    ),
    "cogged": (
        Fact(42.0, "belt speed, cogged", Trust.MEMORY),
        Fact(42.0, "belt speed, cogged", Trust.MEMORY),
    ),
}
RIM_SPEED = Fact(33.0, "cast-iron rims, 6500 ft/min", Trust.MEMORY)
PASS_LIMITS: dict[str, Fact] = {
    "classical": Fact(80.0, "bends a second, classical", Trust.MEMORY),
    "narrow": Fact(100.0, "bends a second, narrow", Trust.MEMORY),
    "cogged": Fact(120.0, "bends a second, cogged", Trust.MEMORY),
}
_LIMIT_FAMILY = {
    "classical": "classical",
    "light duty": "classical",
    "narrow": "narrow",
    "inch narrow": "narrow",
    "cogged": "cogged",
    "narrow cogged": "cogged",
}


@dataclass(frozen=True, slots=True)
class LimitWarning:
    """A limit of the trade that a drive passes, in words."""

    words: str
    value: float  # [SI] the drive's figure
    limit: Fact  # [SI] what it passes


def limit_warnings(
    *,
    family: str,
    speed: float,
    length: float,
    pulleys: int = 2,
    small: float | None = None,
    min_diameter: Fact | None = None,
) -> tuple[LimitWarning, ...]:
    """Says where a drive runs too fast, bends too often or over too small a pulley.

    Args:
        family: [-] "classical", "light duty", "narrow", "inch narrow", "cogged" or
            "narrow cogged".
        speed: [m/s] belt speed.
        length: [m] length of the belt.
        pulleys: [-] number of pulleys that the belt bends over.
        small: [m] datum diameter of the smallest pulley; None leaves it out.
        min_diameter: [m] smallest pulley for the section; None leaves it out.

    Returns:
        [-] one warning for each limit passed; empty when none is.

    Raises:
        NotSourced: no limits are held for the family.
        OutOfRange: a figure is outside its range.

    Source:
        Limits from memory, 30 m/s also seen on one maker's sheet; smallest pulleys as the
        ``Fact`` given says.
    """
    if family not in _LIMIT_FAMILY:
        raise NotSourced(
            _("no speed limits are held for {family} belts; held: {limit_family}").format(
                family=family, limit_family=", ".join(_LIMIT_FAMILY)
            )
        )
    finite("belt speed", speed, low=0, high=100, unit="m/s")
    finite("belt length", length, low=0.05, high=25, unit="m")
    finite("pulleys", pulleys, low=2, high=20, unit="pulleys")
    kind = _LIMIT_FAMILY[family]
    said: list[LimitWarning] = []
    look, most = SPEED_LIMITS[kind]
    if speed > most.value:
        said.append(
            LimitWarning(
                _(
                    "The belt runs at {speed} m/s; over {most} m/s pulleys have to be "
                    "balanced and the rims made for it."
                ).format(speed=f"{speed:.1f}", most=f"{most.value:g}"),
                speed,
                most,
            )
        )
    elif speed > look.value:
        said.append(
            LimitWarning(
                _(
                    "The belt runs at {speed} m/s, near the limit for {kind} belts "
                    "({look} to {most} m/s)."
                ).format(
                    speed=f"{speed:.1f}", kind=kind, look=f"{look.value:g}", most=f"{most.value:g}"
                ),
                speed,
                look,
            )
        )
    if speed > RIM_SPEED.value:
        said.append(
            LimitWarning(
                _(
                    "Cast-iron rims are good to {rim_speed} m/s only; this runs at {speed} m/s."
                ).format(rim_speed=f"{RIM_SPEED.value:g}", speed=f"{speed:.1f}"),
                speed,
                RIM_SPEED,
            )
        )
    bends = pulleys * speed / length
    if bends > PASS_LIMITS[kind].value:
        said.append(
            LimitWarning(
                _(
                    "The belt bends {bends} times a second; {pass_limits} is the usual "
                    "limit for {kind} belts."
                ).format(
                    bends=f"{bends:.0f}", pass_limits=f"{PASS_LIMITS[kind].value:g}", kind=kind
                ),
                bends,
                PASS_LIMITS[kind],
            )
        )
    if small is not None and min_diameter is not None and small < min_diameter.value:
        said.append(
            LimitWarning(
                _(
                    "The small pulley is {small}; the smallest for this section is "
                    "{min_diameter}. The belt will run hot and crack early."
                ).format(
                    small=length_text(small, 0), min_diameter=length_text(min_diameter.value, 0)
                ),
                small,
                min_diameter,
            )
        )
    return tuple(said)


def arc_factor(*, wrap: float) -> float:
    """Arc factor that follows from the 5 to 1 design ratio; belongs to the tension sums.

    Args:
        wrap: [rad] contact angle on the small pulley.

    Returns:
        [-] 1.25 (1 - 5^(-wrap/pi)).

    Raises:
        OutOfRange: the wrap is not within 80 degrees to two pi.

    Source:
        Belt-maker formula sheet, tight/slack = 5 at half a turn (seen, second hand). For a
        power rating take the factor of the rating's own method.
    """
    return design_arc_factor(wrap=wrap)
