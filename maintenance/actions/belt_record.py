"""What every belt reading does alike: begun under the lock, sealed, put right, acted on."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from maintenance.actions.again import link_again
from maintenance.actions.belt_life import belt_moved
from maintenance.actions.signing import locked, sealed_before, words
from maintenance.contents.drive import drive_now, sentence
from maintenance.models import (
    AlignmentReading,
    Job,
    PulleyReading,
    RideReading,
    SlotReading,
    TensionReading,
    WidthReading,
)
from maintenance.models.reading import BeltReading
from plant import units
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.contents.drive import fitted_since
from plant.drives.doubt import Doubtful
from plant.drives.errors import DriveError
from plant.drives.workout import DriveGiven, DriveWorkout, Verdict, work_out
from plant.length_words import as_kept, kept
from plant.models import Drive, Machine, Record, User
from plant.rights import Right, role_for
from plant.sealing import Canonical
from plant.units import Typed

LONGEST_NOTE = 2000
LEAST_REASON, MOST_REASON = 10, 500
ROWS: tuple[type[BeltReading], ...] = (
    WidthReading, TensionReading, RideReading, SlotReading, AlignmentReading, PulleyReading,
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Correction:
    """A reading that is put right, and why. The new one stands at the moment of the old one."""

    of: BeltReading
    reason: str


@dataclass(frozen=True, kw_only=True)
class Act:
    """A reading being taken: everything it needs beside its own figures.

    at: the moment of measuring; sealed_at: of the record, later where a reading is put right;
    stale: the reading to be put right was corrected already.
    """

    machine: Machine
    drive: Drive
    kind: Record.Kind
    by: User
    role: str
    at: datetime
    sealed_at: datetime
    received_at: datetime
    record_id: uuid.UUID | None
    texts: Mapping[str, str]
    corrects: Record | None
    was: str
    stale: bool

    def before(self, told: Mapping[str, Canonical]) -> Record | None:
        """The record of the same entry, where it was sent before."""
        return sealed_before(
            record_id=self.record_id, kind=self._kind, machine=self.machine, by=self.by,
            told={**told, **self._beside()}, texts=self.texts,
        )  # fmt: skip

    def refuse_earlier_belt(self) -> None:
        """What was read of a belt before this one would be worked out with this one's figures.

        Raises:
            Refused: another belt was fitted since.
        """
        since = fitted_since(self.drive)
        if since is not None and self.at < since:
            raise Refused(
                _(
                    "Another belt was fitted since, so this "
                    "would be worked out with its figures. Not "
                    "saved. A wrong reading of the old belt can be taken out."
                ),
                field="" if self.corrects else "read_at",
            )

    def seal(self, data: Mapping[str, Canonical], *, now: str) -> Record:
        """Seals the reading. now: the reading in words, to stand beside the one it puts right.

        Raises:
            Refused: the reading was corrected by somebody else since it was shown.
        """
        if self.stale:
            raise Refused(
                _(
                    "This reading was corrected already. Not "
                    "saved. Open the page afresh: both stand "
                    "there."
                )
            )
        if self.corrects is not None:
            data = {**data, "was": self.was, "now": now}
        return seal(
            kind=self._kind,
            depot=self.machine.depot,
            machine=self.machine,
            data={**data, **self._beside()},
            happened_at=self.sealed_at,
            received_at=self.received_at,
            by=self.by,
            role=self.role,
            texts=self.texts,
            record_id=self.record_id,
            corrects=self.corrects,
        )

    def close(self, record: Record) -> None:
        """What a reading sets off: a job where the belt is now to be changed."""
        with as_kept():
            found = drive_now(self.drive, at=self.received_at).workout
            if found is not None:
                _raise_belt_job(self.drive, found, record=record, at=self.sealed_at)
            belt_moved(self.drive, at=self.received_at)

    @property
    def _kind(self) -> Record.Kind:
        return Record.Kind.CORRECTION if self.corrects is not None else self.kind

    def _beside(self) -> dict[str, Canonical]:
        if self.corrects is None:
            return {}
        return {"reading_of": str(self.kind), "corrected": str(self.corrects.pk)}


def begin(
    *,
    drive: Drive,
    kind: Record.Kind,
    at: datetime,
    by: User,
    note: str = "",
    received_at: datetime | None = None,
    record_id: uuid.UUID | None = None,
    correction: Correction | None = None,
) -> Act:
    """Locks machine and drive, says who signs, and takes what is put right out of the sums.

    Call inside the action's transaction: a refusal puts it back.

    Raises:
        NotAllowed: the person may not do that here.
        Refused: the moment is still to come; no reason is given for a correction, or the reading
            belongs to another drive.
    """
    machine = locked(drive.machine)
    drive = Drive.objects.select_for_update(of=("self",)).get(pk=drive.pk, machine=machine)
    drive.machine = machine
    right = Right.WORK if correction is None else Right.CORRECT
    role = role_for(by, right, machine.depot_id)
    received_at = received_at or at
    if at > received_at:
        raise Refused(_("That moment is still to come. Leave it empty for now."), field="read_at")
    texts = {"note": words(note, field="note", what="note", high=LONGEST_NOTE)}
    sealed_at, corrects, was, stale = at, None, "", False
    if correction is not None:
        texts["reason"] = words(
            correction.reason, field="reason", what="reason", low=LEAST_REASON, high=MOST_REASON
        )
        if correction.of.drive_id != drive.pk:
            raise Refused(_("That reading is of another drive."))
        at, corrects, was = correction.of.at, correction.of.record, str(correction.of)
        stale = not _taken_out(corrects)
    return Act(
        machine=machine, drive=drive, kind=kind, by=by, role=role, at=at, sealed_at=sealed_at,
        received_at=received_at, record_id=record_id, texts=texts, corrects=corrects, was=was,
        stale=stale,
    )  # fmt: skip


@transaction.atomic
def take_out(
    *,
    reading: BeltReading,
    kind: Record.Kind,
    reason: str,
    at: datetime,
    by: User,
    record_id: uuid.UUID | None = None,
) -> Record:
    """Takes a reading out of the sums that was not of this belt; it stays to be seen.

    Raises:
        Refused: no reason, or it was corrected already.
    """
    act = begin(
        drive=reading.drive, kind=kind, at=at, by=by, record_id=record_id,
        correction=Correction(of=reading, reason=reason),
    )  # fmt: skip
    told: dict[str, Canonical] = {"drive": str(act.drive.pk), "taken_out": True}
    if before := act.before(told):
        return before
    record = act.seal(told, now="taken out")
    act.close(record)
    return record


def rows_of(record: Record) -> list[BeltReading]:
    """The rows that stand on one record: a width, say, and the slot read with it."""
    return [row for rows in ROWS for row in rows.objects.filter(record=record)]


def _taken_out(record: Record) -> bool:
    """Takes the rows of a record out of the sums; False where they were out already."""
    rows = rows_of(record)
    if not rows or not all(row.stands for row in rows):
        return False
    for row in rows:
        row.stands = False
        row.save(update_fields=["stands"])
    return True


def worked_out(given: DriveGiven, *, field: str) -> DriveWorkout:
    """The work-out of an entry.

    Raises:
        Refused: the figures contradict one another; at the field.
    """
    try:
        return kept(lambda: work_out(given))
    except DriveError as refused:
        raise Refused(
            _("{refused} Not saved.").format(refused=sentence(refused)), field=field
        ) from refused


def _raise_belt_job(
    drive: Drive, found: DriveWorkout, *, record: Record, at: datetime
) -> Job | None:
    """A job of belt work where the belt is to be changed now, unless one is open for this drive."""
    if found.verdict != Verdict.CHANGE:
        return None
    machine = drive.machine
    title = _("Change the belt: {drive}").format(drive=drive.name)
    ours = Q(drive=drive) | Q(drive=None, title=title)
    # A job opened by hand names no drive: on a machine with one belt it is for that one.
    if machine.drives.filter(kind=Drive.Kind.BELT).count() == 1:
        ours |= Q(drive=None)
    open_jobs = Job.objects.open().filter(machine=machine, kind=Job.Kind.BELT, belt_work="")
    if open_jobs.filter(ours).exists():
        return None
    job = Job.objects.create(
        machine=machine,
        drive=drive,
        kind=Job.Kind.BELT,
        state=Job.State.REPORTED,
        state_since=at,
        title=title,
        symptom=" ".join(found.verdict_words)[:400],
        opened_at=at,
        opened_by_record=record,
        due_on=machine.depot.day_of(at),
    )
    link_again(job, at=at)
    return job


def outcome(found: DriveWorkout) -> dict[str, Canonical]:
    """The verdict, what it rests on and the main figures, as they are sealed."""
    return {
        "sums": found.sums_version,
        "verdict": str(found.verdict),
        "why": list(found.verdict_words),
        "started_from": {
            used.field: {**_figure_si(used.value, used.unit), "mark": used.mark}
            for used in found.used
        },
        "results": {
            name: si(value, unit)
            for name, (value, unit) in _figures(found).items()
            if value is not None
        },
    }


def _figures(found: DriveWorkout) -> Mapping[str, tuple[float | None, str]]:
    figures: dict[str, tuple[float | None, str]] = {}
    worn, tensioned = found.wear, found.tension
    if worn is not None:
        figures |= {
            "width_lost": (_value(worn.loss), "m"),
            "extra_centres_free": (_value(worn.extra_free), "m"),
            "extra_centres": (_value(worn.extra), "m"),
        }
        for name, seat in (("driver", worn.driver), ("driven", worn.driven)):
            figures |= {
                f"{name}_drop_free": (_value(seat.drop_free), "m"),
                f"{name}_drop": (seat.drop.value, "m"),
                f"{name}_room": (seat.room.value, "m"),
                f"{name}_ride": (seat.ride.value, "m"),
                f"{name}_odds_on_floor": (seat.odds_bottoms, "1"),
            }
        if worn.take_up is not None:
            figures |= {
                "take_up_used": (worn.take_up.used.value, "m"),
                "take_up_left": (worn.take_up.left.value, "m"),
            }
    if tensioned is not None:
        setting = tensioned.this_belt or tensioned.new_belt
        figures |= {
            "tension_low": (setting.low, "N"),
            "tension_high": (setting.high, "N"),
            "span": (setting.span, "m"),
        }
    return figures


def _value(figure: Doubtful | None) -> float | None:
    return None if figure is None else figure.value


def figure_of(typed: Typed, unit: str) -> dict[str, Canonical]:
    """A figure as it is sealed: what was typed, and the SI value."""
    return {"typed": typed.text_as_typed, **_figure_si(typed.value_si, unit)}


def _figure_si(value: float, unit: str) -> dict[str, Canonical]:
    return {"si": units.decimal_string(value), "unit": unit or "1"}


def si(value: float | None, unit: str) -> Canonical:
    """A worked-out figure as it is sealed."""
    return None if value is None else _figure_si(value, unit)
