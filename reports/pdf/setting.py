"""How closely a sheet is set, from roomy to as close as a biro and tired eyes allow."""

from dataclasses import dataclass, field, replace

from reports.pdf.fonts import MONO, SANS_BOLD
from reports.pdf.furniture import BODY, FIGURE, HEAD, HEAD_CENTRE, HEAD_RIGHT, NOTE, SMALL, STRONG
from reports.pdf.pieces import Style


# There are four, each itself alone; so each is its own key.
@dataclass(frozen=True, eq=False)
class Setting:
    """The measures of one way to set a sheet.

    size: [pt] of what is read at the machine; working: [pt] of the sums, 7 or more;
    step_columns: how many steps stand side by side; part_lines: most empty lines for parts;
    times_across: whether the boxes of the time stand side by side; pictures: [pt] their height,
    91 or more for their lettering; key: whether those of the grooves carry one;
    gap, row: [pt] between the parts of a drive, and the room that a
    row of figures takes beside its letters;
    whole: whether every line of the working stands; else the needed ones, and it is told.
    """

    size: float
    working: float
    step_columns: int
    part_lines: int
    times_across: bool
    pictures: float
    key: bool
    gap: float
    row: float = 2.8
    whole: bool = True
    body: Style = field(init=False)
    strong: Style = field(init=False)
    figure: Style = field(init=False)
    small: Style = field(init=False)
    head: Style = field(init=False)
    head_centre: Style = field(init=False)
    note: Style = field(init=False)
    sums: Style = field(init=False)
    sums_strong: Style = field(init=False)
    sums_figure: Style = field(init=False)
    sums_right: Style = field(init=False)
    sums_head: Style = field(init=False)
    sums_head_right: Style = field(init=False)

    def __post_init__(self) -> None:
        sums = replace(SMALL, size=self.working, leading=self.working + self.row / 2)
        small = max(7.0, 0.84 * self.size)
        styles = {
            "body": BODY.sized(self.size),
            "strong": STRONG.sized(self.size),
            "figure": FIGURE.sized(self.size * 0.955),
            "small": SMALL.sized(small),
            "head": HEAD.sized(small),
            "head_centre": HEAD_CENTRE.sized(small),
            "sums": sums,
            "note": replace(NOTE, leading=7.2 + self.row / 2.4),
            "sums_strong": replace(sums, face=SANS_BOLD),
            "sums_figure": replace(sums, face=MONO, anchor="end"),
            "sums_right": replace(sums, anchor="end"),
            "sums_head": HEAD.sized(self.working),
            "sums_head_right": HEAD_RIGHT.sized(self.working),
        }
        for name, style in styles.items():
            object.__setattr__(self, name, style)


ROOMY = Setting(
    size=8.8, working=7.4, step_columns=1, part_lines=3, times_across=False, pictures=116,
    key=True, gap=4,
)  # fmt: skip
CLOSE = Setting(
    size=8.4, working=7.0, step_columns=1, part_lines=1, times_across=True, pictures=96,
    key=False, gap=2,
)  # fmt: skip
TIGHT = Setting(
    size=8.0, working=7.0, step_columns=2, part_lines=1, times_across=True, pictures=94,
    key=False, gap=1.5, row=1.7,
)  # fmt: skip
LEAST = Setting(
    size=7.4, working=7.0, step_columns=2, part_lines=1, times_across=True, pictures=92,
    key=False, gap=1, row=1.5, whole=False,
)  # fmt: skip
SETTINGS = (ROOMY, CLOSE, TIGHT, LEAST)
