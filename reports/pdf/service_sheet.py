"""The service sheet: what it holds, and how it is drawn on A4."""

from dataclasses import dataclass
from typing import Literal

from reports.pdf.drive_block import DriveBlock
from reports.pdf.page import Printed
from reports.pdf.plate import Plate


@dataclass(frozen=True)
class Mark:
    """One of the machine's three marks: heading "May it be used", word "Do not use", since."""

    heading: str
    word: str
    since: str = ""


@dataclass(frozen=True)
class OpenFault:
    """A fault not yet put right; decision: "stop", "carry on with a note until 3 Dec 2026"."""

    number: str
    words: str
    decision: str


@dataclass(frozen=True)
class Caution:
    """A caution at the step it belongs to: hazard, harm, act; at most 15 words."""

    strength: Literal["Stop", "Take care", "Note"]
    words: str


@dataclass(frozen=True)
class Tick:
    """A thing to tick. value: text that was filled in; blank: label of a box to write in, or "".

    done: whether the tick is already set.
    """

    words: str
    done: bool = False
    blank: str = ""
    value: str = ""


@dataclass(frozen=True)
class Step:
    """One step of the service.

    target: "12 to 18 N"; unit: unit of the reading box, and whether there is one ("" and
    takes_reading False: no box); reading, answer, note: filled in, or empty for use by hand.
    """

    words: str
    target: str = ""
    unit: str = ""
    takes_reading: bool = False
    reading: str = ""
    answer: Literal["", "OK", "Wrong", "Could not check"] = ""
    note: str = ""
    caution: Caution | None = None


@dataclass(frozen=True)
class PartLine:
    """A part used, or kitted for the job: number, what, from where, how many with unit."""

    number: str
    what: str
    taken_from: str = ""
    quantity: str = ""


@dataclass(frozen=True)
class Signature:
    """Who and when; empty texts leave boxes for a biro."""

    name: str = ""
    date: str = ""


@dataclass(frozen=True)
class ServiceSheet:
    """A service sheet, blank for use by hand or filled; every text is ready to print.

    sheet_number: "4471"; link: what the QR code holds, or empty; meter_now, total_hours: with
    unit, or empty to leave a box; why_now: sentences; before_start: ticks, with made_safe as the
    name and time of who made it safe; blank_part_lines: empty lines after the parts;
    found, cause, done: texts or empty for lines; second_person: a line in words when another
    person must check, else ""; defer: what this sheet gives way to.
    """

    sheet_number: str
    plate: Plate
    printed: Printed
    title: str = "Service sheet"
    job_number: str = ""
    link: str = ""
    marks: tuple[Mark, ...] = ()
    meter_now: str = ""
    total_hours: str = ""
    why_now: tuple[str, ...] = ()
    open_faults: tuple[OpenFault, ...] = ()
    before_start: tuple[Tick, ...] = ()
    made_safe: Signature = Signature()
    steps: tuple[Step, ...] = ()
    drives: tuple[DriveBlock, ...] = ()
    parts: tuple[PartLine, ...] = ()
    blank_part_lines: int = 3
    time_start: str = ""
    time_end: str = ""
    minutes: str = ""
    found: str = ""
    cause: str = ""
    done: str = ""
    release: tuple[Tick, ...] = ()
    done_by: Signature = Signature()
    checked_by: Signature = Signature()
    second_person: str = ""
    defer: str = (
        "This sheet gives way to the maker's handbook, the law and site rules where you are, and "
        "the work of licensed people. Leave what you are not competent to do."
    )
