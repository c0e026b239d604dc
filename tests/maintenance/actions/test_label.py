"""Replacing a label's link: sealed with its reason, and nothing that was kept is lost."""

import json
import uuid

import pytest

from maintenance.actions.entry import take
from maintenance.actions.label import replace_label
from maintenance.actions.permit import permit_for_label
from maintenance.contents.record import summary
from maintenance.contents.record_facts import facts, words
from make import MONDAY
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Machine, Record, User
from plant.rights import NotAllowed

pytestmark = pytest.mark.usefixtures("rule_sheet")
REASON = "Copied by somebody at the gate"


def test_a_new_link_is_given_and_it_is_sealed_why(machine: Machine, foreman: User) -> None:
    before = machine.label_code, machine.short_code

    record = replace_label(machine=machine, reason=REASON, at=MONDAY, by=foreman)

    machine.refresh_from_db()
    assert machine.label_code != before[0]
    assert len(machine.label_code) == 22
    assert machine.short_code == before[1]
    assert (record.kind, record.machine, record.role) == ("label", machine, "foreman")
    assert summary(record) == f"Label replaced: {REASON}"
    assert ("The four characters", "kept") in facts(record)
    assert words(record) == [("Reason", REASON)]


def test_neither_link_stands_in_the_record(machine: Machine, foreman: User) -> None:
    old = machine.label_code

    record = replace_label(machine=machine, reason=REASON, at=MONDAY, by=foreman)

    machine.refresh_from_db()
    assert old not in record.content
    assert machine.label_code not in record.content
    assert machine.short_code not in record.content


def test_the_four_characters_go_only_when_asked(machine: Machine, manager: User) -> None:
    before = machine.short_code

    record = replace_label(
        machine=machine, reason=REASON, at=MONDAY, by=manager, short_code_too=True
    )

    machine.refresh_from_db()
    assert machine.short_code != before
    assert json.loads(record.content)["data"]["short_code"] == "replaced"


def test_sent_twice_it_is_replaced_once(machine: Machine, foreman: User) -> None:
    number = new_id()
    first = replace_label(machine=machine, reason=REASON, at=MONDAY, by=foreman, record_id=number)
    machine.refresh_from_db()
    link = machine.label_code

    again = replace_label(machine=machine, reason=REASON, at=MONDAY, by=foreman, record_id=number)

    machine.refresh_from_db()
    assert again == first
    assert machine.label_code == link
    with pytest.raises(Refused, match="Another entry was saved"):
        replace_label(
            machine=machine, reason=REASON, at=MONDAY, by=foreman, record_id=number,
            short_code_too=True,
        )  # fmt: skip


@pytest.mark.parametrize("reason", ["", "lost", "  \n ", "x" * 401, "lost\u202e on the site"])
def test_without_a_reason_nothing_is_replaced(machine: Machine, foreman: User, reason: str) -> None:
    before = machine.label_code

    with pytest.raises(Refused) as refused:
        replace_label(machine=machine, reason=reason, at=MONDAY, by=foreman)

    machine.refresh_from_db()
    assert refused.value.field == "reason"
    assert machine.label_code == before
    assert not Record.objects.exists()


def test_who_only_prints_labels_replaces_none(
    machine: Machine, desk: User, fitter: User, administrator: User, outsider: User
) -> None:
    for user in (desk, fitter, administrator, outsider):
        with pytest.raises(NotAllowed):
            replace_label(machine=machine, reason=REASON, at=MONDAY, by=user)

    assert not Record.objects.exists()


def test_what_a_phone_kept_by_the_old_label_is_still_taken(machine: Machine, foreman: User) -> None:
    permit = permit_for_label(machine)
    replace_label(machine=machine, reason=REASON, at=MONDAY, by=foreman)

    result = take(
        {
            "id": str(uuid.uuid4()), "schema": "1", "kind": "stop", "machine": str(machine.pk),
            "permit": permit, "device_time": MONDAY.isoformat(), "by_name": "Wim",
            "told": "Handle snapped",
        },
        sent_at=MONDAY, received_at=MONDAY,
    )  # fmt: skip

    assert result.record is not None
    assert json.loads(result.record.content)["data"]["permit"] == "an older label"
