"""Erasing a person: asked for by a manager, carried out by the administrator, sealed and listed.

Records, their figures and their seals stay; what goes is the name, the account, and, where it is
asked, words and files. The list outside the database serves to erase again after a restore.
"""

import json
import logging
import os
import uuid
from collections.abc import Collection, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import Model, Q
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.actions.signing import sealed_before, words
from maintenance.models import (
    BeltDraft,
    Competence,
    Cost,
    DueLine,
    InspectionDraft,
    Job,
    Move,
    PutOff,
    Stay,
    StepAnswer,
    Stop,
    Transfer,
)
from plant.actions.account import forget_ways_in
from plant.actions.erase import erase
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import (
    Depot,
    Membership,
    Message,
    MessageChoice,
    Record,
    RecordPhoto,
    RecordText,
    SignInAttempt,
    User,
    WayIn,
)
from plant.models.attempt import name_key
from plant.models.record import BY_RULE
from plant.models.work import BackgroundWork
from plant.rights import Right, depots_where, role_for
from plant.sealing import Canonical, moment
from reports.actions.erased_paper import put_off, take_paper, take_with
from reports.contents import erasure as contents
from reports.models import Erasure, Feed, WeeklyNote
from reports.models.erasure import erased_name

SHORTEST_REASON = 10
LONGEST_REASON = 400
ERASED = "words erased"
log = logging.getLogger(__name__)
FILE_ERASED = gettext_noop("File erased: it named a person who was erased.")


@transaction.atomic
def ask_erasure(*, person: User, depot: Depot, reason: str, at: datetime, by: User) -> Erasure:
    """Asks for it; nothing is changed until the administrator carries it out.

    Raises:
        Refused: for oneself, asked already, no reason, or something keeps the person.
    """
    role_for(by, Right.ASK_ERASURE, depot.pk)
    person = _locked(person)
    _refuse_oneself(person, by)
    reason = words(reason, field="reason", what="reason", low=SHORTEST_REASON, high=LONGEST_REASON)
    if not Membership.objects.filter(user=person, depot=depot).exists():
        raise Refused(_("This person has no role at this depot. Nothing was asked for."))
    if Erasure.objects.open().filter(person=person).exists():
        raise Refused(_("It was asked for already. The administrator carries it out."))
    _refuse_kept(person, by)
    return Erasure.objects.create(
        person=person, depot=depot, asked_by=by, asked_at=at, reason=reason
    )


@transaction.atomic
def drop_erasure(*, erasure: Erasure, at: datetime, by: User) -> None:
    """Takes the request back. Twice is harmless; one that was carried out stands.

    Raises:
        Refused: it was carried out.
    """
    role_for(by, Right.KEEP, erasure.depot_id)
    dropped = Erasure.objects.open().filter(pk=erasure.pk)
    if not dropped.update(dropped_at=at, dropped_by=by, reason="") and (
        Erasure.objects.filter(pk=erasure.pk, done_at__isnull=False).exists()
    ):
        raise Refused(_("It was carried out already. An erasure cannot be undone."))


