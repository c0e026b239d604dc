"""Labels and passports through the background: kept as printed, equal when printed again."""

import hashlib
import io
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from django.utils.timezone import now
from pypdf import PdfReader

from maintenance.actions.label import replace_label
from make import make_machine
from plant.actions.machine import free_short_codes
from plant.models import Depot, Machine, Membership, Record, User
from plant.models.machine import new_label_code
from plant.rights import NotAllowed
from plant.text import number_key
from reports.actions import sheet as actions
from reports.actions.sheet import ask_again, ask_sheets, print_batch
from reports.contents.label import old_labels
from reports.contents.paper import Leaf, paper_of
from reports.models import Batch

pytestmark = pytest.mark.usefixtures("rule_sheet")


def run(batch: Batch) -> Batch:
    print_batch(batch.pk, clock=now, until=now() + timedelta(minutes=5))
    batch.refresh_from_db()
    return batch


def ask(by: User, machines: list[Machine], kind: Batch.Kind) -> Batch:
    return ask_sheets(depot=machines[0].depot, machines=machines, by=by, at=now(), kind=kind)


def content(field: Any) -> bytes:
    return Path(field.path).read_bytes()


def codes(data: bytes, *, page: int = 0, dpi: float = 203) -> list[str]:
    drawn = pypdfium2.PdfDocument(data)[page].render(scale=dpi / 72, grayscale=True)
    return sorted(code.text for code in zxingcpp.read_barcodes(drawn.to_numpy()))


def link(machine: Machine) -> str:
    return f"http://localhost:8000/q/{machine.label_code}"


@pytest.fixture
def machines(depot: Depot) -> list[Machine]:
    return [make_machine(depot, number) for number in ("MX-301", "MX-302", "MX-303")]


@pytest.mark.parametrize("kind", [Batch.Kind.LABEL, Batch.Kind.LABEL_SHEET])
def test_labels_are_printed_in_order_and_each_opens_its_machine(
    machines: list[Machine], desk: User, kind: Batch.Kind
) -> None:
    batch = run(ask(desk, machines, kind))

    data = content(batch.file)
    pages = len(PdfReader(io.BytesIO(data)).pages)
    assert batch.state == "done"
    assert batch.title == "3 labels"
    assert pages == (3 if kind == Batch.Kind.LABEL else 1)
    found = [code for page in range(pages) for code in codes(data, page=page)]
    assert sorted(found) == sorted(link(machine) for machine in machines)
    # A label states nothing about a machine, so the chain is not filled with them.
    assert not Record.objects.exists()
    for sheet in batch.sheets.select_related("machine"):
        assert codes(content(sheet.file)) == [link(sheet.machine)]


@pytest.mark.parametrize("kind", [Batch.Kind.LABEL, Batch.Kind.LABEL_SHEET])
def test_a_reprint_of_labels_is_equal_to_the_byte_and_changes_no_link(
    machines: list[Machine], desk: User, kind: Batch.Kind
) -> None:
    batch = run(ask(desk, machines, kind))
    links = [machine.label_code for machine in machines]
    first = hashlib.sha256(content(batch.file)).hexdigest()

    leaves = [
        Leaf(sheet.machine.number, Path(sheet.file.path), sheet.content)
        for sheet in batch.sheets.select_related("machine")
    ]
    again = BytesIO()
    actions.bind(batch, leaves, again)
    Batch.objects.filter(pk=batch.pk).update(state="asked", attempts=0)
    run(batch)

    assert hashlib.sha256(again.getvalue()).hexdigest() == first == batch.sha256
    assert hashlib.sha256(content(batch.file)).hexdigest() == first
    for machine, before in zip(machines, links, strict=True):
        machine.refresh_from_db()
        assert machine.label_code == before
    for sheet in batch.sheets.all():
        assert paper_of(batch).draw(paper_of(batch).content.validate_python(sheet.content)) == (
            content(sheet.file)
        )


