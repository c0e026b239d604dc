"""What a tired person, a broken program or somebody hostile may send: refused in words, never a
fault of ours, and nothing of it saved."""

import io
import json
import random
import struct
import time
import uuid
import zlib
from collections.abc import Iterator
from typing import Any
from unittest.mock import Mock

import pytest
from django import forms
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils.html import escape
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from PIL import Image

from addresses import ADDRESSES, EVERYBODY, NOW, World, make_world, signed_in
from maintenance.actions.permit import permit_for_label, permit_for_person
from maintenance.forms.entry import EntryField, PhotoField
from make import make_machine
from plant import photos
from plant.actions.session import PROVEN
from plant.fields import QuantityField
from plant.models import Record, RecordPhoto, Role, User
from test_access import everybody_of, undone, visit

SLOWEST_S = 2.0
# They act at a press, or show no form of their own.
WITHOUT_A_FORM = {
    "plant:sign_out", "plant:save_import", "plant:drop_import", "maintenance:save_readings_file",
    "maintenance:drop_readings_file", "reports:retry_batch", "reports:stop_batch",
    "reports:end_timed", "maintenance:strike_cost", "reports:ask_job_sheet", "reports:ask_folder",
    "reports:ask_sheet", "reports:ask_passport", "reports:ask_label", "maintenance:close_job",
    "reports:ask_stop_tag", "reports:ask_record", "reports:ask_fail_tag",
    "maintenance:phone_entries", "maintenance:have_it", "maintenance:open_day",
    "plant:withdraw_phone", "plant:first_code", "plant:end_own", "plant:own_lengths", "plant:stay",
    "plant:own_codes", "plant:begin_codes", "plant:new_spares", "plant:give_up_codes",
    "plant:one_time_code",  # for whose password was right: test_account.py
    "plant:code_sign_in",  # a door on enrolled phones alone: test_phone.py
    "reports:prove_address", "reports:ask_proof", "reports:withdraw_note", "reports:add_feed",
    "reports:withdraw_feed", "reports:drop_erasure",
    "maintenance:order_part", "maintenance:put_back_part",
    "maintenance:withdraw_part", "maintenance:withdraw_place", "reports:take_out",
    "maintenance:begin_practice", "maintenance:new_practice", "maintenance:leave_practice",
    "plant:set_up",  # only in an empty system: test_set_up.py
}  # fmt: skip
# They may be sent as they are: what they tell is all optional.
NOTHING_NEEDED = {
    "maintenance:fitter_day", "maintenance:plan_job", "maintenance:take_back", "reports:messages",
    "maintenance:part_price", "plant:way_in_link", "plant:bring_back", "plant:take_codes",
    "plant:end_sessions", "plant:firm_settings", "reports:end_account",
}  # fmt: skip
TICKED = (EntryField, forms.BooleanField)
FORMS = sorted(n for n, page in ADDRESSES.items() if page.post and n not in WITHOUT_A_FORM)
REFUSED = {400, 403, 404, 413, 422, 429}

# The clock of these tests stands still, so nothing may wait for it; send() looks at the time used.
FREE = settings(
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)

FIGURES = [
    "1,5 mm", "1e9", "nan", "inf", "-5 mm", "5 parsecs", "5 mm 3", "9**9**7", "1_000", "١٢", "１２",
    "0x10", "--1", "1..2", "5 mm; DROP TABLE", "999999999999 mm", "1/0 in", "°", "25:61:61",
]  # fmt: skip
# Words that must never be kept: they cannot be stored, or read as what they are not.
UNFIT_WORDS = ["a\x00b", "a\u202eb", "a\u2066b", "bell\x07", "esc\x1b[31m", "c1\x85\x9bx"]
# Words that people do write; they are kept as they are, and shown as words.
ODD_WORDS = [
    "<script>alert(1)</script>", "{{7*7}}", "{% debug %}", "' OR 1=1 --", "Ω ≥ 1 MΩ", "🔧🚜 👷🏽",
    "=HYPERLINK(1)", "%s %(x)s %n", "..\\..\\etc", "Łukasz Ó Ñandú", "\u0635\u062d\u0629", "a" * 64,
]  # fmt: skip


@pytest.fixture
def user(ours: World) -> User:
    return everybody_of(ours)


@pytest.fixture
def client(user: User) -> Client:
    """Signed in by password just now, so that no form asks for it again."""
    client = signed_in(user)
    session = client.session
    session[PROVEN] = NOW.isoformat()
    session.save()
    return client


def form_of(client: Client, world: World, name: str) -> forms.Form:
    """The form as its page shows it; shown once for all tests, since the world is the same."""
    if name not in _FORMS_SHOWN:
        _FORMS_SHOWN[name] = _form_shown(client, world, name)
    return _FORMS_SHOWN[name]