@transaction.atomic
def carry_out(
    *,
    erasure: Erasure,
    own_words: bool,
    others_words: bool,
    files: bool,
    at: datetime,
    by: User,
    alone_because: str = "",
    record_id: uuid.UUID | None = None,
) -> Erasure:
    """Erases the person. It cannot be undone.

    Args:
        own_words: also what the person wrote and photographed.
        others_words: also where others wrote the whole name.
        files: also the kept files of printed sheets that name the person.
        alone_because: in a one-person depot, why who asked for it carries it out too.

    Raises:
        Refused: not by a second person, taken back, or something keeps the person.
    """
    person = _locked(erasure.person)
    role = role_for(by, Right.ERASE, erasure.depot_id)
    erasure = (
        Erasure.objects.select_for_update(of=("self",)).select_related("depot").get(pk=erasure.pk)
    )
    alone_because = words(alone_because, field="alone_because", what="reason", high=LONGEST_REASON)
    data: dict[str, Canonical] = {
        "move": "person erased",
        "account": str(person.pk),
        "person": erased_name(person.pk),
        "asked_by": str(erasure.asked_by_id),
        "asked_at": moment(erasure.asked_at),
        "own_words": own_words,
        "others_words": others_words,
        "files": files,
    }
    if erasure.done_at is not None and erasure.record_id == record_id:
        return erasure
    if not erasure.is_open:
        raise Refused(_("This was taken back or carried out already. Nothing was changed."))
    _refuse_oneself(person, by)
    if erasure.asked_by_id == by.pk:
        if not erasure.depot.one_person:
            raise Refused(_("Who asks for it does not carry it out. Ask another administrator."))
        if len(alone_because) < SHORTEST_REASON:
            raise Refused(
                _("You asked for it yourself. Write why nobody else carries it out."),
                field="alone_because",
            )
    _refuse_kept(person, by)
    depots = depots_where(by, Right.ERASE)
    for field, own, others in (("own_words", True, False), ("others_words", False, True)):
        if (own and own_words) or (others and others_words):
            stays = contents.words_stay(person, own=own, others=others, depots=depots)
            if stays:
                raise Refused(
                    _("Nothing was changed. {stays}").format(stays=" ".join(stays)), field=field
                )
    texts = {"reason": erasure.reason, "alone_because": alone_because}
    sealed_before(
        record_id=record_id, kind=Record.Kind.ERASED, machine=None, by=by, told=data,
        texts=texts,
    )  # fmt: skip
    erasure.sign_in_mark = _mark(person.sign_in)
    record = _erase(
        person, depot=erasure.depot, depots=depots | contents.practised_in(person), data=data,
        texts=texts, own_words=own_words,
        others_words=others_words, files=files, at=at, by=by, role=role, record_id=record_id,
        label=erased_name(person.pk),
    )  # fmt: skip
    for name, value in {
        "own_words": own_words, "others_words": others_words, "files": files, "done_at": at,
        "record": record, "reason": "",
    }.items():  # fmt: skip
        setattr(erasure, name, value)
    erasure.save()
    transaction.on_commit(write_list, robust=True)
    return erasure


def erase_again(told: dict[str, Any], *, at: datetime) -> bool:
    """Erases a person of the list anew, where a restored database holds the name again.

    Returns:
        Whether anything was done; False where the account is not here, is erased already, or is
        somebody else's: a number may be given anew after the backup, a sign-in name tells it.
    """
    with transaction.atomic():
        person = User.objects.select_for_update().filter(pk=told["account"]).first()
        depot = Depot.objects.filter(code=told["depot"]).first()
        if person is None or depot is None or person.name == told["person"]:
            return False
        mark = told.get("sign_in_mark", "")
        if mark and not constant_time_compare(mark, _mark(person.sign_in)):
            log.warning("not erased again: account %s has another sign-in name", person.pk)
            return False
        depots = set(Depot.objects.filter(code__in=told.get("depots", [])).values_list(
            "pk", flat=True
        )) | {depot.pk}  # fmt: skip
        options = {key: bool(told[key]) for key in ("own_words", "others_words", "files")}
        for key, own, others in (("own_words", True, False), ("others_words", False, True)):
            if options[key] and contents.words_stay(person, own=own, others=others, depots=depots):
                log.warning("erased again without %s: account %s", key, person.pk)
                options[key] = False
        data: dict[str, Canonical] = {
            "move": "person erased",
            "account": str(person.pk),
            "person": told["person"],
            "again_after": told["record"],
            **options,
        }
        record = _erase(
            person, depot=depot, depots=depots | contents.practised_in(person), data=data,
            texts={}, at=at, by=None, role=BY_RULE, record_id=None, label=told["person"], **options,
        )  # fmt: skip
        open_ones = Erasure.objects.open().filter(person=person)
        open_ones.update(done_at=at, record=record, reason="", **options)
    return True


# --- The list outside the database -----------------------------------------------------------
def folder() -> Path:
    return Path(settings.DATA_DIR) / "erasures"


