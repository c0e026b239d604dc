"""Plans and due work, checks, readings, jobs and stops."""

from maintenance.models.answer import Answer
from maintenance.models.check import Check, RuleSheet
from maintenance.models.competence import Competence, Skill
from maintenance.models.due import ClosedDay, Completion, PutOff, UseRate, WeekDay
from maintenance.models.inspection import Inspection, InspectionDraft
from maintenance.models.instrument import Calibration, Instrument
from maintenance.models.job import Job, Labour, PartUsed, Stop
from maintenance.models.place import Hirer, Move, Stay, Transfer
from maintenance.models.plan import DueLine, PlanLine, PlanStep
from maintenance.models.reading import ElectricalTest, MeterReading, TensionReading, WidthReading

__all__ = [
    "Answer",
    "Calibration",
    "Check",
    "ClosedDay",
    "Competence",
    "Completion",
    "DueLine",
    "ElectricalTest",
    "Hirer",
    "Inspection",
    "InspectionDraft",
    "Instrument",
    "Job",
    "Labour",
    "MeterReading",
    "Move",
    "PartUsed",
    "PlanLine",
    "PlanStep",
    "PutOff",
    "RuleSheet",
    "Skill",
    "Stay",
    "Stop",
    "TensionReading",
    "Transfer",
    "UseRate",
    "WeekDay",
    "WidthReading",
]
