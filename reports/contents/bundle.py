"""Gathers the inspector's bundle: everything on one machine for a period, what is missing first."""

import json
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext, gettext_noop

from maintenance.contents.belt_readings import readings_of
from maintenance.contents.followed import Followed, followed_of
from maintenance.contents.gaps import (
    LATER,
    UNREAD_DAYS,
    Gaps,
    LateWork,
    Period,
    cited_of,
    gaps_of,
    period_of,
)
from maintenance.contents.record import (
    Answered,
    answers,
    facts,
    heading,
    measured,
    steps,
    summary,
    who,
    words,
)
from maintenance.models import Competence, Instrument, Stay
from maintenance.rules import gaps as rule
from maintenance.rules.words import count_text, day_text, figure_text
from plant.contents.chain import check_records
from plant.contents.checkpoint import last_signed
from plant.models import Chain, Drive, Machine, Record, User
from plant.models.record import BY_RULE
from plant.rights import Right, depots_where
from reports.contents.plate import plate_of
from reports.contents.record import numbered_photos, small_photo
from reports.pdf.book import Tell, quiet
from reports.pdf.bundle import Acted, Asked, Bundle, Entry, Grid, Pair, Section
from reports.pdf.page import Printed
from reports.pdf.record import Photo

# What a paper for strangers does not need: how to ring who has the machine.
_LEFT_OUT = ("Hirer's phone", gettext_noop("Site phone"))
_SIGNED = (Record.Kind.TEST, Record.Kind.RELEASE, Record.Kind.INSPECTION)
# A file of some 10 MB; a photo on paper is of some 20 kB.
MOST_PHOTOS = 300
_ON_THAT_DAY = "Competence on that day"


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
    words_of = _Words(machine, period, at)
    parts = words_of.gaps(gaps, failures, odd)
    corrected: dict[UUID, list[Record]] = {}
    for each in everything:
        if each.corrects_id is not None:
            corrected.setdefault(each.corrects_id, []).append(each)
    entries = []
    for count, each in enumerate(records, 1):
        entries.append(words_of.entry(each, corrected.get(each.pk, [])))
        tell(
            gettext("Gathered: record {done} of {total}").format(done=count, total=len(records)),
            count,
            whole,
        )
    return Bundle(
        number=number,
        plate=plate_of(machine),
        printed=Printed(at=words_of.when(at), by=by.name),
        period=gettext("{first} to {last}").format(
            first=day_text(period.first), last=day_text(period.last)
        ),
        front=_front(
            machine,
            period,
            records,
            by=by,
            role=role,
            at=words_of.when(at),
            counted_only=words_of.counted_only,
        ),
        missing=_in_figures(gaps, failures, odd),
        sealed=_sealed(machine, records, odd, words_of),
        gaps=parts,
        pairs_told=(
            gettext(
                "Each failure that was found in the period, "
                "or stood open in it: what was found, what "
                "was decided, done, tested again and released, and how long that took."
            ),
        ),
        pairs=tuple(words_of.pair(each) for each in failures),
        corrections=_corrections(records, everything, words_of),
        entries=tuple(entries),
        rest=(
            _people(machine, records, period, by=by),
            _competence(records, words_of),
            _instruments(machine, period, by=by),
            _tested_with(records, words_of),
            _electrical(records, words_of),
            _belts(machine, period, numbers, words_of),
        ),
    )


