"""The one table of who may do what. Every view, list and action asks here."""

from enum import StrEnum

from django.core.exceptions import PermissionDenied

from plant.models.people import Depot, Membership, Role, User

O, D, F, M, X, A = (  # noqa: E741 - one letter a column keeps the table readable
    Role.OPERATOR,
    Role.DESK,
    Role.FITTER,
    Role.FOREMAN,
    Role.MANAGER,
    Role.ADMINISTRATOR,
)


class NotAllowed(PermissionDenied, PermissionError):
    """No role of the person carries the right; a page answers it with 403, not with an error."""


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


# Right: who has it, and what it lets them do, in one line.
TABLE: dict[Right, tuple[frozenset[Role], str]] = {
    Right.SEE: (frozenset({O, D, F, M, X, A}), "See machines, their marks and their records."),
    Right.CHECK: (frozenset({O, D, F, M, X}), "Do checks, report faults, enter meter figures."),
    Right.STOP: (frozenset({O, D, F, M, X}), "Stop a machine at once."),
    Right.DECIDE: (frozenset({M, X}), "Decide on a fault: stop it, or carry on with a note."),
    Right.MOVE: (frozenset({D, M, X}), "Issue, take back, send and receive machines."),
    Right.LAY_UP: (frozenset({M, X}), "Lay machines up, bring them back, take in the found."),
    Right.WRITE_OFF: (frozenset({X}), "Write a machine off: it is gone for good."),
    Right.WORK: (frozenset({F, M, X}), "Work on jobs, measure belts, enter drives, test."),
    Right.RELEASE: (frozenset({F, M, X}), "Do the release check that frees a stopped machine."),
    Right.GIVE_OUT: (frozenset({M, X}), "Give out jobs, call them off, accept questioned meters."),
    Right.KEEP_INSTRUMENTS: (frozenset({M, X}), "Add test instruments, calibrate, withdraw them."),
    Right.STOCK: (frozenset({F, M, X}), "Count, receive, move and take parts."),
    Right.KEEP_PARTS: (frozenset({M, X}), "Say which numbers are one part; add places for parts."),
    Right.MONEY: (frozenset({X}), "See and enter money: rates, prices, what jobs cost."),
    Right.SHARED_MONEY: (frozenset({M}), "The same, where the manager of the depot shares it."),
    Right.PLAN: (frozenset({X}), "Change plans and rule sheets."),
    Right.REGISTER: (frozenset({X}), "Add and change machines."),
    Right.IMPORT: (frozenset({X, A}), "Bring in machines from a spreadsheet; send lists out."),
    Right.PRINT: (frozenset({D, F, M, X}), "Print a sheet of a machine."),
    Right.PRINT_MANY: (frozenset({M, X}), "Print sheets for many machines at once."),
    Right.PASSPORT: (frozenset({O, D, F, M, X}), "Print the passport of a machine."),
    Right.LABEL: (frozenset({D, F, M, X, A}), "Print labels of machines, one or many."),
    Right.REPLACE_LABEL: (
        frozenset({M, X}),
        "Replace a label's link: the old labels stop opening.",
    ),
    Right.CORRECT: (frozenset({F, M, X}), "Correct a record by a new one, with a reason."),
    Right.PEOPLE: (frozenset({X, A}), "Give and end competences; enrol and withdraw phones."),
    Right.KEEP: (frozenset({X, A}), "See which words and photos will go; hold them back."),
    Right.ASK_ERASURE: (frozenset({X}), "Ask for a person's name and account to be erased."),
    Right.ERASE: (frozenset({A}), "Carry out the erasure of a person that a manager asked for."),
    Right.RUN_SYSTEM: (frozenset({A}), "See and run the system itself."),
}


# What counts in a session of a shared phone. Six figures can be seen over a shoulder, so nobody
# manages or administers by them; for that the same person signs in with a password.
ON_A_PHONE = frozenset({O, D, F, M})


def roles(user: User) -> dict[int, frozenset[Role]]:
    """The person's roles by depot, read once a request.

    A disabled account has none, at once. On a shared phone only those of its depot count, without
    manager and administrator.
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


def may(user: User, right: Right, depot_id: int) -> bool:
    """Whether this person has this right in this depot."""
    return bool(roles(user).get(depot_id, frozenset()) & TABLE[right][0])


def role_for(user: User, right: Right, depot_id: int) -> Role:
    """The role in which the person uses the right: the lowest that carries it.

    Raises:
        NotAllowed: no role of theirs carries it in this depot.
    """
    held = roles(user).get(depot_id, frozenset()) & TABLE[right][0]
    for role in Role:
        if role in held:
            return role
    raise NotAllowed(f"No role here carries the right to {right.value}.")
