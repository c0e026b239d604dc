"""One line of working, as screen, paper and command print it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FormulaLine:
    """A formula with the figures put in, so that a fitter with a calculator gets the same.

    All fields are text ready to print, in the unit named; ``value`` is the SI result behind it.

    symbol: what is worked out ("y1"); name: in words ("drop in the small pulley's groove");
    expression: the formula in symbols; figures: the same with numbers put in;
    result: the printed result with its unit ("4.25 mm"), doubt: "± 0.6 mm" or empty;
    unit: the unit of the printed result; value: [SI] the unrounded result;
    source: published source; validity: the range for which the line holds;
    trust: one of the words of ``facts.Trust``; warning: empty, or what to take care of.
    """

    symbol: str
    name: str
    expression: str
    figures: str
    result: str
    unit: str
    value: float
    source: str
    validity: str
    trust: str = "computed"
    doubt: str = ""
    warning: str = ""
