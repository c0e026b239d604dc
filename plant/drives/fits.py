"""Which belts go on two pulleys with this slot: standard lengths, room to fit, room to tighten."""

from dataclasses import dataclass

from plant.drives import geometry, lengths
from plant.drives.errors import (
    BeltTooShort,
    DriveError,
    NotSourced,
    OutOfRange,
    PulleysOverlap,
    finite,
    mm,
)
from plant.drives.facts import Trust
from plant.drives.grooves import ISO, groove, systems
from plant.drives.lengths import INCH, Stocked, System
from plant.drives.sections import SECTIONS, Family, Section, section
from plant.length_words import length_text, short_text
from plant.translate import gettext as _

_RMA = "ANSI/RMA IP-20, installation and take-up allowances"
_ISO = "ISO 155:1998 and GB/T 13575.1 (the 2019 edition was not read)"
_ISO_SHORT = "ISO 155 as some texts give it for classical belts"

# Last code number of the row, fitting [in] for A, B, C, D, take-up [in]; ANSI/RMA IP-20.
_RMA_ROWS: tuple[tuple[int, dict[str, float], float], ...] = (
    (35, {"A": 0.75, "B": 1.0}, 1.0),
    (55, {"A": 0.75, "B": 1.0, "C": 1.5}, 1.5),
    (85, {"A": 0.75, "B": 1.25, "C": 1.5}, 2.0),
    (112, {"A": 1.0, "B": 1.25, "C": 1.5}, 2.5),
    (144, {"A": 1.0, "B": 1.25, "C": 1.5, "D": 2.0}, 3.0),
    (180, {"B": 1.25, "C": 2.0, "D": 2.0}, 3.5),
    (210, {"B": 1.5, "C": 2.0, "D": 2.0}, 4.0),
    (240, {"B": 1.5, "C": 2.0, "D": 2.5}, 4.5),
    (300, {"B": 1.5, "C": 2.0, "D": 2.5}, 5.0),
    (390, {"C": 2.0, "D": 2.5}, 6.0),
)
_RMA_LONGEST = {"C": 2.5, "D": 3.0}  # 391 and over; take-up is 1.5 % of the length


@dataclass(frozen=True, slots=True)
class Allowance:
    """Room a source asks for: fitting [m] inward from taut, take_up [m] outward, and the source."""

    fitting: float
    take_up: float
    source: str
    trust: Trust


@dataclass(frozen=True, slots=True)
class Fit:
    """One standard length on the drive. Lengths [m].

    centres: distance at which it is just taut when new; inward: room from there to the near end
    of the slot; outward: room to the far end; new_between: centre distance of a belt at the short
    and long end of its tolerance, None where none is held; goes_on, tightens: what each allowance
    in turn says; verdict: "fits", "depends on the source", "tight slot" (less room than every
    source asks for), "no source" (none holds an allowance for the section) or "does not fit"
    (outside the slot); words: a sentence.
    """

    length: Stocked
    centres: float
    inward: float
    outward: float
    new_between: tuple[float, float] | None
    allowances: tuple[Allowance, ...]
    goes_on: tuple[bool, ...]
    tightens: tuple[bool, ...]
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class Mate:
    """Another section for the same groove: whether it may be used as it is, and the caution."""

    section: str
    equal: bool
    caution: str


@dataclass(frozen=True, slots=True)
class Choice:
    """What fits. datum_between: [m] datum lengths taut at the two ends of the slot; fits: lengths
    taut inside the slot, shortest first; shorter, longer: the nearest outside it, with the centre
    distance each would take; mates: other sections for the groove; cautions: sentences."""

    section: str
    datum_between: tuple[float, float]
    fits: tuple[Fit, ...]
    shorter: Fit | None
    longer: Fit | None
    mates: tuple[Mate, ...]
    cautions: tuple[str, ...]


