"""What somebody hostile sends, by surface, as a table: what goes in and what may come back.

What tired people and broken programs send into each form stands in test_hostile.py; spreadsheets
and photos by themselves in test_spreadsheets.py and test_photos.py. FUZZ=20 looks so much longer.
"""

import ast
import csv
import io
import json
import os
import re
import resource
import socket
import time
import tomllib
import uuid
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings as site
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, models, transaction
from django.test import Client, override_settings
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from packaging.requirements import Requirement

from addresses import ADDRESSES, NOW, World, body, make_world, signed_in
from plant.models import MachineImport, Record, Role
from test_access import everybody_of, undone
from test_hostile import BOMB, FREE, SLOWEST_S, an_entry, rows, send_kept

FUZZ = int(os.environ.get("FUZZ", "1"))
MOST_MEMORY_MB = 300
Ask = Callable[[Client, World], Any]


@dataclass(frozen=True)
class Attack:
    """What is sent, by whom (signed in with all roles, or nobody), and what may come back."""

    surface: str
    name: str
    ask: Ask
    answers: frozenset[int]
    signed: bool = True
    words: str = ""


def _get(path: str, **headers: str) -> Ask:
    return lambda client, world: client.get(path, headers=headers)


def _page(name: str, **more: Any) -> Ask:
    return lambda client, world: client.get(world.address(name), **more)


def _form(name: str, fields: dict[str, Any], **more: Any) -> Ask:
    return lambda client, world: client.post(world.address(name), fields, **more)


def _sheet(data: bytes, name: str = "a.csv") -> Ask:
    def ask(client: Client, world: World) -> Any:
        file = SimpleUploadedFile(name, data)
        return client.post(reverse("plant:add_import"), {"depot": world.depot.pk, "file": file})

    return ask


def _json(text: str | bytes) -> Ask:
    data = text if isinstance(text, bytes) else text.encode()
    return lambda client, world: client.generic(
        "POST", reverse("maintenance:phone_entries"), data, content_type="application/json"
    )


def _kept(**odd: Any) -> Ask:
    return lambda client, world: send_kept(client, world, an_entry(world, **odd))


