"""Brings in machines from a spreadsheet: read, sorted row by row, and saved after a yes."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from functools import partial
from itertools import islice
from typing import Any, BinaryIO, cast

from django.db import IntegrityError, transaction
from django.db.models import OuterRef, Subquery
from django.db.models.fields.json import KeyTextTransform, KeyTransform
from django.utils.translation import gettext

from plant import spreadsheets, units
from plant.actions import brought
from plant.actions.machine import NewMachine, add_machines
from plant.actions.record import seal
from plant.drives.sections import System
from plant.machine_columns import TABLE, DepotWords, Facts, KindWords, RowReader
from plant.models import (
    Depot,
    Machine,
    MachineImport,
    MachineImportRow,
    MachineKind,
    Record,
    Supply,
    User,
)
from plant.rights import Right, depots_where, role_for
from plant.sealing import Canonical

BLOCK = 500
# People mend a file and try again; this only stops a program that never tires.
MOST_AN_HOUR = 5
# A few goes for a number that somebody else gives out at the same moment.
_GOES = 3
_Step, _State, _Verdict = MachineImport.Step, MachineImport.State, MachineImportRow.Verdict
# Facts that say whether a row and a machine are the same; place, hours and notes change with time.
_COMPARED = {
    "kind": "Kind",
    "depot": "Depot",
    "maker": "Maker",
    "type": "Type",
    "serial": "Serial number",
    "year": "Year made",
    "supply": "Supply",
    "protection": "Class",
    "power_w": "Power",
    "speed_rpm": "Speed",
    "mass_kg": "Mass",
}
_PLATE = (
    "nickname", "maker", "serial", "year", "protection", "power_w", "speed_rpm", "mass_kg",
    "place", "site", "note", "plate_typed",
)  # fmt: skip


def ask_import(
    *, file: BinaryIO, file_name: str, depot: Depot, by: User, at: datetime
) -> MachineImport:
    """Takes the file in and asks the background to read it. Nothing is added to the register.

    Raises:
        Refused: too large, not a spreadsheet, or without rows; at the field ``file``.
        PermissionError: the person may not bring machines into this depot.
    """
    return brought.take_in(
        MachineImport, right=Right.IMPORT, file=file, file_name=file_name, depot=depot, by=by,
        at=at, most_an_hour=MOST_AN_HOUR,
    )  # fmt: skip


def read_import(*, run: MachineImport, at: datetime) -> bool:
    """Reads the file and sorts its rows; False when another worker has it, or it is finished.

    Running it again gives the same rows.
    """
    return brought.read_in(run, at=at, sort=partial(_read_and_sort, at=at))


def sort_again(
    *,
    run: MachineImport,
    columns: Mapping[str, str],
    answers: Mapping[str, Any],
    by: User,
    at: datetime,
) -> MachineImport:
    """Takes other columns or answers, and asks the background to sort the rows afresh.

    Raises:
        Refused: it is being saved, saved or dropped.
    """
    return brought.sort_again(run, right=Right.IMPORT, columns=columns, answers=answers, by=by)


def say_yes(*, run: MachineImport, by: User, at: datetime) -> MachineImport:
    """Asks the background to save the rows that are ready. Saying it twice changes nothing.

    Raises:
        Refused: it is still being read, was dropped, or no row is ready.
    """
    return brought.say_yes(run, right=Right.IMPORT, by=by)


def save_import(*, run: MachineImport, at: datetime) -> int:
    """Adds the machines of the rows that are ready, block by block; returns how many were added.

    Each block is one transaction with its sealed record, so that a run that is killed and begun
    again adds each machine once.
    """
    if not MachineImport.objects.filter(step=_Step.SAVE).claim(run.pk, at=at):
        return 0
    added = 0
    try:
        while (count := _save_block_for_sure(run.pk, at=at)) is not None:
            added += count
    except Exception:
        # The next worker need not wait for the lease to run out.
        MachineImport.objects.filter(pk=run.pk, state=_State.WORKING).update(lease_until=at)
        raise
    return added


def drop_import(*, run: MachineImport, by: User, at: datetime) -> MachineImport:
    """Drops the file before anything is saved.

    Raises:
        Refused: machines of it are saved, or being saved.
    """
    return brought.drop(run, right=Right.IMPORT, by=by, at=at, saved=gettext("Machines"))


def leftovers(*, at: datetime) -> list[tuple[int, str]]:
    """Parks what has stopped three times; gives key and step of what waits for a worker."""
    return brought.leftovers(MachineImport, at=at)


# Reading and sorting


def _read_and_sort(run: MachineImport, *, at: datetime) -> list[MachineImportRow]:
    with run.file.open("rb") as file:
        sheet = spreadsheets.read(cast(BinaryIO, file), run.file_name)
        run.headings = list(sheet.headings)
        if not run.columns:
            run.columns, run.answers = _remembered(run)
        by = run.asked_by
        allowed = depots_where(by, Right.IMPORT) if by else frozenset()
        depots = list(Depot.objects.filter(pk__in=allowed | {run.depot_id}))
        kinds = list(MachineKind.objects.all())
        words = {depot.pk: _depot_words(depot) for depot in depots}
        reader = RowReader(
            headings=sheet.headings,
            columns=run.columns,
            answers=run.answers,
            kinds=[
                KindWords(
                    key=kind.key,
                    name=kind.name,
                    supplies=tuple(kind.usual_supplies),
                    belt_driven=kind.belt_driven,
                )
                for kind in kinds
            ],
            depots=words.values(),
            depot=words[run.depot_id],
            today=run.depot.day_of(at),
        )
        facts = [reader.row(row.number, row.cells) for row in sheet.rows]
    run.questions = reader.finished()
    seen = depots_where(by, Right.SEE) if by else frozenset()
    register = _Register(facts, seen=seen, names={kind.key: kind.name for kind in kinds})
    return _sorted(run, facts, register)


def _remembered(run: MachineImport) -> tuple[dict[str, str], dict[str, Any]]:
    """Columns and words as settled for the last file with these headings, else by name."""
    before = (
        MachineImport.objects.filter(depot=run.depot_id, headings=run.headings)
        .exclude(columns={})
        .exclude(pk=run.pk)
        .order_by("-asked_at")
        .first()
    )
    if before is None:
        return TABLE.match(run.headings), {}
    # The order of day and month, and figures out of the usual, are asked for each file.
    kept = {
        key: value for key, value in before.answers.items() if key in ("kind", "supply", "units")
    }
    return dict(before.columns), kept


def _depot_words(depot: Depot) -> DepotWords:
    return DepotWords(
        pk=depot.pk, code=depot.code, name=depot.name, system=System(depot.length_system)
    )


class _Register:
    """The machines already there that have a number or a serial of the file."""

    def __init__(
        self, facts: Sequence[Facts], *, seen: frozenset[int], names: Mapping[str, str]
    ) -> None:
        self._seen = seen
        self._names = names
        keys = {one.values["number_key"] for one in facts if "number_key" in one.values}
        self._by_key: dict[str, Machine] = {}
        for block in _blocks(sorted(keys)):
            found = Machine.objects.filter(number_key__in=block).select_related("kind", "depot")
            self._by_key |= {machine.number_key: machine for machine in found}
        serials = {one.values["serial"] for one in facts if one.values.get("serial")}
        self._by_serial: dict[str, tuple[str, int]] = {}
        for block in _blocks(sorted(serials)):
            alike = Machine.objects.filter(serial__in=block, depot_id__in=seen)
            for serial, number, depot_id in alike.values_list("serial", "number", "depot_id"):
                self._by_serial[serial] = (number, depot_id)

    def compared(self, one: Facts) -> tuple[str, list[str], Machine | None, int | None]:
        """The verdict on a row that can be read, why, the machine if it may be seen, and the depot
        of which something is told."""
        there = self._by_key.get(one.values["number_key"])
        if there is None:
            number, depot_id = self._by_serial.get(one.values.get("serial", ""), ("", None))
            notes = (
                [
                    gettext("Serial number: {number} in the register has the same.").format(
                        number=number
                    )
                ]
                if number
                else []
            )
            return _Verdict.READY, notes, None, depot_id
        if there.depot_id not in self._seen:
            return (
                _Verdict.CLASH,
                [gettext("This number is taken. Give the machine another.")],
                None,
                None,
            )
        if not _one_spelling(there.number, one.values["number"]):
            why = gettext(
                "{there} in the register reads the same. Give the machine another number."
            ).format(there=there.number)
            return _Verdict.CLASH, [why], there, there.depot_id
        differences = list(self._differences(one.values, there))
        if differences:
            why = gettext("{there} is in the register.").format(there=there.number)
            return _Verdict.CLASH, [why, *differences], there, there.depot_id
        why = gettext("In the register already, as {there}.").format(there=there.number)
        return _Verdict.SAME, [why], there, there.depot_id

    def _differences(self, values: Mapping[str, Any], there: Machine) -> Iterator[str]:
        held = {
            "kind": there.kind.key,
            "depot": there.depot_id,
            "type": there.type_name,
        }
        for name, word in _COMPARED.items():
            if name not in values:
                continue
            ours = held[name] if name in held else getattr(there, name)
            if not _equal(values[name], ours):
                yield (
                    gettext("{word}: {name} in the file, {name_2} in the register.").format(
                        word=word,
                        name=self._shown(name, values[name], None),
                        name_2=self._shown(name, ours, there),
                    )
                )

    def _shown(self, name: str, value: Any, there: Machine | None) -> str:
        if value in (None, ""):
            return "nothing"
        if name == "kind":
            return self._names.get(value, str(value))
        if name == "depot":
            return there.depot.name if there else "another"
        if name == "supply":
            return str(Supply(value).label)
        if name == "power_w":
            return units.show(value, units.POWER)
        if name == "mass_kg":
            return units.show(value, units.MASS)
        return (
            gettext("{value} rpm").format(value=f"{value:g}") if name == "speed_rpm" else str(value)
        )


def _sorted(
    run: MachineImport, facts: Sequence[Facts], register: _Register
) -> list[MachineImportRow]:
    of_key: dict[str, list[Facts]] = defaultdict(list)
    for one in facts:
        if key := one.values.get("number_key"):
            of_key[key].append(one)
    return [_row(run, one, of_key, register) for one in facts]


def _row(
    run: MachineImport, one: Facts, of_key: Mapping[str, list[Facts]], register: _Register
) -> MachineImportRow:
    machine = told_of = None
    if one.faults:
        verdict, reasons = str(_Verdict.UNREADABLE), one.faults + one.asks
    elif one.asks:
        verdict, reasons = str(_Verdict.ASK), one.asks
    else:
        verdict, reasons = _against_file(one, of_key[one.values["number_key"]])
        if verdict == _Verdict.READY:
            verdict, reasons, machine, told_of = register.compared(one)
    return MachineImportRow(
        run=run,
        row=one.row,
        verdict=verdict,
        number=one.typed.get("number", "")[:64],
        reasons=reasons + one.notes,
        values={"is": one.values, "typed": one.typed, "shown": one.shown, "told_of": told_of},
        machine=machine,
    )


def _against_file(one: Facts, alike: Sequence[Facts]) -> tuple[str, list[str]]:
    """Compares the row with the others of the file that have its number."""
    first = alike[0]
    if len(alike) == 1:
        return _Verdict.READY, []
    if all(_same_row(first, other) for other in alike):
        if one is first:
            return _Verdict.READY, []
        return _Verdict.SAME, [gettext("Row {row} is the same machine.").format(row=first.row)]
    rows = _listed([str(other.row) for other in alike if other is not one])
    return _Verdict.CLASH, [
        gettext("Row {rows} has this number with other facts. Leave one in the file.").format(
            rows=rows
        )
    ]


def _same_row(one: Facts, other: Facts) -> bool:
    beside = ("number", "plate_typed", "drive")
    facts = [
        {key: value for key, value in each.values.items() if key not in beside}
        for each in (one, other)
    ]
    drives = [
        {key: value for key, value in each.values.get("drive", {}).items() if key != "entries"}
        for each in (one, other)
    ]
    return facts[0] == facts[1] and drives[0] == drives[1]


def _equal(given: Any, held: Any) -> bool:
    if isinstance(given, float) and isinstance(held, float):
        return abs(given - held) <= 1e-9 * max(abs(given), abs(held))
    if isinstance(given, str) and isinstance(held, str):
        return given.casefold() == held.casefold()
    return bool(given == held)


def _one_spelling(one: str, other: str) -> bool:
    """Space, hyphen and capitals are how people write; a point or a stroke may mean something."""
    return re.sub("[ -]", "", one.upper()) == re.sub("[ -]", "", other.upper())


def _listed(words: Sequence[str]) -> str:
    return (
        words[0]
        if len(words) == 1
        else gettext("{rest} or {last}").format(rest=", ".join(words[:-1]), last=words[-1])
    )


def _blocks(items: Iterable[str]) -> Iterator[list[str]]:
    left = iter(items)
    while block := list(islice(left, BLOCK)):
        yield block


# Saving


def _save_block_for_sure(run_id: int, *, at: datetime) -> int | None:
    """One block; once more when somebody gave out one of its numbers at the same moment."""
    for _ in range(_GOES - 1):
        try:
            return _save_block(run_id, at=at)
        except IntegrityError:
            continue
    return _save_block(run_id, at=at)


@transaction.atomic
def _save_block(run_id: int, *, at: datetime) -> int | None:
    """Adds up to 500 machines and seals that; None when there is nothing left to do."""
    run = (
        MachineImport.objects.select_for_update(of=("self",))
        .select_related("said_yes_by", "depot")
        .get(pk=run_id)
    )
    if run.step != _Step.SAVE or run.state != _State.WORKING or run.said_yes_by is None:
        return None
    waiting = run.rows.filter(verdict=_Verdict.READY, machine=None).order_by("row")
    rows = list(waiting[:BLOCK])
    if not rows:
        run.step, run.state, run.ended_at = _Step.SAVED, _State.DONE, at
        run.save(update_fields=["step", "state", "ended_at"])
        return None
    rows = _still_ready(rows, allowed=depots_where(run.said_yes_by, Right.IMPORT))
    kinds = {kind.key: kind for kind in MachineKind.objects.all()}
    depots = Depot.objects.in_bulk({row.values["is"]["depot"] for row in rows})
    machines = add_machines([_new(row.values["is"], kinds, depots) for row in rows], at=at)
    for row, machine in zip(rows, machines, strict=True):
        row.machine = machine
    # One statement; to set each row's own value by bulk_update costs as much as all the rest.
    of_row = Machine.objects.filter(
        number_key=KeyTextTransform("number_key", KeyTransform("is", OuterRef("values")))
    )
    MachineImportRow.objects.filter(pk__in=[row.pk for row in rows]).update(
        machine=Subquery(of_row.values("pk")[:1])
    )
    for depot_id in sorted(depots):
        _seal_block(run, depots[depot_id], rows, at=at)
    # A block that was saved is a step forward, so this worker has its goes again.
    run.attempts = 1
    run.save(update_fields=["attempts"])
    return len(machines)


def _still_ready(
    rows: list[MachineImportRow], *, allowed: frozenset[int]
) -> list[MachineImportRow]:
    """Sets aside what is no longer ready since the rows were sorted."""
    keys = [row.values["is"]["number_key"] for row in rows]
    taken = set(Machine.objects.filter(number_key__in=keys).values_list("number_key", flat=True))
    ready, aside = [], []
    for row in rows:
        if row.values["is"]["number_key"] in taken:
            row.verdict = _Verdict.CLASH
            row.reasons = [
                gettext("This number was given out after the file was read."),
                *row.reasons,
            ]
            aside.append(row)
        elif row.values["is"]["depot"] not in allowed:
            row.verdict = _Verdict.ASK
            row.reasons = [
                gettext("Depot: you may no longer bring machines into it."),
                *row.reasons,
            ]
            aside.append(row)
        else:
            ready.append(row)
    if aside:
        MachineImportRow.objects.bulk_update(aside, ["verdict", "reasons"])
    return ready


def _new(
    values: Mapping[str, Any], kinds: Mapping[str, MachineKind], depots: Mapping[int, Depot]
) -> NewMachine:
    plate = {name: values[name] for name in _PLATE if name in values}
    if "type" in values:
        plate["type_name"] = values["type"]
    depot = depots[values["depot"]]
    read_on = values.get("hours_on")
    return NewMachine(
        depot=depot,
        kind=kinds[values["kind"]],
        number=values["number"],
        supply=values["supply"],
        plate=plate,
        hours_tenths=values.get("hours_tenths"),
        # The hour of the day is not in the file: the start of the day lies before all later ones.
        hours_at=(
            datetime.combine(date.fromisoformat(read_on), time(), tzinfo=depot.zone)
            if read_on
            else None
        ),
        counts=values.get("counts", {}),
        drive=_drive(values.get("drive")),
    )


def _drive(values: Mapping[str, Any] | None) -> dict[str, Any] | None:
    if not values:
        return None
    fitted = values.get("belt_fitted_on")
    return dict(values) | ({"belt_fitted_on": date.fromisoformat(fitted)} if fitted else {})


def _seal_block(
    run: MachineImport, depot: Depot, rows: Sequence[MachineImportRow], *, at: datetime
) -> None:
    by = run.said_yes_by
    own = [row for row in rows if row.machine and row.machine.depot_id == depot.pk]
    if by is None or not own:
        return
    machines: list[Canonical] = [_told(row) for row in own]
    seal(
        kind=Record.Kind.IMPORT,
        depot=depot,
        data={
            "file_sha256": run.sha256,
            "import": str(run.pk),
            "first_row": str(own[0].row),
            "last_row": str(own[-1].row),
            "count": str(len(own)),
            "machines": machines,
        },
        happened_at=at,
        received_at=at,
        by=by,
        role=role_for(by, Right.IMPORT, depot.pk),
        texts={"file_name": run.file_name},
    )


def _told(row: MachineImportRow) -> Canonical:
    values = row.values["is"]
    tenths = values.get("hours_tenths")
    dial: Canonical = None
    if tenths is not None:
        dial = {
            "typed": values["plate_typed"]["meter"],
            "si": units.decimal_string(units.seconds_of_tenths(tenths)),
            "unit": "s",
            "read_on": values.get("hours_on"),
        }
    told: dict[str, Canonical] = {
        "id": str(row.machine_id), "number": values["number"], "dial": dial,
    }  # fmt: skip
    if counts := values.get("counts"):
        told["counts"] = {
            "read_on": values.get("hours_on"),
            **{measure: str(count) for measure, count in sorted(counts.items())},
        }
    return told
