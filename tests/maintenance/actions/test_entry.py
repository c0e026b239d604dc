"""What a phone kept without signal: each entry taken once, whenever and however often it comes."""

import json
import uuid
from datetime import timedelta
from typing import Any

import pytest

from maintenance.actions.check import questions
from maintenance.actions.entry import take
from maintenance.actions.meter import record_meter
from maintenance.actions.permit import permit_for_label, permit_for_person
from maintenance.contents.fitness import fitness_of
from maintenance.models import Check, MeterReading, Stop
from make import MONDAY, make_machine
from plant.actions.phone import ask_phone, enrol, withdraw
from plant.models import Depot, Machine, Membership, Phone, Place, Record, User

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


@pytest.mark.parametrize("left", [False, True])
def test_what_a_withdrawn_shared_phone_still_held_is_taken_and_marked(
    machine: Machine, depot: Depot, operator: User, manager: User, left: bool
) -> None:
    phone, _ = enrol(code=ask_phone(depot=depot, name="Box", by=manager, at=MONDAY)[1], at=MONDAY)
    operator.on_phone = phone
    permit = permit_for_person(user=operator, depot_id=depot.pk)
    before = send(entry(machine, permit)).record
    withdraw(phone=phone, by=manager, at=MONDAY)
    if left:
        User.objects.filter(pk=operator.pk).update(is_active=False)

    after = send(entry(machine, permit)).record

    assert before is not None
    assert after is not None
    told = [json.loads(record.content)["data"] for record in (before, after)]
    assert [each["signed_in_on"] for each in told] == [f"shared phone {phone.pk}"] * 2
    assert "permit" not in told[0]
    marked = (
        "sent after leaving, sent by a withdrawn phone" if left else "sent by a withdrawn phone"
    )
    assert told[1]["permit"] == marked
    assert after.by == operator
    assert not Phone.objects.enrolled().exists()


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


@pytest.mark.parametrize("schema", ["1", "2", "3"])
def test_the_present_and_the_previous_forms_of_entry_are_taken(
    machine: Machine, by_person: str, schema: str
) -> None:
    assert send(entry(machine, by_person, schema=schema)).state == "kept"


def test_a_meter_figure_kept_without_signal_is_questioned_and_blocks_nothing(
    machine: Machine, by_person: str
) -> None:
    given = entry(machine, by_person, schema="2", dial="40.1 h")

    results = [send(given) for _ in range(3)]

    assert {result.state for result in results} == {"kept"}
    reading = MeterReading.objects.get()
    assert (reading.dial_tenths, bool(reading.questioned)) == (401, True)
    assert Record.objects.count() == 2


def test_what_the_counters_show_is_kept_each_as_a_reading_and_blocks_nothing(
    machine: Machine, by_person: str, fitter: User
) -> None:
    record_meter(
        machine=machine, dial_tenths=12_000, typed="1200", measure="starts",
        at=MONDAY - timedelta(days=1), by=fitter,
    )  # fmt: skip
    told = {"starts": "1240", "lifts": "7"}
    given = entry(machine, by_person, schema="3", counts=told)
    assert {send(given).state for _ in range(2)} == {"kept"}
    # No check starts a counter; lower than the last is questioned, and no figure is a note.
    send(entry(machine, by_person, schema="3", counts={"starts": "124"}))
    last = send(entry(machine, by_person, schema="3", counts={"starts": "lots"}))

    read = MeterReading.objects.exclude(dial_tenths=12_000).order_by("-dial_tenths")
    assert [(r.meter.measure, r.dial_tenths, bool(r.questioned)) for r in read] == [
        ("starts", 12_400, False), ("starts", 1_240, True)
    ]  # fmt: skip
    assert machine.counters.get().total_tenths == 12_400
    sealed = Record.objects.get(pk=given["id"])
    starts = {"si": "1240", "typed": "1240", "unit": "1"}
    assert json.loads(sealed.content)["data"]["counters"] == {"starts": starts}
    assert "counter of lifts, but not kept: 7" in sealed.texts.get(name="note").text
    assert last.record is not None
    assert "counter of starts, but not kept: lots" in last.record.texts.get(name="note").text
    assert "counters" not in json.loads(last.record.content)["data"]
    for odd in ({"counts": 5}, {"counts": {"starts": 5}}):
        assert send(entry(machine, by_person, schema="3", **odd)).state == "attention"


@pytest.mark.parametrize("typed", ["40,1", "lots", "1e9", "-5", "9" * 99, "٤٠"])
def test_what_is_no_figure_is_kept_in_words_and_blocks_nothing(
    machine: Machine, by_person: str, typed: str
) -> None:
    result = send(entry(machine, by_person, schema="2", dial=typed))

    assert result.state == "kept"
    assert result.record is not None
    assert typed in result.record.texts.get(name="note").text
    assert not MeterReading.objects.exists()


def test_the_figure_of_who_left_is_taken_with_the_check(machine: Machine, by_person: str) -> None:
    Membership.objects.all().delete()

    result = send(entry(machine, by_person, schema="2", dial="100.5"))

    assert result.state == "kept"
    assert MeterReading.objects.get().total_tenths == 1005


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
        {"schema": "99"}, {"schema": 2}, {"dial": 5}, {"dial": "9" * 5000},
        {"permit": None}, {"by_name": ["Wim"]},
        {"answers": {"mixer_guards": {"answer": "wrong", "word": "\u202e"}}},
    ],
)  # fmt: skip
def test_odd_parts_save_nothing_and_say_why(
    machine: Machine, by_person: str, change: dict[str, Any]
) -> None:
    result = send(entry(machine, by_person) | change)

    assert (result.state, bool(result.words)) == ("attention", True)
    assert not Record.objects.exists()
