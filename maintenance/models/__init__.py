"""Plans and due work, checks, readings, jobs and stops."""

from maintenance.models.answer import Answer
from maintenance.models.belt_change import BeltDraft, BeltFitting
from maintenance.models.belt_life import BeltLife, BeltLook
from maintenance.models.check import Check, Pace, RuleSheet
from maintenance.models.competence import Competence, Skill
from maintenance.models.cost import Cost, HourRate, MoneySetting
from maintenance.models.day import FitterDay
from maintenance.models.due import ClosedDay, Completion, CountRate, PutOff, UseRate, WeekDay
from maintenance.models.finding import Finding, FindingStep
from maintenance.models.inspection import Inspection, InspectionDraft
from maintenance.models.instrument import Calibration, Instrument
from maintenance.models.job import Job, Labour, PartUsed, Stop
from maintenance.models.keep import KeepHold, KeepListing, KeepRound
from maintenance.models.part import Part, PartNumber, PartOrder, StockMove, StockPlace
from maintenance.models.place import Hirer, Move, Stay, Transfer
from maintenance.models.plan import DueLine, KindSheet, PlanLine, PlanStep
from maintenance.models.reading import (
    AlignmentReading,
    ElectricalTest,
    MeterReading,
    PulleyReading,
    RideReading,
    SlotReading,
    TensionReading,
    WidthReading,
)
from maintenance.models.readings_file import ReadingsFile, ReadingsRow
from maintenance.models.step import JobStep, StepAnswer

__all__ = [
    "AlignmentReading",
    "Answer",
    "BeltDraft",
    "BeltFitting",
    "BeltLife",
    "BeltLook",
    "Calibration",
    "Check",
    "ClosedDay",
    "Competence",
    "Completion",
    "Cost",
    "CountRate",
    "DueLine",
    "ElectricalTest",
    "Finding",
    "FindingStep",
    "FitterDay",
    "Hirer",
    "HourRate",
    "Inspection",
    "InspectionDraft",
    "Instrument",
    "Job",
    "JobStep",
    "KeepHold",
    "KeepListing",
    "KeepRound",
    "KindSheet",
    "Labour",
    "MeterReading",
    "MoneySetting",
    "Move",
    "Pace",
    "Part",
    "PartNumber",
    "PartOrder",
    "PartUsed",
    "PlanLine",
    "PlanStep",
    "PulleyReading",
    "PutOff",
    "ReadingsFile",
    "ReadingsRow",
    "RideReading",
    "RuleSheet",
    "Skill",
    "SlotReading",
    "Stay",
    "StepAnswer",
    "StockMove",
    "StockPlace",
    "Stop",
    "TensionReading",
    "Transfer",
    "UseRate",
    "WeekDay",
    "WidthReading",
]