# Acts whose form stands on another page.
_SHOWN_ON = {
    "plant:sort_import": "plant:machine_import",
    "maintenance:sort_readings_file": "maintenance:readings_file",
    "maintenance:give_out_day": "maintenance:day",
}  # fmt: skip
_FORMS_SHOWN: dict[str, forms.Form] = {}


def _form_shown(client: Client, world: World, name: str) -> forms.Form:
    shown = _SHOWN_ON.get(name, name)
    client = signed_in(None) if "sign_in" in name else client
    form: forms.Form = client.get(world.address(shown)).context["form"]
    return form


def choices_of(field: Any) -> list[str]:
    return [str(value) for value, _ in field.choices]


def usual(form: forms.Form) -> dict[str, Any]:
    """The form filled in as people do: what it needs, with the first choice of each."""
    filled: dict[str, Any] = {}
    for name, field in form.fields.items():
        if isinstance(field, EntryField):
            filled[name] = str(uuid.uuid4())
        elif isinstance(field, forms.MultipleChoiceField):
            filled[name] = choices_of(field)
        elif isinstance(field, forms.ChoiceField):
            values = [each for each in choices_of(field) if each and each != "Nearest"]
            if field.required and values:
                filled[name] = "listed" if name == "which" else values[0]
        elif isinstance(field, forms.BooleanField | forms.FileField):
            continue
        elif field.required:
            filled[name] = (
                "12" if isinstance(field, QuantityField | forms.IntegerField)
                else "2026-11-26" if isinstance(field, forms.DateField)
                else "06:00" if isinstance(field, forms.TimeField)
                else "A-12".ljust(getattr(field, "min_length", None) or 0, "x")
            )  # fmt: skip
    return filled


def words_of(form: forms.Form) -> list[str]:
    """The fields that take words."""
    return [
        name
        for name, field in form.fields.items()
        if isinstance(field, forms.CharField)
        and not isinstance(field, QuantityField | EntryField | forms.UUIDField)
        and not isinstance(field.widget, forms.PasswordInput)
        and not field.disabled
    ]


def rows() -> dict[str, int]:
    """How many rows every table has, but for sessions and counted tries."""
    return {
        model._meta.label: model._default_manager.count()
        for model in apps.get_models()
        if model._meta.label not in {"sessions.Session", "plant.SignInAttempt"}
    }


def facts() -> int:
    """How many facts are on record; a try to issue what is stopped is kept by rule, so left out."""
    return Record.objects.exclude(kind="place", content__contains='"refused":true').count()


def send(client: Client, address: str, data: Any, **more: Any) -> Any:
    if address == reverse("plant:sign_in"):  # who is signed in is only sent on
        client = signed_in(None)
    began = time.process_time()
    with undone():
        before = facts()
        response: Any
        if isinstance(data, bytes):  # as it is, whatever it says it is
            response = client.generic("POST", address, data, **more)
        else:
            response = client.post(address, data, **more)
        response.sealed = facts() - before
    assert response.status_code < 500, (address, str(data)[:200])
    assert time.process_time() - began < SLOWEST_S, (address, str(data)[:200])
    if response.status_code != 302:
        assert response.status_code in REFUSED, (address, response.status_code, str(data)[:200])
        assert response.sealed == 0
    return response


def test_every_form_can_be_filled_in(ours: World, client: Client) -> None:
    """The attacks below start from an entry that is well, so they reach what lies behind."""
    well = set()
    for name in FORMS:
        response = send(client, ours.address(name), usual(form_of(client, ours, name)))
        if response.status_code == 302:
            well.add(name)

    assert set(FORMS) - well <= {
        "plant:sign_in",  # nobody has that name
        "plant:enrol_phone", "plant:own_code",  # not that code, not that password
        "plant:way_in", "plant:own_password",  # no password is that short
        "plant:invite", "plant:change_roles",  # without a role
        "maintenance:new_depot", "maintenance:depot_settings",  # no such time zone
        "plant:add_import", "maintenance:add_readings_file",  # need their file
        "plant:sort_import",  # two columns cannot both be the number
        "maintenance:sort_readings_file",  # nor here; and only who brought it goes on
        "maintenance:add_meter_figure",  # lower than the last, so asked about
        "maintenance:meter_broken",  # that day is still to come
        "maintenance:blind_time",  # there was always a dial
        "maintenance:accept_meter_figure",  # it lies below the one before
        "maintenance:scan", "maintenance:hold_records",  # no machine has that number
        "reports:ask_erasure",  # who has open jobs is not erased
        "reports:erasure",  # not ticked that it is sure
        "maintenance:put_off",  # before it is due
        "maintenance:open_days",  # no day open
        "maintenance:add_own_line", "maintenance:add_plan_line",  # no count of its steps
        "maintenance:change_plan_line",
        "maintenance:replace_label", "maintenance:correct_belt",  # too short a reason
        "maintenance:change_belt",  # neither a width nor a word
        "maintenance:end_plan_line", "maintenance:rest_line", "maintenance:correct_done",
        "maintenance:inspection",  # it is not isolated
        "maintenance:add_test",  # no reading
        "maintenance:calibrate_instrument",  # tomorrow is still to come
        "maintenance:release",  # the job is not done
        "maintenance:give_out_job", "maintenance:start_job",  # a foreman has to decide first
        "maintenance:isolate_job", "maintenance:wait_job", "maintenance:finish_job",
        "maintenance:send_back_job", "maintenance:job_steps",  # it is not begun
        "maintenance:countersign_job",  # no learner did it
        "maintenance:job_costs",  # nothing is written
        "maintenance:give_out_day",  # the first job is done already
        "maintenance:depot_money",  # no currency has those letters
        "maintenance:add_tension",  # a force or a frequency
        "maintenance:add_ride", "maintenance:add_pulley",  # nothing was seen
        "maintenance:correct_reading",  # too short a reason
        "maintenance:add_drive", "maintenance:edit_drive",  # no mark, no section
        "reports:issue", "maintenance:pass_on",  # it is stopped
        "maintenance:send", "maintenance:move",  # it is out
        "maintenance:write_off", "reports:ask_batch",
        "reports:ask_day_paper",  # no job is given out
        "reports:sealed",  # it answers, and keeps nothing
        "maintenance:receive_part",  # tomorrow is still to come
        "maintenance:move_part",  # from one place to the same
        "maintenance:count_place",  # nothing was counted
    }  # fmt: skip


