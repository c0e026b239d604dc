"""Plans and due work, checks, readings, jobs and stops."""

from maintenance.models.check import Check, RuleSheet
from maintenance.models.job import Job, Labour, PartUsed, Stop
from maintenance.models.plan import DueLine, PlanLine, PlanStep
from maintenance.models.reading import ElectricalTest, MeterReading, TensionReading, WidthReading

__all__ = [
    "Check", "DueLine", "ElectricalTest", "Job", "Labour", "MeterReading", "PartUsed",
    "PlanLine", "PlanStep", "RuleSheet", "Stop", "TensionReading", "WidthReading",
]
