"""How long a drive takes to work out, beside a general root-finder, in one run of one process.

Run:  python tests/benchmarks/bench_drives.py

Prints the middle of several rounds in milliseconds of processor time. Nothing is asserted: a
figure depends on the machine. Aims: the whole drive under 2 ms, wear and take-up under 0.1 ms.
"""

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from math import asin, cos, pi, radians, tan

from scipy.optimize import brentq

from plant.drives import geometry, wear
from plant.drives.doubt import Doubtful
from plant.drives.wear import PulleyGroove
from plant.drives.workout import DriveGiven, work_out
from plant.drives.written import to_json

ROUNDS = 15
DRIVE = DriveGiven(
    driver=0.080,
    driven=0.180,
    section="A",
    length=0.690,
    width_now=0.0118,
    width_new=0.0130,
    centres=0.1365,
    slot_in=0.014,
    slot_out=0.006,
    motor_power=550,
    motor_speed=1400 * pi / 30,
    load="heavy",
    reading_force=7.0,
    gears=((15, 60), (12, 84)),
)
SMALL = PulleyGroove(0.080, radians(34), 0.0087, 0.00275, u_depth=0.0002, u_angle=0.01)
LARGE = PulleyGroove(0.180, radians(38), 0.0087, 0.00275, u_depth=0.0002, u_angle=0.01)
NEW, NOW = Doubtful(0.0130, 0.0001), Doubtful(0.0118, 0.0001)
BELOW, CORD = Doubtful(0.00477, 0.0003), Doubtful(0.00318, 0.0003)


def wear_and_take_up() -> float:
    found = wear.wear(
        small=SMALL,
        large=LARGE,
        length=0.690,
        width_new=NEW,
        width_now=NOW,
        below_cord=BELOW,
        cord_depth=CORD,
        min_diameter=0.075,
    )
    left = wear.take_up(
        travel=Doubtful(0.010, 0.0003), extra=Doubtful(found.capped.extra_centres, found.u_capped)
    )
    return left.left.value


def own_extra() -> float:
    """Extra centre distance by the package's own root."""
    found = wear.worn_drive(
        small=0.080, large=0.180, length=0.690, drop_small=0.00196, drop_large=0.00174
    )
    return found.extra_centres


def general_extra() -> float:
    """The same equation by a general root-finder, written out here."""

    def spare(centres: float, small: float, large: float) -> float:
        lean = asin((large - small) / (2 * centres))
        return (
            2 * centres * cos(lean)
            + small / 2 * (pi - 2 * lean)
            + large / 2 * (pi + 2 * lean)
            - 0.690
        )

    pairs = ((0.080, 0.180), (0.080 - 2 * 0.00196, 0.180 - 2 * 0.00174))
    new, now = (
        brentq(spare, (small + large) / 2 + 1e-9, 0.690, args=(small, large), xtol=1e-14)
        for small, large in pairs
    )
    return float(now - new)


def ends_slot() -> float | None:
    return wear.loss_that_ends_slot(
        small=SMALL, large=LARGE, length=0.690, travel=0.010, width_new=0.013, below_cord=0.00477
    )


def general_ends_slot() -> float:
    """The width at the end of the slot by a general root-finder."""
    centres = geometry.open_centres(small=0.080, large=0.180, length=0.690) + 0.010

    def spare(loss: float) -> float:
        small = 0.080 - 2 * min(loss / (2 * tan(radians(17))), 0.0087 - 0.00477)
        large = 0.180 - 2 * min(loss / (2 * tan(radians(19))), 0.0087 - 0.00477)
        lean = asin((large - small) / (2 * centres))
        return (
            2 * centres * cos(lean)
            + small / 2 * (pi - 2 * lean)
            + large / 2 * (pi + 2 * lean)
            - 0.690
        )

    return float(brentq(spare, 0.0, 0.00325, xtol=1e-14))


def milliseconds(run: Callable[[], object], *, times: int) -> tuple[float, float]:
    """Middle and least processor time [ms] of one call."""
    run()
    rounds = []
    for _ in range(ROUNDS):
        began = time.process_time()
        for _ in range(times):
            run()
        rounds.append((time.process_time() - began) / times * 1e3)
    return statistics.median(rounds), min(rounds)


def import_time() -> float:
    """Seconds that loading the work-out takes in a fresh process, best of five."""
    code = (
        "import time; t = time.perf_counter(); import plant.drives.workout; "
        "print(time.perf_counter() - t)"
    )
    runs = [
        float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout)
        for _ in range(5)
    ]
    return min(runs)


def main() -> None:
    found = work_out(DRIVE)
    rows: list[tuple[str, Callable[[], object], int]] = [
        ("whole drive: sums, doubt, verdict, lines", lambda: work_out(DRIVE), 100),
        ("the same, written as JSON", lambda: to_json(found), 50),
        ("wear in both grooves with doubt, and take-up", wear_and_take_up, 500),
        ("extra centre distance, own root", own_extra, 1000),
        ("extra centre distance, scipy brentq", general_extra, 500),
        ("width at the end of the slot, own root", ends_slot, 500),
        ("width at the end of the slot, scipy brentq", general_ends_slot, 500),
    ]
    print(f"{'what':50} {'middle ms':>10} {'least ms':>10}")
    for name, run, times in rows:
        middle, least = milliseconds(run, times=times)
        print(f"{name:50} {middle:10.4f} {least:10.4f}")
    print(f"{'loading plant.drives.workout':50} {import_time() * 1e3:10.1f}")
    apart = abs(own_extra() - general_extra())
    ends = ends_slot()
    assert ends is not None
    print(
        f"own and general root differ by {apart:.1e} m and {abs(ends - general_ends_slot()):.1e} m"
    )


if __name__ == "__main__":
    main()
