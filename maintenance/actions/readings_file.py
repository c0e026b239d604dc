"""Brings in the readings of an electrical test instrument: each ready row becomes a sealed test."""

import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import cache, partial
from itertools import islice
from typing import Any, BinaryIO, TypeVar, cast

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.actions.signing import held_as_learner
from maintenance.actions.test import (
    LEARNER,
    Device,
    LeadTyped,
    Reading,
    against_instrument,
    judged_by,
    reading,
    record_test,
)
from maintenance.contents.competence import standing
from maintenance.contents.test import last_told_of_many
from maintenance.models import (
    ElectricalTest,
    Instrument,
    ReadingsFile,
    ReadingsRow,
    RuleSheet,
    Skill,
)
from maintenance.rules import electrical as rule
from maintenance.rules.sheet import RuleSheet as Sheet
from maintenance.rules.tester_columns import columns_of
from maintenance.rules.tester_file import Facts, InstrumentWords, RowReader, Tested
from maintenance.rules.words import list_text
from plant import spreadsheets, units
from plant.actions import brought
from plant.actions.refusal import Refused
from plant.columns import Columns
from plant.models import Depot, Machine, Record, User
from plant.rights import NotAllowed, Right
from plant.sealing import Canonical

# People mend a file and try again; this only stops a program that never tires.
MOST_AN_HOUR = 5
BLOCK = 500
AT_ONCE = 50
# How many files of a depot are looked through for the same headings.
REMEMBERED = 200
NOT_IN_FILE = gettext_noop("Not in the file of the instrument.")
_Step, _State, _Verdict = ReadingsFile.Step, ReadingsFile.State, ReadingsRow.Verdict
Clock = Callable[[], datetime]
T = TypeVar("T")


def ask_file(
    *, file: BinaryIO, file_name: str, depot: Depot, by: User, at: datetime
) -> ReadingsFile:
    """Takes the file in and asks the background to read it. No test is saved.

    Raises:
        Refused: too large, not a spreadsheet, without rows, or brought on a shared phone.
        PermissionError: the person may not test at this depot.
    """
    if by.on_phone is not None:
        raise Refused(_("Files are not brought in on a shared phone. Sign in with your password."))
    return brought.take_in(
        ReadingsFile, right=Right.WORK, file=file, file_name=file_name, depot=depot, by=by, at=at,
        most_an_hour=MOST_AN_HOUR,
    )  # fmt: skip


def read_file(*, run: ReadingsFile, at: datetime) -> bool:
    """Reads the file and sorts its rows; False when another worker has it, or it is finished."""
    return brought.read_in(run, at=at, sort=partial(_read_and_sort, at=at))


def sort_again(
    *, run: ReadingsFile, columns: Mapping[str, str], answers: Mapping[str, Any], by: User
) -> ReadingsFile:
    """Takes other columns or answers, and asks the background to sort the rows afresh.

    Raises:
        Refused: it is being saved, saved or dropped, or somebody else brought it.
    """
    _refuse_others(run, by)
    return brought.sort_again(run, right=Right.WORK, columns=columns, answers=answers, by=by)


def say_yes(*, run: ReadingsFile, by: User) -> ReadingsFile:
    """Asks the background to save the rows that are ready, as tests of this person.

    Raises:
        Refused: somebody else brought it, it is still being read, was dropped, or no row is ready.
    """
    _refuse_others(run, by)
    return brought.say_yes(run, right=Right.WORK, by=by)


def drop_file(*, run: ReadingsFile, by: User, at: datetime) -> ReadingsFile:
    """Drops the file before anything is saved.

    Raises:
        Refused: tests of it are saved, or being saved.
    """
    return brought.drop(run, right=Right.WORK, by=by, at=at, saved=_("Tests"))


def leftovers(*, at: datetime) -> list[tuple[int, str]]:
    """Parks what has stopped three times; gives key and step of what waits for a worker."""
    return brought.leftovers(ReadingsFile, at=at)


