"""How tight the belts should be, what a reading says of them, and when they slip."""

from dataclasses import replace
from math import hypot, sqrt

from plant.drives import doubt, geometry, power, tension
from plant.drives.doubt import Doubtful
from plant.drives.errors import NotSourced
from plant.drives.outcome import (
    DriveGiven,
    Geometry,
    PowerPart,
    Reading,
    Setting,
    TensionPart,
    WearPart,
)
from plant.drives.parts.known import Known, use
from plant.translate import gettext as _


def tension_part(
    drive: Known,
    worn: WearPart | None,
    shape: Geometry | None,
    rated: PowerPart | None,
    *,
    offered: bool,
) -> TensionPart | None:
    given = drive.given
    if drive.belt is None or not drive.belt.wedges or drive.belt.mass_held is None:
        return None
    if shape is None or rated is None or given.motor_speed is None or shape.span_new is None:
        return None
    at_new = shape.centres_new.value if shape.centres_new else given.centres
    assert at_new is not None
    assert drive.driver is not None
    assert drive.driven is not None
    words: list[str] = []
    new = _setting(
        drive,
        rated,
        driver=drive.driver.diameter.value,
        driven=drive.driven.diameter.value,
        centres=at_new,
        stage=tension.Stage.NEW.value,
        words=words,
    )
    d1, d2, at = _as_it_stands(drive, worn, shape)
    here = _setting(drive, rated, driver=d1, driven=d2, centres=at, stage=given.stage, words=words)
    if worn is None:
        words.append(
            _("The belt's width is not known: its tension is worked out as for a new belt.")
        )
    reading = _reading(drive, here)
    mu = power.ASSUMED_MU.value if given.friction is None else given.friction
    use(
        drive,
        "friction",
        mu,
        0.0,
        "",
        assumed=power.ASSUMED_MU if given.friction is None else None,
    )
    seat = None
    if worn is not None:
        seat = worn.driver if shape.small_is_driver else worn.driven
    on_floor = bool(seat is not None and seat.bottoms and not seat.near)
    angle = _small_angle(drive, shape)
    slip_new = slip_now = None
    if angle is not None:
        slip_new = _slip(new, new.required.value, mu, angle, on_floor=False)
        slip_now = _slip(
            here,
            reading.tension.value if reading is not None else here.required.value,
            mu,
            angle,
            on_floor=on_floor,
        )
    if not offered:
        words.append(
            _("Tensioning this belt again is not offered. The figures are those of the new belt.")
        )
    elif here.stage == tension.Stage.NEW.value:
        words.append(_("A new belt: look at it again after 4 to 24 hours of running, and set it."))
    return TensionPart(
        this_belt=here if offered else None,
        new_belt=new,
        offered=offered,
        slip_new=slip_new,
        slip_now=slip_now,
        friction=mu,
        groove_angle=angle,
        on_floor=on_floor,
        reading=reading,
        words=tuple(dict.fromkeys(words)),
    )


def _as_it_stands(
    drive: Known, worn: WearPart | None, shape: Geometry
) -> tuple[float, float, float]:
    """Diameters that the cord runs on and centre distance [m] of the belt that is on."""
    assert drive.driver is not None
    assert drive.driven is not None
    if worn is not None and shape.centres_needed is not None:
        return worn.driver.diameter_now, worn.driven.diameter_now, shape.centres_needed.value
    at = drive.given.centres
    if at is None:
        assert shape.centres_new is not None
        at = shape.centres_new.value
    return drive.driver.diameter.value, drive.driven.diameter.value, at


def _small_angle(drive: Known, shape: Geometry) -> float | None:
    side = drive.driver if shape.small_is_driver else drive.driven
    return side.groove.angle if side is not None and side.groove is not None else None


