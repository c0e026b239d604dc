"""How long the questions of a check took: kept beside its record, and shown to foremen alone."""

import json
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from maintenance.actions.check import clear_old_paces, questions, record_check
from maintenance.actions.entry import take
from maintenance.actions.permit import permit_for_label
from maintenance.models import Check, Pace
from maintenance.rules.check import Given
from make import make_machine
from plant.models import Depot, Machine, Record, User

pytestmark = pytest.mark.usefixtures("rule_sheet")
NOW = datetime.now(UTC)
PAGE = reverse("maintenance:worth_a_look")


def entry(machine: Machine, **more: Any) -> dict[str, Any]:
    items = [each.key for each in questions(machine, at=NOW)[1]]
    return {
        "id": str(uuid.uuid4()), "schema": "2", "kind": "check", "machine": str(machine.pk),
        "permit": permit_for_label(machine), "device_time": NOW.isoformat(), "by_name": "Wim",
        "answers": {key: {"answer": "ok", "word": ""} for key in items},
        "pace": {key: 40 + n for n, key in enumerate(items)},
    } | more  # fmt: skip


def checks(machine: Machine, by: User, *, count: int, tenths: int) -> None:
    items = [each.key for each in questions(machine, at=NOW)[1]]
    for n in range(count):
        record_check(
            machine=machine, answers={key: Given(answer="ok") for key in items}, by=by,
            at=NOW - timedelta(days=n, minutes=7 * n), pace=dict.fromkeys(items, tenths),
        )  # fmt: skip


def test_the_seconds_stand_beside_the_record_and_nowhere_in_it(
    machine: Machine, operator: User, client: Client
) -> None:
    told = entry(machine)

    result = take(told, sent_at=NOW, received_at=NOW)

    record = Record.objects.get()
    assert (result.state, Pace.objects.get().tenths) == ("kept", told["pace"])
    assert "pace" not in record.content
    client.force_login(operator)
    for page in ("record", "sent"):
        shown = client.get(reverse(f"maintenance:{page}", args=[record.pk])).content.decode()
        assert "4.0 s" not in shown
        assert "pace" not in shown
    # Sent again with other seconds it is the same check.
    again = take(told | {"pace": {}}, sent_at=NOW, received_at=NOW)
    assert (again.state, Record.objects.count()) == ("kept", 1)


def test_odd_seconds_are_left_out_and_keep_no_check_back(machine: Machine) -> None:
    key = questions(machine, at=NOW)[1][0].key
    odd = ("40", 4.5, True, None, -1, 36_001, 10**40, [40])
    told = [None, [], "fast", 7, {}, {"not asked": 40}, *({key: each} for each in odd)]

    results = [take(entry(machine, pace=pace), sent_at=NOW, received_at=NOW) for pace in told]

    assert {result.state for result in results} == {"kept"}
    assert Check.objects.count() == len(told)
    assert not Pace.objects.exists()


def test_a_clock_that_was_put_right_is_noted(machine: Machine) -> None:
    slow = NOW - timedelta(hours=3)

    take(entry(machine, device_time=slow.isoformat()), sent_at=slow, received_at=NOW)

    assert Pace.objects.get().clock_off


def test_a_foreman_reads_the_pattern_of_his_own_depot(
    depot: Depot, machine: Machine, operator: User, foreman: User, outsider: User, client: Client
) -> None:
    checks(machine, operator, count=20, tenths=5)

    client.force_login(foreman)
    page = " ".join(client.get(PAGE).content.decode().split())
    assert "<strong>2 patterns</strong> at North yard" in page
    assert "Olwen Operator" in page
    assert "took 0.5 s a question" in page
    client.force_login(outsider)
    page = client.get(PAGE, {"depot": depot.pk}).content.decode()
    assert "Olwen" not in page
    assert "Nothing stands out." in page
    client.force_login(operator)
    assert client.get(PAGE).status_code == 403
    assert PAGE not in client.get("/").content.decode()


def test_of_people_with_few_checks_nothing_is_said(
    machine: Machine, operator: User, foreman: User, client: Client
) -> None:
    checks(machine, operator, count=14, tenths=5)

    client.force_login(foreman)
    page = client.get(PAGE).content.decode()

    assert "Olwen" not in page
    assert "so nothing is said of 1 person." in page


def test_many_checks_cost_as_many_queries_as_few(
    depot: Depot, operator: User, foreman: User, client: Client
) -> None:
    client.force_login(foreman)
    counts = []
    for size in (2, 30):
        checks(make_machine(depot), operator, count=size, tenths=5)
        with CaptureQueriesContext(connection) as asked:
            client.get(PAGE)
        counts.append(len(asked))

    # A list with nothing in it asks once whether the depot has a machine at all.
    assert counts[1] <= counts[0]


def test_old_seconds_are_forgotten_and_their_checks_stay(machine: Machine, operator: User) -> None:
    checks(machine, operator, count=3, tenths=40)
    later = NOW + timedelta(days=178)

    assert clear_old_paces(at=later) == 1
    assert clear_old_paces(at=later) == 0
    assert (Pace.objects.count(), Check.objects.count()) == (2, 3)


def test_the_plain_page_tells_no_seconds(machine: Machine, operator: User, client: Client) -> None:
    items = [each.key for each in questions(machine, at=NOW)[1]]
    client.force_login(operator)

    answer = client.post(
        reverse("maintenance:check", args=[machine.pk]),
        {f"answer_{key}": "ok" for key in items} | {"pace": json.dumps({items[0]: 1})},
    )

    assert (answer.status_code, Check.objects.count(), Pace.objects.count()) == (302, 1, 0)
