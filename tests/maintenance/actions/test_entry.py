"""What a phone kept without signal: each entry taken once, whenever and however often it comes."""

import json
import random
import uuid
from datetime import timedelta
from threading import Thread
from typing import Any

import pytest
from django.db import connection, connections

from maintenance.actions.check import questions
from maintenance.actions.entry import take
from maintenance.actions.permit import permit_for_label, permit_for_person
from maintenance.actions.reference import load_reference
from maintenance.contents.fitness import fitness_of
from maintenance.models import Check, RuleSheet, Stop
from make import MONDAY, make_depot, make_machine, make_user
from plant.models import Chain, Depot, Machine, Membership, Place, Record, Role, User
from plant.sealing import Link, verify

pytestmark = pytest.mark.usefixtures("rule_sheet")


def entry(machine: Machine, permit: str, *, wrong: str = "", kind: str = "check", **more: Any):
    _, asked = questions(machine, at=MONDAY)
    answers = {
        q.key: {"answer": "wrong" if q.key == wrong else "ok", "word": "gone" * (q.key == wrong)}
        for q in asked
    }
    given: dict[str, Any] = {
        "id": str(uuid.uuid4()), "schema": "1", "kind": kind, "machine": str(machine.pk),
        "permit": permit, "device_time": MONDAY.isoformat(), "by_name": "Wim", "answers": answers,
        "told": "Handle snapped", "part": "Something else", "stop_now": True,
    }  # fmt: skip
    return given | more


def send(given: object, **more: Any):
    return take(given, **{"sent_at": MONDAY, "received_at": MONDAY} | more)


@pytest.fixture
def by_person(machine: Machine, operator: User) -> str:
    return permit_for_person(user=operator, depot_id=machine.depot_id)


def test_a_check_kept_by_a_phone_passes_the_machine_at_the_time_it_was_done(
    machine: Machine, by_person: str, operator: User
) -> None:
    later = MONDAY + timedelta(hours=5)
    result = send(entry(machine, by_person), sent_at=later, received_at=later)

    machine.refresh_from_db()
    assert result.state == "kept"
    assert result.record is not None
    assert (result.record.by, result.record.role) == (operator, "operator")
    assert (result.record.happened_at, result.record.received_at) == (MONDAY, later)
    assert machine.passed_at == MONDAY


def test_a_failed_guard_stops_the_machine_although_the_news_is_late(
    machine: Machine, by_person: str
) -> None:
    later = MONDAY + timedelta(hours=6)
    send(entry(machine, by_person), sent_at=later, received_at=later)
    result = send(
        entry(
            machine, by_person, wrong="mixer_guards",
            device_time=(MONDAY - timedelta(hours=1)).isoformat(),
        ),
        sent_at=later, received_at=later,
    )  # fmt: skip

    assert result.state == "kept"
    assert fitness_of(machine, MONDAY.date()).mark == "Do not use"
    assert Stop.objects.get().since == MONDAY - timedelta(hours=1)


@pytest.mark.parametrize("kind", ["check", "fault", "stop"])
def test_the_same_entry_five_times_is_one_record_and_five_polite_answers(
    machine: Machine, by_person: str, kind: str
) -> None:
    given = entry(machine, by_person, kind=kind)

    results = [send(given) for _ in range(5)]

    assert {result.state for result in results} == {"kept"}
    assert Record.objects.count() == 1


def test_the_same_number_with_other_answers_is_not_taken(machine: Machine, by_person: str) -> None:
    given = entry(machine, by_person)
    send(given)
    other = entry(machine, by_person, wrong="mixer_guards", id=given["id"])

    assert send(other).state == "attention"
    assert Record.objects.count() == 1


def test_by_label_a_name_is_needed_and_the_record_says_by_label(machine: Machine) -> None:
    permit = permit_for_label(machine)

    assert send(entry(machine, permit, by_name=" ")).state == "attention"
    result = send(entry(machine, permit))
    assert result.record is not None
    assert (result.record.by, result.record.role) == (None, "label")
    assert Check.objects.get().by_label


def test_a_permit_for_one_machine_or_depot_opens_no_other(
    machine: Machine, by_person: str, depot: Depot, other_depot: Depot
) -> None:
    near, far = make_machine(depot), make_machine(other_depot)

    for permit, target in (
        (permit_for_label(machine), near),
        (permit_for_label(machine), far),
        (by_person, far),
        (by_person + "x", machine),
        ("", machine),
    ):
        assert send(entry(target, permit)).state == "attention"
    assert not Record.objects.exists()