def allowances(code: str, *, datum: float, system: System) -> tuple[Allowance, ...]:
    """The room for fitting and take-up that each source asks for; they disagree, and all are given.

    Args:
        code: section of the belt.
        datum: [m] datum length, 0.05 to 30.
        system: in which the inch number of the RMA row is counted.

    Returns:
        Allowances [m], ISO 155 first. For an A belt of 0.69 m: 28.2 and 13.8 mm, 10.4 and 20.7 mm,
        19 and 25 mm. Judge the slot by the machine, not by one table.

    Raises:
        UnknownSection: no such section is held.
        OutOfRange: the length is no number or outside the range.
        NotSourced: no source is held for the section.

    Source:
        ISO 155:1998 and GB/T 13575.1 (i = 2 wd + 0.009 Ld, s = 0.02 Ld; from memory), a second form
        (0.015 Ld, 0.03 Ld; from memory), ANSI/RMA IP-20 (from memory).
    """
    belt = section(code)
    finite("datum length", datum, low=lengths.SHORTEST, high=lengths.LONGEST, unit="m")
    found: list[Allowance] = []
    if belt.datum_width is not None:
        asked = 2 * belt.datum_width + 0.009 * datum
        found.append(Allowance(asked, 0.02 * datum, _ISO, Trust.MEMORY))
    if belt.family in (Family.CLASSICAL, Family.COGGED):
        found.append(Allowance(0.015 * datum, 0.03 * datum, _ISO_SHORT, Trust.MEMORY))
        row = _rma_row(belt, datum, system)
        if row is not None:
            found.append(row)
    if not found:
        raise NotSourced(
            _("no room for fitting and take-up is held for section {belt}").format(belt=belt.code)
        )
    return tuple(found)


def what_fits(
    code: str,
    *,
    small: float,
    large: float,
    closest: float,
    farthest: float,
    system: System,
    pulley: str | None = None,
) -> Choice:
    """Every standard length of a section that is taut within the slot, with its neighbours.

    Args:
        code: section of the belt wanted.
        small: [m] datum diameter of one pulley; for sections sized at the rim (3V, 5V, 8V) its
            outside diameter.
        large: [m] datum diameter of the other.
        closest: [m] centre distance with the slot fully in.
        farthest: [m] centre distance with the slot fully out, more than closest.
        system: in which inch numbers are turned into datum lengths.
        pulley: section the pulleys are cut for, where it is known.

    Returns:
        Choice, lengths [m].

    Raises:
        UnknownSection, NotSourced: no such section, or no list of lengths for it.
        OutOfRange: a figure is no number or out of range, or the slot has no length.
        PulleysOverlap: the pulleys touch with the slot fully in.

    Source:
        Exact geometry of ``geometry``; lists and lengths of ``lengths``; room by ``allowances``.
        Holds for two pulleys. A drive with an idler is tightened by the idler: see ``layout``.
    """
    belt = section(code)
    if not belt.wedges:
        raise NotSourced(
            _("{belt} is no V-belt; it does not run in V grooves").format(belt=belt.code)
        )
    if not closest < farthest:
        raise OutOfRange(
            _(
                "the slot ends at {farthest}, not beyond its start at {closest}; "
                "accepted: more than {closest}"
            ).format(farthest=mm(farthest), closest=mm(closest))
        )
    try:
        low = geometry.open_length(small=small, large=large, centres=closest)
    except PulleysOverlap as touch:
        raise PulleysOverlap(_("with the motor fully in, {touch}").format(touch=touch)) from touch
    high = geometry.open_length(small=small, large=large, centres=farthest)
    listed = lengths.stocked(code, system=system)
    slot = (closest, farthest)
    fits = tuple(
        fit
        for item in listed
        if low <= _taut(item) <= high
        and (fit := _fit(item, small=small, large=large, slot=slot, system=system)) is not None
    )
    below = [item for item in listed if _taut(item) < low]
    above = [item for item in listed if _taut(item) > high]
    return Choice(
        section=belt.code,
        datum_between=(low, high),
        fits=fits,
        shorter=_fit(below[-1], small=small, large=large, slot=slot, system=system)
        if below
        else None,
        longer=_fit(above[0], small=small, large=large, slot=slot, system=system)
        if above
        else None,
        mates=mates(code),
        cautions=(
            *cautions(code, small=min(small, large), pulley=pulley),
            *rims_touch(code, small=small, large=large, centres=closest),
        ),
    )


