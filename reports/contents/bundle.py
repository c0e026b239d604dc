"""Gathers the inspector's bundle: everything on one machine for a period, what is missing first."""

import json
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q
from django.urls import reverse

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
_LEFT_OUT = ("Hirer's phone", "Site phone")
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
    tell("Reading the records", 0, 1)
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
    tell("Looking for gaps", 0, whole)
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
        tell(f"Gathered: record {count} of {len(records)}", count, whole)
    return Bundle(
        number=number,
        plate=plate_of(machine),
        printed=Printed(at=words_of.when(at), by=by.name),
        period=f"{day_text(period.first)} to {day_text(period.last)}",
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
            "Each failure that was found in the period, or stood open in it: what was found, what "
            "was decided, done, tested again and released, and how long that took.",
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
            self._late("gap tests", "1.3 Electrical and other safety tests late", tests, gaps),
            self._late("gap services", "1.4 Services late", services, gaps),
            self._open("gap nothing", "1.5 Failures with nothing done", nothing),
            self._open("gap open", "1.6 Failures that still stand open", still_open),
            Section(
                key="gap later",
                title="1.7 Records entered later than they happened",
                words=(
                    f"Received more than {_span(LATER)} after what they tell (our own limit).",
                ),
                grid=Grid(
                    ("Happened", "Received", "Later by", "What", "By", "Record"),
                    (15, 15, 12, 28, 17, 13),
                    tuple(
                        (
                            self.when(each.happened_at), self.when(each.received_at),
                            _span(each.received_at - each.happened_at), summary(each), who(each),
                            each.number,
                        )
                        for each in gaps.later
                    ),
                ),
            ),
            Section(
                key="gap questioned",
                title="1.8 Meter figures that were questioned",
                grid=Grid(
                    ("When", "Figure", "Why it was questioned", "Now", "Record"),
                    (16, 20, 34, 17, 13),
                    tuple(
                        (
                            self.when(each.happened_at), summary(each), why,
                            "counts since a decision" if counts else "does not count", each.number,
                        )
                        for each, why, counts in gaps.questioned
                    ),
                ),
            ),
            Section(
                key="gap doubt",
                title="1.9 Tests in doubt for their instrument",
                grid=Grid(
                    ("When", "Why", "Record"), (18, 66, 16),
                    tuple(
                        (self.when(each.happened_at), why, each.number)
                        for each, why in gaps.doubts
                    ),
                ),
            ),
            self._unread(gaps),
            Section(
                key="gap seal",
                title="1.11 Records that are not as they were sealed",
                grid=Grid(
                    ("When", "What is not as it was", "Record"), (18, 66, 16),
                    tuple((self.when(e.happened_at), why, e.number) for e, why in odd),
                ),
            ),
        )  # fmt: skip

    def _unknown(self, gaps: Gaps) -> Section:
        period, told = self.period, []
        if period.first < period.known_from:
            told.append(
                f"The machine was entered here on {day_text(period.known_from)}. Of the time from "
                f"{day_text(period.first)} until then nothing is known here: no check, no test, no "
                "service and no fault of it can be shown or denied."
            )
        told.append(
            "A shift is taken as a day. Whether the machine was run on a day on which it was out "
            "is not known; a day out counts as a day in use."
        )
        told.append("What it is driven by, and its kind, are those of today.")
        if not gaps.often:
            told.append("No rule sheet was in force, so nothing says how often a check was wanted.")
        if not gaps.lines:
            told.append("No plan runs on this machine, so nothing says when work was due.")
        for title, because in gaps.resting:
            told.append(
                f"{title} is not asked of this machine now: {because} Since when is not known, so "
                "it is left out of what was late."
            )
        if gaps.checked.not_asked:
            days = count_text(len(gaps.checked.not_asked), "day")
            told.append(f"On {days} in use no rule said how often a check was wanted.")
        return Section(key="gap unknown", title="1.1 What cannot be known", words=tuple(told))

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
                f"On {count_text(len(checked.missing), 'day')} in use a check was wanted and none "
                "that held was done.",
            )
        missing = [
            (day_text(first), day_text(last), str((last - first).days + 1), self._where(first))
            for first, last in rule.runs(checked.missing)
        ]
        idle = ", ".join(_run_text(each) for each in rule.runs(checked.idle))
        told = [
            f"In the period the machine was known on {count_text(gaps.known, 'day')}: in use on "
            f"{len(gaps.in_use)}, not in use on {gaps.known - len(gaps.in_use)}. Not in use no "
            "check is wanted; whoever takes the machine checks it first.",
            f"Of the days in use a check held on {len(checked.held)}, was missing on "
            f"{len(checked.missing)}, and on {len(checked.idle)} the machine was stopped all of "
            "the time, so that nobody should have used it.",
        ]
        if idle:
            told.append(f"Out while stopped: {idle}.")
        told += [f"Rule: {each}." for each in rules]
        return Section(
            key="gap checks",
            title="1.2 Days in use without a check",
            words=tuple(told),
            strong=strong,
            grid=Grid(
                ("First day", "Last day", "Days", "Where it was"), (20, 20, 10, 50), tuple(missing)
            ),
        )

    def _late(self, key: str, title: str, late: list[LateWork], gaps: Gaps) -> Section:
        told = "Days late count from the day after it was due; a day put off stays late."
        return Section(
            key=key,
            title=title,
            words=(told,) if gaps.lines else ("No plan runs on this machine.",),
            grid=Grid(
                ("What", "Was due", "Done", "Days late", "In use", "Not in use"),
                (30, 24, 18, 10, 8, 10),
                tuple(
                    (
                        each.title,
                        _due(each),
                        day_text(each.late.done_on) if each.late.done_on
                        else f"Not done by {day_text(each.late.last)}",
                        str(each.late.days), str(each.in_use), str(each.not_in_use),
                    )
                    for each in sorted(
                        late, key=lambda each: (each.title, each.late.due_on or date.max)
                    )
                ),
            ),
        )  # fmt: skip

    def _open(self, key: str, title: str, failures: list[Followed]) -> Section:
        return Section(
            key=key,
            title=title,
            grid=Grid(
                ("Found", "What", "Open for", "How it stands", "Record"), (16, 36, 12, 24, 12),
                tuple(
                    (
                        self.when(each.found.happened_at), each.words,
                        _span(self.at - each.found.happened_at), each.stands or "No job",
                        each.found.number,
                    )
                    for each in failures
                ),
            ),
        )  # fmt: skip

    def _unread(self, gaps: Gaps) -> Section:
        told = (
            f"Stretches of more than {UNREAD_DAYS} days (our own limit) with days in use and "
            "no figure of the running hours."
        )
        return Section(
            key="gap meter",
            title="1.10 Times with no meter figure",
            words=(told,) if gaps.has_meter else ("The machine has no meter of running hours.",),
            grid=Grid(
                ("From", "To", "Days"), (30, 30, 40),
                tuple(
                    (day_text(first), day_text(last), str((last - first).days + 1))
                    for first, last in gaps.unread
                ),
            ) if gaps.has_meter else None,
        )  # fmt: skip

    def _where(self, day: date) -> str:
        """The site where it was on that day, as it was told."""
        begin, end = (rule.midnight(day + n * rule.ONE_DAY, self._zone) for n in (0, 1))
        stays = Stay.objects.filter(machine=self.machine, out_at__lt=end)
        open_then = stays.filter(Q(back_at__isnull=True) | Q(back_at__gt=begin))
        stay = open_then.order_by("-out_at", "-pk").first()
        return stay.site if stay else "not told"

    def pair(self, each: Followed) -> Pair:
        found = each.found
        lines = [Acted(self.when(found.happened_at), summary(found), who(found), found.number)]
        lines += [
            Acted(self.when(act.at), act.what, act.who, act.record.number if act.record else "")
            for act in each.acts
        ]
        if each.ended_at is not None:
            took = _span(each.ended_at - found.happened_at)
            end = f"Ended on {self.when(each.ended_at)}, after {took}."
        else:
            took = _span(self.at - found.happened_at)
            done = "Nothing was done. " if each.nothing else ""
            stands = f" {each.stands}." if each.stands else ""
            end = f"{done}OPEN when this was printed, after {took}.{stands}"
        return Pair(each.words, tuple(lines), end, is_open=each.ended_at is None)

    def entry(self, record: Record, corrections: list[Record]) -> Entry:
        notes = []
        if record.received_at - record.happened_at > LATER:
            after = _span(record.received_at - record.happened_at)
            notes.append(f"Entered later: received {self.when(record.received_at)}, {after} after.")
        if record.corrects is not None:
            notes.append(f"Corrects record {record.corrects.number}.")
        notes += [
            f"Corrected by record {each.number} on {self.when(each.happened_at)}."
            for each in corrections
        ]
        role = f", as {record.role}" if record.role and record.role != "label" else ""
        told = [*_told(record), *((label, value) for label, value in facts(record))]
        asked = answers(record)
        photos = self._photos(record, asked)
        if not photos and (count := len(record.photos.all())):
            told.append(("Photos", f"{count}, shown on the record's page"))
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
        (label, "left out of this paper" if label in _LEFT_OUT else value)
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
        ("Period", f"{day_text(period.first)} to {day_text(period.last)}, both days included"),
        ("Printed", f"{at} by {by.name}, {role}"),
        ("Records in it", str(len(records))),
        ("By kind", counted or "none"),
        (
            "What is in it",
            "What is missing; what was found wrong and what was done; corrections; every record of "
            "the machine in the period, whole; who signed, and their competence; the test "
            "instruments and their calibrations; electrical readings; belt readings. Nothing of "
            "the period was chosen or left out, but for telephone numbers. Photos are small.",
        ),
    ]
    photos = [photo for record in records for photo in record.photos.all()]
    if photos:
        erased = sum(photo.erased_at is not None for photo in photos)
        gone = f", of them {erased} erased since" if erased else ""
        told.append(("Photos", f"{len(photos)}{gone}, each with its record"))
    if counted_only:
        told.append(
            (
                "Photos left out",
                f"{counted_only}: a bundle holds {MOST_PHOTOS}, those of the oldest records. The "
                "others are counted with their records and shown on their pages; a shorter period "
                "has them.",
            )
        )
    if came:
        told.append(("Records of other depots", f"It brought with it those of {', '.join(came)}."))
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
            f"{len(gaps.checked.missing)} of {len(gaps.in_use)} days in use",
        ),
        ("Safety tests late", _sum_of(tests)),
        ("Services late", _sum_of(services)),
        ("Failures", f"{len(failures)}, of them {len(still_open)} open"),
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
    return f"{len(late)}: {count_text(used, 'day')} in use, {count_text(rest, 'day')} not in use"