def test_who_left_may_still_send_what_the_phone_kept_and_the_record_says_so(
    machine: Machine, by_person: str, operator: User
) -> None:
    Membership.objects.all().delete()
    User.objects.update(is_active=False)

    result = send(entry(machine, by_person, wrong="mixer_guards"))

    assert result.record is not None
    told = json.loads(result.record.content)["data"]
    assert (result.record.by, told["permit"]) == (operator, "sent after leaving")
    assert Stop.objects.exists()


def test_a_replaced_label_still_sends_what_was_kept_and_the_record_says_so(
    machine: Machine,
) -> None:
    permit = permit_for_label(machine)
    Machine.objects.update(label_code="another-code")

    result = send(entry(machine, permit))

    assert result.record is not None
    assert json.loads(result.record.content)["data"]["permit"] == "an older label"


def test_a_wrong_clock_is_put_right_and_the_record_says_so(
    machine: Machine, by_person: str
) -> None:
    slow = timedelta(hours=3, minutes=5)
    given = entry(
        machine, by_person, device_time=(MONDAY - slow - timedelta(minutes=30)).isoformat()
    )
    result = send(given, sent_at=MONDAY - slow)

    assert result.record is not None
    assert result.record.happened_at == MONDAY - timedelta(minutes=30)
    phone = json.loads(result.record.content)["data"]["phone"]
    assert phone["clock"] == "The phone's clock was 3 h 5 min slow."


def test_a_check_of_a_machine_that_is_gone_is_kept_and_says_so(
    machine: Machine, by_person: str
) -> None:
    Machine.objects.update(place=Place.GONE)

    result = send(entry(machine, by_person))

    assert result.record is not None
    assert json.loads(result.record.content)["data"]["phone"]["machine_was"] == "gone"


HOSTILE: list[Any] = [
    None, 5, [], "x", {}, {"id": "x"}, {"schema": "1", "kind": "check"},
]  # fmt: skip


@pytest.mark.parametrize("given", HOSTILE)
def test_what_cannot_be_read_is_answered_in_words(given: object) -> None:
    result = send(given)

    assert (result.state, bool(result.words)) == ("attention", True)


@pytest.mark.parametrize(
    "change",
    [
        {"id": "no number"}, {"machine": "99999999999999999999"}, {"machine": "-1"},
        {"machine": 7}, {"device_time": "yesterday"}, {"device_time": "2026-03-02T09:00:00"},
        {"answers": []}, {"answers": {"x": "ok"}}, {"answers": {"x": {"answer": "fine"}}},
        {"answers": {"x": {"answer": "ok", "word": 5}}}, {"answers": {}}, {"kind": "release"},
        {"schema": "99"}, {"permit": None}, {"by_name": ["Wim"]},
        {"answers": {"mixer_guards": {"answer": "wrong", "word": "\u202e"}}},
    ],
)  # fmt: skip
def test_odd_parts_save_nothing_and_say_why(
    machine: Machine, by_person: str, change: dict[str, Any]
) -> None:
    result = send(entry(machine, by_person) | change)

    assert (result.state, bool(result.words)) == ("attention", True)
    assert not Record.objects.exists()


def test_two_hundred_entries_sent_three_times_shuffled_by_four_threads(
    transactional_db: None,
) -> None:
    load_reference()
    depot = make_depot()
    operator = make_user("Olwen Operator", (depot, Role.OPERATOR))
    machines = [make_machine(depot) for _ in range(8)]
    permit = permit_for_person(user=operator, depot_id=depot.pk)
    kept = [
        entry(machines[n % 8], permit, wrong="mixer_guards" if n % 50 == 0 else "")
        for n in range(200)
    ]
    dice = random.Random(7)
    queue = [given for given in kept for _ in range(3)]
    dice.shuffle(queue)
    shares = [queue[n::4] for n in range(4)]
    wrong: list[BaseException] = []

    def phone(share: list[dict[str, Any]]) -> None:
        try:
            for given in share:
                for _ in range(20):
                    if send(given).state != "wait":
                        break
                else:
                    raise AssertionError("never taken")
        except BaseException as error:
            wrong.append(error)
        finally:
            connections.close_all()

    threads = [Thread(target=phone, args=(share,)) for share in shares]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)

    assert wrong == []
    assert Record.objects.count() == Check.objects.count() == 200
    assert {str(pk) for pk in Record.objects.values_list("pk", flat=True)} == {
        given["id"] for given in kept
    }
    head = Chain.objects.get(depot=depot)
    rows = Record.objects.order_by("seq")
    links = (Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in rows)
    assert verify(links, head_seq=head.head_seq, head_hash=head.head_hash).bad_seq is None
    stopped = {stop.machine_id for stop in Stop.objects.standing()}
    assert stopped == {machines[n % 8].pk for n in range(0, 200, 50)}
    assert RuleSheet.objects.count() == 1
    assert connection.vendor in {"sqlite", "postgresql"}
