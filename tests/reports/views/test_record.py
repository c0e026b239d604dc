"""From a record or a stopped machine to its paper: who sees the button, and what is refused."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from pypdf import PdfReader

from bench import CLASS_I, class_i, ohm
from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.job import call_off_job
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stop import decide_stop, stop_machine
from maintenance.models import Stop
from maintenance.rules.check import Given
from make import make_instrument, make_machine
from plant.models import Depot, Machine, Record, User
from reports.actions.sheet import Wanted, ask_paper, ask_sheets, print_batch
from reports.models import Batch, Sheet

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def shown(user: User, name: str, pk: object) -> str:
    answer = signed_in(user).get(reverse(f"maintenance:{name}", args=[pk]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def checked(machine: Machine, by: User, wrong: bool = False) -> Record:
    _, asked = questions(machine, at=now())
    answers = {q.key: Given(answer="ok") for q in asked}
    if wrong:
        answers["cable_plug"] = Given(answer="wrong", word="Cut")
    return record_check(machine=machine, answers=answers, at=now(), by=by).record


def pressed(user: User, name: str, pk: object) -> Any:
    return signed_in(user).post(reverse(f"reports:{name}", args=[pk]), follow=True)


def words_of(sheet: Sheet) -> str:
    sheet.refresh_from_db()
    assert sheet.state == Sheet.State.DONE, sheet.why
    with sheet.file.open("rb") as file:
        return " ".join(" ".join(p.extract_text() for p in PdfReader(file).pages).split())


def test_the_desk_prints_a_check_in_one_press_and_it_is_sealed(
    machine: Machine, operator: User, desk: User, django_capture_on_commit_callbacks: Any
) -> None:
    record = checked(machine, operator)
    ask = reverse("reports:ask_record", args=[record.pk])
    assert ask in shown(desk, "record", record.pk)
    assert ask not in shown(operator, "record", record.pk)

    with django_capture_on_commit_callbacks(execute=True):
        answer = pressed(desk, "ask_record", record.pk)

    sheet = Sheet.objects.get()
    assert (sheet.about, sheet.batch.kind) == (record, Batch.Kind.INSPECTION)
    assert sheet.batch.title == f"Record of MX-203, {record.number}"
    assert sheet.batch.title in answer.content.decode()
    words = words_of(sheet)
    assert sheet.record is not None
    # At the foot the record of the printing, in the page that of the check.
    assert f"record {sheet.record.number}, hash" in words
    assert f"Sealed as record {record.number}" in words


def test_a_record_without_a_paper_of_its_own_is_not_there(
    machine: Machine, operator: User, desk: User
) -> None:
    stop = stop_machine(machine=machine, told="guard gone", at=now(), by=operator)

    assert pressed(desk, "ask_record", stop.record_id).status_code == 404
    assert pressed(desk, "ask_fail_tag", stop.record_id).status_code == 404
    assert reverse("reports:ask_record", args=[stop.record_id]) not in shown(
        desk, "record", stop.record_id
    )
    assert not Batch.objects.exists()


def test_a_stopped_machine_gets_its_tag_and_a_free_one_is_refused_in_words(
    machine: Machine, operator: User, desk: User, django_capture_on_commit_callbacks: Any
) -> None:
    ask = reverse("reports:ask_stop_tag", args=[machine.pk])
    assert ask not in shown(desk, "machine", machine.pk)
    refused = pressed(desk, "ask_stop_tag", machine.pk).content.decode()
    assert "MX-203 is not stopped now, so it gets no tag. Nothing was asked for." in refused
    assert not Batch.objects.exists()
    machine.depot.phone = "01632 960 101"
    machine.depot.save()
    record = checked(machine, operator, wrong=True)
    assert ask in shown(desk, "machine", machine.pk)
    assert ask in shown(desk, "sent", record.pk)
    assert ask not in shown(operator, "sent", record.pk)

    with django_capture_on_commit_callbacks(execute=True):
        pressed(desk, "ask_stop_tag", machine.pk)

    words = words_of(Sheet.objects.get())
    job = Stop.objects.get().job
    assert job is not None
    for part in ("DO NOT", "USE", "MX-203", "Cut", "by Olwen Operator", job.number, record.number,
                 "only the release check frees this machine", "01632 960 101", "lock it off",
                 "Guards back"):  # fmt: skip
        assert part in words, part


def test_a_machine_freed_before_the_printing_gets_no_tag(
    machine: Machine, operator: User, desk: User, foreman: User
) -> None:
    stop = stop_machine(machine=machine, told="guard gone", at=now(), by=operator)
    batch = ask_sheets(
        depot=machine.depot, machines=[machine], by=desk, at=now(), kind=Batch.Kind.STOP_TAG
    )
    assert stop.job is not None
    call_off_job(
        job=stop.job, reason="The guard was on all the time", at=now(), by=foreman,
        answer="The guard was found to be on.",
    )  # fmt: skip
    release_machine(
        machine=machine, frees=[stop], looks={key: "right" for key, _ in LOOKS}, at=now(),
        by=foreman,
    )  # fmt: skip

    print_batch(batch.pk, clock=now, until=now() + timedelta(minutes=1))

    sheet = Sheet.objects.get()
    assert sheet.state == Sheet.State.FAILED
    assert "MX-203 is not stopped now" in sheet.why
    assert not Record.objects.filter(kind=Record.Kind.SHEET).exists()


def test_a_note_to_carry_on_is_no_stop_until_its_last_day_is_past(
    machine: Machine, operator: User, desk: User, foreman: User
) -> None:
    report_fault(
        machine=machine, part="stands_level", told="wheel stiff", stop_now=False, at=now(),
        by=operator,
    )  # fmt: skip
    decide_stop(
        stop=Stop.objects.get(), carry_on_until=now().date() + timedelta(days=2),
        reason="One wheel is stiff, not loose", answer="Use it on level ground.", at=now(),
        by=foreman,
    )  # fmt: skip

    assert "is not stopped now" in pressed(desk, "ask_stop_tag", machine.pk).content.decode()
    Stop.objects.update(until=now().date() - timedelta(days=1))
    pressed(desk, "ask_stop_tag", machine.pk)
    assert Batch.objects.get().title == "Do not use tag of MX-203"


def test_a_failed_test_gets_its_tag_until_it_was_freed_and_a_passed_one_none(
    depot: Depot, manager: User, fitter: User, desk: User, django_capture_on_commit_callbacks: Any
) -> None:
    mixer = make_machine(depot, "MX-300", protection="I")
    make_instrument(depot, manager, calibrated=(now().date(), now().date() + timedelta(days=99)))
    failed = class_i(mixer, fitter, readings=CLASS_I | {"earth": ohm("0.9")}, at=now()).record
    passed = class_i(mixer, fitter, at=now()).record
    assert reverse("reports:ask_fail_tag", args=[failed.pk]) in shown(fitter, "record", failed.pk)
    assert reverse("reports:ask_fail_tag", args=[passed.pk]) not in shown(
        fitter, "record", passed.pk
    )
    told = pressed(desk, "ask_fail_tag", passed.pk).content.decode()
    assert "This test was passed, so it gets no tag. Nothing was asked for." in told

    with django_capture_on_commit_callbacks(execute=True):
        pressed(desk, "ask_fail_tag", failed.pk)

    words = words_of(Sheet.objects.get())
    for part in ("Failed electrical test", "Earth path: 0.9", "Limit: at most 0.1 ohm",
                 "Bench tester", "must pass before the release check"):  # fmt: skip
        assert part in words, part
    stop = Stop.objects.get()
    Stop.objects.filter(pk=stop.pk).update(released_by=passed)
    told = pressed(desk, "ask_fail_tag", failed.pk).content.decode()
    assert "MX-300 was freed since this test failed, so it gets no tag." in told


def test_the_records_of_many_machines_are_one_file_for_who_prints_many(
    depot: Depot, operator: User, desk: User, foreman: User
) -> None:
    machines = [make_machine(depot, number) for number in ("MX-301", "MX-302")]
    wanted = [Wanted(machine=m, about=checked(m, operator)) for m in machines]
    given: dict[str, Any] = {
        "depot": depot, "wanted": wanted, "at": now(), "kind": Batch.Kind.INSPECTION
    }  # fmt: skip
    with pytest.raises(PermissionError):
        ask_paper(by=desk, **given)

    batch = ask_paper(by=foreman, **given)
    print_batch(batch.pk, clock=now, until=now() + timedelta(minutes=1))

    batch.refresh_from_db()
    with batch.file.open("rb") as file:
        marks = [str(each.title) for each in PdfReader(file).outline]  # type: ignore[union-attr]
    assert marks == [f"{each.machine}, {each.about.number}" for each in wanted if each.about]


def test_the_code_on_a_paper_fills_the_page_that_says_whether_it_stands(
    machine: Machine, operator: User
) -> None:
    record = checked(machine, operator)
    asked = {"number": record.number, "digits": record.hash[:16]}

    page = Client().get(reverse("reports:sealed"), asked).content.decode()
    hostile = Client().get(
        reverse("reports:sealed"), {"number": '"><script>', "digits": "x" * 9000}
    )

    assert f'value="{record.number}"' in page
    assert f'value="{record.hash[:16]}"' in page
    assert b"<script>" not in hostile.content.partition(b"<main")[2]
    assert len(hostile.content) < len(page) + 500
