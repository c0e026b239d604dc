"""The lines of the driven side."""

from plant.drives import driven
from plant.drives.facts import Trust
from plant.drives.formula import FormulaLine
from plant.drives.lines.line import MECHANICS, RPM, formula_line
from plant.drives.outcome import DriveWorkout
from plant.translate import gettext


def driven_lines(found: DriveWorkout) -> list[FormulaLine]:
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
            formula_line(
                "n2",
                gettext("speed of the driven pulley, {word}").format(word=word),
                "n2 = n1 / i × (1 − s)",
                "{n} / {i} × (1 − {s})",
                lambda n, i, s: n / i * (1 - s),
                value=speed,
                scale=RPM,
                unit="rpm",
                decimals=0,
                source=MECHANICS,
                validity=gettext("slip s assumed unless counted"),
                trust=Trust.PRACTICE,
                n=(given.motor_speed * RPM, 0),
                i=(ratio, 3),
                s=(turned.slip, 3),
            )
        )
        if given.gears:
            done.append(
                formula_line(
                    "n3",
                    gettext("speed behind the gears, {word}").format(word=word),
                    "n3 = n2 / ig",
                    "{n} / {g}",
                    lambda n, g: n / g,
                    value=output,
                    scale=RPM,
                    unit="rpm",
                    decimals=1,
                    source=MECHANICS,
                    validity=gettext("ig: product of teeth out / teeth in"),
                    n=(speed * RPM, 0),
                    g=(gear, 2),
                )
            )
    return done
