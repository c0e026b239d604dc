"""What each message tells: the morning, a machine stopped in use, and the proof of an address."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.contents.due import DueWork, announced, coming, past, told
from maintenance.contents.fleet import with_use
from maintenance.contents.open_days import open_days
from maintenance.contents.out_in import CARE_DAYS, StoppedOut, nearest_that_can, told_stopped
from maintenance.models import Competence, DueLine, Job, Stop
from maintenance.rules import fitness
from maintenance.rules.words import day_text, list_text
from plant.links import code_of
from plant.models import Depot, Machine, Message, Place, Record, Role, User
from plant.rights import Right, depots_where, may, roles
from reports.contents.letter import Letter, Line, Part, address, one_line

SHOWN = 6
# A competence that ends is told on these days before its last one, not each morning of a month.
TOLD_BEFORE = (30, 14, 7, 3, 1, 0)
# A proof is good for so long.
PROOF_FOR = timedelta(hours=24)
WHY_THIS_CAME = gettext_noop("You chose this message. Change or end it on your page Messages:")


@dataclass(frozen=True)
class Wanted:
    """Who reads it, and the depots of theirs with one calendar day between them.

    closed: they are closed that day, so only what is stopped where it is used is told of.
    """

    user: User
    on: date
    depots: tuple[Depot, ...]
    many: bool
    closed: bool = False

    def where(self, machine: Machine) -> str:
        """The machine in words, with its depot for who has several."""
        named = f"{machine.number} {machine.kind.name}"
        return one_line(f"{named}, {machine.depot.name}" if self.many else named)


def morning(user: User, *, at: datetime) -> Letter | None:
    """What waits for this person this morning; None where nothing does.

    Every depot's day is its own, so that a person with yards far apart reads of each one's today.
    Of a depot that is closed that day it tells only what is stopped where it is used.
    """
    depots = list(Depot.objects.filter(pk__in=depots_where(user, Right.SEE)))
    if not depots:
        return None
    weeks = open_days(depots)
    days: dict[tuple[date, bool], list[Depot]] = defaultdict(list)
    for depot in depots:
        on = depot.day_of(at)
        days[on, not weeks[depot.pk].is_open(on)].append(depot)
    found: dict[str, Part] = {}
    for (on, closed), here in days.items():
        wanted = Wanted(user, on, tuple(here), many=len(depots) > 1, closed=closed)
        for part in _parts(wanted):
            before = found.get(part.heading)
            found[part.heading] = part if before is None else _joined(before, part)
    parts = tuple(part for part in found.values() if part.count)
    if not parts:
        return None
    counted = [f"{part.count} {_(_COUNTED[part.heading][part.count > 1])}" for part in parts]
    day = day_text(depots[0].day_of(at))
    return Letter(
        subject=f"{day}: {', '.join(counted[:3])}",
        opening=_("Today, {day}: {counted}.").format(day=day, counted=", ".join(counted)),
        parts=parts,
        closing=(*_care(parts), _(WHY_THIS_CAME), address("reports:messages")),
    )


def all_well(user: User, *, at: datetime) -> Letter | None:
    """The morning message of who wants to hear also that nothing waits; None on a closed day."""
    depots = list(Depot.objects.filter(pk__in=depots_where(user, Right.SEE)))
    weeks = open_days(depots)
    if not any(weeks[depot.pk].is_open(depot.day_of(at)) for depot in depots):
        return None
    day = day_text(depots[0].day_of(at))
    return Letter(
        subject=_("{day}: nothing waits for you").format(day=day),
        opening=(
            _(
                "Today, {day}: no machine is stopped, nothing is overdue in use, "
                "nothing falls due and no job is given to you."
            ).format(day=day)
        ),
        closing=(_(WHY_THIS_CAME), address("reports:messages")),
    )


def _joined(one: Part, other: Part) -> Part:
    lines = (*one.lines, *other.lines)[:SHOWN]
    return Part(one.heading, lines, one.count + other.count, one.all_at)


def _care(parts: Iterable[Part]) -> tuple[str, ...]:
    if any(part.heading in (OVERDUE, DUE) for part in parts):
        return (
            _(
                "Care every {care_days} days or oftener is left out here. It is on the page Due."
            ).format(care_days=CARE_DAYS),
        )
    return ()


# Headings are keys as well, and looked up where they are shown.
STOPPED, OVERDUE = gettext_noop("Stopped"), gettext_noop("Overdue in use")
DUE, JOBS = gettext_noop("Due today"), gettext_noop("Jobs for you")
WAITS, COMPETENCES = gettext_noop("Waits that end"), gettext_noop("Competences that end")
# How one and how many of them are counted in a sentence.
_COUNTED = {
    STOPPED: ("stopped", "stopped"),
    OVERDUE: (gettext_noop("overdue in use"), gettext_noop("overdue in use")),
    DUE: (gettext_noop("due today"), gettext_noop("due today")),
    JOBS: (gettext_noop("job for you"), gettext_noop("jobs for you")),
    WAITS: (gettext_noop("wait that ends"), gettext_noop("waits that end")),
    COMPETENCES: (gettext_noop("competence that ends"), gettext_noop("competences that end")),
}


def _parts(wanted: Wanted) -> Iterable[Part]:
    yield _stopped(wanted)
    if wanted.closed:
        return
    lines = (
        without_care(announced(wanted.user, wanted.on))
        .filter(machine__depot__in=wanted.depots)
        .select_related("machine__kind", "machine__depot")
    )
    yield _due(
        wanted, past(lines, wanted.on).filter(machine__place=Place.OUT), heading=OVERDUE,
        do=_("Have it done where it is, or bring the machine in."), state="overdue",
    )  # fmt: skip
    yield _due(
        wanted, coming(lines, wanted.on).filter(plan_on=wanted.on),
        heading=DUE, do=_("Do it today, or give the job out."), state="soon",
    )  # fmt: skip
    yield _jobs(wanted)
    yield _waits(wanted)
    yield _competences(wanted)


def without_care(lines: QuerySet[DueLine]) -> QuerySet[DueLine]:
    """Without the care of a week or less, which is the user's where the machine is."""
    return lines.exclude(line__every_days__lte=CARE_DAYS, line__is_test=False)


