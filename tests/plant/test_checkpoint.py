"""Whoever can write the whole database still cannot change what was sealed without being found."""

import json
import uuid
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from make import MONDAY, make_machine
from plant import seals
from plant.actions.checkpoint import sign_chains, sign_when_old
from plant.actions.record import seal
from plant.contents.chain import check_chain
from plant.contents.checkpoint import anchors, last_signed
from plant.models import Chain, Depot, Machine, Record, RecordPhoto, RecordText, User
from plant.sealing import NO_HASH, chain_hash, content_hash

LAST = 6


@pytest.fixture(autouse=True)
def _kept_here(settings, tmp_path: Path) -> None:
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path, tmp_path / "media"
    settings.CHECKPOINT_KEY = tmp_path / "key" / "checkpoint.key"
    settings.CHECKPOINT_KEY.parent.mkdir()


@pytest.fixture
def chain(depot: Depot, machine: Machine, fitter: User) -> Depot:
    """Six records with texts and a photo, the seals lifted as by somebody who owns the database."""
    for number in range(1, LAST + 1):
        with transaction.atomic():
            seal(
                kind=Record.Kind.FAULT, depot=depot, machine=machine,
                data={"figure": str(number)}, happened_at=MONDAY, received_at=MONDAY, by=fitter,
                role="fitter", texts={"note": f"Note {number}"}, photos={"guard": b"picture"},
                corrects=Record.objects.filter(seq=1).first() if number == LAST else None,
            )  # fmt: skip
    seals.lift(connection)
    return depot


def told(depot: Depot) -> tuple[int | None, str]:
    report = check_chain(depot, anchors=anchors().get(depot.code, ()))
    return report.bad_seq, report.what


def test_what_nobody_touched_is_as_it_was_sealed(chain: Depot) -> None:
    sign_chains(at=MONDAY)
    report = check_chain(chain, anchors=anchors()[chain.code])
    assert (report.bad_seq, report.count) == (None, LAST)


COLUMNS = (
    "id", "kind", "machine_id", "by_id", "role", "happened_at", "received_at", "corrects_id",
    "content", "content_hash", "previous_hash", "hash", "depot_id", "seq",
)  # fmt: skip


def test_each_column_of_a_record_is_in_the_table_below() -> None:
    assert {field.attname for field in Record._meta.concrete_fields} == set(COLUMNS)


@pytest.mark.parametrize("column", COLUMNS)
def test_a_change_of_any_column_is_found_at_its_record(
    chain: Depot, other_depot: Depot, foreman: User, column: str
) -> None:
    """Of the last record, which no later link gives away."""
    record = Record.objects.get(seq=LAST)
    value = {
        "id": uuid.uuid4(),
        "kind": "stop",
        "machine_id": make_machine(chain, "MX-204").pk,
        "by_id": foreman.pk,
        "role": "foreman",
        "happened_at": MONDAY + timedelta(milliseconds=1),
        "received_at": MONDAY + timedelta(milliseconds=1),
        "corrects_id": Record.objects.get(seq=2).pk,
        "content": record.content.replace("fitter", "fixter"),
        "depot_id": other_depot.pk,
        "seq": LAST + 1,
    }.get(column, "0" * 64)
    Record.objects.filter(pk=record.pk).update(**{column: value})
    if column == "id":
        RecordText.objects.filter(record_id=record.pk).update(record_id=value)
        RecordPhoto.objects.filter(record_id=record.pk).update(record_id=value)
    bad, what = told(chain)
    assert bad == LAST
    assert what.startswith("missing" if column in ("depot_id", "seq") else ("changed", "reordered"))


@pytest.mark.parametrize("content", ["", "{}", "[]", "null", '{"machine":1}'])
def test_content_that_is_none_is_named_and_stops_nothing(chain: Depot, content: str) -> None:
    Record.objects.filter(seq=3).update(content=content)
    assert told(chain) == (3, "changed: the content is not as sealed")


@pytest.mark.parametrize("name", ["note", "by_name"])
@pytest.mark.parametrize("column", ["text", "salt"])
def test_a_changed_text_is_found_and_an_erased_one_is_no_fault(
    chain: Depot, name: str, column: str
) -> None:
    text = RecordText.objects.filter(record__seq=3, name=name)
    before = text.values(column).get()[column]
    text.update(**{column: "00" + before[2:]})
    assert told(chain) == (3, f"changed: the text {name} is not what was sealed")
    with transaction.atomic():
        by_law = seal(
            kind=Record.Kind.ERASED, depot=chain, data={}, happened_at=MONDAY,
            received_at=MONDAY, by=None, role="rule",
        )  # fmt: skip
    text.update(text="", salt="", erased_at=MONDAY, erased_with=by_law)
    assert told(chain)[0] is None
    # Forged words beside a mark that they are gone; a mark that no record of erasing stands behind.
    for forged in ({"text": "Other words"}, {"salt": "00"}, {"erased_with": None}):
        with transaction.atomic():
            text.update(**forged)
            assert told(chain) == (3, f"changed: the text {name} was not erased by a record")
            transaction.set_rollback(True)


