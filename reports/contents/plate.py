"""Fills the rating plate that opens every sheet, and gives the link behind its code."""

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.models import Machine
from plant.units import MASS, POWER, show
from reports.pdf.plate import Plate


def plate_of(machine: Machine) -> Plate:
    """The machine's plate in ready text; its depot and kind must be read already."""
    typed = machine.plate_typed
    return Plate(
        number=machine.number,
        kind=machine.kind.name,
        maker_and_type=f"{machine.maker} {machine.type_name}".strip(),
        serial=machine.serial,
        depot=machine.depot.name,
        supply=machine.get_supply_display(),
        power=typed.get("power")
        or ("" if machine.power_w is None else show(machine.power_w, POWER)),
        speed=""
        if machine.speed_rpm is None
        else _("{speed_rpm} rpm").format(speed_rpm=f"{machine.speed_rpm:g}"),
        mass=typed.get("mass") or ("" if machine.mass_kg is None else show(machine.mass_kg, MASS)),
        meter="" if machine.hours_tenths is None else f"{machine.hours_tenths / 10:.1f} h",
    )


def link_of(machine: Machine) -> str:
    """The address behind the machine's label. It holds no number, name or depot."""
    return str(settings.SITE_ADDRESS + reverse("maintenance:label", args=[machine.label_code]))