def test_a_label_replaced_after_the_print_is_named_there_and_the_file_stays_as_it_was(
    machines: list[Machine], desk: User, foreman: User
) -> None:
    batch = run(ask(desk, machines, Batch.Kind.LABEL))
    before = content(batch.file)
    old = link(machines[0])

    replace_label(machine=machines[0], reason="Copied at the gate", at=now(), by=foreman)

    machines[0].refresh_from_db()
    assert old_labels(batch.sheets.select_related("machine")) == ["MX-301"]
    assert content(batch.file) == before
    afresh = run(ask(desk, [machines[0]], Batch.Kind.LABEL))
    assert codes(content(afresh.file)) == [link(machines[0])] != [old]


def test_five_hundred_labels_are_one_batch_and_one_file(
    depot: Depot, desk: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "MOST_SHEETS", 500)
    kind = make_machine(depot, "AA-1").kind
    short = iter(free_short_codes(500))
    numbers = [f"MX-{n:04d}" for n in range(500)]
    machines = Machine.objects.bulk_create(
        Machine(
            depot=depot, kind=kind, number=number, number_key=number_key(number), supply="e110",
            added_at=now(), short_code=next(short), label_code=new_label_code(),
        )
        for number in numbers
    )  # fmt: skip

    batch = run(ask(desk, machines, Batch.Kind.LABEL_SHEET))

    pages = PdfReader(Path(batch.file.path)).pages
    assert (batch.state, batch.title, len(pages)) == ("done", "500 labels", 21)
    data = content(batch.file)
    assert len(data) < 2_000_000
    assert codes(data, page=20, dpi=300) == sorted(link(machine) for machine in machines[480:])
    with pytest.raises(actions.Refused, match="At most 500"):
        ask(desk, [*machines, Machine.objects.get(number="AA-1")], Batch.Kind.LABEL)


def test_one_label_that_fails_keeps_no_other_back_and_is_named(
    machines: list[Machine], desk: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = actions.draw

    def broken(sheet: Any, kept: Any) -> bytes:
        if sheet.machine.number == "MX-302":
            raise ZeroDivisionError
        return real(sheet, kept)

    with monkeypatch.context() as patch:
        patch.setattr(actions, "draw", broken)
        batch = run(ask(desk, machines, Batch.Kind.LABEL_SHEET))
    assert (batch.state, batch.why) == ("done", "1 of 3 labels not printed.")
    assert len(codes(content(batch.file), dpi=300)) == 2

    assert ask_again(batch=batch, by=desk) == 1
    run(batch)

    assert len(codes(content(batch.file), dpi=300)) == 3


def test_a_passport_is_sealed_and_kept_as_issued(machine: Machine, operator: User) -> None:
    batch = run(ask(operator, [machine], Batch.Kind.PASSPORT))

    sheet = batch.sheets.get()
    assert sheet.record is not None
    assert (sheet.record.kind, sheet.record.role) == ("sheet", "operator")
    assert '"sheet":"passport"' in sheet.record.content
    text = " ".join(PdfReader(Path(sheet.file.path)).pages[0].extract_text().split())
    assert f"record {sheet.record.number}, hash" in text
    kept = content(sheet.file)
    Machine.objects.filter(pk=machine.pk).update(maker="Changed since")
    assert paper_of(batch).draw(paper_of(batch).content.validate_python(sheet.content)) == kept


def test_who_may_not_print_it_asks_for_none(
    machines: list[Machine], operator: User, administrator: User, desk: User, outsider: User
) -> None:
    for user, kind, count in (
        (operator, Batch.Kind.LABEL, 1), (operator, Batch.Kind.PASSPORT, 2),
        (operator, Batch.Kind.SERVICE, 1), (administrator, Batch.Kind.PASSPORT, 1),
        (desk, Batch.Kind.PASSPORT, 2), (outsider, Batch.Kind.LABEL, 1),
    ):  # fmt: skip
        with pytest.raises(NotAllowed):
            ask(user, machines[:count], kind)
    batch = ask(desk, machines, Batch.Kind.LABEL)
    Membership.objects.filter(user=desk).delete()

    run(batch)

    assert batch.state == "failed"
    assert "may no longer print" in batch.sheets.get(position=1).why