def test_nothing_at_all(ours: World, client: Client) -> None:
    before = rows()
    for name in FORMS:
        for empty in ({}, {"": ""}):
            response = send(client, ours.address(name), empty)
            if name in NOTHING_NEEDED:
                continue
            assert response.status_code == 422, name
            assert response.context["form"].errors, name
    assert rows() == before


@pytest.mark.parametrize("turn", range(6))
def test_absurd_figures_are_refused_where_they_stand_and_kept_to_see(
    ours: World, client: Client, turn: int
) -> None:
    before, seen = rows(), 0
    for name in FORMS:
        form = form_of(client, ours, name)
        asked = [
            each
            for each, field in form.fields.items()
            if isinstance(field, QuantityField | forms.IntegerField | forms.DateField)
        ]
        if not asked:
            continue
        # Each field meets another figure in each turn, so that six of them meet them all.
        odd = {
            each: FIGURES[(at * 6 + turn + seen) % len(FIGURES)] for at, each in enumerate(asked)
        }
        response = send(client, ours.address(name), usual(form) | odd)
        assert response.status_code == 422, name
        assert set(asked) <= set(response.context["form"].errors), (name, odd)
        for figure in odd.values():
            assert escape(figure) in response.content.decode(), (name, figure)
        seen += len(asked)
    assert rows() == before
    assert seen > 40


def test_words_that_cannot_be_kept_are_refused(ours: World, client: Client) -> None:
    before, seen = rows(), 0
    for name in FORMS:
        form = form_of(client, ours, name)
        filled = usual(form)
        for field in words_of(form):
            seen += 1
            words = UNFIT_WORDS[seen % len(UNFIT_WORDS)]
            response = send(client, ours.address(name), filled | {field: words})
            assert response.status_code == 422, (name, field, words)
    assert rows() == before
    assert seen > 60


@pytest.mark.parametrize("words", UNFIT_WORDS, ids=ascii)
def test_a_machine_that_may_move_moves_for_no_unfit_words(
    ours: World, client: Client, words: str
) -> None:
    machine = make_machine(ours.depot, place="yard", kind=ours.machine.kind)
    more = {
        "due_back_on": "2026-11-30",
        "passport": "on",
        "reason": "sold at the auction",
        "to": ours.depot.code,
    }
    for name in ("issue", "send", "move", "write_off", "replace_label"):
        app = "reports" if name == "issue" else "maintenance"
        address = reverse(f"{app}:{name}", args=[machine.pk])
        form = client.get(address).context["form"]
        filled = usual(form) | {key: more[key] for key in more if key in form.fields}
        if name != "send":  # to nowhere but its own depot
            well = send(client, address, filled)
            assert well.status_code == 302, (name, well.context["form"].errors)
        for field in words_of(form):
            assert send(client, address, filled | {field: words}).status_code == 422, (name, field)


def test_odd_words_are_words(ours: World, client: Client) -> None:
    """Kept as typed, shown as typed, and run nowhere."""
    for turn, name in enumerate(FORMS * 2):
        form = form_of(client, ours, name)
        fields = words_of(form)
        odd = {each: ODD_WORDS[(at + turn) % len(ODD_WORDS)] for at, each in enumerate(fields)}
        response = send(client, ours.address(name), usual(form) | odd)
        if response.status_code == 422:
            page = response.content.decode()
            for words in odd.values():
                assert escape(words) in page, (name, words)
                assert words == escape(words) or words not in page, name


