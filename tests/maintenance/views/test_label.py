"""A machine's label: it opens that machine, takes entries, frees nothing, and is held back."""

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from maintenance.actions.answer import answer_report, have_it
from maintenance.actions.fault import report_fault
from maintenance.actions.stop import decide_stop
from maintenance.models import Job, Stop
from maintenance.views.told import TOLD_COOKIE, receipt_address, sent_address
from make import make_machine
from plant.models import Depot, Machine, Record, SignInAttempt, User
from plant.models.attempt import ENTRIES_BY_LABEL, LABEL_TIME
from plant.models.machine import new_label_code

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
PAGES = ("label", "label_check", "label_fault", "label_stop")
pytestmark = pytest.mark.usefixtures("rule_sheet")


def at(code: str, name: str = "label_stop") -> str:
    return reverse(f"maintenance:{name}", args=[code])


def send(code: str, *, by: User | None = None, address: str = "192.0.2.1", **other: Any) -> Any:
    client = Client()
    if by is not None:
        client.force_login(by)
    data = {"entry": str(uuid.uuid4()), "told": "smells of burning", "by_name": "Ola"} | other
    return client.post(at(code), data, REMOTE_ADDR=address)


@pytest.mark.parametrize(
    "odd",
    ["A" * 22, "a", "A" * 23, "A" * 5000, "' OR 1=1 --", "%", "_" * 22, "🔧", "..", "%2e%2e"],
)
def test_codes_that_open_nothing_are_answered_alike(machine: Machine, odd: str) -> None:
    revoked = machine.label_code
    machine.label_code = new_label_code()
    machine.save()
    for name in PAGES:
        answers = [
            getattr(Client(), method)(at(code, name))
            for code in (odd, revoked)
            for method in (("get",) if name == "label" else ("get", "post"))
        ]
        assert {answer.status_code for answer in answers} == {302}
        assert {answer["Location"] for answer in answers} == {reverse("plant:sign_in")}
        assert len({tuple(sorted(answer.headers.items())) for answer in answers}) == 1
        assert {answer.content for answer in answers} == {b""}


def test_a_code_in_other_letters_is_another_code(machine: Machine) -> None:
    Machine.objects.filter(pk=machine.pk).update(label_code="abcdefghijklmnopqrstuv")

    assert Client().get(at("ABCDEFGHIJKLMNOPQRSTUV")).status_code == 302
    assert Client().get(at("abcdefghijklmnopqrstuv")).status_code == 200


def test_a_closed_depots_label_takes_nothing_either(machine: Machine, depot: Depot) -> None:
    depot.checks_by_label = False
    depot.save()

    answer = send(machine.label_code)

    assert (answer.status_code, answer["Location"]) == (302, reverse("plant:sign_in"))
    assert not Record.objects.exists()
    assert not SignInAttempt.objects.exists()


def test_an_account_of_another_depot_gets_no_more_than_anybody(
    machine: Machine, depot: Depot, outsider: User
) -> None:
    client = Client()
    client.force_login(outsider)
    page = client.get(at(machine.label_code, "label")).content.decode()
    assert reverse("maintenance:machine", args=[machine.pk]) not in page
    assert send(machine.label_code, by=outsider, by_name="").status_code == 422

    depot.checks_by_label = False
    depot.save()

    assert client.get(at(machine.label_code, "label")).status_code == 302


def test_meter_and_test_are_one_press_from_the_label_for_who_may_enter_them(
    machine: Machine, operator: User, fitter: User
) -> None:
    meter = reverse("maintenance:add_meter_figure", args=[machine.pk])
    test = reverse("maintenance:add_test", args=[machine.pk])
    offered = {}
    for who in (None, operator, fitter):
        client = Client()
        if who is not None:
            client.force_login(who)
        page = client.get(at(machine.label_code, "label")).content.decode()
        offered[who] = (f'href="{meter}"' in page, f'href="{test}"' in page)

    assert offered == {None: (False, False), operator: (True, False), fitter: (True, True)}


