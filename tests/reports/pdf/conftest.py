"""One service sheet of an invented yard, full enough to look like a day's work."""

from math import radians

import pytest

from plant.drawings.pictures import BandPicture, GroovePicture, LayoutPicture
from plant.drives.formula import FormulaLine
from reports.pdf.drive_block import DriveBlank, DriveBlock, DriveInput, DriveResult
from reports.pdf.page import Printed
from reports.pdf.plate import Plate
from reports.pdf.service_sheet import (
    Caution,
    Mark,
    OpenFault,
    PartLine,
    ServiceSheet,
    Signature,
    Step,
    Tick,
)

MM = 1e-3
WEDGE = "Geometry of a wedge in a straight groove"
HOLDS = "width loss up to 25 % of the new width, both flanks worn alike"


@pytest.fixture
def printed() -> Printed:
    return Printed(
        at="25 Nov 2026 07:31",
        by="Edda Morcombe",
        as_at="25 Nov 2026 07:30",
        record_number="1042",
        record_hash="7f3a90bc11de4a02" + "0" * 48,
    )


def groove(*, label: str, angle: float, drop: float, capped: float, room: float) -> GroovePicture:
    return GroovePicture(
        label=label,
        datum_width=11 * MM,
        groove_angle=radians(angle),
        groove_depth_below_datum=8.7 * MM,
        above_datum=2.75 * MM,
        belt_top_width_new=13 * MM,
        belt_height=8 * MM,
        belt_angle=radians(40),
        drop_now=drop * MM,
        capped_drop=capped * MM,
        width_now=10.4 * MM,
        clearance=room * MM,
        depth_guessed=True,
    )


def line(
    symbol: str,
    name: str,
    expression: str,
    figures: str,
    result: str,
    doubt: str = "",
    source: str = WEDGE,
    validity: str = HOLDS,
    trust: str = "computed",
) -> FormulaLine:
    return FormulaLine(
        symbol=symbol,
        name=name,
        expression=expression,
        figures=figures,
        result=result,
        unit=result.split()[-1],
        value=0.0,
        source=source,
        validity=validity,
        trust=trust,
        doubt=doubt,
    )


@pytest.fixture
def drive() -> DriveBlock:
    belt = "Closed form of an open belt on two pulleys"
    open_drive = "an open drive, pulleys apart"
    return DriveBlock(
        title="Belt drive, motor to drum gear shaft",
        belt="13A690: A section, datum 690 mm (ISO/DIN)",
        verdict="Change the belt. It is on the floor of the small pulley's groove.",
        because=(
            "The belt has lost 2.6 mm of its width and now carries by its base.",
            "The slot has 6.6 mm left and a tight belt would need 10.0 mm.",
            "The take-up ran out at about 131 h (likely between 118 h and 149 h).",
        ),
        warnings=("Groove depth is a guess. Measure it before you fit the new belt.",),
        inputs=(
            DriveInput("small pulley, datum diameter", "80.0 mm", "from plate", "± 0.5", "d"),
            DriveInput("large pulley, datum diameter", "180.0 mm", "measured", "± 1.0", "D"),
            DriveInput("groove angle, small pulley", "34°", "measured", "± 0.5", "α1"),
            DriveInput("groove angle, large pulley", "38°", "measured", "± 0.5", "α2"),
            DriveInput(
                "groove depth below datum",
                "8.7 mm",
                "guess",
                "± 0.5",
                "h",
                "least depth of ISO 4183 (from memory)",
            ),
            DriveInput("top width when new", "13.0 mm", "measured", "± 0.2", "W"),
            DriveInput(
                "top width now", "10.4 mm", "measured", "± 0.2", "w", "calliper 2, 24 Nov 2026"
            ),
            DriveInput("shaft distance now", "134.5 mm", "measured", "± 1.0", "C"),
            DriveInput("slot left", "6.6 mm", "measured", "± 0.7", "s"),
        ),
        blanks=(
            DriveBlank("Top width", "mm", last="last 11.9 ± 0.2 mm, 18 Aug 2026"),
            DriveBlank("Tool", ""),
            DriveBlank("Slot left", "mm", last="last 9.1 ± 0.7 mm, 18 Aug 2026"),
            DriveBlank("Force at 2.0 mm", "N", last="target 12 to 18 N"),
        ),
        last="Last read by Bram Ostrowe on 18 Aug 2026: 11.9 ± 0.2 mm with calliper 2.",
        results=(
            DriveResult("drop, small pulley (held by the floor)", "3.9 mm", "± 0.5"),
            DriveResult("drop, large pulley", "3.8 mm", "± 0.4"),
            DriveResult("room under the belt, small pulley", "none", note="touches: 75 in 100"),
            DriveResult(
                "room under the belt, large pulley", "0.2 mm", "± 0.6", "touches: 38 in 100"
            ),
            DriveResult("shaft distance needed", "144.5 mm", "± 1.3"),
            DriveResult("take-up missing", "3.4 mm", "± 1.5"),
        ),
        lines=(
            line(
                "y1",
                "drop, small pulley",
                "(W − w) / (2 tan(α1/2))",
                "(13.0 − 10.4) / (2 × 0.3057)",
                "4.25 mm",
                "± 0.46",
            ),
            line(
                "y2",
                "drop, large pulley",
                "(W − w) / (2 tan(α2/2))",
                "(13.0 − 10.4) / (2 × 0.3443)",
                "3.78 mm",
                "± 0.41",
            ),
            line(
                "t",
                "belt below the cord",
                "(Ld − Li) / (2π)",
                "(690 − 660) / 6.2832",
                "4.77 mm",
                "± 0.5",
                "DIN 2215, length steps",
                "A section",
                "seen",
            ),
            line(
                "k1", "room, small pulley", "h − t − y1", "8.70 − 4.77 − 4.25", "−0.33 mm", "± 0.7"
            ),
            line(
                "k2", "room, large pulley", "h − t − y2", "8.70 − 4.77 − 3.78", "0.15 mm", "± 0.7"
            ),
            line(
                "L",
                "belt length",
                "2C cos β + (π + 2β) D/2 + (π − 2β) d/2",
                "2 × 131.14 × 0.9245 + 3.925 × 90 + 2.358 × 40",
                "690.0 mm",
                "",
                belt,
                open_drive,
            ),
            line(
                "C'",
                "shaft distance needed",
                "L(d − 2y1, D − 2y2, C') = Ld",
                "L(72.15, 172.45, C') = 690.0",
                "144.1 mm",
                "± 1.3",
                belt,
                open_drive,
            ),
            line(
                "p",
                "free span",
                "√(C'² − ((D' − d')/2)²)",
                "√(144.1² − 50.15²)",
                "135.1 mm",
                "± 1.4",
                belt,
                open_drive,
            ),
            line(
                "f",
                "deflection to press",
                "p / 64",
                "135.1 / 64",
                "2.1 mm",
                "",
                "Machinery's Handbook, 31st ed., belt tensioning",
                "one belt",
                "from memory",
            ),
        ),
        sums_version="1.0",
        grooves=(
            groove(label="Small pulley, 34°", angle=34, drop=4.252, capped=3.925, room=-0.33),
            groove(label="Large pulley, 38°", angle=38, drop=3.775, capped=3.775, room=0.15),
        ),
        layout=LayoutPicture(
            small=80 * MM,
            large=180 * MM,
            centres_now=134.5 * MM,
            centres_new=131.1 * MM,
            centres_needed=144.5 * MM,
            slot_low=122 * MM,
            slot_high=141.1 * MM,
            small_name="motor",
            large_name="drum gear",
        ),
        band=BandPicture(low=12, high=18, reading=9.5, reading_doubt=1.0),
    )