@pytest.mark.parametrize("words", [w for w in ODD_WORDS if len(w) < 60])
def test_odd_words_come_back_on_every_page_as_they_were_typed(
    ours: World, client: Client, words: str
) -> None:
    client.post(ours.address("maintenance:stop_machine"), {"told": words})
    record = Record.objects.get(kind="stop")
    assert record.texts.get(name="why").text == words

    for address in (
        reverse("maintenance:machine", args=[ours.machine.pk]),
        reverse("maintenance:record", args=[record.pk]),
        reverse("maintenance:job_list"),
        reverse("reports:today"),
    ):
        page = client.get(address).content.decode()
        assert escape(words) in page, address
        assert words == escape(words) or words not in page, address


def test_64_kilobytes_where_a_word_is_meant(ours: World, client: Client) -> None:
    before = rows()
    for name in FORMS:
        form = form_of(client, ours, name)
        if words := words_of(form):
            huge = usual(form) | dict.fromkeys(words, "ab " * 21_845)
            assert send(client, ours.address(name), huge).status_code == 422, name
        if all(
            isinstance(field, EntryField | forms.BooleanField) for field in form.fields.values()
        ):
            continue  # whatever its length, a value ticks a box
        response = send(
            client, ours.address(name), dict.fromkeys(list(form.fields)[:20], "7" * 65_536)
        )
        assert response.status_code == 422, name
    assert rows() == before


@pytest.mark.parametrize("odd", ["nothing known", "\x00", "9" * 21, "-1"], ids=ascii)
def test_unknown_choices(ours: World, client: Client, odd: str) -> None:
    before, seen = rows(), 0
    for name in FORMS:
        form = form_of(client, ours, name)
        chosen = [each for each, kind in form.fields.items() if isinstance(kind, forms.ChoiceField)]
        if chosen:
            response = send(client, ours.address(name), usual(form) | dict.fromkeys(chosen, odd))
            assert response.status_code == 422, name
            assert set(chosen) <= set(response.context["form"].errors), name
        seen += len(chosen)
    assert rows() == before
    assert seen > 60


def test_ids_of_another_depot_are_unknown_choices(ours: World, client: Client) -> None:
    theirs = make_world(code="theirs", marker="zvarb", at=NOW)
    before = rows()
    attacks: list[tuple[str, str, Any]] = [
        ("maintenance:release", "frees", [theirs.stop.pk]),
        ("maintenance:give_out_job", "to", theirs.people[Role.FITTER].pk),
        ("maintenance:add_machine", "depot", theirs.depot.pk),
        ("plant:add_import", "depot", theirs.depot.pk),
        ("maintenance:add_readings_file", "depot", theirs.depot.pk),
        ("reports:ask_batch", "depot", theirs.depot.pk),
    ]
    for name, field, value in attacks:
        filled = usual(form_of(client, ours, name)) | {field: value}
        response = send(client, ours.address(name), filled)
        assert response.status_code == 422, name
        assert "Choose one of these." in response.content.decode() or field == "frees"
        assert field in response.context["form"].errors, name
    assert rows() == before

    # The job that one came from is only a way back; another depot's is no way.
    width = usual(form_of(client, ours, "maintenance:add_width")) | {"job": theirs.job.pk}
    back = send(client, ours.address("maintenance:add_width"), width)
    assert back["Location"] == ours.address("maintenance:drive")


def test_the_number_of_another_depots_record_is_never_overwritten(
    ours: World, client: Client
) -> None:
    theirs = make_world(code="theirs", marker="zvarb", at=NOW)
    told = {"told": "smokes", "entry": str(theirs.record.pk)}

    response = send(client, ours.address("maintenance:stop_machine"), told)

    assert response.status_code == 422
    assert "zvarb" not in response.content.decode()


def test_two_thousand_fields(ours: World, client: Client) -> None:
    many = {f"field_{n}": "1" for n in range(2000)}
    for name in FORMS:
        assert send(client, ours.address(name), many).status_code == 400
        text = "&".join(f"{key}=1" for key in many)
        form = "application/x-www-form-urlencoded"
        response = send(client, ours.address(name), text, content_type=form)
        assert response.status_code == 400
        assert b"Nothing was saved." in response.content


def test_every_field_twice_and_every_field_as_a_list(ours: World, client: Client) -> None:
    for name in FORMS:
        filled = usual(form_of(client, ours, name))
        twice = {key: [value, value] for key, value in filled.items() if isinstance(value, str)}
        send(client, ours.address(name), filled | twice)
        send(client, ours.address(name), {f"{key}[]": value for key, value in filled.items()})