def workbook(sheet: bytes, **parts: bytes) -> bytes:
    """A package with just what makes it a workbook, and this as its sheet."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as package:
        for part in ("[Content_Types].xml", "xl/workbook.xml"):
            package.writestr(part, parts.get(part, b"<a/>"))
        package.writestr("xl/worksheets/sheet1.xml", sheet)
        for part, content in parts.items():
            if part not in package.namelist():
                package.writestr(part, content)
    return data.getvalue()


SENT = f'"sent_at": "{NOW.isoformat()}"'
DEEP = f'{{{SENT}, "entries": [' + "[" * 11 + "]" * 11 + "]}"
XXE = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>'
NO, TURNED, FINE = frozenset({422}), frozenset({400}), frozenset({200})
EVIL = "evil.example"
LINE = "x\r\nSet-Cookie: session=stolen"

ATTACKS = [
    # Form fields: the rest is walked over all forms in test_hostile.py.
    Attack("form", "an owner set from outside", _form("maintenance:stop_machine", {
        "told": "x", "by": "1", "hash": "0", "seq": "1", "depot": "2", "role": "manager",
    }), frozenset({302})),
    Attack("form", "three MiB of a word", _form("maintenance:stop_machine", {
        "told": "a" * 3_000_000}), frozenset({422, 400})),
    Attack("form", "the same field 900 times", _form("maintenance:stop_machine", {
        "told": ["x\x00"] * 900}), NO),
    Attack("form", "a file where a word is meant", lambda c, w: c.post(
        w.address("maintenance:stop_machine"), {"told": SimpleUploadedFile("a", b"x")}), NO),
    Attack("form", "mark-up, template and command", _form("maintenance:stop_machine", {
        "told": "<img src=x onerror=alert(1)>{{7*7}}${7*7}`id`$(id)"}), frozenset({302})),
    # What phones send.
    Attack("phone", "a key twice", _json(f'{{{SENT}, "entries": [], "entries": [{{}}]}}'), NO),
    Attack("phone", "no number", _json(f'{{{SENT}, "entries": [NaN]}}'), NO),
    Attack("phone", "beyond numbers", _json(f'{{{SENT}, "entries": [-Infinity]}}'), NO),
    Attack("phone", "eleven deep", _json(DEEP), NO),
    Attack("phone", "a hundred thousand deep", _json("[" * 100_000), NO),
    Attack("phone", "5000 figures", _json(f'{{{SENT}, "entries": [{"9" * 5000}]}}'), NO),
    Attack("phone", "51 entries", _json(f'{{{SENT}, "entries": [{",".join(["{}"] * 51)}]}}'), NO),
    Attack("phone", "more than a MiB", _json(" " * 1_048_577), NO),
    Attack("phone", "more than may be sent at all", _json(b" " * 3_000_000), frozenset({400, 422})),
    Attack("phone", "no JSON", _json("told=smokes"), NO),
    Attack("phone", "not UTF-8", _json(b"\xff\xfe{}"), NO),
    Attack("phone", "a list", _json("[]"), NO),
    Attack("phone", "a made-up permit", _kept(permit="a:b:c"), FINE, words="attention"),
    Attack("phone", "a machine by a figure with a comma", _kept(machine="1,5"), FINE, False,
           "attention"),
    Attack("phone", "a machine by an exponent", _kept(machine="1e3"), FINE, False, "attention"),
    Attack("phone", "a machine of 400 figures", _kept(machine="9" * 400), FINE, False, "attention"),
    Attack("phone", "writing turned round", _kept(told="a\u202egnp.exe"), FINE, False, "attention"),
    Attack("phone", "the mark of nothing", _kept(told="a\x00b"), FINE, False, "attention"),
    # Spreadsheets.
    Attack("CSV", "a program", _sheet(b"MZ" + bytes(400)), NO),
    Attack("CSV", "61 columns", _sheet(",".join(f"a{n}" for n in range(61)).encode() + b"\n1"), NO),
    # Rows are counted when the background reads them: test_spreadsheets.py.
    Attack("CSV", "10 002 rows", _sheet(b"Number\n" + b"a\n" * 10_002), frozenset({302})),
    Attack("CSV", "a cell of 2000 characters", _sheet(b"Number\n" + b"a" * 2000), NO),
    Attack("CSV", "an open quotation of 4 MiB", _sheet(b'Number\n"' + b"a\n" * 2_000_000), NO),
    Attack("XLSX", "a bomb", _sheet(workbook(b"<a>" + b" " * 60_000_000 + b"</a>"), "a.xlsx"), NO),
    Attack("XLSX", "a file of the server", _sheet(workbook(XXE), "a.xlsx"), NO),
    Attack("XLSX", "a bomb in its styles", _sheet(workbook(
        b"<a/>", **{"xl/styles.xml": b"<a>" + b" " * 40_000_000 + b"</a>"}), "a.xlsx"), NO),
    Attack("XLSX", "a path out of the package", _sheet(workbook(
        b"<a/>", **{"../../etc/passwd": b"x"}), "a.xlsx"), NO),
    Attack("XLSX", "a name that is a path", _sheet(b"PK\x03\x04nonsense", "../../a.xlsx"), NO),
    # Photos.
    Attack("photo", "a bomb", lambda c, w: c.post(w.address("maintenance:report_fault"), {
        "part": "other", "told": "x", "photo": SimpleUploadedFile("a.png", BOMB)}), NO),
    Attack("photo", "a drawing with a script", lambda c, w: c.post(
        w.address("maintenance:report_fault"), {"part": "other", "told": "x", "photo":
        SimpleUploadedFile("a.jpg", b"<svg onload='alert(1)'/>", "image/jpeg")}), NO),
    # Query strings.
    Attack("query", "lines of a header", _get(f"/sign-in?next={LINE}"), FINE, False),
    Attack("query", "another site", _get(f"/sign-in?next=//{EVIL}"), FINE, False),
    Attack("query", "out of the list", _get("/machines?sort=password&q=' OR 1=1 --"), FINE),
    Attack("query", "into a relation", _get("/machines?depot__chain__head_hash=a&pk=1"), FINE),
    Attack("query", "eight thousand characters", _get("/machines?q=" + "a" * 8000), FINE),
    # Headers.
    Attack("header", "another host", _get("/sign-in", host=EVIL), TURNED, False),
    Attack("header", "a host with a break", _get("/sign-in", host=LINE), TURNED, False),
    Attack("header", "a host that is none", _get("/sign-in", host="a b:x"), TURNED, False),
    Attack("header", "a forwarded host", _get("/sign-in", x_forwarded_host=EVIL), FINE, False),
    Attack("header", "another method inside", lambda c, w: c.get(
        w.address("maintenance:stop_machine"), headers={"x-http-method-override": "POST"}), FINE),
    Attack("header", "a path rewritten", _get("/sign-in", x_original_url="/health"), FINE, False),
    Attack("header", "an absurd range", _get("/machines", range="bytes=0-,-1,9-0"), FINE),
    Attack("header", "an absurd day", _get("/machines", if_modified_since="x" * 900), FINE),
    Attack("header", "ten thousand tongues", _get("/machines", accept_language="a," * 10_000),
           FINE),
    Attack("header", "a part of a page, forged", _get("/machines", hx_request="true",
           hx_target="\x00<script>"), FINE),
    # Cookies.
    Attack("cookie", "a session of somebody else's making", _get("/machines", cookie=
           "session=../../etc/passwd"), frozenset({302}), False),
    Attack("cookie", "a phone of nobody", _get("/sign-in", cookie="phone=" + "a" * 4000), FINE,
           False),
    # Paths: more in test_hostile.py.
    Attack("path", "up and out", _get("/static/..%2f..%2f..%2fetc/passwd"), frozenset({404}),
           False),
    Attack("path", "twice encoded", _get("/static/%252e%252e%252fmanage.py"), frozenset({404}),
           False),
    Attack("path", "two strokes", _get(f"/\\{EVIL}/machines"), frozenset({404}), False),
]  # fmt: skip


@override_settings(ALLOWED_HOSTS=["localhost", "testserver"])
@pytest.mark.parametrize("attack", ATTACKS, ids=lambda a: f"{a.surface}: {a.name}")
def test_attack(ours: World, attack: Attack) -> None:
    client = signed_in(everybody_of(ours) if attack.signed else None)
    before, held = rows(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.process_time()
    with undone():
        response = attack.ask(client, ours)
        kept = rows()
    text = body(response).decode()
    assert time.process_time() - began < SLOWEST_S
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - held
    assert grown < MOST_MEMORY_MB * 1024
    assert response.status_code in attack.answers, text[:500]
    assert attack.words in text
    if response.status_code != 302:
        assert kept == before | {k: n for k, n in kept.items() if k == "plant.User"}
    assert EVIL not in re.sub(r'value="[^"]*"', "", text)
    for name, value in response.headers.items():
        assert EVIL not in value, name
        assert "\n" not in value, name
    assert "stolen" not in response.cookies.output()
    assert "root:" not in text


def test_a_form_sent_twice_and_a_number_used_again_for_something_else(ours: World) -> None:
    client = signed_in(everybody_of(ours))
    address, entry = ours.address("maintenance:stop_machine"), str(uuid.uuid4())
    before = Record.objects.count()
    for _ in range(2):
        assert client.post(address, {"told": "smokes", "entry": entry}).status_code == 302
    other = client.post(address, {"told": "does not smoke", "entry": entry})
    assert other.status_code == 422
    assert Record.objects.count() == before + 1

    told = an_entry(ours)
    bodies = [told, told, told | {"told": "another thing"}]
    states = []
    for each in bodies:
        data = json.dumps({"sent_at": NOW.isoformat(), "entries": [each]})
        answer = client.post(
            reverse("maintenance:phone_entries"), data, content_type="application/json"
        )
        states.append(answer.json()["results"][0]["state"])
    assert states == ["kept", "kept", "attention"]
    assert Record.objects.count() == before + 2


def test_another_site_cannot_send_in_somebodys_name(ours: World) -> None:
    strict = signed_in(everybody_of(ours), enforce_csrf_checks=True)
    address = ours.address("maintenance:stop_machine")
    page = strict.get(address).content.decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
    assert token is not None
    given = {"told": "smokes", "csrfmiddlewaretoken": token[1]}
    before = rows()
    from_there = {"origin": f"https://{EVIL}"}
    assert strict.post(address, given, headers=from_there).status_code == 403
    assert strict.post(address, given, headers={"origin": "null"}).status_code == 403
    far = {"referer": f"https://{EVIL}/"}
    assert strict.post(address, given, headers=far, secure=True).status_code == 403
    assert rows() == before
    assert strict.post(address, given).status_code == 302


# --- Files that go out ---------------------------------------------------------------------
FORMULA = "=1+1"


def test_no_file_that_goes_out_holds_a_formula(ours: World) -> None:
    """Every word of every row is made one, past all forms; then each file is taken."""
    client, turned = signed_in(everybody_of(ours)), 0
    for model in apps.get_models():
        if model._meta.app_label == "sessions":
            continue
        for field in model._meta.get_fields():
            if not isinstance(field, models.CharField | models.TextField) or field.choices:
                continue
            if field.unique or field.primary_key or isinstance(field, models.FileField):
                continue
            if field.name.endswith(("hash", "code", "key", "state", "zone", "password", "sha256")):
                continue
            try:
                with transaction.atomic():
                    turned += model._default_manager.exclude(**{field.name: ""}).update(
                        **{field.name: FORMULA}
                    )
            except DatabaseError:
                continue  # sealed, or bound otherwise
    assert turned > 50
    files = guarded = 0
    for name, page in ADDRESSES.items():
        if not page.get:
            continue
        response = client.get(ours.address(name) + "?csv=1")
        text = body(response)
        if not response.headers.get("Content-Type", "").startswith("text/csv"):
            continue
        files += 1
        for row in csv.reader(io.StringIO(text.decode("utf-8-sig"))):
            for cell in row:
                guarded += cell == f"'{FORMULA}"
                assert not re.match(r"[=+@\t\r\n\0]|-(?![0-9.]+$)", cell), (name, cell)
    assert files >= 8
    assert guarded >= 8


# --- No outgoing connection ----------------------------------------------------------------
@pytest.fixture
def tried(ours: World, monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Whatever tries to reach out is refused and remembered."""
    told: list[object] = []

    def refuse(*args: object, **_: object) -> None:
        told.append(args)
        raise OSError("cut off")

    for name in ("connect", "connect_ex", "sendto"):
        monkeypatch.setattr(socket.socket, name, refuse)
    for name in ("create_connection", "getaddrinfo", "gethostbyname"):
        monkeypatch.setattr(socket, name, refuse)
    return told


