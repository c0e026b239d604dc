"""Two hundred entries of phones with a bad line: none lost, none twice, whatever the order."""

import json
import random
from datetime import UTC, datetime, timedelta
from threading import Thread
from typing import Any

import pytest
from django.db import connections
from django.test import Client

from maintenance.actions.check import questions
from maintenance.actions.permit import permit_for_person
from maintenance.models import Check, MeterReading, Stop
from make import make_depot, make_machine, make_reference, make_user
from plant.actions.record import new_id
from plant.models import Chain, Machine, Record, Role
from plant.sealing import Link, verify

THREADS, ENTRIES, MACHINES = 4, 200, 8
LOST_ANSWERS = 0.1
LONGEST_S = 120


class Phone:
    """Sends its share of what was kept; an answer that is lost on the way leaves the entry kept."""

    def __init__(self, share: list[dict[str, Any]], dice: random.Random) -> None:
        self.kept = share
        self.dice = dice
        self.lost = self.repeats = 0
        self.wrong: list[BaseException] = []
        self.client = Client()

    def send_all(self) -> None:
        try:
            for _ in range(2000):
                if not self.kept:
                    return
                self._send(self.kept[: self.dice.randrange(1, 8)])
            raise AssertionError("never taken")
        except BaseException as error:
            self.wrong.append(error)
        finally:
            connections.close_all()

    def _send(self, batch: list[dict[str, Any]]) -> None:
        sent_at = datetime.now(UTC).isoformat()
        body = json.dumps({"sent_at": sent_at, "entries": batch})
        answer = self.client.post("/phone/entries", body, content_type="application/json")
        assert answer.status_code == 200, answer.content
        if self.dice.random() < LOST_ANSWERS:
            self.lost += 1  # all of it was saved, and the phone does not know
            return
        results = answer.json()["results"]
        assert {one["state"] for one in results} <= {"kept", "wait"}, results
        done = {id(e) for e, one in zip(batch, results, strict=True) if one["state"] == "kept"}
        self.kept = [each for each in self.kept if id(each) not in done]


def kept_by_phones(machines: list[Machine], permit: str, *, at: datetime) -> list[dict[str, Any]]:
    """The entries: checks, each fiftieth with a guard gone, some with a meter figure; in order."""
    asked = [each.key for each in questions(machines[0], at=at)[1]]
    made = []
    for n in range(ENTRIES):
        answers = {key: {"answer": "ok", "word": ""} for key in asked}
        if n % 50 == 0:
            answers["mixer_guards"] = {"answer": "wrong", "word": "gone"}
        made.append(
            {
                "id": str(new_id()), "schema": "1" if n % 3 else "2", "kind": "check",
                "machine": str(machines[n % MACHINES].pk), "permit": permit, "answers": answers,
                "device_time": (at + timedelta(minutes=n)).isoformat(), "device_seq": str(n),
                "by_name": "", "dial": "" if n % 3 else f"{100 + n / 100:.1f}",
            }
        )  # fmt: skip
    return made


def test_two_hundred_entries_three_times_shuffled_from_four_phones_with_lost_answers(
    transactional_db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    # They send as fast as they can; what a phone is told then, test_throttle.py holds.
    monkeypatch.setattr("maintenance.views.phone.MOST_SENDINGS", 10_000)
    make_reference()
    depot = make_depot()
    operator = make_user("Olwen Operator", (depot, Role.OPERATOR))
    at = datetime.now(UTC) - timedelta(hours=8)
    machines = [make_machine(depot, hours_at=at, passed_at=at) for _ in range(MACHINES)]
    permit = permit_for_person(user=operator, depot_id=depot.pk)
    kept = kept_by_phones(machines, permit, at=at)
    dice = random.Random(7)
    queue = [dict(entry) for entry in kept for _ in range(3)]
    dice.shuffle(queue)
    phones = [Phone(queue[n::THREADS], random.Random(n)) for n in range(THREADS)]

    threads = [Thread(target=phone.send_all) for phone in phones]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(LONGEST_S)

    assert [phone.wrong for phone in phones] == [[]] * THREADS
    assert all(phone.kept == [] for phone in phones)
    assert sum(phone.lost for phone in phones) >= 5  # else this proved less than it says
    checks = Record.objects.filter(kind=Record.Kind.CHECK)
    assert {str(pk) for pk in checks.values_list("pk", flat=True)} == {e["id"] for e in kept}
    assert checks.count() == Check.objects.count() == ENTRIES
    figures = sum(1 for entry in kept if entry["schema"] == "2")
    assert MeterReading.objects.count() == figures
    assert Record.objects.count() == ENTRIES + figures
    stopped = {stop.machine_id for stop in Stop.objects.standing()}
    assert stopped == {machines[n % MACHINES].pk for n in range(0, ENTRIES, 50)}
    assert Stop.objects.count() == ENTRIES // 50
    head = Chain.objects.get(depot=depot)
    rows = Record.objects.order_by("seq")
    assert [row.seq for row in rows] == list(range(1, ENTRIES + figures + 1))
    links = (Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in rows)
    assert verify(links, head_seq=head.head_seq, head_hash=head.head_hash).bad_seq is None
