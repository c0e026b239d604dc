"""The working, line by line, so that a calculator gives the same last printed figure."""

from plant.drives.formula import FormulaLine
from plant.drives.outcome import DriveWorkout


def lines(found: DriveWorkout) -> tuple[FormulaLine, ...]:
    return ()
