"""A depot to practise in: one a person, made when asked for, with one machine of our invention.

It is a depot like any other, with a chain of its own; only its person gets there, and only in a
session that practises (plant/rights.py). A fresh machine comes in a fresh depot: nothing that was
tried is left in its lists, and nothing that was sealed is taken away.
"""

import math
from datetime import date, datetime, timedelta
from itertools import count
from typing import Any

from django.db import transaction
from django.utils.translation import gettext, gettext_noop

from maintenance.actions.belt_life import machine_moved
from maintenance.actions.competence import NEEDS
from maintenance.actions.plan import give_plans
from maintenance.actions.rack import key_of
from maintenance.actions.signing import locked
from maintenance.models import (
    Calibration,
    Competence,
    Instrument,
    Move,
    Part,
    Skill,
    StockMove,
    StockPlace,
)
from plant.actions.machine import NewMachine, add_machines
from plant.actions.record import seal
from plant.actions.throttle import count_use
from plant.lazy_text import as_written
from plant.models import Depot, Drive, Machine, MachineKind, Place, Record, User
from plant.models.record import BY_RULE
from plant.rights import TABLE, NotAllowed, Right, held_anywhere, practised
from plant.sealing import Canonical
from plant.text import number_key

MOST_AN_HOUR, _HOUR = 12, timedelta(hours=1)
_KIND = "mixer_electric"
_WHY = gettext_noop("Made by itself, to practise on. Nothing of it counts.")
# Two testers of our invention, and since how many days each is calibrated, for how many: the old
# one is out of calibration, so that one sees what it cannot do.
_TESTERS = (
    ("Practice tester", "PRACTICE-1", 30, 400),
    ("Old practice tester", "PRACTICE-2", 400, 366),
)
_BELT, _LENGTH_M = "13A790", 0.790
# Our own mixer, all figures invented: as a fitter would have entered it.
_PLATE: dict[str, Any] = {
    "nickname": "Practice machine",
    "maker": "Practice works",
    "type_name": "P 90",
    "serial": "PRACTICE",
    "year": 2024,
    "protection": Machine.Protection.CLASS_I,
    "power_w": 550.0,
    "speed_rpm": 1400.0,
    "mass_kg": 48.0,
    "plate_typed": {"power_w": "550 W", "speed_rpm": "1400 rpm", "mass_kg": "48 kg"},
    "note": _WHY,
}
_MEASURED: dict[str, tuple[float, str, str]] = {
    "driver_m": (0.080, "80 mm", "calliper"),
    "driven_m": (0.180, "180 mm", "calliper"),
    "driver_angle_rad": (math.radians(34), "34 deg", "groove angle gauge"),
    "driven_angle_rad": (math.radians(38), "38 deg", "groove angle gauge"),
    "driver_depth_m": (0.0127, "12.7 mm", "depth gauge"),
    "driven_depth_m": (0.0129, "12.9 mm", "depth gauge"),
    "belt_new_width_m": (0.0130, "13.0 mm", "calliper"),
    "centres_m": (0.184, "184 mm", "steel rule"),
    "slot_in_m": (0.014, "14 mm", "steel rule"),
    "slot_out_m": (0.006, "6 mm", "steel rule"),
}


def may_practise(user: User) -> bool:
    """Whether there is anything for this person to practise: who only runs the system has none."""
    return bool(practised(held_anywhere(user)) & TABLE[Right.CHECK][0])


@transaction.atomic
def practice_depot(*, person: User, at: datetime) -> Depot:
    """The depot in which the person practises, made where there is none yet.

    Raises:
        PermissionError: they have no role in which to practise.
        TooOften: so many were made within the hour that it is held back.
    """
    _refuse(person)
    User.objects.select_for_update().only("pk").get(pk=person.pk)
    found = Depot.objects.filter(practice_of=person, practice_ended_at=None).first()
    depot = found or _made(person, at=at)
    _equip(depot, person, at=at)
    return depot