def _setting(
    drive: Known,
    rated: PowerPart,
    *,
    driver: float,
    driven: float,
    centres: float,
    stage: str,
    words: list[str],
) -> Setting:
    given, belt = drive.given, drive.belt
    assert belt is not None
    assert belt.mass_held is not None
    assert given.motor_speed is not None
    small, large = min(driver, driven), max(driver, driven)
    shaft = given.motor_speed * driver / small
    mass = belt.mass_held.value

    def required(design: float, small: float, centres: float, method: str) -> tension.Target:
        return tension.target(
            design_power=design,
            shaft_speed=shaft,
            small=small,
            large=large,
            centres=centres,
            belts=given.belts,
            mass=mass,
            method=method,
        )

    design, u_design = rated.design_power
    rma = required(design, small, centres, tension.Method.RMA.value)
    theory = required(design, small, centres, tension.Method.THEORY.value)
    chosen = rma if given.tension_method == tension.Method.RMA.value else theory
    # The part for power goes with the power and against the small diameter; the rest is exact.
    own = tension.centrifugal(mass=mass, speed=chosen.speed)
    u_small = drive.half_width("driver", "diameter") / sqrt(3)
    u = (chosen.tension - own) * hypot(u_design / design, u_small / small)
    wanted = tension.band(required=chosen.tension, stage=stage)
    stiff = _stiffness(drive, words)
    length = given.length
    if length is None:
        length = geometry.open_length(small=small, large=large, centres=centres)
    forces: list[float | None] = [None, None]
    if stiff is not None:
        forces = [
            tension.deflection_force(
                tension=each,
                span=chosen.span,
                length=length,
                stiffness=stiff,
                form=given.force_form,
            )
            for each in (wanted.low, wanted.high)
        ]
    frequencies = [
        tension.span_frequency(tension=each, mass=mass, span=chosen.span)
        for each in (wanted.low, wanted.high)
    ]
    return Setting(
        stage=stage,
        required_rma=rma.tension,
        required_theory=theory.tension,
        required=Doubtful(chosen.tension, u),
        method=given.tension_method,
        low=wanted.low,
        high=wanted.high,
        over=wanted.over,
        span=chosen.span,
        deflection=chosen.deflection,
        force_low=forces[0],
        force_high=forces[1],
        frequency_low=frequencies[0],
        frequency_high=frequencies[1],
        hub_load=tension.hub_load_static(tension=wanted.high, wrap=chosen.wrap, belts=given.belts),
        wrap=chosen.wrap,
        speed=chosen.speed,
        arc_factor=chosen.arc_factor,
        pull=design / chosen.speed / given.belts,
        stiffness=stiff,
        mass=mass,
        length=length,
        design_power=design,
        belts=given.belts,
        force_form=given.force_form,
    )


def _stiffness(drive: Known, words: list[str]) -> float | None:
    assert drive.belt is not None
    try:
        return tension.stiffness(section=drive.belt.code, form=drive.given.force_form).value
    except NotSourced as refused:
        words.append(_("No force at mid-span is given: {refused}.").format(refused=refused))
        return None


def _slip(
    setting: Setting, held: float, mu: float, angle: float, *, on_floor: bool
) -> tension.SlipMargin:
    return tension.slip_margin(
        tension=held,
        pull=setting.pull,
        mass=setting.mass,
        speed=setting.speed,
        mu=mu,
        wrap=setting.wrap,
        groove_angle=angle,
        on_floor=on_floor,
    )


def was_read(given: DriveGiven) -> bool:
    return given.reading_force is not None or given.reading_frequency is not None


def _read(
    drive: Known,
    *,
    span: float,
    length: float,
    stiffness: float | None,
    expected: float | None,
) -> Reading | None:
    """The tension that was read, not yet judged; None when it cannot be told, with a word why."""
    given = drive.given
    assert drive.belt is not None
    assert drive.belt.mass_held is not None
    mass = drive.belt.mass_held.value
    if given.reading_force is not None:
        if stiffness is None:
            drive.warnings.append(
                _(
                    "The force reading is not turned into "
                    "tension: no stiffness term is held for this "
                    "section in the chosen form. Read the frequency of the span instead."
                )
            )
            return None
        kind, said = "force", ""
        found = _from_force(given, span=span, length=length, stiffness=stiffness)
    elif given.reading_frequency is not None:
        kind = "frequency"
        u = given.reading_frequency_u
        share = doubt.tool("span frequency, share of the reading").value
        read = tension.read_frequency(
            frequency=given.reading_frequency,
            mass=mass,
            span=span,
            height=drive.belt.height,
            expected=expected,
            u_frequency=given.reading_frequency * share if u is None else u,
            u_mass=0.05 * mass,
            u_span=1e-3,
        )
        found, said = read.tension, read.words
    else:
        return None
    return Reading(
        kind=kind,
        tension=found,
        verdict="",
        under=0.0,
        over=0.0,
        sure=False,
        ratio=0.0,
        span=span,
        length=length,
        mass=mass,
        stiffness=stiffness,
        words=said,
    )


