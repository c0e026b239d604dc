"""Makes things for tests: each with what most tests do not care about filled in."""

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import count
from typing import Any

from django.db import connection, transaction
from django.db.models import Model

from maintenance.actions.competence import give
from maintenance.actions.due import rework
from maintenance.actions.instrument import add_instrument, calibrate
from maintenance.actions.reference import load_reference
from maintenance.actions.signing import locked
from maintenance.models import (
    Competence,
    Instrument,
    KindSheet,
    PlanLine,
    PlanStep,
    RuleSheet,
    Skill,
)
from plant.actions.machine import free_short_codes
from plant.models import Depot, Drive, Machine, MachineKind, Membership, Meter, Role, User
from plant.text import number_key

MONDAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
_numbers = count(1)
_FAR = 1_000_000


def make_depot(code: str = "north", **more: Any) -> Depot:
    return Depot.objects.create(**{"code": code, "name": f"{code.title()} yard"} | more)


def make_user(name: str, *roles: tuple[Depot, Role], password: str | None = None) -> User:
    """A person with the roles given; the sign-in name is the name in small letters."""
    sign_in = name.lower().replace(" ", ".")
    user = User(sign_in=sign_in, name=name)
    user.set_password(password)
    user.save()
    for depot, role in roles:
        Membership.objects.create(user=user, depot=depot, role=role)
    return user


def make_competence(person: User, depot: Depot, skill: Skill, **more: Any) -> Competence:
    """A competence for every family without a last day, given by a manager or by whom is said."""
    giver = more.pop("by", None)
    if giver is None:
        giver = User.objects.filter(sign_in="gwen.giver").first() or make_user("Gwen Giver")
        Membership.objects.get_or_create(user=giver, depot=depot, role=Role.MANAGER)
    given = {"valid_from": date(2020, 1, 1), "valid_until": None, "told": "Card seen", "at": MONDAY}
    return give(person=person, depot=depot, skill=skill, by=giver, **given | more)


def make_kind(key: str = "mixer_electric", **more: Any) -> MachineKind:
    given = {"name": key.replace("_", " ").capitalize(), "family": key.split("_")[0]} | more
    return MachineKind.objects.get_or_create(key=key, defaults=given)[0]


@cache
def _reference_rows() -> dict[type[Model], list[dict[str, Any]]]:
    """What the loader of the rule sheet brings in, by the columns of its tables."""
    rows = {}
    with transaction.atomic(), connection.cursor() as cursor:
        load_reference()
        for model in (MachineKind, RuleSheet, KindSheet, PlanLine, PlanStep):
            columns = [str(field.column) for field in model._meta.concrete_fields]
            cursor.execute(f"SELECT {', '.join(columns)} FROM {model._meta.db_table}")
            rows[model] = [dict(zip(columns, row, strict=True)) for row in cursor.fetchall()]
        transaction.set_rollback(True)
    return rows


def make_reference() -> RuleSheet:
    """The rule sheet, kinds and plans that come with the program: loaded once, then copied."""
    if RuleSheet.objects.exists() or PlanLine.objects.exists():
        return load_reference()
    kinds: dict[int, int] = {}
    for model, rows in _reference_rows().items():
        # Far from the numbers that the database gives itself.
        copies = [
            row
            | {name: row[name] + _FAR for name in ("id", "line_id") if name in row}
            | {name: kinds[row[name]] for name in ("kind_id",) if name in row}
            for row in rows
        ]
        columns = list(rows[0])
        each = f"({', '.join(['%s'] * len(columns))})"
        statement = (
            f"INSERT INTO {model._meta.db_table} ({', '.join(columns)}) "
            f"VALUES {', '.join([each] * len(rows))}"
        )
        if model is MachineKind:
            # One that a test made before is what the loader would make of it.
            sets = (f"{name} = excluded.{name}" for name in columns if name not in ("id", "key"))
            statement += f" ON CONFLICT (key) DO UPDATE SET {', '.join(sets)}"
        with connection.cursor() as cursor:
            cursor.execute(statement, [value for row in copies for value in row.values()])
        if model is MachineKind:
            there = dict(MachineKind.objects.values_list("key", "pk"))
            kinds = {row["id"]: there[row["key"]] for row in rows}
    return RuleSheet.objects.get()


def make_machine(depot: Depot, number: str = "", **more: Any) -> Machine:
    """A machine with a meter at 100.0 h; its first look is passed unless said otherwise."""
    number = number or f"MX-{next(_numbers):03d}"
    given: dict[str, Any] = {
        "kind": more.pop("kind", None) or make_kind(belt_driven=True),
        "supply": "e110",
        "hours_tenths": 1000,
        "hours_at": MONDAY,
        "added_at": MONDAY,
        "passed_at": MONDAY,
        # Drawn blindly, two of 200 machines have the same in three runs of a hundred.
        "short_code": more.pop("short_code", None) or free_short_codes(1)[0],
    }
    machine = Machine.objects.create(
        depot=depot, number=number, number_key=number_key(number), **given | more
    )
    Meter.objects.create(machine=machine, fitted_at=MONDAY)
    return machine


def make_instrument(depot: Depot, by: User, **more: Any) -> Instrument:
    """An instrument that reads everything, calibrated for all of 2026 unless said otherwise."""
    done_on, until = more.pop("calibrated", (date(2026, 1, 1), date(2026, 12, 31)))
    given: dict[str, Any] = {
        "name": "Bench tester",
        "serial": f"S-{next(_numbers):04d}",
        "reads": list(Instrument.Reads.values),
        "at": MONDAY - timedelta(days=60),
    }
    instrument = add_instrument(depot=depot, by=by, **given | more)
    if done_on is not None:
        calibrate(
            instrument=instrument, done_on=done_on, found_good=True, valid_until=until,
            certificate="C-1", at=datetime.combine(done_on, time(12), tzinfo=UTC), by=by,
        )  # fmt: skip
    return instrument


def make_drive(machine: Machine, **more: Any) -> Drive:
    """An A-section drive of 80 and 180 mm pulleys with a belt of 690 mm datum length."""
    given: dict[str, Any] = {
        "name": "Drum drive",
        "motor_power_w": 550.0,
        "motor_speed_rpm": 1400.0,
        "load": Drive.Load.HEAVY,
        "driver_m": 0.080,
        "driven_m": 0.180,
        "driver_angle_rad": 0.5934119456780721,
        "driven_angle_rad": 0.6632251157578453,
        "driver_depth_m": 0.0087,
        "driven_depth_m": 0.0087,
        "centres_m": 0.1312,
        "slot_in_m": 0.006,
        "slot_out_m": 0.014,
        "belt_mark": "13A690",
        "section": "A",
        "length_system": "ISO/DIN",
        "belt_datum_m": 0.690,
        "belt_fitted_on": date(2025, 11, 3),
    }
    return Drive.objects.create(machine=machine, **given | more)


def set_hours(machine: Machine, tenths: int, *, at: datetime) -> None:
    """The register's running hours, with everything that falls due by them."""
    Machine.objects.filter(pk=machine.pk).update(hours_tenths=tenths, hours_at=at)
    with transaction.atomic():
        rework(locked(machine), at=at)
