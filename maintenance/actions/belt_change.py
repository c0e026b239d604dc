"""A belt changed at the machine: what is kept on the way, the fitting sealed, one taken back."""

import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext

from maintenance.actions import rack
from maintenance.actions.belt_life import belt_moved
from maintenance.actions.job import locked_job
from maintenance.actions.new_belt import NewBelt, belt_of_drive, check_width, put_back, put_on
from maintenance.actions.reading import record_tension, record_width
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.actions.slot import SLOT_TOOLS, record_slot
from maintenance.models import (
    BeltDraft,
    BeltFitting,
    BeltLook,
    Cost,
    Job,
    PartUsed,
    StockMove,
    TensionReading,
)
from maintenance.rules.belt_life import LOOKS
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.contents.drive import belt_key
from plant.drives import doubt
from plant.drives.workout import SUMS_VERSION, DriveWorkout
from plant.models import Drive, Record, User
from plant.rights import Right, may, role_for
from plant.sealing import Canonical
from plant.sealing import moment as sealed_moment
from plant.units import Typed

STEPS = ("old", "new", "set")
_NOT_BEGUN = (Job.State.REPORTED, Job.State.LOOKED_AT, Job.State.GIVEN_OUT)


@dataclass(frozen=True, kw_only=True)
class OldBelt:
    """The last look at the belt that came off: its width, or why it was not measured."""

    at: datetime
    width: Typed | None = None
    tool: str = ""
    because: str = ""


@dataclass(frozen=True, kw_only=True)
class FirstSetting:
    """How the new belt was set: a reading, or why there is none; and where the motor stands."""

    method: TensionReading.Method = TensionReading.Method.FORCE
    figure: Typed | None = None
    tool: str = ""
    depth: Typed | None = None
    because: str = ""
    slot_out: Typed | None = None
    confirmed: bool = False
    guards_on: bool = False


@transaction.atomic
def keep_step(
    *,
    job: Job,
    drive: Drive,
    step: str,
    typed: Mapping[str, str],
    seen: str,
    at: datetime,
    by: User,
) -> BeltDraft:
    """Keeps one step of a change on the way, for everybody on the job. It seals nothing.

    Args:
        seen: the moment of the step as this person's page showed it; empty for none.

    Raises:
        Refused: the job is not under way, or somebody saved this step meanwhile.
    """
    job = locked_job(job)
    role_for(by, Right.WORK, job.machine.depot_id)
    _refuse_unready(job, drive)
    draft, _ = BeltDraft.objects.get_or_create(job=job, drive=drive, defaults={"kept_at": at})
    before = draft.steps.get(step)
    if before is not None and before["at"] != seen:
        raise Refused(
            gettext(
                "{by} saved this step meanwhile; it stands below. Yours is still "
                "in the form, not saved. Save again to put it in its place."
            ).format(by=before["by"])
        )
    if before is not None and before["typed"] != dict(typed):
        draft.replaced = [*draft.replaced, {"step": step, **before}]
    draft.steps = draft.steps | {step: {"typed": dict(typed), "by": by.name, "at": at.isoformat()}}
    draft.kept_at = at
    draft.save()
    return draft


def preview(drive: Drive, new: NewBelt, *, at: datetime) -> DriveWorkout:
    """The drive worked out with the new belt on it, as it is to be set. Nothing is saved.

    Raises:
        BeltUnclear, Questioned, Refused: the belt is not known, is odd, or does not go on.
    """
    fresh = Drive.objects.select_related("machine__depot").get(pk=drive.pk)
    return put_on(fresh, new, at=at)[1]


