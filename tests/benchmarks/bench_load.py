"""A real depot under load: phones submit checks while desks work and prints run.

    python tests/benchmarks/bench_load.py [seconds] [phones] [desks]      600 100 20 if not said

With ``--services`` on PostgreSQL and Redis servers of its own and four web processes, else on the
embedded database and queue with two. Prints for each kind of request how many, how many failed,
the median and the 95th of 100, beside those of a view that does nothing, asked all the while; and
ends with exit code 1 if anything that was taken is lost or stands there twice.
"""

import random
import statistics
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable
from contextlib import suppress
from http.client import HTTPException
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from running import HeldBack, Person, Running, a_depot, an_entry

# [s] between two checks of one phone, three times as many as a check in a minute, and two pages of
# one desk.
EACH_PHONE_S, EACH_DESK_S = 20.0, 5.0
# No view behind it: the middleware and the static files alone.
EMPTY = "/static/plant/plate.svg"


class Bench:
    def __init__(self, depot: Running) -> None:
        self.depot, self.over = depot, threading.Event()
        self.times: dict[str, list[float]] = defaultdict(list)
        self.failed: dict[str, list[object]] = defaultdict(list)
        self.taken: list[str] = []
        self.prints = 0
        self.at_desks = [Person(depot) for _ in depot.cast["desks"]]

    def timed(self, what: str, ask: Callable[[], object], well: set[int]) -> object:
        began = time.perf_counter()
        try:
            answer = ask()
        except (OSError, HTTPException, HeldBack) as lost:
            self.failed[what].append(type(lost).__name__)
            return None
        self.times[what].append(time.perf_counter() - began)
        status = 200 if answer is True else getattr(answer, "status", 0)
        if status not in well:
            self.failed[what].append(status)
        return answer

    def phone(self, number: int) -> None:
        person = Person(self.depot)
        self.over.wait(random.uniform(0, EACH_PHONE_S))
        while not self.over.is_set():
            entry = an_entry(self.depot, number)
            # Sent again until it was taken, as a phone does.
            while not self.timed("check from a phone", lambda e=entry: person.send(e), {200}):
                if self.over.wait(2):
                    return
            self.taken.append(entry["id"])
            self.over.wait(random.uniform(0.85, 1.15) * EACH_PHONE_S)

    def desk(self, number: int) -> None:
        person, cast = self.at_desks[number], self.depot.cast
        self.over.wait(random.uniform(0, EACH_DESK_S))
        while not self.over.is_set():
            machine = f"/machines/{random.choice(cast['machines'])}"
            for what, path in (
                ("Today", "/"), ("list of machines", "/machines"), ("page of a machine", machine),
            ):  # fmt: skip
                self.timed(what, lambda p=path: person.get(p), {200})
                self.over.wait(random.uniform(0.8, 1.2) * EACH_DESK_S)
            self.timed("code typed", lambda: person.post("/scan", code="MX-0001"), {302})
            if random.random() < 0.25:
                asked = self.timed(
                    "print asked for", lambda m=machine: person.post(f"{m}/sheet"), {302}
                )
                self.prints += getattr(asked, "status", 0) == 302
            self.over.wait(random.uniform(0.8, 1.2) * EACH_DESK_S)

    def empty(self) -> None:
        person = Person(self.depot)
        while not self.over.is_set():
            self.timed("empty view", lambda: person.get(EMPTY), {200})
            self.over.wait(0.25)

    def run(self, seconds: float, phones: int, desks: int) -> None:
        # Signing in costs a second of a core each, and people do it once a day.
        for person, name in zip(self.at_desks, self.depot.cast["desks"], strict=False):
            person.sign_in(name, self.depot.cast["password"])
            person.get("/")
        work = [(self.phone, (n,)) for n in range(phones)] + [(self.empty, ())]
        work += [(self.desk, (n,)) for n in range(desks)]
        threads = [threading.Thread(target=act, args=args) for act, args in work]
        for thread in threads:
            thread.start()
        time.sleep(seconds)
        self.over.set()
        for thread in threads:
            thread.join(60)

    def told(self) -> None:
        bound = _p95(self.times["empty view"])
        for what, times in sorted(self.times.items(), key=lambda pair: -len(pair[1])):
            print(
                f"  {what:<22} {len(times):>6} asked {len(self.failed[what]):>4} failed "
                f"{statistics.median(times) * 1000:>8.0f} ms median {_p95(times) * 1000:>8.0f} ms "
                f"p95 {_p95(times) / bound:>7.1f} x empty view"
            )
            if self.failed[what]:
                print(f"      {sorted(set(map(str, self.failed[what])))}")


def _p95(times: list[float]) -> float:
    return sorted(times)[int(0.95 * (len(times) - 1))]


def main() -> None:
    given = [int(each) for each in sys.argv[1:] if each.isdigit()]
    seconds, phones, desks = [*given, *(600, 100, 20)[len(given) :]]
    services = "--services" in sys.argv
    with a_depot(postgres=services, redis=services, web_workers=4 if services else 2) as depot:
        depot.set_up(phones=phones, desks=desks, machines=200)
        depot.start("web")
        depot.start("worker")
        bench = Bench(depot)
        bench.run(seconds, phones, desks)
        kept = depot.kept()
        lost = set(bench.taken) - set(kept)
        doubled = len(kept) - len(set(kept))
        end, waiting = time.monotonic() + 300, -1
        while time.monotonic() < end and waiting:
            with suppress(OSError):
                waiting = depot.sql("select count(*) from reports_sheet where state <> 'done'")[0][
                    0
                ]
            time.sleep(1)
        printed = depot.sql("select count(distinct record_id) from reports_sheet")[0][0]
        name = "PostgreSQL, Redis, four web processes" if services else "SQLite, two web processes"
        print(f"\n{name}: {phones} phones, {desks} desks, {seconds} s")
        bench.told()
        print(f"  {len(bench.taken)} checks taken, {len(lost)} lost, {doubled} doubled; "
              f"{bench.prints} prints asked for, {printed} printed")  # fmt: skip
        depot.assert_as_sealed()
        if lost or doubled or printed != bench.prints:
            sys.exit("Something that was taken is lost or doubled.")


if __name__ == "__main__":
    main()