def _sealed(
    machine: Machine, records: list[Record], odd: list[tuple[Record, str]], words_of: _Words
) -> tuple[str, ...]:
    depots = {each.depot_id for each in records} | {machine.depot_id}
    heads = Chain.objects.filter(depot__in=depots).select_related("depot").order_by("depot__name")
    where = settings.SITE_ADDRESS.rstrip("/") + reverse("reports:sealed")
    signed = last_signed()
    told = [
        "Each record was sealed when it was entered: its content has a hash (SHA-256), and that "
        "hash is joined to the hash of the record before it. A record that is changed, taken out "
        "or put in afterwards no longer fits those that follow. Records are never altered; a "
        "correction is a record of its own, and both stand here.",
    ]
    told += [
        f"Head of the chain of {each.depot.name} when this was gathered: record "
        f"{each.depot.code.upper()}-{each.head_seq}, hash {seal_of(each.head_hash)}."
        for each in heads
    ]
    told.append(
        f"All heads were last signed on {words_of.when(signed)}." if signed
        else "The heads have not been signed yet."
    )  # fmt: skip
    told.append(
        "Each record here was held against its seal when this was gathered: "
        + ("all are as they were sealed." if not odd else f"{len(odd)} are NOT, see part 1.11.")
    )
    told.append(
        f"To check one, open {where} and type its number and the sixteen figures and letters "
        "beside it. No account is needed. The SHA-256 of this whole file stands on the page from "
        "which it was taken; the same page tells whether a file is the one that was printed."
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
            else "not named"
        )
        rows.append(
            (of, old, new, told.get("Reason", "no reason"),
             f"{who(each)}, {words_of.when(each.happened_at)}", each.number)
        )  # fmt: skip
    return Section(
        key="corrections",
        title="3. Corrections",
        words=("What was corrected stands in part 4 as it was first told.",),
        grid=Grid(
            ("Of record", "Was", "Now", "Why", "Who and when", "Record"),
            (17, 20, 20, 19, 14, 10), tuple(rows),
        ),
    )  # fmt: skip