def _stopped(wanted: Wanted) -> Part:
    machines = (
        with_use(
            Machine.objects.visible_to(wanted.user).in_fleet().filter(depot__in=wanted.depots),
            fitness.DO_NOT_USE,
            wanted.on,
        )
        .select_related("kind", "depot")
        .order_by("number_key")
    )
    # Those that are out come first: somebody may be standing beside them.
    out = machines.filter(place=Place.OUT)
    if wanted.closed:
        machines = out
    first = list(out[:SHOWN])
    first += list(machines.exclude(place=Place.OUT)[: SHOWN - len(first)])
    in_turn = {machine.pk: nth for nth, machine in enumerate(first)}
    rows = sorted(told_stopped(first, wanted.on), key=lambda each: in_turn[each.machine.pk])
    return Part(
        STOPPED,
        tuple(_stopped_line(each, wanted) for each in rows),
        machines.count(),
        address("maintenance:machine_list", query="?use=do-not-use"),
    )


def _stopped_line(each: StoppedOut, wanted: Wanted) -> Line:
    why = list_text([one_line(stop.words) for stop in each.stops])
    what = f"{wanted.where(each.machine)}{_site(each)}"
    return Line(what, f"{why}.", *_what_to_do(each, wanted.user))


def _site(each: StoppedOut) -> str:
    if each.machine.place != Place.OUT:
        return ""
    site = each.stay.site if each.stay else each.machine.site
    return _(", out at {site}").format(site=one_line(site)) if site else ", out"


def _what_to_do(each: StoppedOut, user: User) -> tuple[str, str]:
    """The next act of this person about a stopped machine, and its page."""
    machine = each.machine
    page = address("maintenance:machine", machine.pk)
    undecided = [stop for stop in each.stops if stop.kind == Stop.Kind.UNDECIDED]
    decide = undecided and may(user, Right.DECIDE, machine.depot_id)
    if decide:
        page = address("maintenance:decide", undecided[0].pk)
    if machine.place == Place.OUT and may(user, Right.MOVE, machine.depot_id):
        phone = one_line(each.stay.site_phone) if each.stay else ""
        ring = _("Ring the site, {phone}.").format(phone=phone) if phone else _("Ring the site.")
        then = (
            _("Then decide: stop it, or carry on with a note.") if decide else _("Bring another.")
        )
        return _("{ring} It must not be used. {then}").format(ring=ring, then=then), page
    if decide:
        return _("Decide: stop it, or carry on with a note."), page
    jobs = [stop.job for stop in each.stops if stop.job and stop.job.is_open]
    if jobs and may(user, Right.WORK, machine.depot_id):
        return _("Look at {jobs}. Isolate and lock off before you begin.").format(
            jobs=jobs[0].number
        ), address("maintenance:job", jobs[0].pk)
    return _("Do not use it, and do not let it out."), page


def _due(wanted: Wanted, lines: QuerySet[DueLine], *, heading: str, do: str, state: str) -> Part:
    return Part(
        heading,
        tuple(_due_line(each, wanted, do) for each in told(lines[:SHOWN], wanted.on)),
        lines.count(),
        address("maintenance:due_list", query=f"?state={state}"),
    )