def test_other_kinds_of_body(ours: World, client: Client) -> None:
    before = rows()
    deep = '{"a":' * 500 + "1" + "}" * 500
    bodies: list[tuple[bytes, str, set[int]]] = [
        (deep.encode(), "application/json", {422}),
        (json.dumps({"told": "smokes", "entry": None}).encode(), "application/json", {422}),
        (b"told=smokes", "text/plain", {422}),
        (b"\xff\xfe\x00" * 400, "application/octet-stream", {422}),
        (b"told=smokes", "multipart/form-data", {400}),
        (b"--x\r\nnonsense", "multipart/form-data; boundary=x", {422, 400}),
        (b"x" * 400, "multipart/form-data; boundary=" + "y" * 300, {422, 400}),
        (b"told=%ED%A0%80&by_name=%FF%FE", "application/x-www-form-urlencoded", {422}),
        (b"told=a", "application/x-www-form-urlencoded; charset=utf-16", {400}),
        (b"told=" + b"a" * 2_700_000, "application/x-www-form-urlencoded", {400}),
        (b"%" * 5000, "application/x-www-form-urlencoded", {422}),
    ]
    # Every sort of form: plain, with files, of a machine, of a job, of a drive, without account.
    for name in (
        "maintenance:check", "maintenance:add_machine", "maintenance:give_out_job",
        "maintenance:add_width", "plant:add_import", "reports:ask_batch", "plant:sign_in",
        "maintenance:release",
    ):  # fmt: skip
        sender = signed_in(None) if ADDRESSES[name].who == EVERYBODY else client
        for data, kind, allowed in bodies:
            response = send(sender, ours.address(name), data, content_type=kind)
            assert response.status_code in allowed, (name, kind, response.status_code)
    assert rows() == before


ALPHABETS = ["rot13", "hex", "utf-16", "idna", '"utf-7"', "", "utf-8; charset=rot13", "\u0661"]


@pytest.fixture
def _same_connection() -> Iterator[None]:
    """The entry point closes an old connection, which here holds the test's transaction."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.mark.usefixtures("_same_connection")
@pytest.mark.parametrize("alphabet", ALPHABETS)
def test_other_alphabets_are_turned_away_before_they_are_read(ours: World, alphabet: str) -> None:
    from plant.config.wsgi import application

    many = "&".join(f"a{n}=1" for n in range(2000))
    for kind in ("application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/x"):
        for query in ("q=a", many):
            request = RequestFactory().generic("GET", "/sign-in", QUERY_STRING=query)
            environ = request.environ | {"CONTENT_TYPE": f"{kind}; Charset={alphabet}"}
            start = Mock()
            answer = application(environ, start)
            assert b"Nothing was saved." in b"".join(answer)
            status, headers = start.call_args.args
            assert status.startswith("400")
            assert ("X-Content-Type-Options", "nosniff") in headers


def test_halves_of_characters_never_reach_the_records(ours: World, client: Client) -> None:
    """Percent-encoded surrogates are not UTF-8; what stands for them is an ordinary sign."""
    told = b"told=smokes+%ED%A0%80+%ED%BF%BF"
    client.post(
        ours.address("maintenance:stop_machine"),
        told,
        content_type="application/x-www-form-urlencoded",
    )

    record = Record.objects.filter(kind="stop").first()
    if record is not None:
        record.texts.get(name="why").text.encode("utf-8")


def test_without_the_token_of_its_page_nothing_is_taken(ours: World, user: User) -> None:
    before = rows()
    strict = signed_in(user, enforce_csrf_checks=True)
    for name, page in ADDRESSES.items():
        if not page.post:
            continue
        if name in {"plant:sign_in", "maintenance:phone_entries"}:
            continue  # test_sign_in.py; and what a phone sends counts by its permit alone
        strict.cookies["csrf"] = "a" * 32
        for token in (
            {},
            {"csrfmiddlewaretoken": "b" * 32 + "c" * 32},
            {"csrfmiddlewaretoken": "\x00"},
        ):
            response = send(strict, ours.address(name), token)
            assert response.status_code == 403, name
            assert "What you sent was not saved." in response.content.decode()
    assert rows() == before


def test_what_is_too_large_is_turned_away_unread(ours: World, client: Client) -> None:
    for name in ("plant:add_import", "maintenance:add_readings_file"):
        sheet = SimpleUploadedFile("big.xlsx", b"PK\x03\x04" + bytes(20 * 1024 * 1024))
        response = send(client, ours.address(name), {"depot": ours.depot.pk, "file": sheet})
        assert response.status_code == 413
        assert b"Nothing was saved." in response.content

        sheet = SimpleUploadedFile("big.csv", b"a" * (6 * 1024 * 1024))
        response = send(client, ours.address(name), {"depot": ours.depot.pk, "file": sheet})
        assert response.status_code == 422
        assert "5 MiB" in response.content.decode()


@pytest.mark.parametrize("length", ["-1", "1e9", "9" * 30, "x", "١٢"])
def test_an_odd_length_is_turned_away(ours: World, client: Client, length: str) -> None:
    response = client.generic("POST", ours.address("maintenance:check"), CONTENT_LENGTH=length)

    assert response.status_code in {400, 413}


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width: int, height: int, *, body: bytes = b"") -> bytes:
    """A picture that says it is so large, whatever is in it."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def jpeg(width: int, height: int) -> bytes:
    data = io.BytesIO()
    Image.new("L", (width, height)).save(data, "JPEG", quality=20)
    return data.getvalue()


