"""Gathers the inspector's bundle: everything on one machine for a period, what is missing first."""

import json
from datetime import date, datetime

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext

from maintenance.contents.followed import followed_of
from maintenance.contents.gaps import gaps_of, period_of
from maintenance.contents.record import summary, who
from maintenance.contents.record_facts import words
from maintenance.rules.words import day_text, iso_text
from plant.contents.chain import check_records
from plant.contents.checkpoint import last_signed
from plant.models import Chain, Machine, Record, User
from reports.contents.bundle_entries import MOST_PHOTOS, Entries, pair
from reports.contents.bundle_gaps import in_figures, missing
from reports.contents.bundle_people import competence, people
from reports.contents.bundle_readings import belts, electrical, instruments, tested_with
from reports.contents.bundle_said import Said, seal_of
from reports.contents.plate import plate_of
from reports.pdf.book import Tell, quiet
from reports.pdf.bundle import Bundle, Grid, Section
from reports.pdf.page import Printed


def bundle(
    machine: Machine,
    *,
    first: date,
    last: date,
    at: datetime,
    by: User,
    role: str,
    number: str,
    tell: Tell = quiet,
) -> Bundle:
    """Everything on the machine from one day to another, both included.

    Args:
        machine: its depot and kind must be read already.
        at: the moment of gathering; times are printed in the depot's zone.
        by: who asked for it; only what they may see is in it.
        role: in which role; number: what the bundle is called.
        tell: told how far it is; half of it all is drawing.
    """
    tell(gettext("Reading the records"), 0, 1)
    period = period_of(machine, first=first, last=last, at=at)
    everything = list(
        Record.objects.visible_to(by)
        .filter(machine=machine)
        .select_related("depot", "by", "machine", "corrects__depot")
        .prefetch_related("texts", "photos")
        .order_by("happened_at", "depot", "seq")
    )
    records = [each for each in everything if period.holds(each.happened_at)]
    whole = max(2 * len(records), 1)
    tell(gettext("Looking for gaps"), 0, whole)
    gaps = gaps_of(machine, period, records, at=at)
    failures = followed_of(machine, everything, begin=period.begin, end=period.end)
    numbers = {each.pk: each.number for each in everything}
    faults = check_records(records)
    odd = [(each, faults[each.pk]) for each in records if each.pk in faults]
    said = Said(machine, period, at)
    entries = Entries(said, everything)
    told = []
    for count, each in enumerate(records, 1):
        told.append(entries.entry(each))
        tell(
            gettext("Gathered: record {done} of {total}").format(done=count, total=len(records)),
            count,
            whole,
        )
    return Bundle(
        number=number,
        plate=plate_of(machine),
        printed=Printed(at=said.when(at), by=by.name),
        period=gettext("{first} to {last}").format(
            first=day_text(period.first), last=day_text(period.last)
        ),
        front=_front(said, records, by=by, role=role, counted_only=entries.counted_only),
        missing=in_figures(gaps, failures, odd),
        sealed=_sealed(said, records, odd),
        gaps=missing(said, gaps, failures, odd),
        pairs_told=(
            gettext(
                "Each failure that was found in the period, "
                "or stood open in it: what was found, what "
                "was decided, done, tested again and released, and how long that took."
            ),
        ),
        pairs=tuple(pair(said, each) for each in failures),
        corrections=_corrections(said, records, everything),
        entries=tuple(told),
        rest=(
            people(said, records, by=by),
            competence(said, records),
            instruments(said, by=by),
            tested_with(said, records),
            electrical(said, records),
            belts(said, numbers),
        ),
    )


def _front(
    said: Said, records: list[Record], *, by: User, role: str, counted_only: int
) -> tuple[tuple[str, str], ...]:
    machine, period = said.machine, said.period
    kinds: dict[str, int] = {}
    for record in records:
        kinds[record.get_kind_display()] = kinds.get(record.get_kind_display(), 0) + 1
    counted = ", ".join(f"{name} {count}" for name, count in sorted(kinds.items()))
    came = sorted({each.depot.name for each in records if each.depot_id != machine.depot_id})
    told = [
        (gettext("Machine"), f"{machine.number}, {machine.kind.name}"),
        (gettext("Depot"), machine.depot.name),
        (
            gettext("Period"),
            gettext("{first} to {last}, both days included").format(
                first=day_text(period.first), last=day_text(period.last)
            ),
        ),
        (
            gettext("Printed"),
            gettext("{at} by {by}, {role}").format(at=said.when(said.at), by=by.name, role=role),
        ),
        (gettext("Records in it"), str(len(records))),
        (gettext("By kind"), counted or "none"),
        (
            gettext("What is in it"),
            gettext(
                "What is missing; what was found wrong and "
                "what was done; corrections; every record of "
                "the machine in the period, whole; who signed, and their competence; the test "
                "instruments and their calibrations; electrical "
                "readings; belt readings. Nothing of "
                "the period was chosen or left out, but for telephone numbers. Photos are small."
            ),
        ),
    ]
    photos = [photo for record in records for photo in record.photos.all()]
    if photos:
        erased = sum(photo.erased_at is not None for photo in photos)
        words = (
            gettext("{count}, of them {erased} erased since, each with its record")
            if erased
            else gettext("{count}, each with its record")
        )
        told.append((gettext("Photos"), words.format(count=len(photos), erased=erased)))
    if counted_only:
        told.append(
            (
                gettext("Photos left out"),
                gettext(
                    "{counted_only}: a bundle holds {most_photos}, those of the oldest "
                    "records. The others are counted with their records and shown on "
                    "their pages; a shorter period has them."
                ).format(counted_only=counted_only, most_photos=MOST_PHOTOS),
            )
        )
    if came:
        told.append(
            (
                gettext("Records of other depots"),
                gettext("It brought with it those of {came}.").format(came=", ".join(came)),
            )
        )
    return tuple(told)