def save_file(*, run: ReadingsFile, clock: Clock, until: datetime) -> bool:
    """Saves rows that are ready, each as a test in a transaction of its own.

    A run that is killed and begun again saves each row once: the number of its record follows from
    its content.

    Returns:
        Whether rows are left for a later run.
    """
    at = clock()
    if not ReadingsFile.objects.filter(step=_Step.SAVE).claim(run.pk, at=at):
        return False
    run = ReadingsFile.objects.select_related("said_yes_by", "depot").get(pk=run.pk)
    held = ReadingsFile.objects.all().held(run.pk, claimed_at=at)
    waiting = run.rows.filter(verdict=_Verdict.READY, test=None).order_by("row")
    try:
        while rows := list(waiting.select_related("machine")[:AT_ONCE]):
            for row in rows:
                if (now_ := clock()) >= until:
                    held.update(state=_State.ASKED, attempts=0)
                    return True
                _save_row(run, row, at=now_)
    except Exception:
        held.update(lease_until=at)
        raise
    held.update(step=_Step.SAVED, state=_State.DONE, ended_at=clock())
    return False


def _refuse_others(run: ReadingsFile, by: User) -> None:
    """A test is signed by who made it, so nobody answers or saves for somebody else."""
    if run.asked_by_id != by.pk:
        raise Refused(_("Only who brought this file goes on with it: that person signs its tests."))
    if by.on_phone is not None:
        raise Refused(_("Files are not brought in on a shared phone. Sign in with your password."))


# Reading and sorting


def _read_and_sort(run: ReadingsFile, *, at: datetime) -> list[ReadingsRow]:
    depot, by = run.depot, run.asked_by
    assert by is not None

    @cache
    def sheet_on(day: date) -> Sheet | None:
        try:
            return RuleSheet.objects.on(day).rules
        except RuleSheet.DoesNotExist:
            return None

    today = sheet_on(depot.day_of(at))
    if today is None:
        raise spreadsheets.FileRefused(_("There is no rule sheet yet, so nothing can be judged."))
    columns = columns_of(today)
    instruments = _instruments(depot)
    with run.file.open("rb") as file:
        sheet = spreadsheets.read(cast(BinaryIO, file), run.file_name)
        run.headings = list(sheet.headings)
        if not run.columns:
            run.columns, run.answers = _remembered(run, columns)
        rows = list(sheet.rows)
    reader = RowReader(
        columns=columns,
        headings=run.headings,
        matched=run.columns,
        answers=run.answers,
        sheet_on=sheet_on,
        instruments=[
            InstrumentWords(pk=each.pk, name=each.name, serial=each.serial)
            for each in instruments.values()
        ],
        zone=depot.zone,
        now=at,
    )
    machines = _Machines(depot, {reader.key_of(row.cells) for row in rows})
    judge = _Judge(depot=depot, by=by, instruments=instruments, sheet_on=sheet_on)
    sorted_rows = []
    for row in rows:
        machine = machines.by_key.get(reader.key_of(row.cells))
        tested = machines.tested(machine) if machine else None
        facts = reader.row(row.number, row.cells, tested)
        sorted_rows.append(judge.row(run, facts, machine))
    run.questions = reader.finished()
    _set_aside_known(sorted_rows)
    return sorted_rows


def _instruments(depot: Depot) -> dict[int, Instrument]:
    found = Instrument.objects.in_use().filter(depot=depot).prefetch_related("calibrations")
    return {each.pk: each for each in found}


def _remembered(run: ReadingsFile, columns: Columns) -> tuple[dict[str, str], dict[str, Any]]:
    """Columns and words as settled for the depot's last file with these headings, else by name."""
    wanted = set(run.headings)
    before = ReadingsFile.objects.filter(depot=run.depot_id).exclude(pk=run.pk)
    for each in before.exclude(columns={}).order_by("-asked_at")[:REMEMBERED]:
        if set(each.headings) == wanted:
            # The day, the order of dates and what was looked at are answered for each file, and so
            # is what a file leaves open.
            kept = {"units": each.answers.get("units", {})}
            for subject in ("instrument", "item", "profile"):
                kept[subject] = {k: v for k, v in each.answers.get(subject, {}).items() if k}
            return dict(each.columns), kept
    return columns.match(run.headings), {}