def test_no_page_behind_a_label_names_anybody_or_another_machine(
    depot: Depot, operator: User, foreman: User
) -> None:
    machine = make_machine(
        depot, "MX-1", nickname="The old one", site="Harbour", note="Secret note"
    )
    make_machine(depot, "QQ-999")
    for part in ("drum", "stands_level"):
        report_fault(machine=machine, part=part, told="grinds", stop_now=False, at=NOW, by=operator)
    decide_stop(
        stop=Stop.objects.get(item_key="stands_level"),
        carry_on_until=(NOW + timedelta(days=30)).date(),
        reason="Level ground only, says Freya.",
        answer="Freya says: level ground only.", at=NOW, by=foreman,
    )  # fmt: skip
    answer = send(machine.label_code, by_name="Ola")
    sent = answer["Location"]

    for address in (*(at(machine.label_code, name) for name in PAGES), sent):
        page = Client().get(address).content.decode()
        for hidden in (
            operator.name, foreman.name, "Freya", "QQ-999", "Harbour", "Secret", "grinds",
            "smells of burning", "Ola", machine.short_code, f"/machines/{machine.pk}",
        ):  # fmt: skip
            assert hidden not in page, (address, hidden)


def test_only_what_was_sent_by_this_label_is_told_by_it(
    machine: Machine, depot: Depot, operator: User
) -> None:
    other = make_machine(depot)
    send(other.label_code)
    theirs = Record.objects.get()

    for number in (theirs.pk, uuid.uuid4()):
        address = reverse("maintenance:label_sent", args=[machine.label_code, number])
        assert Client().get(address).status_code == 404


def test_too_much_by_one_label_is_held_back_and_nothing_typed_is_lost(machine: Machine) -> None:
    with time_machine.travel(NOW, tick=False) as clock:
        for _ in range(ENTRIES_BY_LABEL):
            assert send(machine.label_code).status_code == 302

        answer = send(machine.label_code, told="it still <smokes>")

        assert answer.status_code == 429
        assert answer["Retry-After"] == str(int(LABEL_TIME.total_seconds()))
        page = answer.content.decode()
        assert "it still &lt;smokes&gt;" in page
        assert "Not saved. Wait 10 minutes." in page
        assert Record.objects.count() == ENTRIES_BY_LABEL

        clock.shift(LABEL_TIME)
        assert send(machine.label_code).status_code == 302


def test_what_is_put_right_counts_too(machine: Machine) -> None:
    for _ in range(ENTRIES_BY_LABEL):
        assert send(machine.label_code, told="").status_code == 422

    assert send(machine.label_code).status_code == 429


def test_others_are_not_held_back_with_them(machine: Machine, depot: Depot, operator: User) -> None:
    other = make_machine(depot)
    for _ in range(ENTRIES_BY_LABEL + 1):
        last = send(machine.label_code)
    assert last.status_code == 429

    assert send(machine.label_code, address="192.0.2.2").status_code == 302
    assert send(other.label_code).status_code == 302
    assert send(machine.label_code, by=operator).status_code == 302
    assert Client().get(at(machine.label_code), REMOTE_ADDR="192.0.2.1").status_code == 200


def test_entries_by_label_keep_nobody_from_signing_in(machine: Machine, operator: User) -> None:
    operator.set_password("a long enough one")
    operator.save()
    for _ in range(ENTRIES_BY_LABEL + 5):
        send(machine.label_code)

    answer = Client().post(
        reverse("plant:sign_in"),
        {"sign_in": operator.sign_in, "password": "a long enough one"},
        REMOTE_ADDR="192.0.2.1",
    )

    assert answer.status_code == 302


def test_neither_the_code_nor_the_address_stands_in_what_is_counted(machine: Machine) -> None:
    send(machine.label_code)

    counted = SignInAttempt.objects.get()
    assert counted.address == ""
    assert machine.label_code not in counted.name_key
    with time_machine.travel(datetime.now(UTC) + timedelta(days=1, minutes=1), tick=False):
        send(machine.label_code)
    assert SignInAttempt.objects.count() == 1


