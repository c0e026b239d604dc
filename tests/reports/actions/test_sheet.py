"""Sheets are sealed and printed once each, whoever dies, stalls or runs twice meanwhile."""

import hashlib
import json
import os
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from django.conf import settings
from django.db import connection, connections
from django.db.models.fields.files import FieldFile
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from pypdf import PdfReader

from maintenance.actions.fault import report_fault
from maintenance.models import Job
from make import MONDAY, make_depot, make_drive, make_machine, make_reference, make_user
from plant.actions.refusal import Refused
from plant.length_words import told_in
from plant.models import Chain, Depot, Machine, Membership, Record, Role, User
from plant.models.work import LEASE, LONG_LEASE, MOST_ATTEMPTS
from plant.sealing import Link, verify
from reports.actions import sheet as actions
from reports.actions.sheet import Wanted, ask_again, ask_paper, ask_sheets, left_behind, print_batch
from reports.contents.paper import PAPERS
from reports.models import Batch, Sheet
from reports.pdf.service_sheet import ServiceSheet, render
from reports.tasks import BOOK_HARD_S, BOOK_SOFT_S, STRETCH, print_book

pytestmark = pytest.mark.usefixtures("rule_sheet")
AFTER_LEASE = LEASE + timedelta(seconds=1)
CONTENT = PAPERS[Batch.Kind.SERVICE].content
real_draw, real_bind, real_gather = actions.draw, actions.bind, actions.gather


class Killed(BaseException):
    """What a process feels of kill -9: nothing after it runs."""


@pytest.fixture
def machines(depot: Depot) -> list[Machine]:
    return [make_machine(depot, number) for number in ("MX-301", "MX-302", "MX-303")]


@pytest.fixture
def batch(depot: Depot, machines: list[Machine], foreman: User) -> Batch:
    return ask_sheets(depot=depot, machines=machines, by=foreman, at=now())


def run(batch: Batch, *, after: timedelta = timedelta()) -> bool:
    """One turn of a worker, by a clock that is ahead of ours."""
    return print_batch(
        batch.pk, clock=lambda: now() + after, until=now() + after + timedelta(seconds=60)
    )


def one_at_a_time(patch: pytest.MonkeyPatch) -> None:
    service = PAPERS[Batch.Kind.SERVICE]
    patch.setitem(PAPERS, Batch.Kind.SERVICE, replace(service, together=1))


def states(batch: Batch) -> list[str]:
    return list(batch.sheets.order_by("position").values_list("state", flat=True))


def files(media: Path) -> set[str]:
    return {str(path.relative_to(media)) for path in media.rglob("*") if path.is_file()}


def content(file: FieldFile) -> bytes:
    return Path(file.path).read_bytes()


def named(batch: Batch) -> set[str]:
    batch.refresh_from_db()
    return {
        name for name in (batch.file.name, *batch.sheets.values_list("file", flat=True)) if name
    }


def assert_each_printed_once(batch: Batch, media: Path) -> None:
    batch.refresh_from_db()
    sheets = list(batch.sheets.order_by("position"))
    assert states(batch) == ["done"] * len(sheets)
    assert batch.state == "done"
    records = Record.objects.filter(kind=Record.Kind.SHEET)
    assert sorted(records.values_list("pk", flat=True)) == sorted(s.record_id for s in sheets)
    for sheet in sheets:
        assert hashlib.sha256(content(sheet.file)).hexdigest() == sheet.sha256
        assert sheet.file_record is not None
        told = json.loads(sheet.file_record.content)["data"]["sheets"]
        assert {"number": str(sheet.pk), "sha256": sheet.sha256} in told
    assert hashlib.sha256(content(batch.file)).hexdigest() == batch.sha256
    assert batch.file_record is not None
    of_all = {"batch": str(batch.pk), "sha256": batch.sha256}
    assert json.loads(batch.file_record.content)["data"] == of_all
    bookmarks = PdfReader(Path(batch.file.path)).outline
    assert [getattr(entry, "title", "") for entry in bookmarks] == [
        sheet.machine.number for sheet in sheets
    ]
    assert files(media) == named(batch)
    assert_chain_is_whole(batch.depot)


def assert_chain_is_whole(depot: Depot) -> None:
    rows = Record.objects.filter(depot=depot).order_by("seq")
    links = [Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in rows]
    head = Chain.objects.get(depot=depot)
    report = verify(links, head_seq=head.head_seq, head_hash=head.head_hash)
    assert (report.count, report.bad_seq) == (len(links), None)


