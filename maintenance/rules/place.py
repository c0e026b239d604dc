"""Where a machine is, and the moves between places. A move never frees a machine."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal, TypeAlias

from maintenance.rules.fitness import DO_NOT_USE, NOT_YET_PASSED, Mark
from plant.translate import gettext as _

PlaceKey: TypeAlias = Literal[
    "in yard", "in workshop", "out", "moving", "laid up", "missing", "gone"
]
Need: TypeAlias = Literal[
    "fit",
    "note shown",
    "passport",
    "destination",
    "faults listed",
    "received",
    "check by receiver",
    "reason",
    "jobs called off",
]
Look: TypeAlias = Literal["no", "always", "if the depot says so"]


@dataclass(frozen=True, kw_only=True)
class Place:
    """A place: its word, and the shape of its mark."""

    key: PlaceKey
    word: str
    shape: str


@dataclass(frozen=True, kw_only=True)
class Move:
    """One allowed move: who may make it, what it needs, and whether a first look follows."""

    start: PlaceKey
    to: PlaceKey
    roles: frozenset[str]
    needs: tuple[Need, ...] = ()
    look_wanted: Look = "no"


PLACES: tuple[Place, ...] = (
    Place(key="in yard", word="In yard", shape="house outline"),
    Place(key="in workshop", word="In workshop", shape="spanner"),
    Place(key="out", word="Out", shape="arrow out of a box"),
    Place(key="moving", word="Moving", shape="two arrows"),
    Place(key="laid up", word="Laid up", shape="six-pointed star"),
    Place(key="missing", word="Missing", shape="question mark"),
    Place(key="gone", word="Gone", shape="long dash"),
)

NEEDS: dict[Need, str] = {
    "fit": "it may be used",
    "note shown": "the note is shown to the hirer",
    "passport": "the passport is printed or sent",
    "destination": "the destination is named",
    "faults listed": "open faults and loose items are listed",
    "received": "the receiver confirms it",
    "check by receiver": "the receiver checks it",
    "reason": "a reason is written",
    "jobs called off": "every open job is called off by name",
}

DESK = frozenset({"desk", "foreman", "manager"})
WORKSHOP = frozenset({"fitter", "foreman", "manager"})
HEADS = frozenset({"foreman", "manager"})
EVERYBODY = frozenset({"operator", "desk", "fitter", "foreman", "manager"})

MOVES: tuple[Move, ...] = (
    Move(start="in yard", to="out", roles=DESK, needs=("fit", "note shown", "passport")),
    Move(start="in yard", to="in workshop", roles=WORKSHOP),
    Move(start="in workshop", to="in yard", roles=WORKSHOP),
    *(
        Move(start=start, to="moving", roles=DESK, needs=("destination", "faults listed"))
        for start in ("in yard", "in workshop")
    ),
    *(
        Move(
            start="moving",
            to=to,
            roles=DESK,
            needs=("received",),
            look_wanted="if the depot says so",
        )
        for to in ("in yard", "in workshop")
    ),
    Move(start="out", to="in yard", roles=DESK, look_wanted="always"),
    Move(
        start="out",
        to="out",
        roles=DESK,
        needs=("fit", "note shown", "check by receiver"),
        look_wanted="always",
    ),
    Move(start="in yard", to="laid up", roles=HEADS),
    Move(start="laid up", to="in yard", roles=HEADS, look_wanted="always"),
    *(
        Move(start=start, to="missing", roles=EVERYBODY)
        for start in ("in yard", "in workshop", "out", "moving", "laid up")
    ),
    Move(start="missing", to="in yard", roles=HEADS, look_wanted="always"),
    *(
        Move(
            start=start,
            to="gone",
            roles=frozenset({"manager"}),
            needs=("reason", "jobs called off"),
        )
        for start in ("in yard", "in workshop", "laid up", "missing")
    ),
)


def word(place: PlaceKey) -> str:
    """The place as it is written on screen and paper."""
    return next(each.word for each in PLACES if each.key == place)


def move(*, start: PlaceKey, to: PlaceKey) -> Move | None:
    """The move between two places; None when there is none."""
    return next((each for each in MOVES if (each.start, each.to) == (start, to)), None)


def moves_from(start: PlaceKey) -> tuple[Move, ...]:
    """Every move that leaves a place."""
    return tuple(each for each in MOVES if each.start == start)


def refusal(
    *,
    start: PlaceKey,
    to: PlaceKey,
    roles: Collection[str],
    mark: Mark,
    met: Collection[Need] = (),
    has_note: bool = False,
) -> str:
    """Why a machine may not be moved like this; empty when it may.

    Args:
        start, to: where it is and where it should go.
        roles: the roles of whoever moves it, at this depot.
        mark: whether it may be used now.
        met: which of the needs are met; *fit* is worked out from the mark, never taken from here.
        has_note: whether a note to carry on stands, so that it must be shown to the hirer.
    """
    allowed = move(start=start, to=to)
    if allowed is None:
        if start == "gone":
            return _("A machine that is Gone stays so. Enter it afresh, linked to the old one.")
        return _("A machine cannot go from {start} to {to}.").format(start=word(start), to=word(to))
    if not allowed.roles & set(roles):
        return _("Somebody else must do this: it needs another role.")
    if "fit" in allowed.needs:
        if mark == DO_NOT_USE:
            return _("Do not use: this machine cannot leave until it is released.")
        if mark == NOT_YET_PASSED and start != "out":
            return _("Not yet passed: it needs a first look before it leaves.")
    for need in allowed.needs:
        if need == "fit" or (need == "note shown" and not has_note):
            continue
        if need not in met:
            return _("This can be done once {needs}.").format(needs=NEEDS[need])
    return ""