def changed(record: Record) -> tuple[str, str]:
    """What a correction says was told before, and what it says is right."""
    data = json.loads(record.content)["data"]
    if "was_done_on" in data:
        now = f"done on {_iso(data['done_on'])}" if data["done_on"] else "not done"
        return f"{data['title']}: done on {_iso(data['was_done_on'])}", now
    if "was" in data and "now" in data:
        return str(data["was"]), str(data["now"])
    if "was_fitted" in data:
        now = f"belt {data['mark']}" if data["was_fitted"] else "no belt was fitted"
        return f"belt {data['was_mark']}", now
    return "as in that record", summary(record)


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
        until = f" to {day_text(each.valid_until)}" if each.valid_until else ", no last day"
        off = f", ended {day_text(each.ended_on)}: {each.ended_because}" if each.ended_on else ""
        held.setdefault(each.user_id, []).append(
            f"{each.get_skill_display()}, {each.for_machines}: {day_text(each.valid_from)}{until}"
            f"{off}. {each.told} (record {each.record.number})."
        )
    nothing = "none" if seen == depots else "none listed"
    told = [f"Signed at the machine's label without an account: {count_text(by_label, 'record')}."]
    if by_rule:
        told.append(f"Made by a rule, signed by nobody: {count_text(by_rule, 'record')}.")
    if seen != depots:
        told.append(
            "Competences that were given in a depot which who asked for this may not see are not "
            "listed; what counted on the day stands in part 6."
        )
    return Section(
        key="people",
        title="5. Who signed, and what they were competent for",
        words=tuple(told),
        grid=Grid(
            ("Person", "In the role of", "Records", "Competences that counted in the period"),
            (20, 14, 9, 57),
            tuple(
                (
                    person.name, ", ".join(sorted(roles)), str(count),
                    "\n".join(held.get(person.pk, ())) or nothing,
                )
                for person, roles, count in sorted(signed.values(), key=lambda e: e[0].name)
            ),
        ),
    )  # fmt: skip