class _Machines:
    """The machines of the depot that the file names, with what their last tests said."""

    def __init__(self, depot: Depot, keys: set[str]) -> None:
        self.by_key: dict[str, Machine] = {}
        self._last: dict[int, dict[str, dict[str, Any]]] = {}
        for block in _blocks(sorted(keys - {""})):
            found = list(
                Machine.objects.filter(depot=depot, number_key__in=block).select_related("kind")
            )
            self.by_key |= {each.number_key: each for each in found}
            self._last |= last_told_of_many(found)

    def tested(self, machine: Machine) -> Tested:
        return Tested(
            family=machine.kind.family,
            supply=machine.supply,
            protection=machine.protection,
            power_w=machine.power_w,
            last=self._last.get(machine.pk, {}),
        )


class _Judge:
    """Sorts a row by what it says, and works out what its test would come to."""

    def __init__(
        self,
        *,
        depot: Depot,
        by: User,
        instruments: Mapping[int, Instrument],
        sheet_on: Callable[[date], Sheet | None],
    ) -> None:
        self._instruments = instruments
        self._sheet_on = sheet_on
        self._learner = held_as_learner(by, depot)
        self._standing = cache(
            lambda family, on: (
                standing(by, depot_id=depot.pk, skill=Skill.TEST, family=family, on=on).refusal
            )
        )

    def row(self, run: ReadingsFile, facts: Facts, machine: Machine | None) -> ReadingsRow:
        row = ReadingsRow(
            run=run, row=facts.row, number=facts.typed.get("number", "")[:64], machine=machine
        )
        reasons: list[str] = []
        if "number" in facts.typed and machine is None and not facts.faults:
            row.verdict, reasons = (
                _Verdict.NO_MACHINE,
                [_("No machine of this depot has this number.")],
            )
        elif facts.faults:
            row.verdict, reasons = _Verdict.UNREADABLE, [*facts.faults, *facts.asks]
        elif facts.unclear:
            row.verdict, reasons = _Verdict.NO_FORM, facts.unclear
        elif facts.asks or machine is None:
            row.verdict, reasons = _Verdict.ASK, facts.asks
        else:
            row.verdict, reasons = self._judged(row, facts, machine)
        row.reasons = [*reasons, *facts.notes]
        row.values = {"typed": facts.typed} | (_values(facts, machine) if machine else {})
        return row

    def _judged(
        self, row: ReadingsRow, facts: Facts, machine: Machine
    ) -> tuple[ReadingsRow.Verdict, list[str]]:
        form, day = facts.form, facts.day
        assert form is not None
        assert day is not None
        sheet = self._sheet_on(day)
        assert sheet is not None
        values = _values(facts, machine)
        try:
            judged, missing = judged_by(
                form, _readings(values), sheet=sheet, lead=_lead(values),
                device=_device(values), reason=NOT_IN_FILE,
            )  # fmt: skip
        except Refused as wrong:
            return _Verdict.UNREADABLE, [str(wrong)]
        figures = [each for each in judged.values() if not each.passed]
        if missing and not figures:
            left = list_text([asked.words for asked in missing])
            return _Verdict.UNREADABLE, [
                _("Missing, and nothing failed: {left}.").format(left=left)
            ]
        row.passes = not figures
        row.differs = facts.said_passed is not None and facts.said_passed != row.passes
        if not row.passes:
            return _Verdict.READY, [each.reason for each in figures]
        instrument = self._instruments.get(facts.instrument or 0)
        against = (
            against_instrument(form, instrument, on=day)
            or (LEARNER if self._learner else "")
            or self._standing(machine.kind.family, day)
        )
        return (
            (_Verdict.ASK, [_("It passes, but: {against}").format(against=against)])
            if against
            else (_Verdict.READY, [])
        )


def _values(facts: Facts, machine: Machine) -> dict[str, Any]:
    """What becomes of the row when it is saved; empty where that is not known yet."""
    if facts.form is None or facts.at is None:
        return {}
    return {
        "id": str(facts.identity(machine=f"{machine.depot_id} {machine.pk}")),
        "form": facts.form.key,
        "title": facts.form.name,
        "at": facts.at.isoformat(),
        "timed": facts.timed,
        "instrument": facts.instrument,
        "readings": {
            key: [found.typed, found.si, found.end] for key, found in _found(facts.form, facts)
        },
        "missing": bool(facts.missing),
        "lead": list(facts.lead) if facts.lead else None,
        "device": list(facts.device) if facts.device else None,
        "item_serial": facts.item_serial,
        "note": facts.note,
        "said": facts.said,
    }


