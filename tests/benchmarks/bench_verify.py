"""Reading a long chain against everything it says of itself, beside hashing its contents alone.

python tests/benchmarks/bench_verify.py [records, default 100000]
"""

import hashlib
import sys
from datetime import UTC, datetime

from measure import cpu, empty_database, table, timed

NOW = datetime(2026, 11, 28, 12, tzinfo=UTC)
BLOCK = 5000


def main(count: int) -> None:
    with empty_database():
        from django.db import transaction

        from plant.actions.record import seal
        from plant.contents.chain import check_chain
        from plant.models import Depot, Record

        depot = Depot.objects.create(code="big", name="Big yard")

        def fill() -> None:
            for start in range(0, count, BLOCK):
                with transaction.atomic():
                    for number in range(start, min(start + BLOCK, count)):
                        seal(
                            kind=Record.Kind.METER, depot=depot,
                            data={"dial": {"si": str(number), "typed": f"{number} h", "unit": "s"}},
                            happened_at=NOW, received_at=NOW, by=None, role="label",
                            by_name="Somebody", texts={"note": "As every day."},
                        )  # fmt: skip

        filled = timed(fill)

        def bare() -> None:
            rows = Record.objects.order_by("seq").values_list("content", flat=True)
            for content in rows.iterator(chunk_size=2000):
                hashlib.sha256(content.encode()).digest()

        def ours() -> None:
            report = check_chain(depot)
            assert (report.bad_seq, report.count) == (None, count), report

        # The computer is shared: processor time is what a free core takes by the clock.
        spent = (cpu(ours), cpu(bare))
        table(
            f"{count:,} records with two texts each",
            [
                ("sealing them, one at a time", filled, "s"),
                ("check_chain: links, columns, texts, by the clock", timed(ours), "s"),
                ("the same, processor time", spent[0], "s"),
                ("reading and hashing the contents alone, processor time", spent[1], "s"),
            ],
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
