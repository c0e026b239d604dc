"""The working, line by line, so that a calculator gives the same last printed figure."""

from collections.abc import Callable
from math import atan, degrees, isfinite, pi, sqrt

from plant.drives import pulleys
from plant.drives.facts import Trust
from plant.drives.forecast import WearLine, when
from plant.drives.formula import FormulaLine
from plant.drives.life import Limits
from plant.drives.lines.driven import driven_lines
from plant.drives.lines.line import doubt_text, formula_line, with_unit
from plant.drives.lines.power import power_lines
from plant.drives.lines.shape import shape_lines
from plant.drives.lines.tension import reading_lines, tension_lines
from plant.drives.lines.wear import wear_lines
from plant.drives.outcome import DriveWorkout
from plant.translate import gettext


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
        done += shape_lines(found, found.geometry)
    if found.wear is not None and found.geometry is not None:
        done += wear_lines(found, found.wear, found.geometry)
    if found.power is not None:
        done += power_lines(found.power)
    if found.tension is not None:
        done += tension_lines(found, found.tension)
    if found.unjudged is not None:
        done += reading_lines(found, found.unjudged)
    done += driven_lines(found)
    return tuple(done)


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
        formula_line(
            "e",
            gettext("offset of the pulleys"),
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
        formula_line(
            "φ",
            gettext("angle of the belt to the first pulley"),
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
        formula_line(
            "θ",
            gettext("turn of the second pulley"),
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
        formula_line(
            "ψ",
            gettext("worst angle of the belt to a groove"),
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
            name=gettext("wear in 100 h of running"),
            expression=gettext("fall of the line through {readings} widths").format(
                readings=line.readings
            ),
            figures="",
            result=with_unit(fall, 2, "mm"),
            unit="mm",
            value=-line.slope,
            source=straight,
            validity=gettext("steady wear, after the belt has run in"),
            trust=str(Trust.COMPUTED),
            doubt=doubt_text(sqrt(line.var_slope) * 1e5, 2, "mm"),
        ),
        formula_line(
            "wn",
            gettext("width on the line now"),
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
            formula_line(
                symbol, name, "100 × (wn − we) / r", "100 × ({on_line} − {end}) / {fall}",
                lambda on_line, end, fall: 100 * (on_line - end) / fall,
                value=crossing.left, scale=1, unit="h", decimals=0, source=straight,
                validity=gettext("we: width at that end; {validity}").format(validity=validity),
                on_line=(on_line * 1e3, 1), end=(end * 1e3, 1), fall=(fall, 2),
            )
        )  # fmt: skip
    return tuple(found)