@transaction.atomic
def fit_belt(
    *,
    job: Job,
    drive: Drive,
    old: OldBelt,
    new: NewBelt,
    setting: FirstSetting,
    at: datetime,
    by: User,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> BeltFitting:
    """Seals that a belt was fitted, with the old belt's last width and the new one's first tension.

    The drive's belt changes with it, so that readings from before belong to the old belt. Two
    looks at the new belt are booked. Guards were off, so the job then needs a release check.

    Raises:
        BeltUnclear: the mark can be read in several ways, or in none.
        Questioned: the belt or the tension looks like a slip.
        Refused: not isolated, a belt of the set left out, guards off, or figures that make no
            belt; or somebody sealed this change already.
    """
    job = locked_job(job)
    machine = job.machine
    role = role_for(by, Right.WORK, machine.depot_id)
    drive = Drive.objects.select_for_update(of=("self",)).get(pk=drive.pk, machine=machine)
    drive.machine = machine
    mark = words(new.mark, field="mark", what=gettext("what stands on the belt"), high=200)
    new = replace(new, mark=mark)
    told = _as_told(job, drive, old=old, new=new, setting=setting)
    texts = {
        "not_measured": words(old.because, field="because", what="why", high=200),
        "from": words(new.taken_from, field="taken_from", what=gettext("where from"), high=60),
        "not_read": words(setting.because, field="because", what="why", high=200),
    }
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.BELT, machine=machine, by=by,
        told=told, texts=texts,
    ):  # fmt: skip
        return before.fitting_row
    _refuse_unready(job, drive)
    _refuse_incomplete(drive, old=old, new=new, setting=setting)
    kept = belt_of_drive(drive)
    width_record = None
    if old.width is not None:
        width_record = record_width(
            drive=drive, widths=[old.width], tool=old.tool, at=min(old.at, at), by=by,
            received_at=received_at or at,
        ).record  # fmt: skip
        drive.refresh_from_db()
    read_as, found = put_on(drive, new, at=at)
    drive.save()
    drive.machine = machine
    tension = _set_first(drive, setting, at=at, by=by, received_at=received_at)
    taken = None
    if new.part is not None and new.place is not None:
        taken = rack.take(
            part=new.part, place=new.place, job=job, quantity=drive.belts, at=at, by=by
        )
    u = doubt.tool(new.tool).value
    record = seal(
        kind=Record.Kind.BELT, depot=machine.depot, machine=machine,
        data={
            **told,
            "read_as": read_as,
            "section": drive.section,
            "datum": _si(drive.belt_datum_m, "m"),
            "width_u": _si(u, "m"),
            "old_width": str(width_record.pk) if width_record else None,
            "tension": str(tension.record_id) if tension else None,
            "stock": str(taken.record_id) if taken else None,
            "isolated_at": sealed_moment(job.isolated_at) if job.isolated_at else None,
            "isolated_by": str(job.isolated_by_id) if job.isolated_by_id else None,
            "sums": SUMS_VERSION,
            "verdict": str(found.verdict),
        },
        happened_at=at, received_at=received_at or at, by=by, role=role, texts=texts,
        record_id=record_id,
    )  # fmt: skip
    fitting = BeltFitting.objects.create(
        drive=drive, job=job, at=at, mark=mark, width_m=new.width.value_si, width_u_m=u,
        before=kept, record=record,
    )  # fmt: skip
    if taken is None:
        PartUsed.objects.create(
            job=job, what=_belt_words(mark), quantity=drive.belts,
            taken_from=texts["from"], record=record,
        )  # fmt: skip
    BeltDraft.objects.filter(job=job, drive=drive).delete()
    job.is_safety = True
    job.save(update_fields=["is_safety"])
    drive.refresh_from_db()
    drive.machine = machine
    _book_looks(drive, job=job, at=at)
    belt_moved(drive, at=received_at or at)
    return fitting


def _set_first(
    drive: Drive,
    setting: FirstSetting,
    *,
    at: datetime,
    by: User,
    received_at: datetime | None,
) -> TensionReading | None:
    """Keeps the first tension of the new belt, or at least where the motor then stands."""
    if setting.figure is not None:
        return record_tension(
            drive=drive, method=setting.method, figure=setting.figure, tool=setting.tool,
            depth=setting.depth, slot_out=setting.slot_out, confirmed=setting.confirmed, at=at,
            by=by, received_at=received_at,
        )  # fmt: skip
    if setting.slot_out is not None:
        record_slot(
            drive=drive, out=setting.slot_out, tool=SLOT_TOOLS[0], tight=None, at=at, by=by,
            received_at=received_at,
        )  # fmt: skip
    return None


def _book_looks(drive: Drive, *, job: Job, at: datetime) -> None:
    """The looks at the new belt are booked, and what was booked for the old one is called off."""
    key = belt_key(drive)
    BeltLook.objects.bulk_create(
        BeltLook(drive=drive, belt_key=key, number=number, worked_out_at=at)
        for number in range(1, len(LOOKS) + 1)
    )
    _call_off(
        Job.objects.filter(drive=drive).exclude(belt_key=key, belt_work__gt=""),
        but=job, why=gettext("A new belt was fitted in {job}.").format(job=job.number), at=at,
    )  # fmt: skip


