"""The lines of the tension: what is wanted, what was read, whether it grips."""

from collections.abc import Callable
from math import degrees, exp, pi, radians, sin, sqrt

from plant.drives import tension
from plant.drives.facts import Trust
from plant.drives.formula import FormulaLine
from plant.drives.lines.line import MM, formula_line
from plant.drives.lines.power import GB, RMA
from plant.drives.outcome import DriveWorkout, Geometry, Reading, Setting, TensionPart
from plant.translate import gettext, gettext_noop

ARMY = "US Army TM 5-4310-339-15, section 5-5"
FRICTION = "Baker and Haynes, Engineering Statics: Open and Interactive, section 9.5"
STRING = "mechanics of the string"
_STAGES = (gettext_noop("run-in"), gettext_noop("new"))  # as they are shown


def tension_lines(found: DriveWorkout, pulled: TensionPart) -> list[FormulaLine]:
    setting = pulled.this_belt or pulled.new_belt
    whose = gettext("this belt") if pulled.this_belt is not None else gettext("new belt")
    shape = found.geometry
    assert shape is not None
    done = [
        formula_line(
            "K",
            gettext("arc factor, {whose}").format(whose=whose),
            "K = 1.25 × (1 − 5^(−θ / 180))",
            "1.25 × (1 − 5^(−{a} / 180))",
            lambda a: 1.25 * (1 - 5 ** (-a / 180)),
            value=setting.arc_factor,
            scale=1,
            unit="",
            decimals=3,
            source=gettext(
                "5 to 1 design ratio; Machinery's Handbook, 31st ed., p. 2581, Table 12"
            ),
            validity="θ 83 to 180 degrees",
            trust=Trust.SECOND_HAND,
            a=(degrees(setting.wrap), 1),
        )
    ]
    for coefficient, required, method in (
        (450, setting.required_rma, tension.Method.RMA),
        (500, setting.required_theory, tension.Method.THEORY),
    ):
        fact = tension.COEFFICIENTS[method]
        done.append(
            formula_line(
                "Ts",
                gettext("tension of each strand, run-in, by {method}, {whose}").format(
                    method=method, whose=whose
                ),
                f"Ts = {coefficient} × (2.5 − K) / K × Pd / (N × v) + m × v²",
                f"{coefficient} × (2.5 − {{K}}) / {{K}} × {{P}} / ({{N}} × {{v}}) + {{m}} × {{v}}²",
                _static(coefficient),
                value=required,
                scale=1,
                unit="N",
                decimals=0,
                source=fact.source,
                validity=gettext("Pd in kW, v in m/s, m in kg/m"),
                trust=fact.trust,
                u=setting.required.u if method == setting.method else None,
                K=(setting.arc_factor, 3),
                P=(setting.design_power * 1e-3, 3),
                N=(setting.belts, 0),
                v=(setting.speed, 2),
                m=(setting.mass, 3),
            )
        )
    done += _band(setting, whose)
    if pulled.reading is not None:
        done += reading_lines(found, pulled.reading)
    done += _margin(pulled, shape, setting, whose, found)
    return done


def _static(coefficient: int) -> Callable[..., float]:
    def required(K: float, P: float, N: float, v: float, m: float) -> float:
        return coefficient * (2.5 - K) / K * P / (N * v) + m * v**2

    return required


