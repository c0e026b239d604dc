"""The columns that a file of an electrical test instrument can have, and the words in its cells."""

from maintenance.rules.electrical import MEASURES, Asked
from maintenance.rules.sheet import RuleSheet
from plant import units
from plant.columns import Column, Columns, fold

READING = "reading_"
_FIXED = (
    Column("number", "Machine number", (
        "number", "machine", "machine no", "asset", "asset number", "asset no", "asset id",
        "plant number", "plant no", "fleet number", "fleet no", "item number", "item no", "id",
    )),
    Column("on", "Tested on", (
        "date", "test date", "date of test", "date tested", "tested", "date and time", "tested at",
    )),
    Column("time", "Time of test", ("time", "test time", "at")),
    Column("item", "What was tested", ("test", "type of test", "test type", "item")),
    Column("instrument", "Instrument", (
        "tester", "test instrument", "instrument serial", "instrument serial no", "tester serial",
        "tester serial no",
    )),
    Column("said", "Result the instrument showed", (
        "result", "pass fail", "overall", "overall result", "outcome", "instrument result",
    )),
    Column("looks", "Looked at: case, cable, plug and fuse", (
        "visual", "visual check", "visual inspection", "looked at", "look",
    )),
    Column("lead_length", "Length of the lead", (
        "lead length", "cable length", "length",
    ), units.LEAD_LENGTH),
    Column("lead_core", "Size of the earth core, mm2", (
        "core", "core size", "earth core", "core mm2", "earth core mm2",
        "csa", "conductor size", "cable size",
    )),
    Column("item_serial", "Serial number of the RCD", ("rcd serial", "rcd serial no")),
    Column("profile", "Standard marked on the RCD", ("rcd standard", "standard", "rcd to")),
    Column("rated_current", "Rated residual current", (
        "rcd rating", "rated current", "rcd current", "rated residual",
    ), units.RCD_CURRENT, "rated_current"),
    Column("rcd_type", "Type of the RCD", ("rcd type",)),
    Column("note", "Note", ("notes", "remark", "remarks", "comment", "comments")),
)  # fmt: skip
# Other ways to head a reading, by its key in the rule sheet.
_ALSO: dict[str, tuple[str, ...]] = {
    "earth": ("earth", "earth resistance", "earth continuity", "continuity", "bond", "earth bond"),
    "insulation": ("insulation", "insulation to earth"),
    "insulation_in": ("insulation in", "insulation of the input"),
    "insulation_windings": ("insulation between windings", "insulation windings"),
    "earth_current": ("earth current", "leakage", "leakage current", "earth leakage"),
    "half": ("half", "half current", "trip half", "trip time half", "trip time at half"),
    "rated": ("trip time", "trip rated", "trip time rated", "trip time at rated"),
    "five": ("five", "trip five", "trip time five", "trip time at five times"),
    "button": ("test button", "button"),
    "polarity": ("polarity",),
    "runs": ("runs", "function", "works"),
    "output": ("output", "output voltage"),
}
# What can be told by eye alone, and so by one answer for all of it.
BY_EYE = frozenset({"case", "cable", "plug", "plug_fuse"})
_NO_QUESTION = frozenset({"V", "Hz"})
RIGHT = frozenset({"pass", "passed", "p", "ok", "right", "good", "yes", "y", "1"})
WRONG = frozenset({"fail", "failed", "f", "wrong", "notright", "notok", "bad", "no", "n", "0"})
LACKS = frozenset({"none", "noneonit", "na", "notfitted"})
DID_NOT_TRIP = frozenset({"notrip", "didnottrip", "nottripped", "held"})
# How people call what is tested. "machine" is the thing itself, whatever it is; common practice.
ITEMS: dict[str, tuple[str, ...]] = {
    "machine": ("machine", "tool", "thing itself", "class i", "class ii", "class 1", "class 2"),
    "lead": ("lead", "extension lead", "cable"),
    "transformer": ("transformer",),
    "generator": ("generator",),
    "rcd": ("rcd", "rcd test", "rcd trip times", "trip times"),
}
ITEM_OF = {fold(word): item for item, words in ITEMS.items() for word in words}


def measure_of(asked: Asked) -> units.Measure | None:
    """What kind of figure it is; None for what is looked at."""
    if asked.kind in ("look", "confirm"):
        return None
    unit = asked.limit.unit if asked.limit else "ohm" if asked.kind == "earth" else "ms"
    return MEASURES[unit]


def columns_of(sheet: RuleSheet) -> Columns:
    """The columns of such a file: the fixed ones, and one for each reading that the sheet asks."""
    found: dict[str, list[Asked]] = {}
    for form in sheet.test_forms:
        for asked in form.asked:
            if asked.kind != "confirm":
                found.setdefault(asked.key, []).append(asked)
    readings = []
    for key, alike in found.items():
        words = sorted({each.words for each in alike}, key=lambda each: (len(each), each))
        measure = measure_of(alike[0])
        own = measure is None or measure.unit in _NO_QUESTION
        also = (*words[1:], *_ALSO.get(key, ()))
        asked_for = "" if own else f"{READING}{key}"
        readings.append(Column(f"{READING}{key}", words[0], also, measure, asked_for))
    return Columns((*_FIXED, *readings))
