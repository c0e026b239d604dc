"""Every address, walked as everybody: who gets in, who is told no, and what each may learn."""

import io
import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from http.cookies import SimpleCookie
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from addresses import (
    ADDRESSES,
    EVERYBODY,
    NOW,
    SIGNED_IN,
    World,
    body,
    make_world,
    names_of_the_site,
    signed_in,
)
from maintenance.models import Skill
from make import make_competence, make_user
from plant.actions.machine_import import ask_import, read_import
from plant.models import Machine, MachineImport, Membership, Record, Role, User
from plant.rights import TABLE, Right
from reports.actions.sheet import ask_sheets, print_batch

OURS, THEIRS = "quolm", "zvarb"


@pytest.fixture
def theirs(ours: World) -> World:
    return make_world(code="theirs", marker=THEIRS, at=NOW)


@contextmanager
def undone() -> Iterator[None]:
    """What is done inside leaves no trace, so that each visit finds the same world."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def visit(client: Client, method: str, address: str) -> Any:
    """Asks once and leaves no trace; ``all`` is the whole answer."""
    cookies = SimpleCookie(client.cookies.output(header="", sep=";"))
    with undone():
        response: Any = client.generic(method, address)
        response.all = body(response)
    client.cookies = cookies  # signing out was undone too
    return response


def everybody_of(world: World) -> User:
    """One person with all roles and competences in this depot and none elsewhere."""
    person = make_user(f"All {world.marker}", *((world.depot, role) for role in Role))
    for skill in Skill:
        make_competence(person, world.depot, skill, by=world.people[Role.ADMINISTRATOR])
    return person


def test_the_table_knows_every_address() -> None:
    assert names_of_the_site() == set(ADDRESSES)


def test_who_is_not_signed_in_is_sent_to_the_door(ours: World) -> None:
    client = signed_in(None)
    for name, page in ADDRESSES.items():
        if page.who == EVERYBODY:
            continue
        for method in ("GET", "POST"):
            response = visit(client, method, ours.address(name))
            assert response.status_code == 302, (name, method)
            assert response["Location"].startswith("/sign-in?next=/"), (name, method)
            assert OURS.encode() not in response.all


@pytest.mark.parametrize("role", list(Role))
def test_each_role_gets_what_the_table_gives_it_and_no_more(
    ours: World, role: Role, caplog: pytest.LogCaptureFixture
) -> None:
    client = signed_in(ours.people[role])
    for name, page in ADDRESSES.items():
        for method in ("GET", "POST"):
            caplog.clear()
            with caplog.at_level(logging.WARNING, logger="security"):
                response = visit(client, method, ours.address(name))
            status, refused = response.status_code, [r.msg for r in caplog.records]
            if not page.takes(method):
                assert status == 405, (name, method, status)
            elif page.lets_in(role):
                if name != "plant:health_json":  # 503 is its way to say that nothing runs
                    assert status in {200, 302, 422}, (name, method, status)
                assert "refused" not in refused, (name, method)
            else:
                assert status == 403, (name, method, status)
                assert "refused" in refused, (name, method)
                assert b"Nothing was changed." in response.all


def test_other_methods_are_not_taken(ours: World) -> None:
    client = signed_in(everybody_of(ours))
    for name in ADDRESSES:
        for method in ("PUT", "PATCH", "DELETE", "TRACE", "OPTIONS", "BREW"):
            response = visit(client, method, ours.address(name))
            assert response.status_code == 405, (name, method)


def test_asking_for_the_head_alone_is_answered_like_asking_for_the_page(ours: World) -> None:
    client = signed_in(everybody_of(ours))
    for name, page in ADDRESSES.items():
        if page.get:
            statuses = [visit(client, m, ours.address(name)).status_code for m in ("GET", "HEAD")]
            assert statuses[0] == statuses[1], name


def test_another_depots_thing_is_answered_like_a_made_up_one(ours: World, theirs: World) -> None:
    client = signed_in(everybody_of(ours))
    seen = 0
    for name, page in ADDRESSES.items():
        if not page.fills or page.shared or page.who == EVERYBODY:
            continue
        for method in ("GET", "POST"):
            real = visit(client, method, theirs.address(name))
            made_up = visit(client, method, theirs.made_up(name))
            assert real.status_code == (404 if page.takes(method) else 405), (name, method)
            assert made_up.status_code == real.status_code
            assert without_tokens(made_up.all) == without_tokens(real.all), (name, method)
            assert dict(made_up.headers) == dict(real.headers), (name, method)
            seen += real.status_code == 404
    assert seen > 50


def without_tokens(page: bytes) -> bytes:
    """Without what is new each time: the token of the form, and the number of its entry."""
    page = re.sub(rb"[A-Za-z0-9]{64}", b"token", page)
    return re.sub(rb'name="entry" value="[0-9a-f-]{36}"', b"", page)


def told(response: Any) -> bytes:
    """The words of an answer; of a PDF its text as well as its bytes."""
    shown: bytes = response.all
    if response["Content-Type"] == "application/pdf":
        pages = PdfReader(io.BytesIO(response.all)).pages
        return shown + "".join(page.extract_text() for page in pages).encode()
    return without_tokens(shown)


def readable(world: World) -> dict[str, str]:
    """Every address that can be read, and the lists asked in several ways."""
    found = {name: world.address(name) for name, page in ADDRESSES.items() if page.get}
    lists = (
        "maintenance:machine_list", "maintenance:job_list", "maintenance:due_list",
        "maintenance:find", "maintenance:held", "maintenance:belts", "maintenance:rack",
    )  # fmt: skip
    for name in lists:
        for query in (f"?q={THEIRS}", f"?q={THEIRS[:5]}-1", "?q=zv", "?state=all", "?csv=1"):
            found[name + query] = reverse(name) + query
    accounts = reverse("plant:account_list")
    for query in (f"?q={THEIRS}", "?q=zv", "?state=left", "?role=fitter&sort=-last"):
        found[f"accounts {query} {THEIRS}"] = accounts + query
    out_in = reverse("maintenance:out_in")
    for query in (f"?q={THEIRS}", f"?q={THEIRS[:5]}-1", "?list=moving", "?list=untold"):
        found[f"out and in {query} {THEIRS}"] = out_in + query
    for query in ("?place=out&csv=1", "?use=do-not-use", "?sort=-depot"):
        found["list" + query] = reverse("maintenance:machine_list") + query
    return found


def test_not_a_byte_of_another_depot_is_in_any_answer(ours: World) -> None:
    """Pages, lists, counts, searches, files and sheets are equal with and without the other."""
    client = signed_in(everybody_of(ours))
    walk = readable(ours)
    alone = {name: told(visit(client, "GET", address)) for name, address in walk.items()}
    theirs = make_world(code="theirs", marker=THEIRS, at=NOW)

    for name, address in walk.items():
        beside = told(visit(client, "GET", address))
        # What was looked for stands in the box it was typed into.
        asked = beside.count(THEIRS.encode()) if THEIRS in name else 0
        # How full the disk is changes by itself, and is of no depot.
        assert beside == alone[name] or name == "plant:health", name
        assert asked or THEIRS.encode() not in beside, name
    assert theirs.marker.encode() in told(
        visit(signed_in(everybody_of(theirs)), "GET", reverse("maintenance:machine_list"))
    )


def test_own_words_are_where_they_are_looked_for(ours: World) -> None:
    """The walk above would prove nothing if the pages were empty."""
    client = signed_in(everybody_of(ours))
    for name in (
        "maintenance:machine_list", "maintenance:job_list", "maintenance:due_list",
        "maintenance:machine", "maintenance:record", "maintenance:drive", "maintenance:job",
        "reports:today", "reports:batch_list", "reports:batch", "reports:sheet_file",
        "plant:machine_import", "plant:import_list", "plant:import_left_over",
        "maintenance:readings_file", "maintenance:readings_file_list",
    ):  # fmt: skip
        words = told(visit(client, "GET", ours.address(name))).lower()
        assert OURS.encode() in words, name


def test_refusals_tell_nothing_of_the_other_depot(ours: World, theirs: World) -> None:
    client = signed_in(everybody_of(ours))
    number = theirs.machine.number
    entered = {
        "number": number, "kind": ours.machine.kind_id, "supply": "e230", "depot": ours.depot.pk,
        "serial": theirs.machine.serial,
    }  # fmt: skip
    answers = [
        client.post(ours.address("maintenance:add_machine"), entered),
        client.post(ours.address("maintenance:edit_machine"), entered),
        client.post(
            ours.address("reports:ask_batch"),
            {"depot": ours.depot.pk, "kind": "service", "which": "listed", "numbers": number},
        ),
        client.post(
            ours.address("reports:ask_batch"),
            {"depot": theirs.depot.pk, "kind": "service", "which": "due"},
        ),
        client.post(
            ours.address("plant:add_import"),
            {"depot": theirs.depot.pk, "file": SimpleUploadedFile("a.csv", b"Number\n1\n")},
        ),
    ]
    for response in answers:
        words = response.content.decode()
        assert response.status_code == 422
        for secret in ("Nick", "Maker", "Site", "Yard", "Note", "Drive"):
            assert f"{secret} {THEIRS}" not in words
    assert "This number is taken." in answers[0].content.decode()
    assert "Not at Yard quolm" in answers[2].content.decode()


def brought(world: World, user: User, text: str) -> MachineImport:
    run = ask_import(
        file=io.BytesIO(text.encode()), file_name="a.csv", depot=world.depot, by=user, at=NOW
    )
    read_import(run=run, at=NOW)
    return run


def test_a_spreadsheet_learns_only_that_a_number_is_taken(ours: World, theirs: World) -> None:
    user = everybody_of(ours)
    machine = theirs.machine
    run = brought(
        ours, user,
        "Number,Kind,Supply,Serial number,Depot\n"
        f"{machine.number},mixer_electric,230 V single phase,S1,\n"
        f"OTHER-1,mixer_electric,230 V single phase,{machine.serial},\n"
        f"OTHER-2,mixer_electric,230 V single phase,S3,{theirs.depot.code}\n"
        "OTHER-3,mixer_electric,230 V single phase,S3,nowhere\n",
    )  # fmt: skip

    rows = list(run.rows.order_by("row"))

    assert rows[0].verdict == "clash"
    assert rows[0].reasons == ["This number is taken. Give the machine another."]
    assert rows[0].machine is None
    assert not any("same" in reason for reason in rows[1].reasons)
    there, nowhere = (" ".join(row.reasons) for row in rows[2:])
    assert there.replace(theirs.depot.code, "nowhere") == nowhere
    page = visit(signed_in(user), "GET", reverse("plant:machine_import", args=[run.pk])).all
    for secret in ("Nick", "Maker", "Site", "Yard", "Note"):
        assert f"{secret} {THEIRS}".encode() not in page


def test_a_file_of_somebody_in_two_depots_is_hidden_from_who_is_in_one(
    ours: World, theirs: World
) -> None:
    """Its rows are compared with machines that the bringer sees, and the other does not."""
    both = make_user("In Both", (ours.depot, Role.MANAGER), (theirs.depot, Role.MANAGER))
    machine = theirs.machine
    run = brought(
        ours, both,
        "Number,Kind,Supply,Maker,Serial number\n"
        f"{machine.number},mixer_electric,230 V single phase,Another,Other\n"
        f"OTHER-1,mixer_electric,230 V single phase,Another,{machine.serial}\n",
    )  # fmt: skip
    assert f"Maker {THEIRS}" in str(list(run.rows.values_list("reasons", flat=True)))
    address = reverse("plant:machine_import", args=[run.pk])

    assert visit(signed_in(both), "GET", address).status_code == 200
    alone = signed_in(ours.people[Role.MANAGER])
    assert visit(alone, "GET", address).status_code == 404
    for name in ("sort_import", "save_import", "drop_import"):
        act = reverse(f"plant:{name}", args=[run.pk])
        assert visit(alone, "POST", act).status_code == 404
    # Who has left the other depot does not look into it through an old file either.
    Membership.objects.filter(user=both, depot=theirs.depot).delete()
    assert visit(signed_in(both), "GET", address).status_code == 404


@pytest.mark.parametrize("name", ["machine", "check", "job", "record"])
def test_who_loses_the_role_loses_it_at_the_next_request(ours: World, name: str) -> None:
    user = ours.people[Role.FOREMAN]
    client = signed_in(user)
    address = ours.address(f"maintenance:{name}")
    assert visit(client, "GET", address).status_code == 200

    Membership.objects.filter(user=user).delete()

    assert visit(client, "GET", address).status_code == 404
    assert visit(client, "GET", reverse("maintenance:machine_list")).status_code == 403


def test_a_lower_role_counts_at_the_next_request(ours: World) -> None:
    user = ours.people[Role.MANAGER]
    client = signed_in(user)
    address = ours.address("maintenance:edit_machine")
    assert visit(client, "GET", address).status_code == 200

    Membership.objects.filter(user=user).update(role=Role.OPERATOR)

    assert visit(client, "GET", address).status_code == 403


def test_a_disabled_account_is_out_at_the_next_request(ours: World) -> None:
    user = ours.people[Role.MANAGER]
    client = signed_in(user)
    User.objects.filter(pk=user.pk).update(is_active=False)

    for name, page in ADDRESSES.items():
        if page.who != EVERYBODY and page.get:
            response = visit(client, "GET", ours.address(name))
            assert response.status_code == 302, name
            assert response["Location"].startswith("/sign-in?next=")


def test_another_password_ends_the_sessions(ours: World) -> None:
    user = ours.people[Role.MANAGER]
    client = signed_in(user)
    user = User.objects.get(pk=user.pk)  # the other tests go on with the one as it was
    user.set_password("a quite different one")
    user.save()

    assert visit(client, "GET", "/").status_code == 302


def test_an_account_without_a_role_sees_nothing(ours: World) -> None:
    client = signed_in(make_user("No Body"))
    for name, page in ADDRESSES.items():
        if page.who in (EVERYBODY, SIGNED_IN) or not page.get:
            continue
        response = visit(client, "GET", ours.address(name))
        assert response.status_code == (404 if page.fills and not page.shared else 403), name
        assert OURS.encode() not in response.all


# What no form shows cannot be written: depot, author, role, moment and seal.
UNSHOWN = {
    "depot": "2", "depot_id": "2", "by": "1", "role": "manager", "hash": "0" * 64, "seq": "9999",
    "received_at": "2001-01-01", "happened_at": "2001-01-01", "machine": "2", "is_safety": "",
    "label_code": "A" * 22, "passed_at": "2099-01-01", "hours_tenths": "1", "place": "gone",
}  # fmt: skip


def test_fields_that_no_form_shows_are_not_written(ours: World, theirs: World) -> None:
    client = signed_in(ours.people[Role.OPERATOR])
    before = Machine.objects.filter(pk=ours.machine.pk).values().get()

    client.post(ours.address("maintenance:stop_machine"), {"told": "smokes"} | UNSHOWN)

    record = Record.objects.filter(kind="stop").get()
    assert (record.depot, record.machine, record.by, record.role) == (
        ours.depot, ours.machine, ours.people[Role.OPERATOR], "operator",
    )  # fmt: skip
    assert (record.happened_at, record.received_at) == (NOW, NOW)
    assert record.hash != "0" * 64
    assert record.seq < 100
    assert Machine.objects.filter(pk=ours.machine.pk).values().get() == before


def test_changing_a_machine_changes_only_what_its_form_shows(ours: World, theirs: World) -> None:
    client = signed_in(ours.people[Role.MANAGER])
    machine = ours.machine
    before = Machine.objects.filter(pk=machine.pk).values().get()
    shown = {
        "number": machine.number, "kind": machine.kind_id, "supply": machine.supply,
        "maker": machine.maker, "serial": machine.serial, "note": machine.note, "nickname": "New",
        "protection": machine.protection,
    }  # fmt: skip

    response = client.post(
        ours.address("maintenance:edit_machine"), UNSHOWN | shown | {"depot": theirs.depot.pk}
    )

    assert response.status_code == 302
    assert response["Location"] == ours.address("maintenance:machine")
    after = Machine.objects.filter(pk=machine.pk).values().get()
    assert after == {**before, "nickname": "New"}


def test_every_right_says_in_words_what_it_gives() -> None:
    assert set(TABLE) == set(Right)
    for right, (who, words) in TABLE.items():
        assert who, right
        assert words.endswith("."), right
    # The administrator alone signs no inspection.
    for right in (Right.CHECK, Right.STOP, Right.DECIDE, Right.WORK, Right.RELEASE, Right.CORRECT):
        assert Role.ADMINISTRATOR not in TABLE[right][0]


def test_a_refusal_stands_in_the_security_log_with_who_and_where(
    ours: World, theirs: World, caplog: pytest.LogCaptureFixture
) -> None:
    user = ours.people[Role.OPERATOR]
    client = signed_in(user)
    with caplog.at_level(logging.WARNING, logger="security"):
        visit(client, "GET", ours.address("maintenance:release"))
        visit(client, "GET", theirs.address("maintenance:machine"))

    refused, hidden = (r for r in caplog.records if r.name == "security")
    assert (refused.msg, refused.user, refused.depot) == (  # type: ignore[attr-defined]
        "refused", user.pk, ours.depot.pk,
    )  # fmt: skip
    assert (hidden.msg, hidden.user) == ("not there", user.pk)  # type: ignore[attr-defined]
    assert THEIRS not in str(vars(hidden))


def test_a_right_lost_half_way_is_refused_not_broken(
    ours: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page looked, then the role went, then the act looked again."""
    client = signed_in(ours.people[Role.OPERATOR])
    monkeypatch.setattr("maintenance.views.check.find", lambda *_, **__: ours.machine)
    Membership.objects.filter(user=ours.people[Role.OPERATOR]).delete()

    response = client.post(ours.address("maintenance:stop_machine"), {"told": "smokes"})

    assert response.status_code == 403
    assert not Record.objects.filter(kind="stop").exists()


def test_what_somebody_asked_for_who_left_is_not_printed(ours: World) -> None:
    manager = ours.people[Role.MANAGER]
    batch = ask_sheets(depot=ours.depot, machines=[ours.machine], by=manager, at=NOW)
    Membership.objects.filter(user=manager).delete()

    print_batch(batch.pk, clock=lambda: NOW, until=NOW + timedelta(minutes=1))

    batch.refresh_from_db()
    assert (batch.state, bool(batch.file)) == ("failed", False)
    assert not batch.sheets.filter(record__isnull=False).exists()