def _band(setting: Setting, whose: str) -> list[FormulaLine]:
    low, high, _ = tension.BAND_FACTORS[tension.Stage(setting.stage)]
    done: list[FormulaLine] = []
    for word, symbol, factor, value in (
        (gettext("low end"), "Tl", low, setting.low),
        (gettext("high end"), "Th", high, setting.high),
    ):
        done.append(
            formula_line(
                symbol,
                gettext("tension band, {word}, {whose}, {stage}").format(
                    word=word, whose=whose, stage=gettext(setting.stage)
                ),
                f"{symbol} = {factor.value:g} × Ts",
                "{k} × {T}",
                lambda k, T: k * T,
                value=value,
                scale=1,
                unit="N",
                decimals=0,
                source=factor.source,
                validity=gettext("belt {stage}").format(stage=gettext(setting.stage)),
                trust=factor.trust,
                k=(factor.value, 1),
                T=(setting.required.value, 0),
            )
        )
    done.append(
        formula_line(
            "δ",
            gettext("press the span in by, {whose}").format(whose=whose),
            "δ = l / 64",
            "{l} / 64",
            lambda l: l / 64,
            value=setting.deflection,
            scale=MM,
            unit="mm",
            decimals=1,
            source=ARMY,
            validity=gettext("at the middle of the free span l"),
            trust=Trust.SEEN,
            l=(setting.span * MM, 1),
        )
    )
    for word, value, force, frequency in (
        (gettext("low end"), setting.low, setting.force_low, setting.frequency_low),
        (gettext("high end"), setting.high, setting.force_high, setting.frequency_high),
    ):
        if force is not None and setting.stiffness is not None:
            done.append(_force(word, value, force, setting, whose))
        done.append(
            formula_line(
                "f",
                gettext("frequency of the plucked span, {word}, {whose}").format(
                    word=word, whose=whose
                ),
                "f = √(T / (4 × m × l²))",
                "√({T} / (4 × {m} × {l}²))",
                lambda T, m, l: sqrt(T / (4 * m * l**2)),
                value=frequency,
                scale=1,
                unit="Hz",
                decimals=0,
                source=STRING,
                validity=gettext("l in m, first mode, belt at rest; stiffness left out"),
                T=(value, 0),
                m=(setting.mass, 3),
                l=(setting.span, 4),
            )
        )
    done.append(
        formula_line(
            "H",
            gettext("load on each shaft at the high end, {whose}").format(whose=whose),
            "H = 2 × N × T × sin(θ / 2)",
            "2 × {N} × {T} × sin({a}° / 2)",
            lambda N, T, a: 2 * N * T * sin(radians(a) / 2),
            value=setting.hub_load,
            scale=1,
            unit="N",
            decimals=0,
            source=gettext("sum of the strand tensions"),
            validity=gettext("at rest; compare with what the bearing may carry"),
            N=(setting.belts, 0),
            T=(setting.high, 0),
            a=(degrees(setting.wrap), 1),
        )
    )
    return done


def _force(word: str, value: float, force: float, setting: Setting, whose: str) -> FormulaLine:
    assert setting.stiffness is not None
    rma = setting.force_form == tension.StiffnessForm.RMA
    return formula_line(
        "F",
        gettext("force at mid-span, {word}, {whose}").format(word=word, whose=whose),
        "F = (T + Y × l / L) / 16" if rma else "F = (T + Y) / 16",
        "({T} + {Y} × {l} / {L}) / 16" if rma else "({T} + {Y}) / 16",
        (lambda T, Y, l, L: (T + Y * l / L) / 16) if rma else (lambda T, Y, l, L: (T + Y) / 16),
        value=force,
        scale=1,
        unit="N",
        decimals=1,
        source=gettext("{rma} and IP-22").format(rma=RMA) if rma else GB,
        validity=gettext("one belt, pressed in by l / 64"),
        trust=Trust.MEMORY,
        T=(value, 0),
        Y=(setting.stiffness, 1),
        l=(setting.span * MM, 1),
        L=(setting.length * MM, 1),
    )


def reading_lines(found: DriveWorkout, reading: Reading) -> list[FormulaLine]:
    if reading.tension.value == 0:
        return []
    given = found.given
    if reading.kind == "frequency":
        assert given.reading_frequency is not None
        return [
            formula_line(
                "T",
                gettext("tension read, by frequency"),
                "T = 4 × m × l² × f²",
                "4 × {m} × {l}² × {f}²",
                lambda m, l, f: 4 * m * l**2 * f**2,
                value=reading.tension.value,
                scale=1,
                unit="N",
                decimals=0,
                source=STRING,
                validity=gettext("l in m, first mode, belt at rest; stiffness left out"),
                u=reading.tension.u,
                m=(reading.mass, 3),
                l=(reading.span, 4),
                f=(given.reading_frequency, 1),
            )
        ]
    return [_by_force(found, reading)]