def test_a_removed_text_and_one_put_in_are_found(chain: Depot) -> None:
    text = RecordText.objects.get(record__seq=3, name="note")
    RecordText.objects.filter(pk=text.pk).update(name="other")
    assert told(chain) == (3, "changed: its texts are not those that were sealed")


def test_a_changed_and_a_missing_photo_are_found(chain: Depot) -> None:
    photo = RecordPhoto.objects.get(record__seq=4)
    path = Path(photo.file.path)
    path.write_bytes(b"another picture")
    assert told(chain) == (4, "changed: the photo guard is not what was sealed")
    path.unlink()
    assert told(chain) == (4, "changed: the photo guard is missing from the files")


@pytest.mark.parametrize("seq", [2, LAST])
def test_a_tail_written_anew_with_hashes_that_fit_is_found_by_the_checkpoint(
    chain: Depot, seq: int
) -> None:
    path = sign_chains(at=MONDAY)
    record = Record.objects.get(seq=seq)
    content = record.content.replace(f'"figure":"{seq}"', '"figure":"9"')
    Record.objects.filter(pk=record.pk).update(content=content)
    _seal_anew(chain, since=seq)
    assert told(chain) == (
        LAST, "checkpoint mismatch: written anew since 2026-03-02T09:00:00.000Z, here or before"
    )  # fmt: skip
    path.unlink()
    assert told(chain)[0] is None, "without the checkpoint it would not have been found"


def test_a_tail_cut_off_with_its_head_is_found_by_the_checkpoint(chain: Depot) -> None:
    sign_chains(at=MONDAY)
    last = Record.objects.get(seq=LAST)
    RecordText.objects.filter(record=last).delete()
    RecordPhoto.objects.filter(record=last).delete()
    Record.objects.filter(pk=last.pk).delete()
    Chain.objects.update(head_seq=LAST - 1, head_hash=last.previous_hash)
    bad, what = told(chain)
    assert (bad, what.split(":")[0]) == (LAST, "checkpoint mismatch")


def _seal_anew(depot: Depot, *, since: int) -> None:
    """Writes the tail of a chain with hashes that fit, as a thief of the database would."""
    before = Record.objects.filter(depot=depot, seq=since - 1).first()
    previous = before.hash if before else NO_HASH
    for record in Record.objects.filter(depot=depot, seq__gte=since).order_by("seq"):
        digest = content_hash(record.content)
        link = chain_hash(previous=previous, content=digest)
        Record.objects.filter(pk=record.pk).update(
            content_hash=digest, previous_hash=previous, hash=link
        )
        previous = link
    Chain.objects.filter(depot=depot).update(head_hash=previous)


def test_a_checkpoint_that_was_written_by_somebody_else_is_refused(chain: Depot) -> None:
    path = sign_chains(at=MONDAY)
    told_ = json.loads(path.read_text())
    told_["checkpoint"] = told_["checkpoint"].replace('"seq":"6"', '"seq":"5"')
    path.write_text(json.dumps(told_))
    out = StringIO()
    with pytest.raises(CommandError) as refused:
        call_command("verify_chain", stdout=out)
    assert refused.value.returncode == 1
    assert "the signature is not of our key" in out.getvalue()


def test_the_signature_holds_by_the_file_alone(chain: Depot, settings) -> None:
    """A stranger needs the file and our public key; RFC 8032 says how it is checked."""
    told_ = json.loads(sign_chains(at=MONDAY).read_text())
    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(told_["key"]))
    key.verify(bytes.fromhex(told_["signature"]), told_["checkpoint"].encode())
    head = Chain.objects.get(depot=chain)
    assert f'"hash":"{head.head_hash}","seq":"{LAST}"' in told_["checkpoint"]
    assert settings.CHECKPOINT_KEY.stat().st_mode & 0o777 == 0o600


def test_the_command_names_the_first_record_that_is_wrong(chain: Depot) -> None:
    out = StringIO()
    call_command("verify_chain", stdout=out)
    assert "north: 6 records" in out.getvalue()
    assert "all as sealed" in out.getvalue()
    Record.objects.filter(seq=3).update(role="foreman")
    with pytest.raises(CommandError) as refused:
        call_command("verify_chain", depot="north", stdout=out)
    assert refused.value.returncode == 1
    assert "record NORTH-3: changed: the column role is not what was sealed" in out.getvalue()


def test_one_checkpoint_a_day_is_signed_and_a_second_round_adds_none(chain: Depot) -> None:
    assert sign_when_old(at=MONDAY) is not None
    assert sign_when_old(at=MONDAY + timedelta(hours=22)) is None
    assert sign_when_old(at=MONDAY + timedelta(hours=24)) is not None
    assert last_signed() == MONDAY + timedelta(hours=24)