def test_nothing_that_people_send_makes_the_server_call_out(
    ours: World, tried: list[object]
) -> None:
    client, link = signed_in(everybody_of(ours)), "http://192.0.2.1/a"
    xml = f'<a xmlns:r="r"><b r:id="{link}"/>{link}</a>'.encode()
    _sheet(f"Number,Kind,Supply,Notes\nAB-1,mixer_electric,110 V,{link}\n".encode())(client, ours)
    _sheet(workbook(xml, **{"xl/_rels/workbook.xml.rels": xml}), "a.xlsx")(client, ours)
    client.post(ours.address("maintenance:stop_machine"), {"told": f"see {link}"})
    send_kept(client, ours, an_entry(ours, told=link))
    for run in MachineImport.objects.all():
        client.get(reverse("plant:machine_import", args=[run.pk]))
    with undone():
        for name, page in ADDRESSES.items():
            if page.get:
                body(client.get(ours.address(name) + f"?q={link}&next={link}&url={link}"))
    # Health looks whether the queue of the settings answers, on this computer.
    assert [each for each in tried if "127.0.0.1" not in str(each)] == []


def test_no_code_of_ours_can_fetch() -> None:
    """Mail and the queue leave by their libraries, to addresses from the settings alone."""
    fetching = {"urllib.request", "http.client", "requests", "httpx", "aiohttp", "ftplib",
                "smtplib", "urllib3"}  # fmt: skip
    seen = 0
    for folder in ("plant", "maintenance", "reports"):
        for file in (Path(site.BASE_DIR) / folder).rglob("*.py"):
            seen += 1
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                names = [each.name for each in node.names] if isinstance(node, ast.Import) else []
                names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
                bad = fetching & set(names) - (
                    {"smtplib"} if file.name == "message.py" else set()
                )  # the names of its refusals
                assert not bad, file
    assert seen > 200