def _competence(records: list[Record], words_of: _Words) -> Section:
    rows = []
    for record in records:
        kept = dict(facts(record)).get(_ON_THAT_DAY)
        if kept is None and record.kind not in _SIGNED:
            continue
        rows.append(
            (words_of.when(record.happened_at), summary(record), who(record),
             kept or "none sealed with it", record.number)
        )  # fmt: skip
    return Section(
        key="competence",
        title="6. Competence on the day, as it was sealed",
        words=("A failed test or look needs none; a pass and a release do.",),
        grid=Grid(
            ("When", "What", "Who", "Competence on that day", "Record"), (16, 25, 17, 30, 12),
            tuple(rows),
        ),
    )  # fmt: skip


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
            until = day_text(one.valid_until) if one.valid_until else "not brought right"
            struck = ", struck out since" if one.struck_by_id else ""
            found = "good" if one.found_good else "wrong"
            rows.append(
                (str(each), day_text(one.done_on), f"{found}{struck}", until, one.certificate,
                 one.record.number)
            )  # fmt: skip
    return Section(
        key="instruments",
        title="7. Test instruments and their calibrations",
        words=(
            f"{count_text(unseen, 'instrument')} of a depot which who asked for this may not see: "
            "not listed. What was in force on the day of each test stands in part 8.",
        ) if unseen else (),
        none="None to list." if unseen else
        "No instrument of the register was used in this period.",
        grid=Grid(
            ("Instrument", "Calibrated", "Found", "Holds until", "Certificate", "Record"),
            (28, 15, 15, 15, 14, 13), tuple(rows),
        ),
    )  # fmt: skip