class _Words:
    """How moments, failures and records of one machine are said, in the depot's time."""

    def __init__(self, machine: Machine, period: Period, at: datetime) -> None:
        self.machine, self.period, self.at = machine, period, at
        self._zone: ZoneInfo = period.zone
        # How many photos are printed yet, and of how many there is only the number.
        self.printed = self.counted_only = 0

    def when(self, at: datetime) -> str:
        local = at.astimezone(self._zone)
        return f"{day_text(local.date())} {local:%H:%M}"

    def gaps(
        self, gaps: Gaps, failures: list[Followed], odd: list[tuple[Record, str]]
    ) -> tuple[Section, ...]:
        tests = [each for each in gaps.late if each.is_test]
        services = [each for each in gaps.late if not each.is_test]
        nothing = [each for each in failures if each.nothing and each.ended_at is None]
        still_open = [each for each in failures if not each.nothing and each.ended_at is None]
        return (
            self._unknown(gaps),
            self._unchecked(gaps),
            self._late(
                "gap tests",
                gettext("1.3 Electrical and other safety tests late"),
                tests,
                gaps,
            ),
            self._late("gap services", gettext("1.4 Services late"), services, gaps),
            self._open("gap nothing", gettext("1.5 Failures with nothing done"), nothing),
            self._open("gap open", gettext("1.6 Failures that still stand open"), still_open),
            Section(
                key="gap later",
                title=gettext("1.7 Records entered later than they happened"),
                words=(
                    gettext(
                        "Received more than {later} after what they tell (our own limit)."
                    ).format(later=_span(LATER)),
                ),
                grid=Grid(
                    (
                        gettext("Happened"),
                        gettext("Received"),
                        gettext("Later by"),
                        gettext("What"),
                        gettext("By"),
                        "Record",
                    ),
                    (15, 15, 12, 28, 17, 13),
                    tuple(
                        (
                            self.when(each.happened_at),
                            self.when(each.received_at),
                            _span(each.received_at - each.happened_at),
                            summary(each),
                            who(each),
                            each.number,
                        )
                        for each in gaps.later
                    ),
                ),
            ),
            Section(
                key="gap questioned",
                title=gettext("1.8 Meter figures that were questioned"),
                grid=Grid(
                    (
                        gettext("When"),
                        gettext("Figure"),
                        gettext("Why it was questioned"),
                        gettext("Now"),
                        "Record",
                    ),
                    (16, 20, 34, 17, 13),
                    tuple(
                        (
                            self.when(each.happened_at),
                            summary(each),
                            why,
                            gettext("counts since a decision")
                            if counts
                            else gettext("does not count"),
                            each.number,
                        )
                        for each, why, counts in gaps.questioned
                    ),
                ),
            ),
            Section(
                key="gap doubt",
                title=gettext("1.9 Tests in doubt for their instrument"),
                grid=Grid(
                    (gettext("When"), gettext("Why"), "Record"),
                    (18, 66, 16),
                    tuple(
                        (self.when(each.happened_at), why, each.number) for each, why in gaps.doubts
                    ),
                ),
            ),
            self._unread(gaps),
            Section(
                key="gap seal",
                title=gettext("1.11 Records that are not as they were sealed"),
                grid=Grid(
                    (gettext("When"), gettext("What is not as it was"), "Record"),
                    (18, 66, 16),
                    tuple((self.when(e.happened_at), why, e.number) for e, why in odd),
                ),
            ),
        )

    def _unknown(self, gaps: Gaps) -> Section:
        period, told = self.period, []
        if period.first < period.known_from:
            told.append(
                gettext(
                    "The machine was entered here on {known_from}. Of the time from "
                    "{first} until then nothing is known here: no check, no test, no "
                    "service and no fault of it can be shown or denied."
                ).format(known_from=day_text(period.known_from), first=day_text(period.first))
            )
        told.append(
            gettext(
                "A shift is taken as a day. Whether the "
                "machine was run on a day on which it was out "
                "is not known; a day out counts as a day in use."
            )
        )
        told.append(gettext("What it is driven by, and its kind, are those of today."))
        if not gaps.often:
            told.append(
                gettext("No rule sheet was in force, so nothing says how often a check was wanted.")
            )
        if not gaps.lines:
            told.append(gettext("No plan runs on this machine, so nothing says when work was due."))
        for title, because in gaps.resting:
            told.append(
                gettext(
                    "{title} is not asked of this machine now: {because} Since when is "
                    "not known, so it is left out of what was late."
                ).format(title=title, because=because)
            )
        if gaps.checked.not_asked:
            days = count_text(len(gaps.checked.not_asked), "day")
            told.append(
                gettext("On {days} in use no rule said how often a check was wanted.").format(
                    days=days
                )
            )
        return Section(
            key="gap unknown", title=gettext("1.1 What cannot be known"), words=tuple(told)
        )

    def _unchecked(self, gaps: Gaps) -> Section:
        checked = gaps.checked
        # Of the rule sheets only those in force on a day of the period; the first was before too.
        ends = [day for day, _ in gaps.often[1:]] + [self.period.last + rule.ONE_DAY]
        rules = dict.fromkeys(
            cited_of(each)
            for place, ((begin, each), end) in enumerate(zip(gaps.often, ends, strict=True))
            if each is not None
            and (place == 0 or begin <= self.period.last)
            and (end > self.period.first or place == len(ends) - 1)
        )
        strong: tuple[str, ...] = ()
        if checked.missing:
            strong = (
                gettext(
                    "On {count_text} in use a check was wanted and none that held was done."
                ).format(count_text=count_text(len(checked.missing), "day")),
            )
        missing = [
            (day_text(first), day_text(last), str((last - first).days + 1), self._where(first))
            for first, last in rule.runs(checked.missing)
        ]
        idle = ", ".join(_run_text(each) for each in rule.runs(checked.idle))
        told = [
            gettext(
                "In the period the machine was known on {known}: in use on "
                "{in_use}, not in use on {not_in_use}. Not in use no check is wanted; "
                "whoever takes the machine checks it first."
            ).format(
                known=count_text(gaps.known, "day"),
                in_use=len(gaps.in_use),
                not_in_use=gaps.known - len(gaps.in_use),
            ),
            gettext(
                "Of the days in use a check held on {held}, was missing on "
                "{missing}, and on {stopped} the machine was stopped all of the "
                "time, so that nobody should have used it."
            ).format(
                held=len(checked.held), missing=len(checked.missing), stopped=len(checked.idle)
            ),
        ]
        if idle:
            told.append(gettext("Out while stopped: {idle}.").format(idle=idle))
        told += [f"Rule: {each}." for each in rules]
        return Section(
            key="gap checks",
            title=gettext("1.2 Days in use without a check"),
            words=tuple(told),
            strong=strong,
            grid=Grid(
                (
                    gettext("First day"),
                    gettext("Last day"),
                    gettext("Days"),
                    gettext("Where it was"),
                ),
                (20, 20, 10, 50),
                tuple(missing),
            ),
        )

    def _late(self, key: str, title: str, late: list[LateWork], gaps: Gaps) -> Section:
        told = gettext("Days late count from the day after it was due; a day put off stays late.")
        return Section(
            key=key,
            title=title,
            words=(told,) if gaps.lines else (gettext("No plan runs on this machine."),),
            grid=Grid(
                (
                    gettext("What"),
                    gettext("Was due"),
                    "Done",
                    gettext("Days late"),
                    gettext("In use"),
                    gettext("Not in use"),
                ),
                (30, 24, 18, 10, 8, 10),
                tuple(
                    (
                        each.title,
                        _due(each),
                        day_text(each.late.done_on)
                        if each.late.done_on
                        else gettext("Not done by {last}").format(last=day_text(each.late.last)),
                        str(each.late.days),
                        str(each.in_use),
                        str(each.not_in_use),
                    )
                    for each in sorted(
                        late, key=lambda each: (each.title, each.late.due_on or date.max)
                    )
                ),
            ),
        )

    def _open(self, key: str, title: str, failures: list[Followed]) -> Section:
        return Section(
            key=key,
            title=title,
            grid=Grid(
                (
                    gettext("Found"),
                    gettext("What"),
                    gettext("Open for"),
                    gettext("How it stands"),
                    "Record",
                ),
                (16, 36, 12, 24, 12),
                tuple(
                    (
                        self.when(each.found.happened_at),
                        each.words,
                        _span(self.at - each.found.happened_at),
                        each.stands or gettext("No job"),
                        each.found.number,
                    )
                    for each in failures
                ),
            ),
        )

    def _unread(self, gaps: Gaps) -> Section:
        told = gettext(
            "Stretches of more than {unread_days} days (our own limit) with "
            "days in use and no figure of the running hours."
        ).format(unread_days=UNREAD_DAYS)
        return Section(
            key="gap meter",
            title=gettext("1.10 Times with no meter figure"),
            words=(told,)
            if gaps.has_meter
            else (gettext("The machine has no meter of running hours."),),
            grid=Grid(
                (gettext("From"), gettext("To"), gettext("Days")),
                (30, 30, 40),
                tuple(
                    (day_text(first), day_text(last), str((last - first).days + 1))
                    for first, last in gaps.unread
                ),
            )
            if gaps.has_meter
            else None,
        )

    def _where(self, day: date) -> str:
        """The site where it was on that day, as it was told."""
        begin, end = (rule.midnight(day + n * rule.ONE_DAY, self._zone) for n in (0, 1))
        stays = Stay.objects.filter(machine=self.machine, out_at__lt=end)
        open_then = stays.filter(Q(back_at__isnull=True) | Q(back_at__gt=begin))
        stay = open_then.order_by("-out_at", "-pk").first()
        return stay.site if stay else gettext("not told")

    def pair(self, each: Followed) -> Pair:
        found = each.found
        lines = [Acted(self.when(found.happened_at), summary(found), who(found), found.number)]
        lines += [
            Acted(self.when(act.at), act.what, act.who, act.record.number if act.record else "")
            for act in each.acts
        ]
        if each.ended_at is not None:
            took = _span(each.ended_at - found.happened_at)
            end = gettext("Ended on {ended_at}, after {took}.").format(
                ended_at=self.when(each.ended_at), took=took
            )
        else:
            took = _span(self.at - found.happened_at)
            done = gettext("Nothing was done. ") if each.nothing else ""
            stands = f" {each.stands}." if each.stands else ""
            end = gettext("{done}OPEN when this was printed, after {took}.{stands}").format(
                done=done, took=took, stands=stands
            )
        return Pair(each.words, tuple(lines), end, is_open=each.ended_at is None)

    def entry(self, record: Record, corrections: list[Record]) -> Entry:
        notes = []
        if record.received_at - record.happened_at > LATER:
            after = _span(record.received_at - record.happened_at)
            notes.append(
                gettext("Entered later: received {received_at}, {after} after.").format(
                    received_at=self.when(record.received_at), after=after
                )
            )
        if record.corrects is not None:
            notes.append(
                gettext("Corrects record {corrects}.").format(corrects=record.corrects.number)
            )
        notes += [
            gettext("Corrected by record {record} on {happened_at}.").format(
                record=each.number, happened_at=self.when(each.happened_at)
            )
            for each in corrections
        ]
        role = (
            gettext(", as {role}").format(role=record.role)
            if record.role and record.role != "label"
            else ""
        )
        told = [*_told(record), *((label, value) for label, value in facts(record))]
        asked = answers(record)
        photos = self._photos(record, asked)
        if not photos and (count := len(record.photos.all())):
            told.append(
                (
                    gettext("Photos"),
                    gettext("{count}, shown on the record's page").format(count=count),
                )
            )
        return Entry(
            number=record.number,
            seal=seal_of(record.hash),
            when=self.when(record.happened_at),
            heading=heading(record),
            summary=summary(record),
            who=f"{who(record)}{role}",
            notes=tuple(notes),
            asked=tuple(
                Asked(
                    each.asked,
                    " ".join(filter(None, (_answer(each.answer), each.figure))),
                    ". ".join(
                        filter(None, (each.word, each.level, each.limit and f"Limit {each.limit}"))
                    ),
                )
                for each in asked
            ),
            readings=tuple(
                (each.what, each.reading, each.limit, each.result, each.origin)
                for each in measured(record)
            ),
            steps=tuple(
                " ".join(filter(None, (f"{each.number}. {each.asked}", each.target, *each.answers)))
                for each in steps(record)
            ),
            facts=tuple(told),
            photos=photos,
        )

    def _photos(self, record: Record, asked: list[Answered]) -> tuple[Photo, ...]:
        """The photos of a record made small; none once the bundle holds as many as it takes."""
        found = numbered_photos(record, asked).values()
        if self.printed + len(found) > MOST_PHOTOS:
            self.counted_only += len(found)
            return ()
        self.printed += len(found)
        return tuple(small_photo(record, photo, *told) for photo, *told in found)