def neighbours(
    code: str, *, datum: float, small: float, large: float, system: System
) -> tuple[tuple[Stocked, float] | None, tuple[Stocked, float] | None]:
    """The next shorter and next longer standard length, and the centre distance each would take.

    Args:
        code: section of the belt.
        datum: [m] datum length of the belt wanted (effective length for 3V, 5V, 8V), 0.05 to 30.
        small: [m] datum diameter of one pulley; for sections sized at the rim (3V, 5V, 8V) its
            outside diameter.
        large: [m] datum diameter of the other.
        system: in which inch numbers are turned into datum lengths.

    Returns:
        Shorter and longer, each a length and its centre distance [m]; None where none is held or
        the pulleys would touch. Lengths within 1 mm count as the same.

    Raises:
        UnknownSection, NotSourced, OutOfRange: as ``what_fits``.

    Source:
        As ``what_fits``.
    """
    finite("datum length", datum, low=lengths.SHORTEST, high=lengths.LONGEST, unit="m")
    listed = lengths.stocked(code, system=system)
    below = [item for item in listed if _taut(item) < datum - 0.001]
    above = [item for item in listed if _taut(item) > datum + 0.001]

    def placed(item: Stocked) -> tuple[Stocked, float] | None:
        try:
            return item, geometry.open_centres(small=small, large=large, length=_taut(item))
        except (BeltTooShort, PulleysOverlap):
            return None

    return (placed(below[-1]) if below else None, placed(above[0]) if above else None)


def mates(code: str) -> tuple[Mate, ...]:
    """The other sections that lie in the groove of this one, each with what to take care of.

    Args:
        code: section of the belt the pulley was made for.

    Returns:
        Mates, those that may be used as they are first.

    Raises:
        UnknownSection: no such section is held.

    Source:
        ISO 4183 (A and SPA share a datum width of 11 mm, but grooves are 8.7 and 11.0 mm deep below
        it; from memory); light-duty belts in classical grooves: common practice, no source.
    """
    belt = section(code)
    letter = _plain_letter(belt)
    found: list[Mate] = []
    for other in SECTIONS.values():
        if other.code == belt.code or _plain_letter(other) != letter or not letter:
            continue
        found.append(_mate(belt, other))
    return tuple(sorted(found, key=lambda mate: not mate.equal))


def cautions(code: str, *, small: float, pulley: str | None = None) -> tuple[str, ...]:
    """What speaks against this section on these pulleys.

    Args:
        code: section of the belt.
        small: [m] datum diameter of the smaller pulley, 0.001 to 20.
        pulley: section the pulleys are cut for, where it is known.

    Returns:
        Sentences; empty when nothing does.

    Raises:
        UnknownSection: no such section is held.
        OutOfRange: the diameter is no number or out of range.

    Source:
        Smallest pulleys with each section; groove mates as ``mates``.
    """
    belt = section(code)
    finite("pulley diameter", small, low=0.001, high=20, unit="m")
    found: list[str] = []
    least = belt.min_diameter
    if least is not None and small < least.value - 1e-9:
        said = _(
            "The small pulley is {small}; the smallest usual one for {belt} is "
            "{least} ({source}, {trust})."
        ).format(
            small=length_text(small, 0),
            belt=belt.code,
            least=length_text(least.value, 0),
            source=least.source,
            trust=least.trust,
        )
        others = [fact for fact in belt.other_min_diameters if fact.value <= small + 1e-9]
        if others:
            said += _(" {source} allows {others}.").format(
                source=others[0].source, others=length_text(others[0].value, 0)
            )
        cogged = _cogged_of(belt)
        if cogged is not None and cogged.min_diameter is not None:
            enough = small >= cogged.min_diameter.value - 1e-9
            told = (
                _(" A cogged {code} bends round {least}; use it here.")
                if enough
                else _(" A cogged {code} bends round {least}, which is still too large.")
            )
            said += told.format(code=cogged.code, least=length_text(cogged.min_diameter.value, 0))
        found.append(said)
    if pulley is not None:
        cut = section(pulley)
        if _plain_letter(cut) != _plain_letter(belt) or not _plain_letter(belt):
            found.append(_wrong(belt, cut))
        elif cut.code != belt.code:
            found.append(_mate(cut, belt).caution)
    if belt.family is Family.LIGHT_DUTY:
        found.append(
            _("{belt} is a light-duty belt; it carries less than it looks.").format(belt=belt.code)
        )
    return tuple(text for text in found if text)