def _due_line(each: DueWork, wanted: Wanted, do: str) -> Line:
    line = each.line
    what = one_line(f"{wanted.where(line.machine)}: {line.line.title}")
    return Line(what, each.why, do, address("maintenance:machine", line.machine_id))


def _jobs(wanted: Wanted) -> Part:
    jobs = (
        Job.objects.visible_to(wanted.user)
        .filter(
            machine__depot__in=wanted.depots,
            given_to=wanted.user,
            given_for__lte=wanted.on,
            state__in=(Job.State.GIVEN_OUT, Job.State.UNDER_WAY),
        )
        .select_related("machine__kind", "machine__depot")
        .order_by("given_for", "pk")
    )
    lines = []
    for job in jobs[:SHOWN]:
        begin = _("Begin it") if job.state == Job.State.GIVEN_OUT else _("Go on with it")
        day = (
            ""
            if job.given_for == wanted.on
            else _("Given for {given_for}.").format(given_for=_day(job.given_for))
        )
        lines.append(
            Line(
                f"{job.number} {wanted.where(job.machine)}: {one_line(job.title)}",
                day,
                _("{begin}. Isolate and lock off first.").format(begin=begin),
                address("maintenance:job", job.pk),
            )
        )
    return Part(JOBS, tuple(lines), jobs.count(), address("maintenance:job_list", query="?mine=1"))


def _waits(wanted: Wanted) -> Part:
    given_out = depots_where(wanted.user, Right.GIVE_OUT)
    jobs = (
        Job.objects.visible_to(wanted.user)
        .filter(
            Q(given_to=wanted.user) | Q(machine__depot__in=given_out),
            machine__depot__in=wanted.depots,
            state=Job.State.WAITING,
            expected_on__lte=wanted.on,
        )
        .select_related("machine__kind", "machine__depot")
        .order_by("expected_on", "pk")
    )
    lines = tuple(
        Line(
            f"{job.number} {wanted.where(job.machine)}: {one_line(job.title)}",
            _("It waits for {waiting_for}, expected on {expected_on}.").format(
                waiting_for=one_line(job.waiting_for), expected_on=_day(job.expected_on)
            ),
            _("Ask whether it has come. Then go on, or give a new day."),
            address("maintenance:job", job.pk),
        )
        for job in jobs[:SHOWN]
    )
    return Part(WAITS, lines, jobs.count(), address("maintenance:job_list"))


def _competences(wanted: Wanted) -> Part:
    days = [wanted.on + timedelta(days=before) for before in TOLD_BEFORE]
    people = depots_where(wanted.user, Right.PEOPLE)
    rows = (
        Competence.objects.visible_to(wanted.user)
        .not_ended()
        .filter(
            Q(user=wanted.user) | Q(depot__in=people),
            depot__in=wanted.depots,
            valid_until__in=days,
            user__is_active=True,
            user__memberships__depot__in=wanted.depots,
        )
        .select_related("user", "depot")
        .order_by("valid_until", "pk")
        .distinct()
    )
    lines = []
    for row in rows[:SHOWN]:
        own = row.user_id == wanted.user.pk
        whose = _("Yours") if own else row.user.name
        lines.append(
            Line(
                one_line(f"{whose}: {row}"),
                _("Last day {valid_until}.").format(valid_until=_day(row.valid_until)),
                _("Show a newer certificate to your manager.")
                if own
                else _("See the new certificate."),
                address("reports:today" if own else "maintenance:people"),
            )
        )
    page = address("maintenance:people" if people else "reports:today")
    return Part(COMPETENCES, tuple(lines), rows.count(), page)


def _day(day: date | None) -> str:
    return _("a day not known") if day is None else day_text(day)


# --- At once -------------------------------------------------------------------------------


def at_once(stop: Stop) -> str:
    """Why this stop is told at once, in words; empty where the morning is soon enough.

    In use means out: with a hirer or on a site. A test that fails in the yard or the workshop is
    the test before an issue, since a machine is tested there to go out.
    """
    if stop.machine.place == Place.OUT:
        return _("stopped while it is out")
    before_issue = stop.machine.place in (Place.YARD, Place.WORKSHOP)
    if before_issue and stop.record.kind == Record.Kind.TEST:
        return _("failed its test before issue")
    return ""