def seal_of(digest: str) -> str:
    """The sixteen digits of a hash that a stranger types, in fours."""
    return " ".join(digest[n : n + 4] for n in range(0, 16, 4))


def _answer(key: str) -> str:
    return {"ok": "OK"}.get(key, key[:1].upper() + key[1:])


def _told(record: Record) -> list[tuple[str, str]]:
    return [
        (label, gettext("left out of this paper") if label in _LEFT_OUT else value)
        for label, value in words(record)
    ]


def _front(
    machine: Machine,
    period: Period,
    records: list[Record],
    *,
    by: User,
    role: str,
    at: str,
    counted_only: int,
) -> tuple[tuple[str, str], ...]:
    kinds: dict[str, int] = {}
    for record in records:
        kinds[record.get_kind_display()] = kinds.get(record.get_kind_display(), 0) + 1
    counted = ", ".join(f"{name} {count}" for name, count in sorted(kinds.items()))
    came = sorted({each.depot.name for each in records if each.depot_id != machine.depot_id})
    told = [
        ("Machine", f"{machine.number}, {machine.kind.name}"),
        ("Depot", machine.depot.name),
        (
            "Period",
            gettext("{first} to {last}, both days included").format(
                first=day_text(period.first), last=day_text(period.last)
            ),
        ),
        ("Printed", gettext("{at} by {by}, {role}").format(at=at, by=by.name, role=role)),
        ("Records in it", str(len(records))),
        ("By kind", counted or "none"),
        (
            "What is in it",
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
        gone = gettext(", of them {erased} erased since").format(erased=erased) if erased else ""
        told.append(
            (
                gettext("Photos"),
                gettext("{count}{gone}, each with its record").format(count=len(photos), gone=gone),
            )
        )
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


def _in_figures(
    gaps: Gaps, failures: list[Followed], odd: list[tuple[Record, str]]
) -> tuple[tuple[str, str], ...]:
    tests = [each for each in gaps.late if each.is_test]
    services = [each for each in gaps.late if not each.is_test]
    still_open = [each for each in failures if each.ended_at is None]
    nothing = [each for each in still_open if each.nothing]
    period = gaps.period
    unknown = max(0, (min(period.known_from, period.last + rule.ONE_DAY) - period.first).days)
    return (
        ("Days of which nothing is known", str(unknown)),
        (
            "Days in use without a check",
            gettext("{days} of {in_use} days in use").format(
                days=len(gaps.checked.missing), in_use=len(gaps.in_use)
            ),
        ),
        ("Safety tests late", _sum_of(tests)),
        ("Services late", _sum_of(services)),
        (
            "Failures",
            gettext("{count}, of them {still_open} open").format(
                count=len(failures), still_open=len(still_open)
            ),
        ),
        ("Failures with nothing done", str(len(nothing))),
        ("Records entered later", str(len(gaps.later))),
        ("Meter figures questioned", str(len(gaps.questioned))),
        ("Tests in doubt", str(len(gaps.doubts))),
        ("Times with no meter figure", str(len(gaps.unread))),
        ("Records not as they were sealed", str(len(odd))),
    )


def _sum_of(late: Iterable[LateWork]) -> str:
    late = list(late)
    if not late:
        return "0"
    used, rest = sum(each.in_use for each in late), sum(each.not_in_use for each in late)
    return gettext("{count}: {used} in use, {rest} not in use").format(
        count=len(late), used=count_text(used, "day"), rest=count_text(rest, "day")
    )


def _sealed(
    machine: Machine, records: list[Record], odd: list[tuple[Record, str]], words_of: _Words
) -> tuple[str, ...]:
    depots = {each.depot_id for each in records} | {machine.depot_id}
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
        gettext("All heads were last signed on {signed}.").format(signed=words_of.when(signed))
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


def _corrections(records: list[Record], everything: list[Record], words_of: _Words) -> Section:
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
        old, new = changed(each)
        told = dict(words(each))
        of = (
            f"{each.corrects.number}, {words_of.when(each.corrects.happened_at)}"
            if (each.corrects)
            else gettext("not named")
        )
        rows.append(
            (of, old, new, told.get("Reason", "no reason"),
             f"{who(each)}, {words_of.when(each.happened_at)}", each.number)
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
                "Record",
            ),
            (17, 20, 20, 19, 14, 10),
            tuple(rows),
        ),
    )