def test_a_batch_is_printed_in_order_sealed_and_merged(batch: Batch, media: Path) -> None:
    assert run(batch) is False

    assert_each_printed_once(batch, media)


def test_running_it_again_changes_nothing(batch: Batch, media: Path) -> None:
    run(batch)
    before = (files(media), list(batch.sheets.values_list("sha256", "ended_at")))

    assert run(batch, after=AFTER_LEASE) is False

    assert before == (files(media), list(batch.sheets.values_list("sha256", "ended_at")))
    assert_each_printed_once(batch, media)


def test_a_sheet_says_its_machine_its_fault_and_its_record_on_one_leaf(
    depot: Depot, foreman: User, operator: User
) -> None:
    machine = make_machine(depot, "MX-404", site="Quarry Lane")
    make_drive(machine)
    report_fault(machine=machine, part="drum", told="grinds", stop_now=True, at=MONDAY, by=operator)
    batch = ask_sheets(depot=depot, machines=[machine], by=foreman, at=now())

    run(batch)

    sheet = batch.sheets.get()
    pages = PdfReader(Path(sheet.file.path)).pages
    words = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert len(pages) == sheet.pages <= 2
    assert sheet.record is not None
    for part in ("MX-404", Job.objects.get().number, f"record {sheet.record.number}", foreman.name):
        assert part in words


def test_a_reprint_is_equal_to_the_byte(batch: Batch) -> None:
    run(batch)

    for sheet in batch.sheets.all():
        assert render(CONTENT.validate_python(sheet.content)) == content(sheet.file)


