"""Sealing one record, beside writing the same rows in the same transaction without a chain.

python tests/benchmarks/bench_seal.py [records a run, default 1000]

Each record is a transaction of its own, as on a page; the runs alternate, and the bound writes the
same columns and texts with hashes made beforehand.
"""

import secrets
import statistics
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import count as numbers

from measure import empty_database, table

NOW = datetime(2026, 11, 28, 12, tzinfo=UTC)
PAIRS = 7


def main(count: int) -> None:
    with empty_database():
        from django.db import connection, transaction

        from plant.actions.record import new_id, seal
        from plant.contents.chain import check_chain
        from plant.models import Depot, Record, RecordText

        sealed = Depot.objects.create(code="sealed", name="Sealed yard")
        bare = Depot.objects.create(code="bare", name="Bare yard")
        data = {"dial": {"si": "45000", "typed": "12.5 h", "unit": "s"}, "questioned": ""}
        given = {"kind": Record.Kind.METER, "happened_at": NOW, "received_at": NOW, "role": "label"}
        with transaction.atomic():
            seal(
                **given, depot=sealed, data=data, by=None, by_name="Somebody",
                texts={"note": "As every day."},
            )  # fmt: skip
        like = Record.objects.get()
        number = numbers(1)

        def with_seal() -> None:
            for _ in range(count):
                with transaction.atomic():
                    seal(
                        **given, depot=sealed, data=data, by=None, by_name="Somebody",
                        texts={"note": "As every day."},
                    )  # fmt: skip

        def without() -> None:
            salt = secrets.token_hex(32)
            for _ in range(count):
                with transaction.atomic():
                    record = Record.objects.create(
                        **given, id=new_id(), depot=bare, seq=next(number), by=None,
                        content=like.content, content_hash=like.content_hash,
                        previous_hash=like.previous_hash, hash=like.hash,
                    )  # fmt: skip
                    RecordText.objects.bulk_create(
                        RecordText(record=record, name=name, text=text, salt=salt)
                        for name, text in (("note", "As every day."), ("by_name", "Somebody"))
                    )

        def one(act: Callable[[], None]) -> tuple[float, float]:
            cpu, wall = time.process_time(), time.perf_counter()
            act()
            return (time.process_time() - cpu) / count, (time.perf_counter() - wall) / count

        with_seal(), without()
        pairs = [(one(with_seal), one(without)) for _ in range(PAIRS)]
        assert check_chain(sealed).bad_seq is None
        for what, which in (("CPU", 0), ("wall clock", 1)):
            ours, theirs = zip(*((a[which], b[which]) for a, b in pairs), strict=True)
            table(
                f"one record with two texts, {connection.vendor}, {what}, best of {PAIRS} pairs",
                [
                    ("sealed", min(ours) * 1e3, "ms"),
                    ("the same rows, not sealed", min(theirs) * 1e3, "ms"),
                ],
            )
            ratio = statistics.median(a / b for a, b in zip(ours, theirs, strict=True))
            print(f"  median of the pairs' ratios: {ratio:.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
