"""The one table of who may do what. Every view, list and action asks here."""

from enum import StrEnum

from django.core.exceptions import PermissionDenied
from django.db.models import Exists, QuerySet
from django.utils.translation import gettext

from plant.lazy_text import gettext_lazy as _
from plant.models.people import Depot, Firm, Membership, Role, User

O, D, F, M, X, A = (  # noqa: E741 - one letter a column keeps the table readable
    Role.OPERATOR,
    Role.DESK,
    Role.FITTER,
    Role.FOREMAN,
    Role.MANAGER,
    Role.ADMINISTRATOR,
)


class NotAllowed(PermissionDenied, PermissionError):
    """No role of the person carries the right; a page answers it with 403, not with an error.

    facts: what the security log is told beside who asked.
    """

    def __init__(self, told: str, **facts: object) -> None:
        super().__init__(told)
        self.facts = facts


class Right(StrEnum):
    SEE = "see"
    CHECK = "check"
    STOP = "stop"
    DECIDE = "decide"
    MOVE = "move"
    LAY_UP = "lay up"
    WRITE_OFF = "write off"
    WORK = "work"
    RELEASE = "release"
    GIVE_OUT = "give out"
    KEEP_INSTRUMENTS = "keep the instruments"
    STOCK = "stock"
    KEEP_PARTS = "keep the list of parts"
    MONEY = "money"
    SHARED_MONEY = "shared money"
    PLAN = "plan"
    REGISTER = "register"
    IMPORT = "import"
    PRINT = "print"
    PRINT_MANY = "print many"
    PASSPORT = "print passports"
    LABEL = "print labels"
    REPLACE_LABEL = "replace labels"
    CORRECT = "correct"
    PEOPLE = "people"
    KEEP = "keep records"
    ASK_ERASURE = "ask for an erasure"
    ERASE = "erase a person"
    RUN_SYSTEM = "run the system"
    TAKE_OUT = "take everything out"
    DEPOTS = "depots and settings"

    @property
    def words(self) -> str:
        """The right as it is named to people, within a sentence."""
        return gettext(self.value)


# The keys above, for who translates them.
_NAMED = (
    _("see"),
    _("check"),
    _("stop"),
    _("decide"),
    _("move"),
    _("lay up"),
    _("write off"),
    _("work"),
    _("release"),
    _("give out"),
    _("keep the instruments"),
    _("stock"),
    _("keep the list of parts"),
    _("money"),
    _("shared money"),
    _("plan"),
    _("register"),
    _("import"),
    _("print"),
    _("print many"),
    _("print passports"),
    _("print labels"),
    _("replace labels"),
    _("correct"),
    _("people"),
    _("keep records"),
    _("ask for an erasure"),
    _("erase a person"),
    _("run the system"),
    _("take everything out"),
    _("depots and settings"),
)