def test_replacing_the_link_says_before_what_it_does_and_the_old_label_opens_nothing(
    machine: Machine, foreman: User
) -> None:
    client = Client()
    client.force_login(foreman)
    old = machine.label_code
    address = reverse("maintenance:replace_label", args=[machine.pk])
    before = client.get(address).content.decode()
    assert "The old labels of MX-203 stop opening" in before
    assert client.post(address, {"reason": "lost"}).status_code == 422
    assert Client().get(at(old, "label")).status_code == 200

    answer = client.post(address, {"reason": "Lost on the site of last week"})

    machine.refresh_from_db()
    assert answer["Location"] == reverse("maintenance:machine", args=[machine.pk]) + "#paper"
    assert Client().get(at(machine.label_code, "label")).status_code == 200
    for name in PAGES:
        gone = Client().get(at(old, name))
        assert (gone.status_code, gone["Location"]) == (302, reverse("plant:sign_in"))
    story = client.get(reverse("maintenance:machine", args=[machine.pk])).content.decode()
    assert "Label replaced: Lost on the site of last week" in story


def test_the_phone_that_told_it_reads_who_has_it_and_the_answer_and_nobody_else_does(
    machine: Machine, foreman: User
) -> None:
    phone = Client()
    data = {"entry": str(uuid.uuid4()), "told": "smells of burning", "by_name": "Ola"}
    sent = phone.post(at(machine.label_code), data)["Location"]
    assert "Nobody has it yet." in phone.get(sent).content.decode()
    job = Job.objects.get()

    have_it(job=job, at=NOW, by=foreman)
    answer_report(job=job, answer="A new motor comes on Friday.", at=NOW, by=foreman)

    for address in (sent, at(machine.label_code, "label")):
        page = phone.get(address).content.decode()
        assert "Freya Foreman, foreman, has it" in page
        assert "A new motor comes on Friday." in page
    stranger = Client().get(sent).content.decode()
    assert "A foreman has it" in stranger
    assert "Freya" not in stranger
    assert "Friday" not in stranger
    assert (
        "What this phone told" not in Client().get(at(machine.label_code, "label")).content.decode()
    )


def test_a_label_shows_what_this_phone_told_of_that_machine_alone(
    machine: Machine, depot: Depot
) -> None:
    phone, other = Client(), make_machine(depot)
    for each in (machine, other):
        data = {"entry": str(uuid.uuid4()), "told": "smells", "by_name": "Ola"}
        phone.post(at(each.label_code), data)

    for each, not_this in ((machine, other), (other, machine)):
        page = phone.get(at(each.label_code, "label")).content.decode()
        assert Job.objects.get(machine=each).number in page
        assert Job.objects.get(machine=not_this).number not in page


def test_a_receipt_is_kept_by_the_phone_and_leaves_the_address(machine: Machine) -> None:
    send(machine.label_code)
    record = Record.objects.get()
    phone, liar = Client(), Client()

    good = phone.get(receipt_address(record, code=machine.label_code))
    bad = liar.get(f"{sent_address(record, code=machine.label_code)}?receipt=made-up")

    assert good["Location"] == bad["Location"] == sent_address(record, code=machine.label_code)
    cookie = good.cookies[TOLD_COOKIE]
    assert (cookie["httponly"], cookie["path"], cookie["samesite"]) == (True, "/q/", "Lax")
    assert TOLD_COOKIE not in bad.cookies


@pytest.mark.parametrize("odd", ["x", "a:b:c", "W10:x:y", "é", "0" * 4000])
def test_a_forged_cookie_of_what_was_told_tells_nothing(machine: Machine, odd: str) -> None:
    send(machine.label_code)
    phone = Client()
    phone.cookies[TOLD_COOKIE] = odd

    answer = phone.get(at(machine.label_code, "label"))

    assert answer.status_code == 200
    assert "What this phone told" not in answer.content.decode()