def rims_touch(
    code: str,
    *,
    small: float,
    large: float,
    centres: float,
    where: str = "With the slot fully in",
) -> tuple[str, ...]:
    """Datum circles may clear each other where the rims, a little larger, already touch.

    Args:
        code: section of the belt.
        small: [m] datum diameter of one pulley, 0.001 to 20.
        large: [m] datum diameter of the other.
        centres: [m] centre distance looked at, 0.001 to 20.
        where: where that is, to begin the sentence with.

    Returns:
        A sentence when the rims would touch, else empty; empty too for sections that ISO 4183 does
        not hold, such as those sized at the rim.

    Raises:
        UnknownSection: no such section is held.
        OutOfRange: a length is no number or out of range.

    Source:
        ISO 4183:1995 (from memory): rims stand at least 2.75 mm above the datum line for A. Pulleys
        cut with taller rims touch sooner.
    """
    belt = section(code)
    for name, value in (("one pulley", small), ("other pulley", large), ("centres", centres)):
        finite(name, value, low=0.001, high=20, unit="m")
    if ISO not in systems(belt.code):
        return ()
    above = groove(belt.code, diameter=0.2).above_datum.value
    touching = (small + large) / 2 + 2 * above
    if centres > touching:
        return ()
    return (
        _(
            "{where} the pulley rims would touch: they stand at least {above} "
            "above the datum line, so {touching} between centres is the "
            "closest. Most often a diameter across the rim was given as datum "
            "diameter: measure the diameters again."
        ).format(where=where, above=length_text(above, 2), touching=length_text(touching)),
    )


def _rma_row(belt: Section, datum: float, system: System) -> Allowance | None:
    used = System.RMA if System.RMA in lengths.systems_of(belt.code) else system
    try:
        number = round(lengths.inside_from_datum(belt.code, datum, system=used) / INCH)
    except DriveError:
        return None
    if number < 26:
        return None  # the table starts at 26
    for last, fitting, take_up in _RMA_ROWS:
        if number <= last:
            asked = fitting.get(belt.groove)
            if asked is None:
                return None
            return Allowance(asked * INCH, take_up * INCH, _RMA, Trust.MEMORY)
    longest = _RMA_LONGEST.get(belt.groove)
    if longest is None:
        return None
    return Allowance(longest * INCH, 0.015 * datum, _RMA, Trust.MEMORY)


def _fit(
    item: Stocked, *, small: float, large: float, slot: tuple[float, float], system: System
) -> Fit | None:
    try:
        centres = geometry.open_centres(small=small, large=large, length=_taut(item))
    except DriveError:
        return None
    inward, outward = centres - slot[0], slot[1] - centres
    try:
        asked = allowances(item.section, datum=item.datum, system=system)
    except NotSourced:
        asked = ()
    goes_on = tuple(inward >= one.fitting for one in asked)
    tightens = tuple(outward >= one.take_up for one in asked)
    said = [on and tight for on, tight in zip(goes_on, tightens, strict=True)]
    if inward < 0 or outward < 0:
        verdict = "does not fit"
    elif not said:
        verdict = "no source"
    elif all(said):
        verdict = "fits"
    else:
        verdict = "depends on the source" if any(said) else "tight slot"
    return Fit(
        length=item,
        centres=centres,
        inward=inward,
        outward=outward,
        new_between=_tolerance_range(item, small=small, large=large),
        allowances=asked,
        goes_on=goes_on,
        tightens=tightens,
        verdict=verdict,
        words=_fit_words(item, centres, inward, outward, verdict),
    )


def _taut(item: Stocked) -> float:
    """The length that goes with the pulleys' diameters: effective where the section is sized so."""
    return item.datum if item.effective is None else item.effective


def _tolerance_range(item: Stocked, *, small: float, large: float) -> tuple[float, float] | None:
    try:
        give = lengths.tolerance(item.section, datum=item.datum, system=item.system)
        return (
            geometry.open_centres(small=small, large=large, length=item.datum - give.under),
            geometry.open_centres(small=small, large=large, length=item.datum + give.over),
        )
    except DriveError:
        return None