# Right: who has it, and what it lets them do, in one line.
TABLE: dict[Right, tuple[frozenset[Role], str]] = {
    Right.SEE: (frozenset({O, D, F, M, X, A}), _("See machines, their marks and their records.")),
    Right.CHECK: (frozenset({O, D, F, M, X}), _("Do checks, report faults, enter meter figures.")),
    Right.STOP: (frozenset({O, D, F, M, X}), _("Stop a machine at once.")),
    Right.DECIDE: (frozenset({M, X}), _("Decide on a fault: stop it, or carry on with a note.")),
    Right.MOVE: (frozenset({D, M, X}), _("Issue, take back, send and receive machines.")),
    Right.LAY_UP: (frozenset({M, X}), _("Lay machines up, bring them back, take in the found.")),
    Right.WRITE_OFF: (frozenset({X}), _("Write a machine off: it is gone for good.")),
    Right.WORK: (frozenset({F, M, X}), _("Work on jobs, measure belts, enter drives, test.")),
    Right.RELEASE: (frozenset({F, M, X}), _("Do the release check that frees a stopped machine.")),
    Right.GIVE_OUT: (
        frozenset({M, X}),
        _("Give out jobs, call them off, accept questioned meters."),
    ),
    Right.KEEP_INSTRUMENTS: (
        frozenset({M, X}),
        _("Add test instruments, calibrate, withdraw them."),
    ),
    Right.STOCK: (frozenset({F, M, X}), _("Count, receive, move and take parts.")),
    Right.KEEP_PARTS: (
        frozenset({M, X}),
        _("Say which numbers are one part; add places for parts."),
    ),
    Right.MONEY: (frozenset({X}), _("See and enter money: rates, prices, what jobs cost.")),
    Right.SHARED_MONEY: (frozenset({M}), _("The same, where the manager of the depot shares it.")),
    Right.PLAN: (frozenset({X}), _("Change plans and rule sheets.")),
    Right.REGISTER: (frozenset({X}), _("Add and change machines.")),
    Right.IMPORT: (frozenset({X, A}), _("Bring in machines from a spreadsheet; send lists out.")),
    Right.PRINT: (frozenset({D, F, M, X}), _("Print a sheet of a machine.")),
    Right.PRINT_MANY: (frozenset({M, X}), _("Print sheets for many machines at once.")),
    Right.PASSPORT: (frozenset({O, D, F, M, X}), _("Print the passport of a machine.")),
    Right.LABEL: (frozenset({D, F, M, X, A}), _("Print labels of machines, one or many.")),
    Right.REPLACE_LABEL: (
        frozenset({M, X}),
        _("Replace a label's link: the old labels stop opening."),
    ),
    Right.CORRECT: (frozenset({F, M, X}), _("Correct a record by a new one, with a reason.")),
    Right.PEOPLE: (
        frozenset({X, A}),
        _("Invite people, give roles and competences, end accounts; enrol and withdraw phones."),
    ),
    Right.KEEP: (frozenset({X, A}), _("See which words and photos will go; hold them back.")),
    Right.ASK_ERASURE: (frozenset({X}), _("Ask for a person's name and account to be erased.")),
    Right.ERASE: (frozenset({A}), _("Carry out the erasure of a person that a manager asked for.")),
    Right.RUN_SYSTEM: (frozenset({A}), _("See and run the system itself.")),
    Right.TAKE_OUT: (
        frozenset({X, A}),
        _("Take everything out as one file, who has it everywhere."),
    ),
    Right.DEPOTS: (frozenset({A}), _("Add depots, and change what holds for a depot or the firm.")),
}

# Which roles the holder of each role may give and take in the same depot. Nobody gives to
# themselves: see plant/actions/account.py.
GIVES: dict[Role, frozenset[Role]] = {
    X: frozenset({O, D, F, M}),
    A: frozenset(Role),
}


# What counts in a session of a shared phone. Six figures can be seen over a shoulder, so nobody
# manages or administers by them; for that the same person signs in with a password.
ON_A_PHONE = frozenset({O, D, F, M})


def practised(held: frozenset[Role]) -> frozenset[Role]:
    """The roles in which somebody with these practises.

    A manager practises as a foreman: what only a manager or an administrator may do changes the
    firm's own plans, people and accounts, and so cannot be tried without counting.
    """
    return held & ON_A_PHONE | (frozenset({M}) if X in held else frozenset())


def practise_in(user: User, depot: Depot | None) -> None:
    """From here on the person acts in this practice depot, if it is theirs, and nowhere else.

    For a session that practises, and for the background where it acts for who asked there.
    """
    if depot is not None and depot.practice_of_id == user.pk and depot.practice_ended_at is None:
        user.practising = depot
        user._roles = None  # type: ignore[attr-defined]


def stop_practising(user: User) -> None:
    user.practising = None
    user._roles = None  # type: ignore[attr-defined]


