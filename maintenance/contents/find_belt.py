"""Finding a belt: by what stands on it, by measuring, by the drive alone; and where it lies."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from maintenance.contents.rack import Belt, Lies, nearest, serves
from maintenance.rules.belt import kept_length
from plant.contents.workout_pictures import Picture
from plant.drawings.drive_layout import drive_layout
from plant.drawings.svg import to_svg
from plant.drives import fits, marks
from plant.drives.errors import DriveError
from plant.drives.fits import Choice, Fit
from plant.drives.identify import Identification, Split, Witness, doubt_after, identify
from plant.drives.marks import BeltReading, MarkReading
from plant.drives.sections import System, section
from plant.length_words import both_text, length_text
from plant.models import Drive, User

MOST_SHOWN = 6
# Verdict of the sums: what is said of it, best first.
VERDICTS: dict[str, str] = {
    "fits": gettext_noop("Fits"),
    "depends on the source": gettext_noop("Fits by some tables, not by others"),
    "tight slot": gettext_noop("Goes into the slot, with less room than any table asks for"),
    "no source": gettext_noop("Goes into the slot; no table says how much room it needs"),
    "does not fit": gettext_noop("Does not fit"),
}
SET = gettext_noop(
    "Several belts side by side wear as one. Change all of them together, of one make and one "
    "length (common practice, no source)."
)


@dataclass(frozen=True, kw_only=True)
class Kept:
    """Where a belt lies, and the person's drives that it goes on."""

    lies: tuple[Lies, ...] = ()
    drives: tuple[Drive, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way to read the marks: in words, the same belt in other marks, what speaks against it."""

    words: str
    others: tuple[str, ...]
    cautions: tuple[str, ...]
    kept: Kept


@dataclass(frozen=True, kw_only=True)
class ByMark:
    agreed: bool
    answer: str
    settle: str
    ways: tuple[Way, ...]


@dataclass(frozen=True, kw_only=True)
class Likely:
    """A belt that it may be. odds: in words; lies_off: how the measurements lie from it."""

    mark: str
    lengths: str
    odds: str
    lies_off: str
    kept: Kept


@dataclass(frozen=True, kw_only=True)
class ByMeasure:
    found: Identification
    answer: str
    doubt: str
    likely: tuple[Likely, ...]


@dataclass(frozen=True, kw_only=True)
class Placed:
    """A standard length on the drive. pointer: where it would stand in the slot, in words."""

    mark: str
    verdict: str
    fits: bool
    centres: str
    pointer: str
    inward: str
    outward: str
    words: str
    kept: Kept


@dataclass(frozen=True, kw_only=True)
class ByDrive:
    answer: str
    between: str
    placed: tuple[Placed, ...]
    shorter: Placed | None
    longer: Placed | None
    mates: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    pictures: tuple[Picture, ...]


def by_mark(
    text: str, *, user: User, system: System, pulley: str, small: float | None, belts: int
) -> ByMark:
    """Every way to read what stands on a belt.

    Args:
        pulley: section that the pulleys are cut for, "" where it is not known.
        small: [m] datum diameter of the smaller pulley, None where it is not known.
        belts: how many run side by side.

    Raises:
        DriveError: nothing of it can be read; the message says what would be accepted.
    """
    found = marks.read(text, system=system)
    keeps = _keeps(user, [_belt_of(reading) for reading in found.readings])
    ways = tuple(
        Way(
            words=found.words if found.agreed else reading.words,
            others=_others(reading, found.readings),
            cautions=_cautions(reading, pulley=pulley, small=small, belts=belts),
            kept=keeps.get(_belt_of(reading), Kept()),
        )
        for reading in found.readings
    )
    return ByMark(
        agreed=found.agreed,
        answer=_settled(found.readings[0]) if found.agreed else _unsettled(found),
        settle=found.settle,
        ways=ways,
    )


def by_measure(
    measured: Mapping[str, tuple[float, float]],
    *,
    user: User,
    system: System,
    drive: Witness | None,
    cogged: bool | None,
    used: bool,
) -> ByMeasure:
    """The belts that a blank one may be, likeliest first.

    Raises:
        DriveError: too little was measured, or a figure is out of range.
    """
    found = identify(
        measured, system=system, drive=drive, cogged=cogged, used=used, most=MOST_SHOWN
    )
    lengths = [_length(each.section, each.datum, each.outside) for each in found.candidates]
    belts = [
        (each.section, length or 0.0)
        for each, length in zip(found.candidates, lengths, strict=True)
    ]
    keeps = _keeps(user, belts)
    likely = tuple(
        Likely(
            mark=each.mark,
            lengths=", ".join(
                f"{name} {both_text(length)}"
                for name, length in (("datum", each.datum), ("outside", each.outside))
                if length is not None
            ),
            odds=_in_100(each.odds),
            lies_off="; ".join(_off(name, miss) for name, miss in each.misses),
            kept=keeps.get(belt, Kept()),
        )
        for each, belt in zip(found.candidates, belts, strict=True)
        if each.odds >= 0.005 or each is found.candidates[0]
    )
    first = found.candidates[0]
    if found.doubtful:
        answer = _("Not certain. Even the likeliest belt lies far from what was measured.")
    elif found.settled:
        answer = _("It is very likely {mark}.").format(mark=first.mark)
    else:
        answer = _("Not certain. Likeliest is {mark}, {odds}.").format(
            mark=first.mark, odds=_in_100(first.odds)
        )
    return ByMeasure(found=found, answer=answer, doubt=_doubt(found), likely=likely)


def by_drive(
    code: str,
    *,
    user: User,
    driver: float,
    driven: float,
    closest: float,
    now: float,
    farthest: float,
    system: System,
    belts: int,
) -> ByDrive:
    """Every standard length that goes into the slot, with its neighbours each side.

    Args:
        driver, driven: [m] diameters of the pulleys, as ``fits.what_fits`` takes them.
        closest, now, farthest: [m] between the shafts: slot in, as it stands, slot out.

    Raises:
        DriveError: the figures contradict one another, or no list is held for the section.
    """
    choice = fits.what_fits(
        code, small=driver, large=driven, closest=closest, farthest=farthest, system=system
    )
    every = [fit for fit in (choice.shorter, *choice.fits, choice.longer) if fit is not None]
    keeps = _keeps(user, [_fit_belt(fit) for fit in every])
    slot = (closest, farthest)
    inside = [_placed(fit, slot, keeps) for fit in choice.fits]
    ranked = sorted(inside, key=lambda each: _rank(each))
    best = next((f for each in ranked for f in choice.fits if f.length.mark == each.mark), None)
    return ByDrive(
        answer=_fit_answer(choice, ranked),
        between=" to ".join(both_text(end, 1) for end in choice.datum_between),
        placed=tuple(ranked),
        shorter=_placed(choice.shorter, slot, keeps) if choice.shorter else None,
        longer=_placed(choice.longer, slot, keeps) if choice.longer else None,
        mates=tuple((mate.section, mate.caution) for mate in choice.mates),
        cautions=(*choice.cautions, *((_(SET),) if belts > 1 else ())),
        pictures=_pictures(choice, best, driver=driver, driven=driven, slot=slot, now=now),
    )


def _settled(reading: BeltReading) -> str:
    """The one belt that is meant, by the length that its section is named by."""
    for name in ("effective", "datum", "outside"):
        length = getattr(reading, name)
        if length is not None:
            return _("Section {section}, {name} length {length}.").format(
                section=reading.section, name=name, length=both_text(length)
            )
    return _("Section {section}.").format(section=reading.section)


def _unsettled(found: MarkReading) -> str:
    if not found.readings:
        return _("These marks are not of one belt. {found}").format(found=found.words)
    return _("Not certain: the mark can be read in more than one way.")


def _keeps(user: User, belts: Iterable[Belt]) -> dict[Belt, Kept]:
    wanted = [belt for belt in belts if belt[0] and belt[1] > 0]
    if not wanted:
        return {}
    lies, drives = nearest(user, wanted), serves(user, wanted)
    return {belt: Kept(lies=tuple(lies[belt]), drives=tuple(drives[belt])) for belt in wanted}


def _belt_of(reading: BeltReading) -> Belt:
    return reading.section, kept_length(reading) or 0.0


def _length(code: str, datum: float | None, outside: float | None) -> float | None:
    """The length [m] by which a belt of that section is kept on the rack."""
    return datum if datum is not None or not code else outside


def _others(reading: BeltReading, every: tuple[BeltReading, ...]) -> tuple[str, ...]:
    if not reading.section:
        return ()
    try:
        return tuple(each.words for each in marks.equivalents(reading))
    except DriveError:
        return ()


def _cautions(
    reading: BeltReading, *, pulley: str, small: float | None, belts: int
) -> tuple[str, ...]:
    found: list[str] = []
    if reading.section:
        # Without a diameter only the section of the pulley can speak against it: as if it were
        # a large one.
        found += fits.cautions(reading.section, small=small or 20, pulley=pulley or None)
        if not section(reading.section).wedges and not pulley:
            found.append(
                _(
                    "{section} is no V-belt: it runs only on pulleys made for it, "
                    "never in a V groove."
                ).format(section=reading.section)
            )
    if belts > 1 or (reading.count > 1 and not reading.joined):
        found.append(_(SET))
    return tuple(found)


def _in_100(odds: float) -> str:
    if odds > 0.995:
        return _("more than 99 in 100")
    return _("about {odds} in 100").format(odds=f"{odds * 100:.0f}")


def _off(name: str, miss: float) -> str:
    """How one measurement lies from the candidate, by its own error."""
    if abs(miss) < 2:
        return _("{name} agrees").format(name=name)
    way = "over" if miss > 0 else "under"
    return _("{name} lies {miss} times its error {way}").format(
        name=name, miss=f"{abs(miss):.0f}", way=way
    )


def _doubt(found: Identification) -> str:
    """What the next measurement is worth: the doubt between the two leaders, now and after it."""
    split: Split | None = found.split
    if split is None:
        return ""
    lead = found.candidates[0]
    rival = next(
        (each for each in found.candidates[1:] if each.mark in split.words), found.candidates[-1]
    )
    if rival is lead or not rival.odds:
        return ""
    before, after = doubt_after(
        apart=min(split.apart, 1000), first=lead.odds, second=max(rival.odds, 1e-12)
    )
    return _(
        "Between these two the wrong one would now be named {before} times "
        "in 100, after it {after}."
    ).format(before=f"{before * 100:.0f}", after=f"{after * 100:.0f}")


def _fit_belt(fit: Fit) -> Belt:
    length = fit.length
    return length.section, length.datum if length.effective is None else length.effective


def _placed(fit: Fit, slot: tuple[float, float], keeps: Mapping[Belt, Kept]) -> Placed:
    whole = slot[1] - slot[0]
    if fit.inward < 0:
        pointer = _("{what} short of the slot").format(what=length_text(-fit.inward))
    elif fit.outward < 0:
        pointer = _("{what} past its end").format(what=length_text(-fit.outward))
    else:
        pointer = _("{inward} out of {whole}").format(
            inward=length_text(fit.inward), whole=length_text(whole)
        )
    return Placed(
        mark=fit.length.mark,
        verdict=VERDICTS[fit.verdict],
        fits=fit.verdict != "does not fit",
        centres=length_text(fit.centres),
        pointer=pointer,
        inward=length_text(fit.inward),
        outward=length_text(fit.outward),
        words=fit.words,
        kept=keeps.get(_fit_belt(fit), Kept()),
    )


def _rank(placed: Placed) -> tuple[int, bool, bool]:
    """Best verdict first; of one verdict what lies in an own place, then what lies anywhere."""
    own = any(each.own and each.count > 0 for each in placed.kept.lies)
    anywhere = any(each.count > 0 for each in placed.kept.lies)
    return list(VERDICTS.values()).index(placed.verdict), not own, not anywhere


def _fit_answer(choice: Choice, ranked: list[Placed]) -> str:
    if not ranked:
        return _("No standard {section} belt goes into this slot.").format(section=choice.section)
    first = ranked[0]
    count = len(ranked)
    many = (
        _("One standard length goes")
        if count == 1
        else _("{count} standard lengths go").format(count=count)
    )
    return _("{many} into this slot. First to try: {mark}.").format(many=many, mark=first.mark)


def _pictures(
    choice: Choice,
    best: Fit | None,
    *,
    driver: float,
    driven: float,
    slot: tuple[float, float],
    now: float,
) -> tuple[Picture, ...]:
    """The slot with its pointer: the first to try, and the neighbours outside it."""
    made = []
    small, large = sorted((driver, driven))
    names = (_("motor pulley"), _("driven pulley"))
    if driver > driven:
        names = (names[1], names[0])
    for fit, which in (
        (choice.shorter, _("next shorter")),
        (best, ""),
        (choice.longer, _("next longer")),
    ):
        if fit is None:
            continue
        inside = fit.inward >= 0 and fit.outward >= 0
        title = _("{mark}, the {which}").format(mark=fit.length.mark, which=which)
        title = title if which else fit.length.mark
        words = _("{fit} The motor stands at {now} now.").format(
            fit=fit.words, now=length_text(now)
        )
        drawing = drive_layout(
            small=small, large=large, centres_now=now,
            centres_new=fit.centres if inside else None,
            centres_needed=None if inside else fit.centres,
            slot_low=slot[0], slot_high=slot[1], small_name=names[0], large_name=names[1],
        )  # fmt: skip
        made.append(Picture(title, to_svg(drawing, title=title, description=words), words))
    return tuple(made)