def changed(record: Record) -> tuple[str, str]:
    """What a correction says was told before, and what it says is right."""
    data = json.loads(record.content)["data"]
    if "was_done_on" in data:
        now = (
            gettext("done on {done_on}").format(done_on=_iso(data["done_on"]))
            if data["done_on"]
            else "not done"
        )
        return gettext("{title}: done on {was_done_on}").format(
            title=data["title"], was_done_on=_iso(data["was_done_on"])
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


def _people(machine: Machine, records: list[Record], period: Period, *, by: User) -> Section:
    signed: dict[int, tuple[User, set[str], int]] = {}
    by_label = by_rule = 0
    for record in records:
        if record.by is None:
            by_rule += record.role == BY_RULE
            by_label += record.role != BY_RULE
            continue
        person, roles, count = signed.get(record.by.pk, (record.by, set(), 0))
        signed[person.pk] = (person, roles | {record.role}, count + 1)
    depots = {each.depot_id for each in records} | {machine.depot_id}
    # The records came with the machine; the register of people of its old depot did not.
    seen = depots & depots_where(by, Right.SEE)
    held: dict[int, list[str]] = {}
    rows = Competence.objects.filter(user__in=signed, depot__in=seen).select_related(
        "record__depot"
    )
    for each in rows.order_by("skill", "valid_from", "pk"):
        ended = [day for day in (each.valid_until, each.ended_on) if day is not None]
        if each.valid_from > period.last or (ended and min(ended) < period.first):
            continue
        until = (
            gettext(" to {valid_until}").format(valid_until=day_text(each.valid_until))
            if each.valid_until
            else gettext(", no last day")
        )
        off = (
            gettext(", ended {ended_on}: {ended_because}").format(
                ended_on=day_text(each.ended_on), ended_because=each.ended_because
            )
            if each.ended_on
            else ""
        )
        held.setdefault(each.user_id, []).append(
            gettext(
                "{skill}, {for_machines}: {valid_from}{until}{off}. {told} (record {record})."
            ).format(
                skill=each.get_skill_display(),
                for_machines=each.for_machines,
                valid_from=day_text(each.valid_from),
                until=until,
                off=off,
                told=each.told,
                record=each.record.number,
            )
        )
    nothing = "none" if seen == depots else gettext("none listed")
    told = [
        gettext("Signed at the machine's label without an account: {by_label}.").format(
            by_label=count_text(by_label, "record")
        )
    ]
    if by_rule:
        told.append(
            gettext("Made by a rule, signed by nobody: {by_rule}.").format(
                by_rule=count_text(by_rule, "record")
            )
        )
    if seen != depots:
        told.append(
            gettext(
                "Competences that were given in a depot which "
                "who asked for this may not see are not "
                "listed; what counted on the day stands in part 6."
            )
        )
    return Section(
        key="people",
        title=gettext("5. Who signed, and what they were competent for"),
        words=tuple(told),
        grid=Grid(
            (
                gettext("Person"),
                gettext("In the role of"),
                gettext("Records"),
                gettext("Competences that counted in the period"),
            ),
            (20, 14, 9, 57),
            tuple(
                (
                    person.name,
                    ", ".join(sorted(roles)),
                    str(count),
                    "\n".join(held.get(person.pk, ())) or nothing,
                )
                for person, roles, count in sorted(signed.values(), key=lambda e: e[0].name)
            ),
        ),
    )


def _competence(records: list[Record], words_of: _Words) -> Section:
    rows = []
    for record in records:
        kept = dict(facts(record)).get(_ON_THAT_DAY)
        if kept is None and record.kind not in _SIGNED:
            continue
        rows.append(
            (
                words_of.when(record.happened_at),
                summary(record),
                who(record),
                kept or gettext("none sealed with it"),
                record.number,
            )
        )
    return Section(
        key="competence",
        title=gettext("6. Competence on the day, as it was sealed"),
        words=(gettext("A failed test or look needs none; a pass and a release do."),),
        grid=Grid(
            (gettext("When"), gettext("What"), gettext("Who"), "Competence on that day", "Record"),
            (16, 25, 17, 30, 12),
            tuple(rows),
        ),
    )


def _instruments(machine: Machine, period: Period, *, by: User) -> Section:
    tests = machine.electrical_tests.filter(at__gte=period.begin, at__lt=period.end)
    used = Instrument.objects.filter(pk__in=tests.values("made_with")).order_by("name", "pk")
    seen = used.visible_to(by)
    unseen = used.count() - seen.count()
    rows: list[tuple[str, ...]] = []
    for each in seen.prefetch_related("calibrations__record__depot", "calibrations__struck_by"):
        told = sorted(each.calibrations.all(), key=lambda one: (one.done_on, one.pk))
        if not told:
            rows.append((str(each), "none", "", "", "", ""))
        for one in told:
            until = day_text(one.valid_until) if one.valid_until else gettext("not brought right")
            struck = gettext(", struck out since") if one.struck_by_id else ""
            found = "good" if one.found_good else "wrong"
            rows.append(
                (str(each), day_text(one.done_on), f"{found}{struck}", until, one.certificate,
                 one.record.number)
            )  # fmt: skip
    return Section(
        key="instruments",
        title=gettext("7. Test instruments and their calibrations"),
        words=(
            gettext(
                "{unseen} of a depot which who asked for this may not see: not "
                "listed. What was in force on the day of each test stands in part "
                "8."
            ).format(unseen=count_text(unseen, "instrument")),
        )
        if unseen
        else (),
        none=gettext("None to list.")
        if unseen
        else gettext("No instrument of the register was used in this period."),
        grid=Grid(
            (
                "Instrument",
                gettext("Calibrated"),
                gettext("Found"),
                gettext("Holds until"),
                gettext("Certificate"),
                "Record",
            ),
            (28, 15, 15, 15, 14, 13),
            tuple(rows),
        ),
    )


def _tested_with(records: list[Record], words_of: _Words) -> Section:
    rows = []
    for record in records:
        if record.kind != Record.Kind.TEST:
            continue
        data = json.loads(record.content)["data"]
        until = data.get("calibrated_until")
        rows.append(
            (
                words_of.when(record.happened_at),
                str(data.get("instrument") or gettext("none named")),
                _iso(until) if until else gettext("no calibration in force"),
                summary(record),
                record.number,
            )
        )
    return Section(
        key="tested with",
        title=gettext("8. The instrument of each test, as on the day"),
        grid=Grid(
            (
                gettext("When"),
                "Instrument",
                gettext("In calibration until"),
                gettext("Test"),
                "Record",
            ),
            (16, 28, 17, 27, 12),
            tuple(rows),
        ),
    )


def _electrical(records: list[Record], words_of: _Words) -> Section:
    rows = [
        (
            words_of.when(record.happened_at),
            each.what,
            each.reading,
            each.limit,
            each.result,
            record.number,
        )
        for record in records
        for each in measured(record)
    ]
    return Section(
        key="electrical",
        title=gettext("9. Electrical readings"),
        words=(gettext("The source of each limit stands with its record in part 4."),),
        grid=Grid(
            (
                gettext("When"),
                gettext("Reading"),
                gettext("Figure"),
                gettext("Limit"),
                gettext("Result"),
                "Record",
            ),
            (16, 32, 15, 15, 10, 12),
            tuple(rows),
        ),
    )


def _belts(machine: Machine, period: Period, numbers: dict[UUID, str], words_of: _Words) -> Section:
    rows = []
    for drive in machine.drives.filter(kind=Drive.Kind.BELT).order_by("pk"):
        for each in sorted(
            readings_of(drive, most=10_000), key=lambda read: (read.at, read.record_id)
        ):
            if period.holds(each.at):
                stands = "" if each.stands else gettext("Put right since: it no longer stands. ")
                figure = " ".join(filter(None, (each.figure, each.doubt)))
                rows.append(
                    (words_of.when(each.at), f"{drive.name}: {each.what}",
                     ", ".join(filter(None, (figure, each.note))), each.tool,
                     f"{stands}{each.verdict}", numbers.get(each.record_id, ""))
                )  # fmt: skip
    return Section(
        key="belts",
        title=gettext("10. Belt readings, each with the verdict of its day"),
        grid=Grid(
            (
                gettext("When"),
                gettext("Drive and reading"),
                gettext("Figure"),
                gettext("Tool"),
                gettext("Verdict"),
                "Record",
            ),
            (15, 18, 22, 12, 21, 12),
            tuple(rows),
        ),
    )


def _due(work: LateWork) -> str:
    late = work.late
    ways = []
    if late.due_on is not None:
        ways.append(day_text(late.due_on))
    if late.due_tenths is not None:
        ways.append(figure_text(late.due_tenths, work.measure))
    return " or ".join(ways)


def _run_text(run: rule.Run) -> str:
    first, last = run
    return (
        day_text(first)
        if first == last
        else gettext("{first} to {last}").format(first=day_text(first), last=day_text(last))
    )


def _iso(day: str) -> str:
    return day_text(date.fromisoformat(day))


def _span(took: timedelta) -> str:
    """3 d 4 h; 2 h 10 min; 12 min."""
    minutes = int(took.total_seconds() // 60)
    if minutes >= 24 * 60:
        return gettext("{days} d {hours} h").format(
            days=minutes // 1440, hours=minutes % 1440 // 60
        )
    if minutes >= 60:
        return gettext("{hours} h {minutes} min").format(hours=minutes // 60, minutes=minutes % 60)
    return gettext("{minutes} min").format(minutes=minutes)