BOMB = png(50_000, 50_000, body=zlib.compress(bytes(1_000_000)))
NOT_PHOTOS: dict[str, bytes] = {
    "words": b"hello " * 100,
    "nothing but a heading": b"\xff\xd8\xff\xe0",
    "drawing": b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    "page": b"<!DOCTYPE html><script>alert(1)</script>",
    "moving picture and script": b"GIF89a/*" + bytes(20) + b"*/=1;alert(1)//",
    "program": b"MZ" + bytes(500),
    "archive": b"PK\x03\x04" + bytes(500),
    "paper": b"%PDF-1.7\n" + bytes(500),
    "bomb": BOMB,
    "too much text in a picture": png(4, 4, body=b"")[:-12]
    + chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(80_000_000)))
    + chunk(b"IEND", b""),
    "cut off": jpeg(300, 200)[:400],
    "larger than 10 MiB": b"\xff\xd8\xff" + bytes(11 * 1024 * 1024),
    "long and thin": png(9000, 1),
}


@pytest.mark.parametrize("what", [*NOT_PHOTOS, "60 megapixels"])
def test_what_is_no_photo_that_can_be_kept(ours: World, client: Client, what: str) -> None:
    data = NOT_PHOTOS.get(what) or jpeg(7900, 7600)
    before = rows()
    for name in (
        "maintenance:check", "maintenance:report_fault", "maintenance:label_check",
        "maintenance:label_fault",
    ):  # fmt: skip
        form = form_of(client, ours, name)
        words = [each for each in words_of(form) if each == "told" or each.startswith("word_")]
        filled = usual(form) | dict.fromkeys(words, "grinds & squeals")
        assert isinstance(form.fields["photo"], PhotoField)
        file = SimpleUploadedFile("photo.jpg", data, "image/jpeg")

        response = send(client, ours.address(name), filled | {"photo": file})

        assert response.status_code == 422, what
        assert "photo" in response.context["form"].errors
        assert "grinds &amp; squeals" in response.content.decode()
    assert rows() == before


def test_a_picture_that_is_something_else_too_is_kept_as_a_picture_alone(
    ours: World, client: Client
) -> None:
    """JPEG, page and archive in one: only the picture is left of it."""
    tail = b"<script>alert(1)</script>PK\x05\x06" + bytes(18)
    comment = b"\xff\xfe" + struct.pack(">H", 2 + 23) + b"<?php system('ls'); ?>\n"
    data = jpeg(300, 200)
    both = data[:2] + comment + data[2:] + tail
    file = SimpleUploadedFile("a.php\x00.jpg", both, "text/html")
    filled = usual(form_of(client, ours, "maintenance:check"))

    client.post(ours.address("maintenance:check"), filled | {"photo": file})

    photo = RecordPhoto.objects.order_by("pk").last()
    assert photo is not None
    assert photo.record.kind == "check"
    with photo.file.open("rb") as opened:
        kept = opened.read()
    for left in (b"script", b"php", b"PK"):
        assert left not in kept
    assert str(photo.file.name).startswith("photos/")
    assert str(photo.file.name).endswith(".jpg")


def _samples() -> list[bytes]:
    made = []
    for form, mode in (("JPEG", "RGB"), ("JPEG", "CMYK"), ("PNG", "P"), ("PNG", "RGBA"),
                       ("PNG", "I;16"), ("WEBP", "RGBA"), ("PNG", "1")):  # fmt: skip
        data = io.BytesIO()
        exif = Image.Exif()
        exif[0x0112] = 6
        more = {} if mode == "I;16" else {"exif": exif}
        Image.new(mode, (40, 30)).save(data, form, **more)
        made.append(data.getvalue())
    return made


SAMPLES = _samples()


@pytest.mark.filterwarnings("ignore::UserWarning")  # Pillow's, of what it steps over
@given(
    at=st.integers(0, len(SAMPLES) - 1),
    seed=st.integers(0, 2**32),
    hits=st.integers(1, 12),
    cut=st.integers(0, 60),
)
@settings(FREE, max_examples=300)
def test_a_damaged_photo_is_refused_or_kept_and_breaks_nothing(
    at: int, seed: int, hits: int, cut: int
) -> None:
    dice, data = random.Random(seed), bytearray(SAMPLES[at])
    for _ in range(hits):
        data[dice.randrange(len(data))] = dice.randrange(256)
    damaged = bytes(data[: len(data) - cut])
    try:
        kept = photos.clean(io.BytesIO(damaged))
    except photos.PhotoRefused:
        return

    assert kept.startswith(b"\xff\xd8\xff")