def _sealed(said: Said, records: list[Record], odd: list[tuple[Record, str]]) -> tuple[str, ...]:
    depots = {each.depot_id for each in records} | {said.machine.depot_id}
    heads = Chain.objects.filter(depot__in=depots).select_related("depot").order_by("depot__name")
    where = settings.SITE_ADDRESS.rstrip("/") + reverse("reports:sealed")
    signed = last_signed()
    told = [
        gettext(
            "Each record was sealed when it was entered: "
            "its content has a hash (SHA-256), and that "
            "hash is joined to the hash of the record before "
            "it. A record that is changed, taken out "
            "or put in afterwards no longer fits those that follow. Records are never altered; a "
            "correction is a record of its own, and both stand here."
        ),
    ]
    told += [
        gettext(
            "Head of the chain of {depot} when this was gathered: record "
            "{code}-{head_seq}, hash {head_hash}."
        ).format(
            depot=each.depot.name,
            code=each.depot.code.upper(),
            head_seq=each.head_seq,
            head_hash=seal_of(each.head_hash),
        )
        for each in heads
    ]
    told.append(
        gettext("All heads were last signed on {signed}.").format(signed=said.when(signed))
        if signed
        else gettext("The heads have not been signed yet.")
    )
    told.append(
        gettext("Each record here was held against its seal when this was gathered: ")
        + (
            gettext("all are as they were sealed.")
            if not odd
            else gettext("{count} are NOT, see part 1.11.").format(count=len(odd))
        )
    )
    told.append(
        gettext(
            "To check one, open {where} and type its number and the sixteen "
            "figures and letters beside it. No account is needed. The SHA-256 "
            "of this whole file stands on the page from which it was taken; "
            "the same page tells whether a file is the one that was printed."
        ).format(where=where)
    )
    return tuple(told)


def _corrections(said: Said, records: list[Record], everything: list[Record]) -> Section:
    """Corrections of the period, and later ones of what the period holds."""
    inside = {each.pk for each in records}
    made = [
        each
        for each in everything
        if (each.kind == Record.Kind.CORRECTION or each.corrects_id is not None)
        and (each.pk in inside or each.corrects_id in inside)
    ]
    rows = []
    for each in made:
        old, new = _changed(each)
        told = dict(words(each))
        of = (
            f"{each.corrects.number}, {said.when(each.corrects.happened_at)}"
            if (each.corrects)
            else gettext("not named")
        )
        rows.append(
            (of, old, new, told.get("Reason", "no reason"),
             f"{who(each)}, {said.when(each.happened_at)}", each.number)
        )  # fmt: skip
    return Section(
        key="corrections",
        title=gettext("3. Corrections"),
        words=(gettext("What was corrected stands in part 4 as it was first told."),),
        grid=Grid(
            (
                gettext("Of record"),
                gettext("Was"),
                gettext("Now"),
                gettext("Why"),
                gettext("Who and when"),
                gettext("Record"),
            ),
            (17, 20, 20, 19, 14, 10),
            tuple(rows),
        ),
    )


def _changed(record: Record) -> tuple[str, str]:
    """What a correction says was told before, and what it says is right."""
    data = json.loads(record.content)["data"]
    if "was_done_on" in data:
        now = (
            gettext("done on {done_on}").format(done_on=iso_text(data["done_on"]))
            if data["done_on"]
            else gettext("not done")
        )
        return gettext("{title}: done on {was_done_on}").format(
            title=data["title"], was_done_on=iso_text(data["was_done_on"])
        ), now
    if "was" in data and "now" in data:
        return str(data["was"]), str(data["now"])
    if "was_fitted" in data:
        now = (
            gettext("belt {mark}").format(mark=data["mark"])
            if data["was_fitted"]
            else gettext("no belt was fitted")
        )
        return gettext("belt {was_mark}").format(was_mark=data["was_mark"]), now
    return gettext("as in that record"), summary(record)