def write_list() -> int:
    """A small file for each erasure that has none yet; it holds no name. Twice is harmless."""
    folder().mkdir(parents=True, exist_ok=True, mode=0o700)
    new = 0
    done = Erasure.objects.filter(record__isnull=False).select_related(
        "depot", "record__depot", "record__by"
    )
    for each in done.iterator():
        path = folder() / f"{each.person_id}.json"
        if path.exists():
            continue
        assert each.done_at is not None
        assert each.record is not None
        by = each.record.by
        mine = depots_where(by, Right.ERASE) if by else frozenset()
        told = {
            "account": each.person_id,
            "sign_in_mark": each.sign_in_mark,
            "depots": [depot.code for depot in Depot.objects.filter(pk__in=mine).order_by("pk")],
            "person": erased_name(each.person_id),
            "depot": each.depot.code,
            "at": moment(each.done_at),
            "record": each.record.number,
            "own_words": each.own_words,
            "others_words": each.others_words,
            "files": each.files,
        }
        half = path.with_suffix(f".{uuid.uuid4().hex}")
        with half.open("w") as file:
            json.dump(told, file, indent=1)
            file.flush()
            os.fsync(file.fileno())
        half.replace(path)
        new += 1
    return new


def listed() -> Iterator[dict[str, Any]]:
    """What the list says, oldest account first."""
    for path in sorted(folder().glob("*.json")) if folder().is_dir() else ():
        yield json.loads(path.read_text(encoding="utf-8"))


# --- What goes -------------------------------------------------------------------------------
def _erase(
    person: User,
    *,
    depot: Depot,
    depots: Collection[int],
    label: str,
    data: dict[str, Canonical],
    texts: dict[str, str],
    own_words: bool,
    others_words: bool,
    files: bool,
    at: datetime,
    by: User | None,
    role: str,
    record_id: uuid.UUID | None,
) -> Record:
    """Everything in the caller's transaction: the record, the words, the copies, the account.

    Args:
        depots: whose words and paper go; the name itself goes everywhere.
    """
    name = person.name
    going = contents.identity_texts(person)
    photos = RecordPhoto.objects.none()
    if own_words:
        going |= contents.own_texts(person, depots=depots)
        photos = contents.own_photos(person, depots=depots)
    pks = set(going.values_list("pk", flat=True))
    if others_words:
        pks |= set(contents.naming_texts(name, depots=depots).values_list("pk", flat=True))
    # The reason for the erasure itself does not tell the name either.
    texts = {key: contents.renamed(text, name, label) for key, text in texts.items()}
    record = seal(
        kind=Record.Kind.ERASED, depot=depot,
        data={**data, "texts": str(len(pks)), "photos": str(photos.count())},
        happened_at=at, received_at=at, by=by, role=role, texts=texts, record_id=record_id,
    )  # fmt: skip
    # Paper that shows what goes here is not a question of the tick: nothing may show it again.
    shown = RecordText.objects.filter(pk__in=pks).exclude(pk__in=contents.identity_texts(person))
    take_with(shown, photos, record, at)
    if own_words:
        _empty_own_rows(person, depots)
    for block in _blocks(sorted(pks)):
        gone = RecordText.objects.filter(pk__in=block)
        erase(texts=gone, photos=RecordPhoto.objects.none(), record=record, at=at)
    erase(texts=RecordText.objects.none(), photos=photos, record=record, at=at)
    Competence.objects.filter(user=person).update(told=ERASED)
    Competence.objects.filter(user=person).exclude(ended_because="").update(ended_because=ERASED)
    free = put_off(contents.sheets_naming(person, depots=depots), record=record)
    take_paper(free, files=files, record=record, at=at, why=FILE_ERASED)
    # Where the system itself wrote the name, it goes in any case.
    certain = {BeltDraft: Q()} | contents.system_rows(person)
    _rename(contents.rows_naming(name, only=certain), name, label)
    if others_words:
        _rename(contents.rows_naming(name, depots=depots), name, label)
    _close_account(person, label=label, at=at)
    return record