@transaction.atomic
def fresh_practice(*, person: User, at: datetime) -> Depot:
    """Takes the practice machine out of use, with its depot, and makes another.

    Raises:
        PermissionError: they have no role in which to practise.
        TooOften: so many were made within the hour that it is held back.
    """
    _refuse(person)
    User.objects.select_for_update().only("pk").get(pk=person.pk)
    for depot in Depot.objects.filter(practice_of=person, practice_ended_at=None):
        for machine in Machine.objects.in_fleet().filter(depot=depot):
            _take_out_of_use(locked(machine), at=at)
        depot.practice_ended_at = at
        depot.save(update_fields=["practice_ended_at"])
    return practice_depot(person=person, at=at)


def practice_machine(depot: Depot) -> Machine:
    return Machine.objects.select_related("kind", "depot").get(depot=depot)


def _refuse(person: User) -> None:
    if not may_practise(person):
        raise NotAllowed(
            gettext("Your role does no work on machines, so there is nothing to practise.")
        )


def _made(person: User, *, at: datetime) -> Depot:
    count_use(
        gettext("practice machines"), str(person.pk), most=MOST_AN_HOUR, within=_HOUR, at=at,
        told=gettext("So many practice machines were made that the next one is held back."),
    )  # fmt: skip
    depot = Depot(name="Practice", checks_by_label=False, one_person=True, practice_of=person)
    home = Depot.objects.real().filter(memberships__user=person).order_by("name").first()
    if home is not None:
        depot.time_zone, depot.length_system = home.time_zone, home.length_system
    # No person's name is in it, for it stands on paper; the number follows from the row's.
    depot.code = f"new{person.pk}"
    depot.save()
    depot.code = f"prac{depot.pk}"
    depot.save(update_fields=["code"])
    _lay_belts(depot, at=at)
    _add_machine(depot, at=at)
    return depot


def _add_machine(depot: Depot, *, at: datetime) -> None:
    entries = {
        name: {"typed": typed, "mark": Drive.Mark.MEASURED, "tool": tool, "told": at.isoformat()}
        for name, (_, typed, tool) in _MEASURED.items()
    }
    tight = {"typed": "yes", "mark": Drive.Mark.MEASURED, "tool": ""}
    drive = {name: value for name, (value, _, _) in _MEASURED.items()} | {
        "name": "Drum drive", "motor_power_w": 550.0, "motor_speed_rpm": 1400.0,
        "load": Drive.Load.HEAVY, "belt_mark": _BELT, "section": "A",
        "length_system": "ISO/DIN", "belt_datum_m": _LENGTH_M,
        "belt_fitted_on": depot.day_of(at), "belt_fitted_tenths": 1000,
        "entries": entries | {"belt_tight": tight},
    }  # fmt: skip
    kind = MachineKind.objects.get(key=_KIND)
    new = NewMachine(
        depot=depot, kind=kind, number=_free_number(depot), supply="e110", plate=_PLATE,
        hours_tenths=1200, hours_at=at, drive=drive,
    )  # fmt: skip
    machine = add_machines([new], at=at)[0]
    # It begins as one that is in use: its first look is not what is practised first.
    machine.look_wanted_at, machine.passed_at = None, at
    machine.save(update_fields=["look_wanted_at", "passed_at"])
    give_plans([machine], at=at)
    machine_moved(locked(machine), at=at)


def _free_number(depot: Depot) -> str:
    """The number says on every page and paper what the machine is."""
    tails = (f"{depot.pk}{'-X' * tried}" for tried in count())
    numbers = (f"PRACTICE-{tail}" for tail in tails)
    taken = Machine.objects.filter
    return next(each for each in numbers if not taken(number_key=number_key(each)).exists())


def _lay_belts(depot: Depot, *, at: datetime) -> None:
    """Two belts of the machine's size on a rack, so that a change finds one there."""
    rack = StockPlace.objects.create(depot=depot, name="Practice rack", kind=StockPlace.Kind.RACK)
    belt = Part.objects.create(
        depot=depot, name=_BELT, name_key=key_of(_BELT), section="A", length_m=_LENGTH_M,
        length_system=depot.length_system,
    )  # fmt: skip
    told: dict[str, Canonical] = {
        "move": str(StockMove.Kind.COUNTED), "counts": [{"part": belt.name, "quantity": "2"}],
    }  # fmt: skip
    record = _seal(Record.Kind.STOCK, depot, told, {"place": rack.name}, at=at)
    StockMove.objects.create(
        part=belt, place=rack, kind=StockMove.Kind.COUNTED, counted=2, change=2, at=at,
        record=record,
    )  # fmt: skip