ODD_QUERIES = [
    "?q=%00", "?q=%ED%A0%80", "?q=" + "a" * 5000, "?page=-1", "?page=" + "9" * 30, "?page=%00",
    "?page=1e9", "?sort=nothing", "?sort=-depot,kind,%00", "?sort=" + "-" * 500, "?depot=%00",
    "?depot=" + "9" * 25, "?depot=-1", "?kind=' OR 1=1", "?state=%00", "?state=nothing", "?mine=x",
    "?place=%00&use=%00", "?story=%00", "?story=-7", "?verdict=%00", "?csv=%00", "?job=%00",
    "?job=" + "9" * 40, "?next=%00", "?%00=%00", "?=&&&==", "?q[]=1&q=2&q=3", "?machine=%00",
    "?" + "&".join(f"a{n}=1" for n in range(999)), "?q=%E0%A4%A",
]  # fmt: skip


def test_odd_queries(ours: World, client: Client) -> None:
    read = [name for name, page in ADDRESSES.items() if page.get and name != "plant:health_json"]
    lists = {name for name in read if not ADDRESSES[name].fills} | {"maintenance:machine"}
    for turn, name in enumerate(read):
        # Lists read what stands in the address; of the others each gets its share.
        for query in ODD_QUERIES if name in lists else ODD_QUERIES[turn % 9 :: 9]:
            response = visit(client, "GET", ours.address(name) + query)
            assert response.status_code in {200, 302, 400, 422}, (name, query)


def test_too_many_in_a_query_is_turned_away(ours: World, client: Client) -> None:
    many = "?" + "&".join(f"a{n}=1" for n in range(2000))
    for name in ("maintenance:machine_list", "plant:work_out", "plant:sign_in"):
        sender = signed_in(None) if "sign_in" in name else client
        assert sender.get(ours.address(name) + many).status_code == 400


@pytest.mark.parametrize(
    "path",
    [
        "/q/%00", "/q/" + "A" * 4000, "/q/%2e%2e%2f", "/q/'%20OR%201=1", "/q/%F0%9F%94%A7",
        "/q/%ED%A0%80", "/machines/%00", "/machines/-1", "/machines/1e3", "/machines/" + "9" * 40,
        "/machines/" + "9" * 4000, "/machines/١", "/records/%00", "/records/nothing",
        "/records/00000000-0000-0000-0000-000000000000", "/stops/99999999999999999999/decide",
        "/records/00000000-0000-0000-0000-000000000000/photo/..%2f..%2fetc", "/imports/0",
        "/static/../manage.py", "/static/%2e%2e/%2e%2e/manage.py", "/media/photos/a.jpg", "/.data",
"/%0d%0aSet-Cookie:a=b", "/drives/0/width", "/paper/0/file", "/admin/",
    ],
)  # fmt: skip
def test_odd_addresses(ours: World, client: Client, path: str) -> None:
    for sender in (client, signed_in(None)):
        for method in ("GET", "POST"):
            response = sender.generic(method, path)
            assert response.status_code in {302, 400, 403, 404, 405}, (method, path)
            assert "Set-Cookie" not in response.headers


@pytest.mark.parametrize(
    "cookie", ["\\000aaaaaaaaaaaa", "a" * 8000, "' OR 1=1 --", "\\377\\376aaaaaaaaaaaa", "é" * 20]
)
def test_odd_cookies(ours: World, cookie: str) -> None:
    for named in ("session", "csrf", "name_at_label", "messages"):
        for name in ("reports:today", "plant:sign_in", "maintenance:label_check"):
            response = signed_in(None).get(
                ours.address(name), headers={"cookie": f'{named}="{cookie}"'}
            )
            assert response.status_code in {200, 302, 400}, (named, name)


# Tokens that a figure may be made of, so that the reader is met at its seams.
_FIGURE = st.one_of(
    st.sampled_from([*FIGURES, "", "8 mm", "5/16 in", "1 1/2 in", "0.31 s", "4:30", "80", "180"]),
    st.text(st.sampled_from("0123456789.,/-+eE mincftNkg:°_ "), max_size=14),
    st.text(max_size=8),
)


@given(data=st.data())
@settings(FREE, max_examples=40)
def test_the_work_out_page_holds_whatever_is_typed(
    data: st.DataObject, ours: World, client: Client
) -> None:
    form = form_of(client, ours, "plant:work_out")
    asked = {}
    for name, field in form.fields.items():
        if data.draw(st.integers(0, 3)) == 0:
            continue
        if isinstance(field, forms.ChoiceField):
            asked[name] = data.draw(st.sampled_from([*choices_of(field), "no"]))
        elif not isinstance(field, forms.BooleanField):
            asked[name] = data.draw(_FIGURE)

    allowed = {400} if any("\0" in typed for typed in asked.values()) else {200, 422}
    assert client.get(reverse("plant:work_out"), asked).status_code in allowed