def _fit_words(item: Stocked, centres: float, inward: float, outward: float, verdict: str) -> str:
    said = _("{mark} ({system}) is taut at {centres} between centres").format(
        mark=item.mark, system=item.system, centres=length_text(centres)
    )
    if inward < 0:
        return _("{said}, {gap} short of the slot: it does not go on.").format(
            said=said, gap=length_text(-inward)
        )
    if outward < 0:
        return _("{said}, {gap} past the end of the slot: it cannot be tightened.").format(
            said=said, gap=length_text(-outward)
        )
    rooms = _("{inward} to slacken for fitting, {outward} to take up").format(
        inward=length_text(inward), outward=length_text(outward)
    )
    ends = {
        "fits": _("enough by every source held"),
        "depends on the source": _("enough by some sources, not by others"),
        "tight slot": _("less than every source asks for"),
        "no source": _("no source is held for how much this section needs"),
    }
    return f"{said}: {rooms}; {ends[verdict]}."


def _plain_letter(belt: Section) -> str:
    """A for A, AX, SPA, XPA, 4L and AA."""
    if belt.family is Family.LIGHT_DUTY:
        return {"3L": "Z", "4L": "A", "5L": "B"}.get(belt.code, "")
    if belt.family in (Family.RIBBED, Family.SYNCHRONOUS, Family.AUTOMOTIVE):
        return ""
    return belt.groove[-1] if belt.groove.startswith("SP") else belt.groove


def _cogged_of(belt: Section) -> Section | None:
    name = {Family.CLASSICAL: belt.code + "X", Family.INCH_NARROW: belt.code + "X"}.get(belt.family)
    if belt.family is Family.NARROW:
        name = "XP" + belt.code[-1]
    return SECTIONS.get(name) if name and name != belt.code else None


def _mate(made_for: Section, other: Section) -> Mate:
    pair = (made_for.family, other.family)
    plain, narrow = (Family.CLASSICAL, Family.COGGED), (Family.NARROW, Family.NARROW_COGGED)
    code = other.code
    if other.family is Family.LIGHT_DUTY:
        text = _(
            "{code} lies in the groove but is a light-duty belt: not for a loaded drive."
        ).format(code=code)
        return Mate(code, False, text)
    if made_for.family is Family.LIGHT_DUTY:
        text = _(
            "{code} is heavier than {made_for}; its cords lie elsewhere and it needs a "
        ).format(code=code, made_for=made_for.code)
        return Mate(code, False, text + _("larger pulley: check the groove and the small pulley."))
    if other.family is Family.DOUBLE or made_for.family is Family.DOUBLE:
        return Mate(
            code,
            False,
            _("{code} and {made_for} are not changed for one another.").format(
                code=code, made_for=made_for.code
            ),
        )
    if all(family in plain for family in pair) or all(family in narrow for family in pair):
        cogged = _("Cogged") if other.cogged else _("Plain")
        text = _("{cogged} {code} has the same size; never mix the two on one drive.").format(
            cogged=cogged, code=code
        )
        if not other.cogged and made_for.cogged:
            text += _(" It needs a larger small pulley.")
        return Mate(code, True, text)
    if pair[0] in plain and pair[1] in narrow:
        text = _(
            "{code} has the same datum width but is taller: it needs a groove "
            "{depth} deep below the datum line, a groove made for "
            "{groove} need only be {made_depth}. Measure the groove first."
        ).format(
            code=code,
            depth=short_text(_depth(code)),
            groove=made_for.groove,
            made_depth=short_text(_depth(made_for.groove)),
        )
        return Mate(code, False, text)
    if pair[0] in narrow and pair[1] in plain:
        text = _("{code} lies in the deeper groove of {made_for} but carries less.").format(
            code=code, made_for=made_for.code
        )
        return Mate(code, False, text)
    return Mate(
        code, True, _("{code} has the same size; never mix the two on one drive.").format(code=code)
    )


def _depth(code: str) -> float:
    return groove(code, diameter=0.2).depth_below_datum.value


def _wrong(belt: Section, cut: Section) -> str:
    if not cut.wedges:
        return _("The pulley is made for {family} belts; {belt} cannot run on it.").format(
            family=cut.family, belt=belt.code
        )
    if cut.family is Family.INCH_NARROW or belt.family is Family.INCH_NARROW:
        return _(
            "{belt} and a pulley cut for {cut} may look alike, but groove "
            "angle and length system differ: not interchangeable without "
            "measuring the groove."
        ).format(belt=belt.code, cut=cut.code)
    wider = belt.top_width > cut.top_width
    rides = _("stands out of the groove") if wider else _("sinks to the bottom of the groove")
    return _("The pulley is cut for {cut}; a belt of section {belt} {rides}.").format(
        cut=cut.code, belt=belt.code, rides=rides
    )