def _empty_own_rows(person: User, depots: Collection[int]) -> None:
    """What the person wrote in these depots, where rows beside the records hold it."""
    records = Record.objects.filter(by=person, depot__in=depots).values("pk")
    Stop.objects.filter(record__in=records).update(words=ERASED)
    Stop.objects.filter(Q(record__in=records) | Q(decided_by__in=records)).update(note="")
    for model, fields in (
        (Move, ("reason",)),
        (PutOff, ("reason",)),
        (Stay, ("went_with", "condition_out", "plan_reason")),
        (Transfer, ("went_with",)),
    ):  # fmt: skip
        model._default_manager.filter(record__in=records).update(**dict.fromkeys(fields, ""))
    told = Job.objects.filter(opened_by_record__in=records).exclude(symptom="")
    told.update(symptom="", title=ERASED)  # the title is made of the same words
    came_back = Stay.objects.filter(ended__in=records)
    came_back.update(came_with="", condition_in="", missing_in="")
    # Who sent work back or let a line rest is told by the record alone; its words still stand.
    reasons = RecordText.objects.filter(
        record__in=records, name="reason", record__kind__in=(Record.Kind.JOB, Record.Kind.PLAN)
    ).exclude(text="")
    for machine, reason in set(reasons.values_list("record__machine", "text")):
        Job.objects.filter(machine=machine, sent_back_because=reason).update(sent_back_because="")
        resting = DueLine.objects.filter(machine=machine, resting_because=reason)
        resting.update(resting_because=ERASED)  # emptied it would wake the line
    jobs = Job.objects.filter(machine__depot__in=depots)
    jobs.filter(done_by=person).update(symptom="", cause="", action="")
    called_off = jobs.filter(closed_by=person).exclude(called_off_because="")
    called_off.update(called_off_because=ERASED)
    answers = StepAnswer.objects.filter(by=person, step__job__machine__depot__in=depots)
    answers.update(tool="")
    answers.exclude(because="").update(because=ERASED)  # left out, a step says why
    costs = Cost.objects.filter(by=person, job__machine__depot__in=depots)
    costs.exclude(what="").update(what=ERASED)


def _mark(sign_in: str) -> str:
    """By which an account is known again without its sign-in name."""
    return salted_hmac("erased sign-in", sign_in).hexdigest()


def _rename(rows: Iterator[tuple[type[Model], Any, dict[str, Any]]], name: str, label: str) -> None:
    for model, pk, values in rows:
        new = {key: contents.renamed(value, name, label) for key, value in values.items()}
        for key, value in new.items():
            longest = getattr(model._meta.get_field(key), "max_length", None)
            if isinstance(value, str) and longest:
                new[key] = value[:longest]
        model._default_manager.filter(pk=pk).update(**new)


def _close_account(person: User, *, label: str, at: datetime) -> None:
    """Sign-in, e-mail, codes, sessions, links and roles end; the account's number stays."""
    SignInAttempt.objects.filter(name_key=name_key(person.sign_in)).delete()
    person.name, person.email, person.is_active = label, "", False
    person.sign_in = f"erased-{person.pk}-{label.rpartition('#')[2]}"
    person.set_unusable_password()
    person.save()
    for rows in (
        Membership.objects.filter(user=person), WayIn.objects.filter(user=person),
        MessageChoice.objects.filter(user=person), Feed.objects.filter(user=person),
        WeeklyNote.objects.filter(person=person), InspectionDraft.objects.filter(by=person),
    ):  # fmt: skip
        rows.delete()
    forget_ways_in(person)
    sent = Message.objects.filter(person=person)
    sent.open().update(state=BackgroundWork.State.DONE, ended_at=at)
    sent.update(why="")


def _blocks(pks: list[int], size: int = 500) -> Iterator[list[int]]:
    for start in range(0, len(pks), size):
        yield pks[start : start + size]


def _locked(person: User) -> User:
    return User.objects.select_for_update().get(pk=person.pk)


def _refuse_oneself(person: User, by: User) -> None:
    if person.pk == by.pk:
        raise Refused(_("Nobody erases themselves. Ask another manager or administrator."))


def _refuse_kept(person: User, by: User) -> None:
    if found := contents.hindrances(person, by=by):
        raise Refused(_("Nothing was changed. {found}").format(found=" ".join(found)))
