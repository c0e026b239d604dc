"""Paper: asking for sheets, how far they are, taking the files, and who may."""

import hashlib
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import now

from maintenance.actions.plan import give_plans
from make import make_machine, make_user
from plant.models import Depot, Machine, MachineKind, Record, Role, User
from reports import tasks
from reports.actions import sheet as actions
from reports.actions.sheet import ask_sheets
from reports.models import Batch

pytestmark = pytest.mark.usefixtures("rule_sheet")


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def url(name: str, *args: object) -> str:
    return reverse(f"reports:{name}", args=args)


def page(user: User, name: str, *args: object) -> str:
    answer = signed_in(user).get(url(name, *args))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


@pytest.fixture
def batch(depot: Depot, foreman: User) -> Batch:
    machines = [make_machine(depot, number) for number in ("MX-301", "MX-302")]
    return ask_sheets(depot=depot, machines=machines, by=foreman, at=now())


@pytest.fixture
def printed(batch: Batch) -> Batch:
    tasks.print_batch(batch.pk)
    batch.refresh_from_db()
    return batch


def test_one_sheet_from_the_machine_to_the_file(
    machine: Machine, desk: User, django_capture_on_commit_callbacks: Any
) -> None:
    client = signed_in(desk)

    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(url("ask_sheet", machine.pk))

    batch = Batch.objects.get()
    assert answer.headers["Location"] == url("batch", batch.pk)
    shown = page(desk, "batch", batch.pk)
    for part in ("Service sheet of MX-203", "1 of 1 sheet printed", "NORTH-1", batch.sha256):
        assert part in shown
    sheet = batch.sheets.get()
    for name, pk, sha256 in (("batch_file", batch.pk, batch.sha256),
                             ("sheet_file", sheet.pk, sheet.sha256)):  # fmt: skip
        taken: Any = client.get(url(name, pk))
        assert hashlib.sha256(b"".join(taken.streaming_content)).hexdigest() == sha256
        assert taken.headers["Content-Disposition"].startswith("attachment")
        assert "sandbox" in taken.headers["Content-Security-Policy"]
    printed, kept = Record.objects.order_by("seq")
    assert (printed.kind, kept.kind) == (Record.Kind.SHEET, Record.Kind.FILES)
    assert printed.by == kept.by == desk


def test_all_that_is_due_is_printed(
    depot: Depot, other_depot: Depot, foreman: User, django_capture_on_commit_callbacks: Any
) -> None:
    kind = MachineKind.objects.get(key="mixer_electric")
    due = [make_machine(depot, number, kind=kind) for number in ("MX-302", "MX-301")]
    elsewhere = make_machine(other_depot, "MX-401", kind=kind)
    make_machine(depot, "MX-303")  # without a plan nothing is due on it
    give_plans([*due, elsewhere], at=now() - timedelta(days=800))

    with django_capture_on_commit_callbacks(execute=True):
        answer = signed_in(foreman).post(
            url("ask_batch"), {"depot": depot.pk, "kind": "service", "which": "due"}
        )

    assert answer.status_code == 302
    sheets = Batch.objects.get().sheets.all()
    assert [(s.machine.number, s.state) for s in sheets] == [("MX-301", "done"), ("MX-302", "done")]


def test_numbers_are_read_however_they_are_written(
    depot: Depot, machine: Machine, foreman: User, django_capture_on_commit_callbacks: Any
) -> None:
    other = make_machine(depot, "PC-101")
    typed = {
        "depot": depot.pk,
        "kind": "service",
        "which": "listed",
        "numbers": "mx203, PC 101;\n\nMX-203",
    }

    with django_capture_on_commit_callbacks():
        signed_in(foreman).post(url("ask_batch"), typed)

    assert {sheet.machine for sheet in Batch.objects.get().sheets.all()} == {machine, other}


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ("MX-203, MX-999", "Not at North yard: MX-999. Nothing was asked for."),
        ("MX-203, SOUTH-1", "Not at North yard: SOUTH-1."),
        ("  ", "Write at least one machine number."),
        ("MX-203 é<script>", "é"),
    ],
)
def test_what_cannot_be_printed_is_said_and_what_was_typed_stays(
    depot: Depot, other_depot: Depot, machine: Machine, foreman: User, numbers: str, said: str
) -> None:
    make_machine(other_depot, "SOUTH-1")

    answer = signed_in(foreman).post(
        url("ask_batch"),
        {"depot": depot.pk, "kind": "service", "which": "listed", "numbers": numbers},
    )

    shown = answer.content.decode()
    assert answer.status_code == 422
    assert said in shown
    assert numbers.replace("<", "&lt;").replace(">", "&gt;") in shown
    assert "<script>" not in shown.partition("<main")[2]
    assert not Batch.objects.exists()


