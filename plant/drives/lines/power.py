"""The lines of the power of one belt and how many are needed."""

from plant.drives import power
from plant.drives.facts import Trust
from plant.drives.formula import FormulaLine
from plant.drives.lines.line import formula_line
from plant.drives.outcome import PowerPart
from plant.translate import gettext

RMA = "ANSI/RMA IP-20 (1988)"
GB = "GB/T 13575.1"


def power_lines(rated: PowerPart) -> list[FormulaLine]:
    done = [
        formula_line(
            "Pd",
            gettext("design power"),
            "Pd = P × Ks",
            "{P} × {k}",
            lambda P, k: P * k,
            value=rated.design_power.value,
            scale=1e-3,
            unit="kW",
            decimals=3,
            source=rated.service_source,
            validity=gettext("Ks for the load, hours a day and start"),
            trust=Trust(rated.service_trust),
            u=rated.design_power.u,
            P=(rated.power * 1e-3, 2),
            k=(rated.service_factor, 1),
        )
    ]
    for one in rated.ratings:
        if one.each is None or one.basic is None:
            continue
        assert one.arc_factor is not None
        assert one.length_factor is not None
        title = power.METHODS[one.method].title
        done.append(
            formula_line(
                "P1",
                gettext("power of one belt, {title}").format(title=title),
                "P1 = P0 × Kθ × KL",
                "{P} × {k} × {l}",
                lambda P, k, l: P * k * l,
                value=one.each,
                scale=1e-3,
                unit="kW",
                decimals=2,
                source=one.source,
                validity=one.words,
                trust=Trust(one.trust),
                P=(one.basic * 1e-3, 3),
                k=(one.arc_factor, 3),
                l=(one.length_factor, 2),
            )
        )
        if one.method == rated.chosen and one.belts is not None:
            done.append(
                formula_line(
                    "N",
                    gettext("belts needed, {title}").format(title=title),
                    gettext("N = Pd / P1, rounded up"),
                    "{P} / {p}",
                    lambda P, p: P / p,
                    value=float(one.belts),
                    scale=1,
                    unit="belt" if one.belts == 1 else "belts",
                    decimals=0,
                    source=gettext(
                        "Mott, Machine Elements in Mechanical Design, 4th ed., Example 7-1"
                    ),
                    validity=one.words,
                    check=(rated.design_power.value / one.each, 2),
                    P=(rated.design_power.value * 1e-3, 3),
                    p=(one.each * 1e-3, 2),
                )
            )
    return done