# --- What is installed ---------------------------------------------------------------------
def test_nothing_installed_is_older_than_we_ask_for() -> None:
    """A known fault is answered by a higher bound here; DEVELOPERS.md says how to look for one."""
    project = tomllib.loads((Path(site.BASE_DIR) / "pyproject.toml").read_text())["project"]
    asked = [*project["dependencies"], *project["optional-dependencies"]["postgres"]]
    for line in asked:
        wanted = Requirement(line)
        assert any(each.operator in {">=", "=="} for each in wanted.specifier), line
        assert wanted.specifier.contains(version(wanted.name)), line


# --- Everything by chance, as everybody ----------------------------------------------------
VALUES = st.one_of(
    st.sampled_from([
        "", "0", "-1", "1e9", "1,5", "9" * 40, "nan", "1_0", "\x00", "\u202e", "\ud800", "%s",
        "../..", "<script>", "' OR 1=1 --", FORMULA, "{{7*7}}", "on", "true", "[]", "2026-02-30",
    ]),
    st.text(max_size=12),
)  # fmt: skip
NAMES = st.sampled_from([
    "q", "page", "sort", "depot", "kind", "state", "job", "next", "code", "csv", "entry", "told",
    "machine", "to", "at", "by", "number", "reason", "file", "photo", "on", "verdict", "hours",
])  # fmt: skip


@pytest.fixture
def theirs(ours: World) -> World:
    return make_world(code="theirs", marker="zvarb", at=NOW)


@given(data=st.data())
@settings(FREE, max_examples=200 * FUZZ)
def test_any_address_by_any_role_with_anything(
    data: st.DataObject, ours: World, theirs: World
) -> None:
    role = data.draw(st.sampled_from([None, *Role]))
    client = signed_in(ours.people[role] if role else None)
    name = data.draw(st.sampled_from(sorted(ADDRESSES)))
    world = data.draw(st.sampled_from([ours, theirs])) if ADDRESSES[name].fills else ours
    if ADDRESSES[name].who == "everybody":
        world = ours  # who holds their link sees what it opens
    fields = data.draw(st.dictionaries(NAMES, VALUES, max_size=4))
    fields = {key: value.encode("utf-8", "replace").decode() for key, value in fields.items()}
    address = world.address(name)
    with undone():
        if data.draw(st.booleans()):
            response = client.get(address, fields)
        else:
            response = client.post(address, fields)
        text = body(response)
    if name != "plant:health_json":
        assert response.status_code < 500, (name, role, fields)
    assert b"zvarb" not in text, (name, role, fields)
    assert "zvarb" not in str(response.headers)