def test_a_list_that_is_far_too_long_is_not_called_empty_too(depot: Depot, foreman: User) -> None:
    asked = {"depot": depot.pk, "kind": "service", "which": "listed", "numbers": "MX-1, " * 5000}
    shown = signed_in(foreman).post(url("ask_batch"), asked).content.decode()
    assert "Keep it to 20000" in shown
    assert "Write at least one machine number" not in shown


def test_too_many_and_nothing_due_are_said_at_the_choice(
    depot: Depot, foreman: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = {"depot": depot.pk, "kind": "service", "which": "due"}
    answer = signed_in(foreman).post(url("ask_batch"), asked)
    assert answer.status_code == 422
    assert "Nothing is due at North yard." in answer.content.decode()

    machines = [make_machine(depot) for _ in range(3)]
    monkeypatch.setattr(actions, "MOST_SHEETS", 2)
    numbers = "\n".join(machine.number for machine in machines)
    answer = signed_in(foreman).post(
        url("ask_batch"),
        {"depot": depot.pk, "kind": "service", "which": "listed", "numbers": numbers},
    )
    assert answer.status_code == 422
    assert "At most 2 at a time." in answer.content.decode()


def test_another_depot_cannot_be_chosen(depot: Depot, other_depot: Depot, foreman: User) -> None:
    answer = signed_in(foreman).post(
        url("ask_batch"), {"depot": other_depot.pk, "kind": "service", "which": "due"}
    )

    assert answer.status_code == 422
    assert "South" not in answer.content.decode()


def test_another_depots_paper_does_not_exist(printed: Batch, outsider: User) -> None:
    client = signed_in(outsider)
    sheet = printed.sheets.first()
    assert sheet is not None

    for name, pk in (("batch", printed.pk), ("batch_progress", printed.pk),
                     ("batch_file", printed.pk), ("sheet_file", sheet.pk)):  # fmt: skip
        assert client.get(url(name, pk)).status_code == 404
    assert client.post(url("retry_batch", printed.pk)).status_code == 404
    assert client.post(url("ask_sheet", sheet.machine_id)).status_code == 404
    shown = page(outsider, "batch_list")
    assert "MX-301" not in shown
    assert "Nothing has been printed yet." in shown


def test_an_operator_prints_no_sheet_and_a_desk_one_at_a_time(
    printed: Batch, depot: Depot, operator: User, desk: User
) -> None:
    sheet = printed.sheets.first()
    assert sheet is not None
    client = signed_in(operator)
    own = {"batch": printed.pk, "batch_file": printed.pk, "sheet_file": sheet.pk}
    for name, pk in own.items():
        assert client.get(url(name, pk)).status_code == 403
    assert client.get(url("ask_batch")).status_code == 403
    assert client.post(url("ask_sheet", sheet.machine_id)).status_code == 403
    assert client.post(url("retry_batch", printed.pk)).status_code == 403
    # The list shows an operator the passports they may print, and no service sheet.
    assert printed.title not in page(operator, "batch_list")
    shown = page(desk, "ask_batch")
    assert 'value="label sheet"' in shown
    assert 'value="service"' not in shown
    asked = {"depot": depot.pk, "kind": "service", "which": "listed", "numbers": "MX-301, MX-302"}
    assert signed_in(desk).post(url("ask_batch"), asked).status_code == 422
    assert Batch.objects.count() == 1


def test_labels_are_for_the_desk_and_the_administrator_too_and_a_passport_for_operators(
    depot: Depot, machine: Machine, operator: User, desk: User, administrator: User
) -> None:
    asked = {"depot": depot.pk, "kind": "label", "which": "all", "begins": "mx"}
    for user in (desk, administrator):
        assert signed_in(user).post(url("ask_batch"), asked).status_code == 302
        assert signed_in(user).post(url("ask_label", machine.pk)).status_code == 302
    assert signed_in(operator).post(url("ask_label", machine.pk)).status_code == 403
    assert signed_in(administrator).post(url("ask_passport", machine.pk)).status_code == 403
    assert signed_in(administrator).post(url("ask_sheet", machine.pk)).status_code == 403

    answer = signed_in(operator).post(url("ask_passport", machine.pk))

    batch = Batch.objects.get(kind="passport")
    assert answer["Location"] == url("batch", batch.pk)
    assert "Passport of MX-203" in page(operator, "batch_list")
    assert "Label of MX-203" not in page(operator, "batch_list")
    labels = Batch.objects.filter(kind="label")
    assert set(labels.values_list("title", flat=True)) == {"Label of MX-203"}
    assert signed_in(operator).get(url("batch", labels[0].pk)).status_code == 403
    assert "Passport of" not in page(administrator, "batch_list")


def test_who_prints_labels_in_one_depot_chooses_no_other_paper_there(
    depot: Depot, other_depot: Depot, machine: Machine
) -> None:
    both = make_user("Both", (depot, Role.DESK), (other_depot, Role.MANAGER))
    asked = {"depot": depot.pk, "kind": "service", "which": "listed", "numbers": "MX-203, MX-204"}

    answer = signed_in(both).post(url("ask_batch"), asked)

    assert answer.status_code == 422
    assert "Your role at North yard prints others of these." in answer.content.decode()


def test_all_machines_whose_number_begins_so_are_printed_and_none_that_is_gone(
    depot: Depot, other_depot: Depot, machine: Machine, desk: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in ("MX-204", "PC-101"):
        make_machine(depot, number)
    make_machine(depot, "MX-205", place="gone")
    make_machine(other_depot, "MX-901")
    asked = {"depot": depot.pk, "kind": "label sheet", "which": "all"}
    client = signed_in(desk)

    client.post(url("ask_batch"), asked | {"begins": "m x"})
    client.post(url("ask_batch"), asked | {"begins": ""})

    some, every = Batch.objects.order_by("pk")
    assert [s.machine.number for s in some.sheets.all()] == ["MX-203", "MX-204"]
    assert every.sheets.count() == 3
    none = client.post(url("ask_batch"), asked | {"begins": "ZZ"})
    assert "No machine of North yard has such a number." in none.content.decode()
    odd = client.post(url("ask_batch"), asked | {"begins": "é"})
    assert (odd.status_code, "Use only A to Z" in odd.content.decode()) == (422, True)
    monkeypatch.setattr("reports.forms.MOST_SHEETS", 2)
    many = client.post(url("ask_batch"), asked)
    assert "3 machines fit; at most 2 at a time." in many.content.decode()
    assert Batch.objects.count() == 2


def test_progress_is_asked_for_again_until_it_has_ended(batch: Batch, foreman: User) -> None:
    client = signed_in(foreman)
    before = client.get(url("batch_progress", batch.pk))
    assert "0 of 2 sheets printed" in before.content.decode()
    assert "every 1s" in before.content.decode()
    assert "HX-Refresh" not in before.headers

    tasks.print_batch(batch.pk)

    after = client.get(url("batch_progress", batch.pk))
    assert "2 of 2 sheets printed" in after.content.decode()
    assert "every 1s" not in after.content.decode()
    assert after.headers["HX-Refresh"] == "true"


def test_what_failed_is_named_and_tried_again(
    batch: Batch, foreman: User, monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    def broken(*_: object) -> bytes:
        raise ZeroDivisionError

    with monkeypatch.context() as patch:
        patch.setattr(actions, "draw", broken)
        tasks.print_batch(batch.pk)
    shown = page(foreman, "batch", batch.pk)
    assert "Nothing was printed." in shown
    assert "could not be drawn (ZeroDivisionError)" in shown

    with django_capture_on_commit_callbacks(execute=True):
        answer = signed_in(foreman).post(url("retry_batch", batch.pk), follow=True)

    assert "2 sheets are printed again." in answer.content.decode()
    assert "2 of 2 sheets printed" in page(foreman, "batch", batch.pk)


def test_nothing_is_there_to_take_before_it_is_printed(batch: Batch, foreman: User) -> None:
    sheet = batch.sheets.first()
    assert sheet is not None
    assert signed_in(foreman).get(url("batch_file", batch.pk)).status_code == 404
    assert signed_in(foreman).get(url("sheet_file", sheet.pk)).status_code == 404


def test_a_queue_that_is_down_does_not_stop_the_person_and_the_timer_prints(
    machine: Machine, desk: User, monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Any,
) -> None:  # fmt: skip
    def down(*_: object, **__: object) -> None:
        raise OSError("no queue")

    with monkeypatch.context() as patch:
        patch.setattr(tasks.print_batch, "apply_async", down)
        with django_capture_on_commit_callbacks(execute=True):
            answer = signed_in(desk).post(url("ask_sheet", machine.pk))
    assert answer.status_code == 302
    assert Batch.objects.get().state == "asked"

    Batch.objects.update(asked_at=now() - timedelta(minutes=1))
    assert tasks.sweep_prints() == 1

    assert Batch.objects.get().state == "done"


def test_pages_of_paper_ask_the_same_queries_however_many_sheets(
    depot: Depot, foreman: User
) -> None:
    def batch_of(count: int) -> Batch:
        machines = [make_machine(depot) for _ in range(count)]
        batch = ask_sheets(depot=depot, machines=machines, by=foreman, at=now())
        tasks.print_batch(batch.pk)
        return batch

    def queries(name: str, *args: object) -> int:
        client = signed_in(foreman)
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert client.get(url(name, *args)).status_code == 200
        return len(caught)

    few = batch_of(2)
    in_list, of_few = queries("batch_list"), queries("batch", few.pk)
    many = batch_of(6)
    batch_of(1)

    assert queries("batch", many.pk) == of_few <= 12
    assert queries("batch_list") == in_list <= 12