def _by_force(found: DriveWorkout, reading: Reading) -> FormulaLine:
    given = found.given
    assert given.reading_force is not None
    assert reading.stiffness is not None
    rma = given.force_form == tension.StiffnessForm.RMA
    depth = reading.span / 64 if given.reading_depth is None else given.reading_depth
    inputs = {
        "F": (given.reading_force, 1),
        "Y": (reading.stiffness, 1),
        "l": (reading.span * MM, 1),
        "q": (depth * MM, 1),
    }
    if rma:
        inputs["L"] = (reading.length * MM, 1)
    return formula_line(
        "T",
        gettext("tension read, by force"),
        "T = (F − Y × l / L / 16 × (64 × δ / l)³) × l / (4 × δ)"
        if rma
        else "T = (F − Y / 16 × 64 × δ / l) × l / (4 × δ)",
        "({F} − {Y} × {l} / {L} / 16 × (64 × {q} / {l})³) × {l} / (4 × {q})"
        if rma
        else "({F} − {Y} / 16 × 64 × {q} / {l}) × {l} / (4 × {q})",
        (lambda F, Y, l, q, L: (F - Y * l / L / 16 * (64 * q / l) ** 3) * l / (4 * q))
        if rma
        else (lambda F, Y, l, q: (F - Y / 16 * 64 * q / l) * l / (4 * q)),
        value=reading.tension.value,
        scale=1,
        unit="N",
        decimals=0,
        source=gettext("{rma} and IP-22").format(rma=RMA) if rma else GB,
        validity=gettext("one belt, pressed in by δ at the middle of the free span l"),
        trust=Trust.MEMORY,
        u=reading.tension.u,
        more=inputs,
    )


def _margin(
    pulled: TensionPart, shape: Geometry, setting: Setting, whose: str, found: DriveWorkout
) -> list[FormulaLine]:
    if pulled.this_belt is not None:
        margin, flat = pulled.slip_now, pulled.on_floor
    else:
        margin, flat = pulled.slip_new, False
    angle = pulled.groove_angle
    if margin is None or angle is None:
        return []
    held = (margin.tight + margin.slack) / 2
    wedge = "" if flat else " / sin(α / 2)"
    own = setting.mass * setting.speed**2
    done = [
        formula_line(
            "R",
            gettext("strand ratio at which it slips, {whose}").format(whose=whose),
            f"R = e^(μ × θ × π / 180{wedge})",
            "e^({m} × {t} × π / 180)" if flat else "e^({m} × {t} × π / 180 / sin({a}° / 2))",
            (lambda m, t: exp(m * t * pi / 180))
            if flat
            else (lambda m, t, a: exp(m * t * pi / 180 / sin(radians(a) / 2))),
            value=margin.limiting,
            scale=1,
            unit="",
            decimals=1,
            source=FRICTION,
            validity=gettext("μ is an assumption unless measured"),
            trust=Trust.PRACTICE,
            m=(pulled.friction, 2),
            t=(degrees(setting.wrap), 1),
            more={} if flat else {"a": (degrees(angle), 0)},
        )
    ]
    if margin.margin <= 0:
        return done
    done.append(
        formula_line(
            "M",
            gettext("margin against slip at the design power, {whose}").format(whose=whose),
            "M = R × (T − Te/2 − m × v²) / (T + Te/2 − m × v²)",
            "{R} × ({T} − {p} / 2 − {q}) / ({T} + {p} / 2 − {q})",
            lambda R, T, p, q: R * (T - p / 2 - q) / (T + p / 2 - q),
            value=margin.margin,
            scale=1,
            unit="",
            decimals=1,
            source=gettext("Euler-Eytelwein belt friction, ") + FRICTION,
            validity=gettext("below 1 it slips; T is the tension read, or else required"),
            trust=Trust.PRACTICE,
            R=(margin.limiting, 1),
            T=(held, 0),
            p=(setting.pull, 0),
            q=(own, 1),
        )
    )
    return done
