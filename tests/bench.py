"""Readings as a tester types them, and whole electrical tests, for the tests of tests."""

from typing import Any

from maintenance.actions.test import Device, LeadTyped, Reading, record_test
from maintenance.models import ElectricalTest, Instrument
from make import MONDAY
from plant import units
from plant.models import Machine, User

HELD = Reading(typed="no trip")
RIGHT, WRONG = Reading(typed="right"), Reading(typed="not right")


def figure(text: str, measure: units.Measure) -> Reading:
    typed = units.read_open(text, measure)
    return Reading(typed=typed.text_as_typed, si=typed.value_si, end=typed.end)


def ms(value: float) -> Reading:
    return figure(f"{value:g} ms", units.TIME_MS)


def ohm(text: str) -> Reading:
    return figure(text, units.EARTH_RESISTANCE)


def mohm(text: str) -> Reading:
    return figure(text, units.INSULATION_RESISTANCE)


def device(profile: str = "general_61008") -> Device:
    return Device(profile=profile, rated=units.read("30 mA", units.RCD_CURRENT), rcd_type="A")


def lead(length: str = "10 m", core: float = 1.5) -> LeadTyped:
    return LeadTyped(length=units.read(length, units.LEAD_LENGTH), core_mm2=core)


RCD = {"button": RIGHT, "half": HELD, "rated": ms(28), "five": ms(12)}
CLASS_I = {
    "isolated": RIGHT, "case": RIGHT, "cable": RIGHT, "plug": RIGHT, "runs": RIGHT,
    "earth": ohm("0.12"), "insulation": mohm("> 99.9"),
}  # fmt: skip


def record(machine: Machine, by: User, **more: Any) -> ElectricalTest:
    """A passed RCD test of the machine, but for what is said otherwise."""
    given: dict[str, Any] = {
        "form": "rcd_portable",
        "device": device(),
        "readings": RCD,
        "instrument": Instrument.objects.first(),
        "at": MONDAY,
    }
    return record_test(machine=machine, by=by, **given | more)


def class_i(machine: Machine, by: User, **more: Any) -> ElectricalTest:
    """A passed test of the machine of class I at 110 V, but for what is said otherwise."""
    given = {"form": "class_1_110", "device": None, "lead": lead(), "readings": CLASS_I}
    return record(machine, by, **given | more)