def roles(user: User) -> dict[int, frozenset[Role]]:
    """The person's roles by depot, read once a request.

    A disabled account has none, at once. On a shared phone only those of its depot count, without
    manager and administrator. Who practises has roles in the practice depot alone: so no list, no
    count and no page shows both worlds, and the background, which practises nowhere, sees neither
    machine nor person of a practice depot.
    """
    if not user.is_active:  # nobody signed in is not active either
        return {}
    kept: dict[int, frozenset[Role]] | None = getattr(user, "_roles", None)
    if kept is None:
        found: dict[int, set[Role]] = {}
        depots: dict[int, Depot] = {}
        for held_in in Membership.objects.of(user).select_related("depot"):
            found.setdefault(held_in.depot_id, set()).add(Role(held_in.role))
            depots[held_in.depot_id] = held_in.depot
        kept = {depot_id: frozenset(held) for depot_id, held in found.items()}
        if user.on_phone is not None:
            here = user.on_phone.depot_id
            held_here = kept.get(here, frozenset()) & ON_A_PHONE
            kept = {here: held_here} if held_here else {}
        user._held = held = frozenset[Role]().union(*kept.values())  # type: ignore[attr-defined]
        if user.practising is not None:
            here = user.practising.pk
            kept = {here: practised(held)} if practised(held) else {}
            depots = {here: user.practising}
        user._roles = kept  # type: ignore[attr-defined]
        user._depots = sorted(  # type: ignore[attr-defined]
            (depots[pk] for pk in kept), key=lambda depot: depot.name
        )
    return kept


def depots_of(user: User) -> list[Depot]:
    """The depots in which the person has a role, by name; read together with the roles."""
    return list(user._depots) if roles(user) else []  # type: ignore[attr-defined]


def depots_where(user: User, right: Right) -> frozenset[int]:
    """The depots in which this person has this right."""
    who = TABLE[right][0]
    return frozenset(depot_id for depot_id, held in roles(user).items() if held & who)


def depots_in_sight(user: User) -> QuerySet[Depot]:
    """The depots where the person has no role, but of which the firm lets everybody see a little.

    That is number, kind, place and whether it can go out of a machine, and how many of a belt lie
    there; nothing else. Who practises sees none, and nobody sees a practice depot.
    """
    own = depots_where(user, Right.SEE)
    if not own or user.practising is not None:
        return Depot.objects.none()
    opened = Exists(Firm.objects.filter(depots_seen=True))
    return Depot.objects.real().exclude(pk__in=own).filter(opened)


def has_others(user: User) -> bool:
    """Whether the firm has a depot in which the person has no role."""
    return Depot.objects.real().exclude(pk__in=depots_where(user, Right.SEE)).exists()


def may(user: User, right: Right, depot_id: int) -> bool:
    """Whether this person has this right in this depot."""
    return bool(roles(user).get(depot_id, frozenset()) & TABLE[right][0])


def gives(user: User, depot_id: int) -> frozenset[Role]:
    """The roles that this person may give and take in this depot."""
    held = roles(user).get(depot_id, frozenset())
    return frozenset().union(*(GIVES[role] for role in held if role in GIVES))


def governs(by: User, person: User) -> bool:
    """Whether this person may change that account: they give every role that it has."""
    if by.pk == person.pk:
        return False
    held = Membership.objects.filter(user=person).values_list("depot_id", "role")
    return all(role in gives(by, depot_id) for depot_id, role in held)


def held_anywhere(user: User) -> frozenset[Role]:
    """Every role that the person, as signed in here, holds in some depot; the same in practice."""
    roles(user)
    held: frozenset[Role] = getattr(user, "_held", frozenset())
    return held if user.is_active else frozenset()


def is_senior(user: User) -> bool:
    """Whether the person, as signed in here, manages or administers anywhere."""
    return bool(held_anywhere(user) & {X, A})


def role_for(user: User, right: Right, depot_id: int) -> Role:
    """The role in which the person uses the right: the lowest that carries it.

    Raises:
        NotAllowed: no role of theirs carries it in this depot.
    """
    held = roles(user).get(depot_id, frozenset()) & TABLE[right][0]
    for role in Role:
        if role in held:
            return role
    raise NotAllowed(
        gettext("No role here carries the right to {right}.").format(right=right.value)
    )
