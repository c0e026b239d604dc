"""A record is sealed whole, in order, with its effect, and the database refuses to change it."""

import json
from datetime import timedelta
from threading import Thread

import pytest
from django.db import DatabaseError, connection, connections, transaction

from make import MONDAY, make_depot
from plant.actions.record import new_id, seal
from plant.models import Chain, Depot, Machine, Record, RecordText, User
from plant.sealing import Link, commitment, verify


def seal_one(depot: Depot, **more):
    given = {
        "kind": Record.Kind.METER,
        "data": {"dial": {"typed": "12.5 h", "si": "45000", "unit": "s"}},
        "happened_at": MONDAY,
        "received_at": MONDAY + timedelta(minutes=1),
        "by": None,
        "role": "label",
        "by_name": "Zoë",
    }
    with transaction.atomic():
        return seal(depot=depot, **given | more)


def links_of(depot: Depot) -> list[Link]:
    rows = Record.objects.filter(depot=depot).order_by("seq")
    return [Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in rows]


def chain_report(depot: Depot):
    head = Chain.objects.get(depot=depot)
    return verify(links_of(depot), head_seq=head.head_seq, head_hash=head.head_hash)


def test_records_are_numbered_without_gaps_in_each_depot(depot: Depot, other_depot: Depot) -> None:
    for _ in range(3):
        seal_one(depot)
    seal_one(other_depot)

    assert [link.seq for link in links_of(depot)] == [1, 2, 3]
    assert [link.seq for link in links_of(other_depot)] == [1]
    assert chain_report(depot).bad_seq is None
    assert chain_report(other_depot).bad_seq is None


def test_names_and_notes_stand_in_the_chain_as_commitments_only(
    depot: Depot, machine: Machine, fitter: User
) -> None:
    record = seal_one(depot, machine=machine, by=fitter, role="fitter", texts={"note": "Café wall"})

    content = json.loads(record.content)
    kept = {text.name: text for text in record.texts.all()}
    assert "Café" not in record.content
    assert fitter.name not in record.content
    assert kept["note"].text == "Café wall"
    assert kept["by_name"].text == fitter.name
    for name, text in kept.items():
        assert content["texts"][name] == commitment(salt=text.salt, text=text.text)
    assert content["machine"]["number"] == "MX-203"


def test_a_record_outside_a_transaction_is_refused(transactional_db: None) -> None:
    depot = make_depot()

    with pytest.raises(transaction.TransactionManagementError):
        seal(
            kind=Record.Kind.METER, depot=depot, data={}, happened_at=MONDAY, received_at=MONDAY,
            by=None, role="label",
        )  # fmt: skip

    assert not Record.objects.exists()


def test_an_effect_that_fails_takes_its_record_with_it(depot: Depot) -> None:
    def effect() -> None:
        seal_one(depot)
        raise RuntimeError

    with pytest.raises(RuntimeError), transaction.atomic():
        effect()

    seal_one(depot)
    assert [link.seq for link in links_of(depot)] == [1]


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE plant_record SET role = 'manager'",
        "UPDATE plant_record SET content = content",
        "DELETE FROM plant_record",
        "UPDATE plant_recordtext SET text = 'Zoe'",
        "UPDATE plant_recordtext SET text = '', salt = ''",
        "UPDATE plant_recordtext SET name = 'x', text = '', salt = '', "
        "erased_at = '2026-03-02 09:00+00:00'",
        "DELETE FROM plant_recordtext",
        "UPDATE plant_chain SET head_seq = 0",
        "UPDATE plant_chain SET head_hash = 'x'",
        "DELETE FROM plant_chain",
    ],
)
def test_the_database_refuses_to_change_what_is_sealed(depot: Depot, change: str) -> None:
    seal_one(depot)

    with pytest.raises(DatabaseError, match=r"sealed|erased|chain"), transaction.atomic():
        connection.cursor().execute(change)

    assert chain_report(depot).bad_seq is None


def test_replacing_a_record_does_not_slip_past_the_seal(depot: Depot) -> None:
    if connection.vendor != "sqlite":
        with pytest.raises(DatabaseError, match="sealed"), transaction.atomic():
            connection.cursor().execute("TRUNCATE plant_record CASCADE")
        return
    seal_one(depot)

    with pytest.raises(DatabaseError, match="sealed"), transaction.atomic():
        connection.cursor().execute(
            "INSERT OR REPLACE INTO plant_record SELECT * FROM plant_record"
        )


def test_a_name_can_be_erased_and_the_chain_still_verifies(depot: Depot) -> None:
    record = seal_one(depot)

    RecordText.objects.filter(record=record).update(text="", salt="", erased_at=MONDAY)

    assert record.texts.get().text == ""
    assert chain_report(depot).bad_seq is None


def test_many_threads_seal_at_once_without_a_gap_or_a_fork(transactional_db: None) -> None:
    depot = make_depot()
    wrong: list[BaseException] = []

    def write() -> None:
        try:
            for _ in range(10):
                seal_one(depot)
        except BaseException as error:
            wrong.append(error)
        finally:
            connections.close_all()

    threads = [Thread(target=write) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)

    assert wrong == []
    report = chain_report(depot)
    assert (report.count, report.bad_seq) == (40, None)


def test_ids_are_version_7_and_in_order() -> None:
    """RFC 9562, section 5.7: 48 bits of time, version 7, variant 10."""
    first, later = new_id(), new_id()

    assert (first.version, first.variant) == (7, "specified in RFC 4122")
    assert first.int >> 80 <= later.int >> 80