def test_the_sealed_hash_is_that_of_what_was_gathered(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    gathered: list[ServiceSheet] = []

    def gather(*args: Any, **more: Any) -> ServiceSheet:
        gathered.append(real_gather(*args, **more))
        return gathered[-1]

    monkeypatch.setattr(actions, "gather", gather)

    run(batch)

    for sheet, told in zip(batch.sheets.order_by("position"), gathered, strict=True):
        digest = hashlib.sha256(CONTENT.dump_json(told)).hexdigest()
        assert sheet.record is not None
        assert f'"content_sha256":"{digest}"' in sheet.record.content


STEPS = [
    *((step, turn) for step in ("gather", "seal", "draw", "_keep") for turn in (1, 2)),
    ("page_count", 3),
    ("_keep", 4),
    ("bind", 1),
    ("_clear", 1),
]


@pytest.mark.parametrize(("step", "turn"), STEPS)
@pytest.mark.parametrize("when", ["before", "after"])
def test_killed_between_any_two_steps_it_is_finished_by_the_next(
    batch: Batch, media: Path, monkeypatch: pytest.MonkeyPatch, step: str, when: str, turn: int
) -> None:
    real = getattr(actions, step)
    turns = []

    def dying(*args: object, **more: object) -> object:
        turns.append(1)
        if len(turns) == turn and when == "before":
            raise Killed
        result = real(*args, **more)
        if len(turns) == turn:
            raise Killed
        return result

    with monkeypatch.context() as patch:
        patch.setattr(actions, step, dying)
        with pytest.raises(Killed):
            run(batch)

    run(batch, after=AFTER_LEASE)

    assert_each_printed_once(batch, media)


def test_a_dead_workers_sheet_is_left_alone_until_its_lease_is_over(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_at_a_time(monkeypatch)
    with monkeypatch.context() as patch:
        patch.setattr(actions, "draw", _raises(Killed))
        with pytest.raises(Killed):
            run(batch)

    assert run(batch) is False

    assert states(batch) == ["working", "done", "done"]
    batch.refresh_from_db()
    assert batch.state == "asked"


def test_a_worker_that_was_overtaken_changes_nothing_and_leaves_no_file(
    batch: Batch, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stalled: list[int] = []

    def slow(sheet: Sheet, content: Any) -> bytes:
        if not stalled:
            stalled.append(1)
            run(batch, after=AFTER_LEASE)
        return real_draw(sheet, content)

    monkeypatch.setattr(actions, "draw", slow)

    run(batch)

    assert stalled
    assert_each_printed_once(batch, media)


def test_who_merges_too_long_is_overtaken_and_leaves_no_file(
    batch: Batch, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stalled: list[int] = []

    def slow(*args: object, **more: object) -> bytes:
        if not stalled:
            stalled.append(1)
            run(batch, after=AFTER_LEASE)
        return real_bind(*args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(actions, "bind", slow)

    run(batch)

    assert_each_printed_once(batch, media)


def test_one_machines_odd_data_keeps_no_other_sheet_back(
    batch: Batch, media: Path, foreman: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(actions, "draw", _fails_for("MX-302"))
        run(batch)

    assert states(batch) == ["done", "failed", "done"]
    batch.refresh_from_db()
    assert (batch.state, batch.why) == ("done", "1 of 3 sheets not printed.")
    assert "could not be drawn (ZeroDivisionError)" in batch.sheets.get(position=2).why

    assert ask_again(batch=batch, by=foreman) == 1
    run(batch)

    assert_each_printed_once(batch, media)
    assert batch.why == ""


def test_sheets_asked_for_again_while_the_file_is_made_are_in_it_all_the_same(
    batch: Batch, media: Path, foreman: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []

    def interrupted(*args: object, **more: object) -> bytes:
        if not asked:
            asked.append(ask_again(batch=batch, by=foreman))
        return real_bind(*args, **more)  # type: ignore[arg-type]

    with monkeypatch.context() as patch:
        patch.setattr(actions, "draw", _fails_for("MX-301"))
        patch.setattr(actions, "bind", interrupted)
        run(batch)

    assert asked == [1]
    assert states(batch) == ["asked", "done", "done"]
    run(batch)

    assert_each_printed_once(batch, media)


def test_a_sheet_that_kills_three_workers_is_parked_and_the_others_are_merged(
    batch: Batch, foreman: User, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(actions, "draw", _fails_for("MX-302", Killed()))
        for turn in range(MOST_ATTEMPTS):
            with pytest.raises(Killed):
                run(batch, after=turn * AFTER_LEASE)
        run(batch, after=MOST_ATTEMPTS * AFTER_LEASE)

    # The others were taken with it once, and alone after that.
    assert states(batch) == ["done", "failed", "done"]
    assert list(batch.sheets.values_list("attempts", flat=True)) == [2, 3, 2]
    assert "Tried three times" in batch.sheets.get(position=2).why
    batch.refresh_from_db()
    assert batch.state == "done"

    ask_again(batch=batch, by=foreman)
    run(batch)

    assert_each_printed_once(batch, media)


def test_a_batch_of_which_nothing_can_be_printed_fails_and_can_be_tried_again(
    batch: Batch, foreman: User, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(actions, "draw", _raises(ZeroDivisionError()))
        run(batch)
    batch.refresh_from_db()
    assert (batch.state, bool(batch.file)) == ("failed", False)

    assert ask_again(batch=batch, by=foreman) == 3
    run(batch)

    assert_each_printed_once(batch, media)


def test_a_merge_that_kills_three_workers_is_parked_and_can_be_tried_again(
    batch: Batch, foreman: User, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(actions, "bind", _raises(Killed))
        for turn in range(MOST_ATTEMPTS):
            with pytest.raises(Killed):
                run(batch, after=turn * AFTER_LEASE)
    later = now() + MOST_ATTEMPTS * AFTER_LEASE

    assert left_behind(later) == []
    batch.refresh_from_db()
    assert (batch.state, states(batch)) == ("failed", ["done"] * 3)

    assert ask_again(batch=batch, by=foreman) == 0
    run(batch)

    assert_each_printed_once(batch, media)


def test_trying_again_what_has_not_failed_changes_nothing(batch: Batch, foreman: User) -> None:
    run(batch)

    assert ask_again(batch=batch, by=foreman) == 0

    batch.refresh_from_db()
    assert batch.state == "done"


def test_a_full_disk_is_tried_again_without_waiting_for_the_lease(
    batch: Batch, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", _raises(OSError(28, "No space left on device")))
        with pytest.raises(OSError, match="No space"):
            run(batch)
    assert files(media) == set()

    run(batch)

    assert_each_printed_once(batch, media)


def test_nothing_is_drawn_gathered_or_merged_inside_a_transaction(
    transactional_db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = _three_sheets()
    calls = []

    def watch(step: str) -> None:
        real = getattr(actions, step)

        def watched(*args: object, **more: object) -> object:
            assert not connection.in_atomic_block
            calls.append(step)
            return real(*args, **more)

        monkeypatch.setattr(actions, step, watched)

    for step in ("gather", "draw", "bind", "_keep"):
        watch(step)

    run(batch)

    assert {step: calls.count(step) for step in calls} == {
        "gather": 3, "draw": 3, "_keep": 4, "bind": 1,
    }  # fmt: skip
    assert states(batch) == ["done"] * 3


def test_many_workers_at_once_print_each_sheet_once(
    transactional_db: None, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_at_a_time(monkeypatch)
    batch = _three_sheets(12)
    wrong: list[BaseException] = []

    def work() -> None:
        try:
            run(batch)
        except BaseException as error:
            wrong.append(error)
        finally:
            connections.close_all()

    threads = [Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)

    assert wrong == []
    assert_each_printed_once(batch, media)
    assert set(batch.sheets.values_list("attempts", flat=True)) == {1}


def test_paper_states_millimetres_whoever_asks_for_it(
    depot: Depot, machine: Machine, foreman: User, media: Path
) -> None:
    make_drive(machine)
    batch = ask_sheets(depot=depot, machines=[machine], by=foreman, at=now())

    with told_in("in"):
        run(batch)

    (sheet,) = batch.sheets.all()
    text = PdfReader(Path(sheet.file.path)).pages[0].extract_text()
    assert " mm" in text
    assert not re.search(r"\d\.\d+ in\b", text)


def test_it_stops_in_time_and_leaves_the_rest_to_a_later_run(
    batch: Batch, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_at_a_time(monkeypatch)
    ticks = iter(range(100))
    start = now()

    left = print_batch(
        batch.pk,
        clock=lambda: start + timedelta(seconds=next(ticks)),
        until=start + timedelta(seconds=3),
    )

    assert left is True
    assert states(batch) == ["done", "done", "asked"]
    assert run(batch) is False
    assert_each_printed_once(batch, media)


def test_the_times_fit_into_one_another() -> None:
    """A task ends by itself, is ended softly, then by force, and only then is it overtaken."""
    soft = timedelta(seconds=settings.CELERY_TASK_SOFT_TIME_LIMIT)
    hard = timedelta(seconds=settings.CELERY_TASK_TIME_LIMIT)

    assert STRETCH + timedelta(seconds=30) <= soft < hard <= LEASE
    assert BOOK_SOFT_S < BOOK_HARD_S <= LONG_LEASE.total_seconds()
    assert (print_book.soft_time_limit, print_book.time_limit) == (BOOK_SOFT_S, BOOK_HARD_S)


def test_print_pressed_three_times_is_one_print(depot: Depot, foreman: User, media: Path) -> None:
    machine, at = make_machine(depot, "MX-311"), now()
    days = (MONDAY.date(), MONDAY.date() + timedelta(days=90))

    def press(*, days: Any = days, by: User = foreman, later: float = 0) -> Batch:
        return ask_paper(
            depot=depot,
            wanted=[Wanted(machine=machine)],
            by=by,
            at=at + timedelta(seconds=later),
            kind=Batch.Kind.BUNDLE,
            days=days,
        )

    first = press()

    assert press(later=2) == press(later=9) == first
    assert press(later=600) == first, "nothing of it is drawn yet, so it would be the same paper"
    others = {
        press(days=(days[0], days[1] + timedelta(days=1)), later=1),
        press(by=make_user("Fenna", (depot, Role.FOREMAN)), later=1),
    }
    assert first not in others
    assert len(others) == 2

    first.sheets.update(state=Sheet.State.WORKING)
    assert press(later=9) == first
    anew = press(later=11)
    assert anew != first, "something may have been written since it was begun"
    run(anew, after=timedelta(seconds=12))
    assert press(later=13) != anew, "it is done; who asks again wants it again"


def test_print_pressed_by_two_hands_at_once_is_one_print(transactional_db: None) -> None:
    batch, at = _three_sheets(1), now()
    machine, by = batch.sheets.get().machine, batch.asked_by
    depot = batch.depot
    batch.delete()

    def press() -> None:
        try:
            ask_sheets(depot=depot, machines=[machine], by=by, at=at)
        finally:
            connections.close_all()

    threads = [Thread(target=press) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)

    assert Batch.objects.count() == 1


def test_a_depot_that_asks_without_end_is_held_back_for_a_minute(
    depot: Depot, machines: list[Machine], foreman: User
) -> None:
    at = now()
    for n in range(actions.MOST_PRINTS):
        ask_sheets(depot=depot, machines=machines[:1], by=foreman, at=at + timedelta(seconds=n))
        Batch.objects.update(state=Batch.State.DONE)
    client = Client()
    client.force_login(foreman)
    Batch.objects.update(asked_at=now())

    answer = client.post(reverse("reports:ask_sheet", args=[machines[0].pk]))

    assert answer.status_code == 429
    assert 0 < int(answer.headers["Retry-After"]) <= 60
    assert "asked for paper 30 times within a minute. Nothing was saved." in answer.content.decode()
    assert Batch.objects.count() == actions.MOST_PRINTS
    later = now() + timedelta(seconds=61)
    ask_sheets(depot=depot, machines=machines[:1], by=foreman, at=later)


def test_who_may_no_longer_print_gets_no_sheet(batch: Batch, foreman: User) -> None:
    Membership.objects.filter(user=foreman).delete()

    run(batch)

    assert states(batch) == ["failed"] * 3
    assert "may no longer print" in batch.sheets.get(position=1).why
    assert not Record.objects.filter(kind=Record.Kind.SHEET).exists()


def test_a_machine_that_went_to_another_depot_is_not_printed_here(
    batch: Batch, machines: list[Machine], other_depot: Depot
) -> None:
    Machine.objects.filter(pk=machines[1].pk).update(depot=other_depot)

    run(batch)

    assert states(batch) == ["done", "failed", "done"]
    assert "another depot" in batch.sheets.get(position=2).why


def test_a_batch_is_looked_after_once_its_message_is_overdue(batch: Batch) -> None:
    assert left_behind(now()) == []

    assert left_behind(now() + actions.GRACE + timedelta(seconds=1)) == [batch.pk]


def test_a_batch_under_way_is_left_alone_until_the_lease_is_over(
    batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(actions, "draw", _raises(Killed))
        with pytest.raises(Killed):
            run(batch)

    assert left_behind(now() + timedelta(seconds=60)) == []
    assert left_behind(now() + AFTER_LEASE) == [batch.pk]


def test_a_finished_batch_is_left_alone(batch: Batch) -> None:
    run(batch)

    assert left_behind(now() + timedelta(days=1)) == []


def test_what_cannot_be_asked_for_says_why(
    depot: Depot, other_depot: Depot, machines: list[Machine], foreman: User,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def refusal(wanted: list[Machine]) -> str:
        with pytest.raises(Refused) as refused:
            ask_sheets(depot=depot, machines=wanted, by=foreman, at=now())
        return str(refused.value)

    assert "at least one" in refusal([])
    assert "one depot" in refusal([*machines, make_machine(other_depot)])
    assert "once" in refusal([machines[0], machines[0]])
    monkeypatch.setattr(actions, "MOST_SHEETS", 2)
    assert "At most 2" in refusal(machines)
    assert not Batch.objects.exists()


def test_who_has_no_right_asks_for_nothing(
    depot: Depot, machines: list[Machine], operator: User, desk: User, outsider: User, batch: Batch
) -> None:
    for who, wanted in ((operator, 1), (desk, 2), (outsider, 1)):
        with pytest.raises(PermissionError):
            ask_sheets(depot=depot, machines=machines[:wanted], by=who, at=now())
    with pytest.raises(PermissionError):
        ask_again(batch=batch, by=operator)

    assert Batch.objects.count() == 1


def _three_sheets(count: int = 3) -> Batch:
    make_reference()
    depot = make_depot()
    machines = [make_machine(depot, f"PC-{n:03d}") for n in range(1, count + 1)]
    foreman = make_user("Freya Foreman", (depot, Role.FOREMAN))
    return ask_sheets(depot=depot, machines=machines, by=foreman, at=now())


def _raises(wrong: BaseException | type[BaseException]) -> Callable[..., None]:
    def raising(*args: object, **more: object) -> None:
        raise wrong

    return raising


def _fails_for(number: str, wrong: BaseException | None = None) -> Callable[..., bytes]:
    """Draws every sheet but that of one machine."""

    def drawing(sheet: Sheet, content: Any) -> bytes:
        if sheet.machine.number == number:
            raise wrong or ZeroDivisionError
        return real_draw(sheet, content)

    return drawing