@given(data=st.data())
@settings(FREE, max_examples=60)
def test_whatever_is_typed_into_any_form_is_taken_or_refused_in_words(
    data: st.DataObject, ours: World, client: Client
) -> None:
    name = data.draw(st.sampled_from(FORMS))
    form = form_of(client, ours, name)
    filled = usual(form)
    drawn = (
        st.lists(st.sampled_from(sorted(form.fields)), max_size=5) if form.fields else st.just([])
    )
    for each in data.draw(drawn):
        kind = form.fields[each]
        if isinstance(kind, QuantityField | forms.IntegerField):
            filled[each] = data.draw(_FIGURE)
        elif isinstance(kind, forms.DateField | forms.DateTimeField):
            filled[each] = data.draw(
                st.sampled_from(["0001-01-01", "9999-12-31", "2026-02-30", "0001-01-01T00:00"])
            )
        else:
            filled[each] = data.draw(st.text(max_size=30))

    response = send(client, ours.address(name), filled)

    assert response.status_code in {302, 422}


def an_entry(world: World, **other: Any) -> dict[str, Any]:
    """What a phone kept of a stop, with the permit of the machine's label."""
    return {
        "id": str(uuid.uuid4()), "schema": "1", "kind": "stop", "machine": str(world.machine.pk),
        "permit": permit_for_label(world.machine), "device_time": NOW.isoformat(),
        "device_seq": "1", "by_name": "Ola", "told": "smokes",
    } | other  # fmt: skip


SENT = NOW.isoformat()


def send_kept(client: Client, world: World, *entries: Any, sent_at: Any = SENT) -> Any:
    text = json.dumps({"sent_at": sent_at, "entries": list(entries)}).encode()
    address = world.address("maintenance:phone_entries")
    began = time.process_time()
    with undone():
        response: Any = client.generic("POST", address, text, content_type="application/json")
        response.sealed = Record.objects.filter(kind="stop").count()
    assert time.process_time() - began < SLOWEST_S
    return response


ODD_PARTS: list[Any] = [
    None, "", 7, 1e300, [], {}, True, "\ud800", "a\x00b", "a\u202eb", "x" * 5000, "9" * 30, "-1",
    "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "2026-11-25T09:00", "nan", "{}.e30.x",
]  # fmt: skip


def test_whatever_a_phone_sends_is_answered_entry_by_entry(ours: World) -> None:
    client = signed_in(None)
    assert send_kept(client, ours, an_entry(ours)).sealed == 1
    for part in an_entry(ours):
        for odd in ODD_PARTS:
            response = send_kept(client, ours, an_entry(ours, **{part: odd}))
            assert response.status_code == 200, (part, odd)
            state = response.json()["results"][0]["state"]
            # Moments that cannot be are put right, never a reason to lose an entry.
            allowed = {"device_time", "device_seq"} | (
                {"told", "by_name"} if odd == "-1" else set()
            )
            if part not in allowed and not (part in {"told", "by_name"} and response.sealed):
                assert state == "attention", (part, odd)
            assert (state == "kept") == bool(response.sealed), (part, odd)
            if response.sealed:
                for unfit in ("\ud800", "a\x00b", "a\u202eb"):
                    assert odd != unfit or part == "device_seq", part
    for odd in ODD_PARTS:
        assert send_kept(client, ours, an_entry(ours), sent_at=odd).status_code in {200, 422}
        assert send_kept(client, ours, odd).status_code == 200


def test_a_permit_tells_nothing_of_other_machines(ours: World) -> None:
    """Of another depot, made up, or with a forged permit: the same words."""
    theirs = make_world(code="theirs", marker="zvarb", at=NOW)
    person = permit_for_person(user=ours.people[Role.OPERATOR], depot_id=ours.depot.pk)
    told = set()
    for permit in (person, permit_for_label(ours.machine), "forged", f"{person}x"):
        for machine in (theirs.machine.pk, 10**9):
            entry = an_entry(ours, machine=str(machine), permit=permit)
            response = send_kept(signed_in(None), ours, entry)
            assert response.sealed == 0
            told.add(response.json()["results"][0]["words"])

    assert len(told) == 1


@pytest.mark.parametrize("code", ["%00", "A" * 22, "%ED%A0%80", "a" * 4000])
def test_no_pack_for_an_odd_code(ours: World, code: str) -> None:
    address = f"{reverse('maintenance:phone_pack')}?code={code}"

    assert signed_in(None).get(address).status_code in {400, 404}