def _equip(depot: Depot, person: User, *, at: datetime) -> None:
    """What the work asks for beside the machine; what has run out since is renewed."""
    today = depot.day_of(at)
    for skill in Skill:
        does = practised(held_anywhere(person)) & TABLE[NEEDS[skill]][0]
        if does and not Competence.objects.filter(depot=depot, skill=skill).exists():
            _give(skill, person, depot, at=at)
    for name, serial, ago, holds in _TESTERS:
        tester = Instrument.objects.filter(depot=depot, serial=serial).first()
        tester = tester or _add_tester(name, serial, depot, at=at)
        done_on = today - timedelta(days=ago)
        if not tester.known() or (ago < holds and tester.refusal(today)):
            _calibrate(tester, done_on, done_on + timedelta(days=holds), at=at)


def _add_tester(name: str, serial: str, depot: Depot, *, at: datetime) -> Instrument:
    reads = Instrument.Reads.values
    told: dict[str, Canonical] = {
        "move": "added", "instrument": f"{name}, serial {serial}", "reads": list(reads),
        "description": _WHY,
    }  # fmt: skip
    return Instrument.objects.create(
        depot=depot, name=name, serial=serial, reads=reads, description=_WHY,
        record=_seal(Record.Kind.INSTRUMENT, depot, told, {}, at=at),
    )  # fmt: skip


def _calibrate(tester: Instrument, done_on: date, until: date, *, at: datetime) -> None:
    told: dict[str, Canonical] = {
        "move": "calibrated", "instrument": str(tester), "done_on": done_on.isoformat(),
        "found": "good", "valid_until": until.isoformat(), "certificate": tester.serial,
    }  # fmt: skip
    Calibration.objects.create(
        instrument=tester, done_on=done_on, found_good=True, valid_until=until,
        certificate=tester.serial,
        record=_seal(Record.Kind.INSTRUMENT, tester.depot, told, {}, at=at),
    )  # fmt: skip


def _give(skill: Skill, person: User, depot: Depot, *, at: datetime) -> None:
    today = depot.day_of(at)
    told: dict[str, Canonical] = {
        "move": "given", "account": str(person.pk), "skill": str(skill), "family": "",
        "from": today.isoformat(), "until": None,
    }  # fmt: skip
    texts = {"person": person.name, "told": _WHY}
    record = _seal(Record.Kind.COMPETENCE, depot, told, texts, at=at)
    Competence.objects.create(
        user=person, depot=depot, skill=skill, valid_from=today, told=_WHY, record=record
    )


def _take_out_of_use(machine: Machine, *, at: datetime) -> None:
    told: dict[str, Canonical] = {
        "from": as_written(Place(machine.place).label),
        "to": "Gone",
        "move": "Write off",
        "jobs": [],
    }
    why = gettext("A fresh practice machine was asked for.")
    record = _seal(Record.Kind.PLACE, machine.depot, told, {"reason": why}, at=at, machine=machine)
    Move.objects.create(
        machine=machine, start=machine.place, to=Place.GONE, at=at, record=record, reason=why
    )
    machine.place = Place.GONE
    machine.save(update_fields=["place"])


def _seal(
    kind: Record.Kind,
    depot: Depot,
    told: dict[str, Canonical],
    texts: dict[str, str],
    *,
    at: datetime,
    machine: Machine | None = None,
) -> Record:
    """By rule: nobody answers with their name for what is made up."""
    return seal(
        kind=kind, depot=depot, data=told, happened_at=at, received_at=at, by=None, role=BY_RULE,
        texts=texts, machine=machine,
    )  # fmt: skip