def unjudged_reading(drive: Known, worn: WearPart | None, shape: Geometry | None) -> Reading | None:
    """The tension that was read where there is no band to judge it by."""
    given, belt = drive.given, drive.belt
    if not was_read(given) or (belt is not None and not belt.wedges):
        return None
    if belt is None or belt.mass_held is None or shape is None or shape.span_new is None:
        drive.warnings.append(
            _(
                "The tension reading is not turned into tension: "
                "that needs section, both pulleys, and "
                "belt length or centre distance."
            )
        )
        return None
    d1, d2, at = _as_it_stands(drive, worn, shape)
    length = given.length
    if length is None:
        length = geometry.open_length(small=d1, large=d2, centres=at)
    found = _read(
        drive,
        span=geometry.span(small=d1, large=d2, centres=at),
        length=length,
        stiffness=_stiffness(drive, []),
        expected=None,
    )
    if found is None:
        return None
    value, u = found.tension
    if value <= 0:
        words = _("No tension is left in the belt by the reading: it is slack.")
    else:
        words = _(
            "The tension was read as {value} ± {u} N. Whether that is enough "
            "cannot be judged without motor power and speed."
        ).format(value=f"{value:.0f}", u=f"{2 * u:.0f}")
        drive.warnings.append(words)
    return replace(found, words=f"{words} {found.words}".strip())


def _reading(drive: Known, here: Setting) -> Reading | None:
    """The tension that was read, against the band of the belt as it is, at the stage given."""
    wanted = tension.band(required=here.required.value, stage=here.stage)
    read = _read(
        drive,
        span=here.span,
        length=here.length,
        stiffness=here.stiffness,
        expected=here.required.value,
    )
    if read is None:
        return None
    judged = tension.judge(reading=read.tension, against=wanted)
    words = {
        tension.Verdict.UNDER: "The belt is slacker than its band.",
        tension.Verdict.WITHIN: "The tension is within its band.",
        tension.Verdict.HIGH: "The tension is at the high end of a first setting.",
        tension.Verdict.OVER: "The belt is over-tight: it loads the bearings. Slacken it.",
    }[judged.verdict]
    if not judged.sure:
        words += _(" The doubt of the reading is too large to be sure of that.")
    return replace(
        read,
        verdict=str(judged.verdict),
        under=judged.under,
        over=judged.over,
        sure=judged.sure,
        ratio=read.tension.value / here.required.value if here.required.value > 0 else 0.0,
        words=f"{words} {read.words}".strip(),
    )


def _from_force(given: DriveGiven, *, span: float, length: float, stiffness: float) -> Doubtful:
    assert given.reading_force is not None
    form, depth = given.force_form, given.reading_depth
    usual = tension.deflection(span=span)
    share = 1.0 if depth is None else depth / usual
    u_force = given.reading_force_u
    if u_force is None:
        u_force = doubt.tool("spring gauge").value
    stiff = tension.deflection_force(
        tension=0,
        span=span,
        length=length,
        stiffness=stiffness,
        form=form,
        deflection=depth,
    )
    if given.reading_force <= stiff:
        return Doubtful(0.0, 16 * u_force / share)
    value = tension.from_deflection_force(
        force=given.reading_force,
        span=span,
        length=length,
        stiffness=stiffness,
        form=form,
        deflection=depth,
    )
    # T = 16 (F/s - A s^2) in the RMA form and 16 (F/s - A) in the other, s = depth / (span / 64).
    by_depth = 16 * given.reading_force / share**2
    if form == tension.StiffnessForm.RMA.value:
        by_depth += 32 * stiff / share**2
    u_share = doubt.tool("steel rule").value / usual
    return Doubtful(value, hypot(16 * u_force / share, by_depth * u_share))
