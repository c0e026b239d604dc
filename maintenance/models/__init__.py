"""Plans and due work, checks, readings, jobs and stops."""

from maintenance.models.check import Check, RuleSheet
from maintenance.models.job import Job, Labour, PartUsed, Stop
from maintenance.models.place import Hirer, Move, Stay, Transfer
from maintenance.models.plan import DueLine, PlanLine, PlanStep
from maintenance.models.reading import ElectricalTest, MeterReading, TensionReading, WidthReading

__all__ = [
    "Check",
    "DueLine",
    "ElectricalTest",
    "Hirer",
    "Job",
    "Labour",
    "MeterReading",
    "Move",
    "PartUsed",
    "PlanLine",
    "PlanStep",
    "RuleSheet",
    "Stay",
    "Stop",
    "TensionReading",
    "Transfer",
    "WidthReading",
]