@pytest.fixture
def sheet(printed: Printed, drive: DriveBlock) -> ServiceSheet:
    return ServiceSheet(
        sheet_number="318",
        job_number="J-0907",
        plate=Plate(
            number="QR-0427",
            kind="Cement mixer, 90 litres",
            maker_and_type="Tolvane 90 E",
            serial="TV 9-11-30218",
            depot="Harrow Fen",
            supply="110 V, 50 Hz, 1 phase",
            power="0.55 kW",
            speed="1,400 rev/min",
            mass="52 kg",
            meter="168.0 h, 24 Nov 2026",
        ),
        printed=printed,
        link="https://yard.example/m/4f7q-zk2d-9w8s",
        marks=(
            Mark("Where it is", "In workshop", "since 24 Nov 2026"),
            Mark("May it be used", "Do not use", "B. Ostrowe, 24 Nov 16:40"),
            Mark("What is due", "Due soon", "service in 3.5 h"),
        ),
        why_now=(
            "150 h service: 150 h since 21.5 h on 4 May 2026, so due at 171.5 h or on 4 May 2027, "
            "whichever comes first. It stands at 168.0 h.",
        ),
        open_faults=(
            OpenFault("F-2210", "Motor turns, drum does not when loaded.", "Stop"),
            OpenFault("F-2198", "Stand wheel stiff.", "Carry on with a note until 3 Dec 2026"),
        ),
        before_start=(
            Tick("Stopped, drum empty and still"),
            Tick("Unplugged, plug in your sight"),
            Tick("Locked off, tag on"),
            Tick("Drum propped or turned down"),
        ),
        steps=(
            Step("Look at cable, plug and the switch box. Cover tight, no cuts."),
            Step("Earth bond from plug to frame.", "0.1 + R ohm or less", "ohm", True),
            Step("Insulation at 500 V d.c.", "1.0 MΩ or more", "MΩ", True),
            Step(
                "Take the belt guard off. Look at belt and grooves.",
                caution=Caution(
                    "Take care", "Belt can pull fingers in. Unplug before the cover comes off."
                ),
            ),
            Step(
                "Top width of the belt at three places; write the least.",
                "see belt drive",
                "mm",
                True,
            ),
            Step("Pulleys in line: straightedge over both.", "1.0 mm or less", "mm", True),
            Step("Grease ring and pinion, brush clean first.", "thin film"),
            Step("Drum bearing: play at the rim.", "2 mm or less", "mm", True),
            Step("Bolts of motor plate and stand.", "25 N·m", "N·m", True),
            Step("Tip lock holds in each notch."),
            Step("Guard back, all four screws."),
            Step("Run five minutes empty. Listen.", "no knock, no squeal"),
        ),
        drives=(drive,),
        parts=(PartLine("BLT-13A690", "V-belt 13A690", "Van 2", "1"),),
        release=(
            Tick("Guards on"),
            Tick("Runs"),
            Tick("Stop works"),
            Tick("Electrical test", blank="Test no."),
        ),
        done_by=Signature(),
        second_person="This job stopped the machine. Another person checks it.",
    )