def _tested_with(records: list[Record], words_of: _Words) -> Section:
    rows = []
    for record in records:
        if record.kind != Record.Kind.TEST:
            continue
        data = json.loads(record.content)["data"]
        until = data.get("calibrated_until")
        rows.append(
            (words_of.when(record.happened_at), str(data.get("instrument") or "none named"),
             _iso(until) if until else "no calibration in force", summary(record), record.number)
        )  # fmt: skip
    return Section(
        key="tested with",
        title="8. The instrument of each test, as on the day",
        grid=Grid(
            ("When", "Instrument", "In calibration until", "Test", "Record"), (16, 28, 17, 27, 12),
            tuple(rows),
        ),
    )  # fmt: skip


def _electrical(records: list[Record], words_of: _Words) -> Section:
    rows = [
        (words_of.when(record.happened_at), each.what, each.reading, each.limit, each.result,
         record.number)
        for record in records
        for each in measured(record)
    ]  # fmt: skip
    return Section(
        key="electrical",
        title="9. Electrical readings",
        words=("The source of each limit stands with its record in part 4.",),
        grid=Grid(
            ("When", "Reading", "Figure", "Limit", "Result", "Record"), (16, 32, 15, 15, 10, 12),
            tuple(rows),
        ),
    )  # fmt: skip


def _belts(machine: Machine, period: Period, numbers: dict[UUID, str], words_of: _Words) -> Section:
    rows = []
    for drive in machine.drives.filter(kind=Drive.Kind.BELT).order_by("pk"):
        for each in sorted(
            readings_of(drive, most=10_000), key=lambda read: (read.at, read.record_id)
        ):
            if period.holds(each.at):
                stands = "" if each.stands else "Put right since: it no longer stands. "
                figure = " ".join(filter(None, (each.figure, each.doubt)))
                rows.append(
                    (words_of.when(each.at), f"{drive.name}: {each.what}",
                     ", ".join(filter(None, (figure, each.note))), each.tool,
                     f"{stands}{each.verdict}", numbers.get(each.record_id, ""))
                )  # fmt: skip
    return Section(
        key="belts",
        title="10. Belt readings, each with the verdict of its day",
        grid=Grid(
            ("When", "Drive and reading", "Figure", "Tool", "Verdict", "Record"),
            (15, 18, 22, 12, 21, 12), tuple(rows),
        ),
    )  # fmt: skip


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
    return day_text(first) if first == last else f"{day_text(first)} to {day_text(last)}"


def _iso(day: str) -> str:
    return day_text(date.fromisoformat(day))


def _span(took: timedelta) -> str:
    """3 d 4 h; 2 h 10 min; 12 min."""
    minutes = int(took.total_seconds() // 60)
    if minutes >= 24 * 60:
        return f"{minutes // 1440} d {minutes % 1440 // 60} h"
    if minutes >= 60:
        return f"{minutes // 60} h {minutes % 60} min"
    return f"{minutes} min"