@transaction.atomic
def correct_fitting(
    *,
    fitting: BeltFitting,
    reason: str,
    at: datetime,
    by: User,
    new: NewBelt | None = None,
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Corrects what was fitted, or says that nothing was; the first word stays sealed.

    Args:
        new: the belt that was really fitted, at the same moment; None: none was, and the drive
            is back at its old belt, what was taken from stock for it back where it lay.

    Raises:
        BeltUnclear, Questioned, Refused: a later belt is on, no reason, the belt is not known, or
            it came from the rack of a depot whose stock this person does not move.
    """
    machine = locked(fitting.drive.machine)
    role = role_for(by, Right.CORRECT, machine.depot_id)
    fitting = BeltFitting.objects.select_related("record", "job").get(pk=fitting.pk)
    drive = Drive.objects.select_for_update(of=("self",)).get(pk=fitting.drive_id)
    drive.machine = machine
    reason = words(reason, field="reason", what="reason", low=10, high=500)
    told: dict[str, Canonical] = {
        "drive": str(drive.pk),
        "was_fitted": new is not None,
        "mark": new.mark if new else None,
        "was_mark": fitting.mark,
        "width": _figure(new.width, "m") if new else None,
        "tool": new.tool if new else "",
    }
    if before := sealed_before(
        record_id=record_id, kind=Record.Kind.CORRECTION, machine=machine, by=by,
        told=told, texts={"reason": reason},
    ):  # fmt: skip
        return before
    last = BeltFitting.objects.counting().filter(drive=drive).first()
    if last is None or last.pk != fitting.pk or drive.belt_mark != fitting.mark:
        raise Refused(
            gettext("The belt was changed again since, or the drive's data were. Open it afresh.")
        )
    record = seal(
        kind=Record.Kind.CORRECTION, depot=machine.depot, machine=machine, data=told,
        happened_at=at, received_at=received_at or at, by=by, role=role, texts={"reason": reason},
        corrects=fitting.record, record_id=record_id,
    )  # fmt: skip
    fitting.struck_by = record
    fitting.save(update_fields=["struck_by"])
    key = belt_key(drive)
    if new is None:
        _parts_back(fitting, at=at, by=by)
        put_back(drive, fitting.before)
        BeltLook.objects.filter(drive=drive, belt_key=key).delete()
        _call_off(
            Job.objects.filter(drive=drive, belt_key=key).exclude(belt_work=""),
            but=None, why=gettext("No new belt was fitted."), at=at,
        )  # fmt: skip
    else:
        check_width(new)
        tight, tenths = drive.entries.get("belt_tight"), drive.belt_fitted_tenths
        put_back(drive, fitting.before)
        put_on(drive, new, at=fitting.at, tenths=tenths)
        if tight:
            drive.entries = drive.entries | {"belt_tight": tight}
        BeltFitting.objects.create(
            drive=drive, job=fitting.job, at=fitting.at, mark=new.mark,
            width_m=new.width.value_si, width_u_m=doubt.tool(new.tool).value,
            before=fitting.before, record=record,
        )  # fmt: skip
        _part_renamed(fitting, new, record=record)
    drive.save()
    belt_moved(drive, at=received_at or at)
    return record


def _parts_back(fitting: BeltFitting, *, at: datetime, by: User) -> None:
    """What the fitting took is no more on the job: moved back into stock, its price struck."""
    for used in _parts_of(fitting):
        taken = used.stock_moves.filter(kind=StockMove.Kind.TAKEN).select_related("part").first()
        if taken is None:
            used.returned = used.quantity
            used.save(update_fields=["returned"])
            continue
        depot = taken.part.depot
        if not may(by, Right.STOCK, depot.pk):
            raise Refused(
                gettext(
                    "The belt came from the rack of {depot}: somebody there takes it back."
                ).format(depot=depot)
            )
        if used.kept:
            rack.put_back(used=used, quantity=used.kept, at=at, by=by)
        Cost.objects.counting().filter(part=used).update(struck_at=at, struck_by=by)


def _part_renamed(fitting: BeltFitting, new: NewBelt, *, record: Record) -> None:
    """A part told by its mark alone stands under the right one beside what was told first."""
    told = _parts_of(fitting).filter(stock_moves__isnull=True, returned=0)
    for used in told.exclude(what=_belt_words(new.mark)):
        used.returned = used.quantity
        used.save(update_fields=["returned"])
        PartUsed.objects.create(
            job=used.job, what=_belt_words(new.mark), quantity=used.quantity,
            taken_from=used.taken_from, record=record,
        )  # fmt: skip


def _parts_of(fitting: BeltFitting) -> QuerySet[PartUsed]:
    """The parts that the fitting put on its job, however often it was corrected since."""
    records: list[uuid.UUID] = []
    record: Record | None = fitting.record
    while record is not None:
        stock = json.loads(record.content)["data"].get("stock")
        records += [record.pk, uuid.UUID(stock)] if stock else [record.pk]
        record = record.corrects
    return PartUsed.objects.select_for_update(of=("self",)).filter(
        job=fitting.job_id, record__in=records
    )


def _belt_words(mark: str) -> str:
    return f"Belt {mark}"[:120]


def _refuse_unready(job: Job, drive: Drive) -> None:
    if drive.machine_id != job.machine_id or drive.kind != Drive.Kind.BELT:
        raise Refused(gettext("This drive is not of the job's machine. Nothing was saved."))
    done = BeltFitting.objects.counting().filter(job=job, drive=drive)
    if fitted := done.select_related("record__by").first():
        who = fitted.record.by.name if fitted.record.by else gettext("Somebody")
        raise Refused(
            gettext("{who} sealed this change already: {mark}. Not saved.").format(
                who=who, mark=fitted.mark
            )
        )
    if job.state != Job.State.UNDER_WAY or job.isolated_at is None:
        raise Refused(gettext("Start the job first: isolate the machine. Not saved."))


def _refuse_incomplete(drive: Drive, *, old: OldBelt, new: NewBelt, setting: FirstSetting) -> None:
    if old.width is None and not old.because.strip():
        raise Refused(gettext("Measure the old belt, or say why not."), field="width_1")
    check_width(new)
    if drive.belts > 1 and not new.together:
        raise Refused(
            gettext(
                "Change all {belts} belts together: a new one beside worn ones "
                "carries the load alone. Not saved."
            ).format(belts=drive.belts),
            field="together",
        )
    if not new.motor_in:
        raise Refused(
            gettext("Move the motor in until the belt goes on without force."), field="motor_in"
        )
    if setting.figure is None and not setting.because.strip():
        raise Refused(gettext("Read the tension, or say why not."), field="force")
    if not setting.guards_on:
        raise Refused(
            gettext("Put the guards back first, then say so. Not saved."), field="guards_on"
        )


def _call_off(jobs: Any, *, but: Job | None, why: str, at: datetime) -> None:
    """Calls off what nobody has begun: belt work that another belt has made needless."""
    jobs = jobs.filter(Q(belt_work__gt="") | Q(kind=Job.Kind.BELT), state__in=_NOT_BEGUN)
    if but is not None:
        jobs = jobs.exclude(pk=but.pk)
    jobs.update(state=Job.State.CALLED_OFF, state_since=at, closed_at=at, called_off_because=why)


def _as_told(
    job: Job, drive: Drive, *, old: OldBelt, new: NewBelt, setting: FirstSetting
) -> dict[str, Canonical]:
    """What the sender decides, in the form in which it is sealed."""
    is_force = setting.method == TensionReading.Method.FORCE
    return {
        "job": job.number,
        "drive": str(drive.pk),
        "old": {"width": _figure(old.width, "m") if old.width else None, "tool": old.tool},
        "mark": new.mark,
        "choice": new.choice,
        "by_hand": {
            "section": new.section, "length": _figure(new.length, "m") if new.length else None,
        },
        "width": _figure(new.width, "m"),
        "tool": new.tool,
        "belts": str(drive.belts),
        "together": new.together or drive.belts == 1,
        "motor_in": new.motor_in,
        "set": {
            "method": str(setting.method),
            "reading": _figure(setting.figure, "N" if is_force else "Hz")
            if setting.figure
            else None,
            "tool": setting.tool,
        },
        "slot_out": _figure(setting.slot_out, "m") if setting.slot_out else None,
        "guards_on": setting.guards_on,
    }  # fmt: skip


def _figure(typed: Typed, unit: str) -> Canonical:
    return {
        "typed": typed.text_as_typed, "si": units.decimal_string(typed.value_si), "unit": unit,
    }  # fmt: skip


def _si(value: float | None, unit: str) -> Canonical:
    return None if value is None else {"si": units.decimal_string(value), "unit": unit}