def stopped(user: User, *, record_id: UUID, at: datetime) -> Letter | None:
    """A machine stopped by one record, told to who moves machines; None where it is so no more."""
    standing = Stop.objects.standing().filter(record=record_id)
    rows = standing.select_related("machine__kind", "machine__depot", "record", "job")
    stops = [stop for stop in rows if at_once(stop)]
    if not stops or not may(user, Right.MOVE, stops[0].machine.depot_id):
        return None
    machine, record = stops[0].machine, stops[0].record
    on = machine.depot.day_of(at)
    told_of = told_stopped([machine], on)
    if not told_of:  # a foreman carries on with it by now
        return None
    each, reason = told_of[0], at_once(stops[0])
    if each.stay is not None and each.stay.hirer is not None:
        reason = _("stopped on hire")
    heard = record.received_at.astimezone(machine.depot.zone)
    since = stops[0].since.astimezone(machine.depot.zone)
    told = (
        _("{stops}. Since {since} on {day}.")
        if (heard - since) < timedelta(minutes=2)
        else _("{stops}. Since {since} on {day}, heard at {heard}.")
    )
    instead = nearest_that_can(machine, on)
    lines = [
        Line(
            one_line(f"{machine.number} {machine.kind.name}, {machine.depot.name}{_site(each)}"),
            told.format(
                stops=list_text([one_line(stop.words) for stop in stops]),
                since=f"{since:%H:%M}",
                day=day_text(since.date()),
                heard=f"{heard:%H:%M}",
            ),
            *_what_to_do(each, user),
        )
    ]
    lines += [
        Line(
            _("{other} {kind} can go instead").format(other=other.number, kind=other.kind.name),
            "",
            _("Issue this one."),
            address("reports:issue", other.pk),
        )
        for other in instead
    ]
    if not instead:
        lines.append(
            Line(
                _("No machine of this kind can go instead from this depot"),
                "",
                _("Look on the page Out and in."),
                address("maintenance:out_in"),
            )
        )
    return Letter(
        subject=f"DO NOT USE: {machine.number} {reason}",
        opening=_("{machine} {reason}. It stays stopped until a release check frees it.").format(
            machine=machine.number, reason=reason
        ),
        parts=(Part(_("What to do"), tuple(lines), len(lines)),),
        closing=(_(WHY_THIS_CAME), address("reports:messages")),
    )


def nobody_has(user: User, *, record_id: UUID, at: datetime) -> Letter | None:
    """A stop told at once that nobody took, told to a manager; None where somebody has it."""
    standing = Stop.objects.standing().filter(
        record=record_id, job__in=Job.objects.nobody_has(), decided_by__isnull=True
    )
    rows = standing.select_related("machine__kind", "machine__depot", "record", "job")
    stops = [stop for stop in rows if at_once(stop)]
    if not stops or Role.MANAGER not in roles(user).get(stops[0].machine.depot_id, ()):
        return None
    machine, job = stops[0].machine, stops[0].job
    told_of = told_stopped([machine], machine.depot.day_of(at))
    if job is None or not told_of:
        return None
    heard = stops[0].record.received_at.astimezone(machine.depot.zone)
    since = _("{heard} on {what}").format(heard=f"{heard:%H:%M}", what=day_text(heard.date()))
    do, page = _what_to_do(told_of[0], user)
    lines = (
        Line(
            one_line(
                f"{machine.number} {machine.kind.name}, {machine.depot.name}{_site(told_of[0])}"
            ),
            f"{list_text([one_line(stop.words) for stop in stops])}.",
            do,
            page,
        ),
        Line(
            _("{job} has no name on it").format(job=job.number),
            "",
            _("Ring your foreman, or press I have it on its page."),
            address("maintenance:job", job.pk),
        ),
    )
    return Letter(
        subject=_("Nobody has it: {machine} {stops}").format(
            machine=machine.number, stops=at_once(stops[0])
        ),
        opening=(
            _(
                "{machine} {stops}. We heard of it at {since}, and nobody has pressed I have it."
            ).format(machine=machine.number, stops=at_once(stops[0]), since=since)
        ),
        parts=(Part(_("What to do"), lines, len(lines)),),
        closing=(_(WHY_THIS_CAME), address("reports:messages")),
    )


# --- The proof of an address ---------------------------------------------------------------


def proof(message: Message) -> Letter:
    """The letter whose link shows that the address is the person's."""
    code = code_of("proof", message.uid)
    return Letter(
        subject=_("Is this your address?"),
        opening=(
            _(
                "Somebody signed in to Site plant gave this "
                "address for messages. If it was you, open "
                "the link within 24 hours, sign in and press the button."
            )
        ),
        act=(_("This is my address"), address("reports:prove_address", query=f"?code={code}")),
        closing=(_("If it was not you, do nothing. Nothing more is sent to you."),),
    )