def _found(form: rule.Form, facts: Facts) -> Iterator[tuple[str, Reading]]:
    for each in form.asked:
        if each.key in facts.readings:
            yield each.key, reading(each, facts.readings[each.key])


def _readings(values: Mapping[str, Any]) -> dict[str, Reading]:
    return {
        key: Reading(typed=typed, si=si, end=end)
        for key, (typed, si, end) in values["readings"].items()
    }


def _lead(values: Mapping[str, Any]) -> LeadTyped | None:
    if not values["lead"]:
        return None
    length, core = values["lead"]
    return LeadTyped(length=units.read(length, units.LEAD_LENGTH), core_mm2=core)


def _device(values: Mapping[str, Any]) -> Device | None:
    if not values["device"]:
        return None
    profile, rated, kind = values["device"]
    return Device(profile=profile, rated=units.read(rated, units.RCD_CURRENT), rcd_type=kind)


def _set_aside_known(rows: Sequence[ReadingsRow]) -> None:
    """Rows whose test is on record already, or stands further up in the file."""
    ready = [row for row in rows if row.verdict == _Verdict.READY]
    sealed, moments = set(), set()
    for block in _blocks(row.values["id"] for row in ready):
        records = Record.objects.filter(pk__in=block)
        sealed |= {str(pk) for pk in records.values_list("pk", flat=True)}
    for pks in _blocks({row.machine_id for row in ready}):
        tests = ElectricalTest.objects.filter(machine__in=pks)
        moments |= set(tests.values_list("machine", "form", "at", "item_serial"))
    first: dict[str, int] = {}
    for row in ready:
        number, values = row.values["id"], row.values
        at = datetime.fromisoformat(values["at"])
        moment = (row.machine_id, values["form"], at, values["item_serial"])
        if number in sealed:
            told = _("This test is on record.")
        elif number in first:
            told = _("Row {first} is the same test.").format(first=first[number])
        elif values["timed"] and moment in moments:
            told = _("A test of that moment is on record, with other readings.")
        else:
            first[number] = row.row
            continue
        row.verdict = _Verdict.SAME
        row.reasons = [told, *row.reasons]


def _blocks(items: Iterable[T]) -> Iterator[list[T]]:
    left = iter(items)
    while block := list(islice(left, BLOCK)):
        yield block


# Saving


@transaction.atomic
def _save_row(run: ReadingsFile, row: ReadingsRow, *, at: datetime) -> None:
    """Seals the test of one row; what speaks against it by now is told at the row instead."""
    values, by = row.values, run.said_yes_by
    assert by is not None
    if Record.objects.filter(pk=values["id"]).exists():
        row.verdict, row.reasons = _Verdict.SAME, [_("This test is on record."), *row.reasons]
        row.save(update_fields=["verdict", "reasons"])
        return
    told: dict[str, Canonical] = {"sha256": run.sha256, "row": str(row.row)}
    if values["said"]:
        told |= {"said": values["said"], "differs": row.differs}
    if not values["timed"]:
        told["hour"] = "estimated: the file has no hour, so noon is taken"
    try:
        if row.machine is None:
            raise Refused(_("The machine is no longer in the register."))
        row.test = record_test(
            machine=row.machine,
            form=values["form"],
            readings=_readings(values),
            instrument=Instrument.objects.filter(pk=values["instrument"]).first(),
            at=datetime.fromisoformat(values["at"]),
            by=by,
            lead=_lead(values),
            device=_device(values),
            item_serial=values["item_serial"],
            not_tested=NOT_IN_FILE if values["missing"] else "",
            note=values["note"],
            from_file=told,
            received_at=at,
            record_id=uuid.UUID(values["id"]),
        )
    except (Refused, NotAllowed) as refused:
        row.verdict, row.reasons = _Verdict.ASK, [str(refused), *row.reasons]
        row.save(update_fields=["verdict", "reasons"])
        return
    row.save(update_fields=["test"])
