"""The pack for the phone, the bare page, the service worker, and the door for what was kept."""

import json
import uuid
from datetime import UTC, datetime
from io import BytesIO

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from maintenance.models import RuleSheet
from maintenance.templatetags.pictures import pictures
from make import make_machine
from plant.models import Depot, Machine, Record, User

NOW = datetime(2026, 11, 25, 9, tzinfo=UTC)
pytestmark = pytest.mark.usefixtures("rule_sheet")


def pack_of(client: Client, query: str = "") -> dict:
    return client.get(f"/phone/pack.json{query}").json()


def test_a_persons_pack_holds_the_machines_of_their_depots_and_no_names(
    client: Client, machine: Machine, operator: User, fitter: User, other_depot: Depot
) -> None:
    far = make_machine(other_depot, "ZZ-9")
    client.force_login(operator)

    told = client.get("/phone/pack.json").content.decode()

    assert '"MX-203"' in told
    assert far.number not in told
    for person in (operator, fitter):
        assert person.name not in told
    assert machine.label_code not in told


def test_a_labels_pack_holds_that_machine_alone(
    client: Client, machine: Machine, depot: Depot
) -> None:
    make_machine(depot, "MX-999")

    pack = pack_of(client, f"?code={machine.label_code}")

    assert [one["number"] for one in pack["machines"]] == ["MX-203"]
    assert pack["by_label"] is True


def test_no_pack_for_a_made_up_code_nor_for_nobody(client: Client, machine: Machine) -> None:
    assert client.get("/phone/pack.json?code=made-up").status_code == 404
    assert client.get("/phone/pack.json").status_code == 401
    Depot.objects.update(checks_by_label=False)
    assert client.get(f"/phone/pack.json?code={machine.label_code}").status_code == 404


def test_a_pack_that_has_not_changed_is_not_sent_again(
    client: Client, machine: Machine, operator: User
) -> None:
    client.force_login(operator)

    # Permits carry their moment, so a pack made in the same second is the same.
    with time_machine.travel(datetime.now(UTC), tick=False):
        version = pack_of(client)["version"]
        answer = client.get(f"/phone/pack.json?have={version}")

    assert answer.status_code == 204


def test_the_pack_costs_as_many_queries_for_sixty_machines_as_for_two(
    client: Client, depot: Depot, operator: User, django_assert_max_num_queries
) -> None:
    client.force_login(operator)
    for _ in range(60):
        make_machine(depot)

    with django_assert_max_num_queries(12):
        assert len(pack_of(client)["machines"]) == 60


def body_of(machine: Machine, permit: str, **more) -> dict:
    questions = RuleSheet.objects.on(NOW.date()).questions(machine)
    entry = {
        "id": str(uuid.uuid4()), "schema": "1", "kind": "check", "machine": str(machine.pk),
        "permit": permit, "device_time": datetime.now(UTC).isoformat(), "by_name": "Wim",
        "answers": {q.key: {"answer": "ok", "word": ""} for q in questions},
    }  # fmt: skip
    return {"sent_at": datetime.now(UTC).isoformat(), "entries": [entry | more]}


def test_what_a_phone_kept_is_taken_without_a_sign_in_and_without_a_token(
    machine: Machine,
) -> None:
    phone = Client(enforce_csrf_checks=True)
    permit = pack_of(phone, f"?code={machine.label_code}")["machines"][0]["permit"]

    answer = phone.post(
        "/phone/entries", json.dumps(body_of(machine, permit)), content_type="application/json"
    )

    result = answer.json()["results"][0]
    assert (answer.status_code, result["state"]) == (200, "kept")
    assert phone.get(result["address"], follow=True).status_code == 200
    assert result["number"] == Record.objects.get().number


def test_an_entry_with_a_photo_is_taken_and_the_photo_has_no_position(machine: Machine) -> None:
    phone = Client()
    permit = pack_of(phone, f"?code={machine.label_code}")["machines"][0]["permit"]
    picture = Image.new("RGB", (64, 48), "grey")
    exif = Image.Exif()
    exif[0x010E] = "Taken at Heron Mews"
    data = BytesIO()
    picture.save(data, "JPEG", exif=exif)

    answer = phone.post(
        "/phone/entries",
        {
            "entries": json.dumps(body_of(machine, permit)),
            "photo": SimpleUploadedFile("p.jpg", data.getvalue(), "image/jpeg"),
        },
    )

    assert answer.json()["results"][0]["state"] == "kept"
    with Record.objects.get().photos.get().file.open() as file:
        kept = file.read()
    assert b"Heron" not in kept
    assert Image.open(BytesIO(kept)).size == (64, 48)


def test_an_entry_brings_the_photos_of_its_items_and_the_whole_machine(machine: Machine) -> None:
    phone = Client()
    permit = pack_of(phone, f"?code={machine.label_code}")["machines"][0]["permit"]
    data = BytesIO()
    Image.new("RGB", (64, 48), "grey").save(data, "JPEG")

    def send(names: list[str]) -> dict:
        files = {name: SimpleUploadedFile("p.jpg", data.getvalue(), "image/jpeg") for name in names}
        body = json.dumps(body_of(machine, permit, schema="2"))
        return phone.post("/phone/entries", {"entries": body} | files).json()

    seven = [f"photo_{n}" for n in range(7)]
    assert "At most 6 photos" in send(seven)["words"]
    assert not Record.objects.exists()

    told = send(["photo", "photo_drum", "photo_cable_plug", "other", "photo_../x"])

    assert told["results"][0]["state"] == "kept"
    assert {each.name for each in Record.objects.get().photos.all()} == {
        "photo", "drum", "cable_plug",
    }  # fmt: skip


def test_the_pack_says_when_a_check_is_wanted_and_whether_there_is_a_meter(
    client: Client, machine: Machine
) -> None:
    Machine.objects.update(place="out", passed_at=datetime(2026, 11, 20, 7, 12, tzinfo=UTC))

    told = pack_of(client, f"?code={machine.label_code}")["machines"][0]

    assert (told["meter"], told["wanted_on"], told["passed"]) == (
        True, "2026-11-27", "2026-11-20 07:12",
    )  # fmt: skip


@pytest.mark.parametrize(
    "body",
    [
        b"", b"x", b"[]", b"null", b"{}", b'{"sent_at": "2026-11-25T09:00:00", "entries": [1]}',
        b'{"sent_at": "2026-11-25T09:00:00+00:00", "entries": []}',
        b'{"sent_at": "2026-11-25T09:00:00+00:00", "entries": {}}',
        b'{"sent_at": NaN, "entries": [1]}', b'{"a": 1, "a": 2}', b"[" * 5000, b"\xff\xfe",
        b'{"sent_at": "2026-11-25T09:00:00+00:00", "entries": ' + str([1] * 51).encode() + b"}",
    ],
)  # fmt: skip
def test_what_is_no_batch_is_answered_in_words(client: Client, body: bytes) -> None:
    answer = client.post("/phone/entries", body, content_type="application/json")

    assert answer.status_code == 422
    assert answer.json()["words"]


def test_a_bad_entry_does_not_stop_the_others(client: Client, machine: Machine) -> None:
    permit = pack_of(client, f"?code={machine.label_code}")["machines"][0]["permit"]
    body = body_of(machine, permit)
    body["entries"] = [{"id": "odd"}, *body["entries"], 7]

    answer = client.post("/phone/entries", json.dumps(body), content_type="application/json")

    assert [one["state"] for one in answer.json()["results"]] == ["attention", "kept", "attention"]


def test_a_photo_that_is_none_is_refused_in_words(client: Client, machine: Machine) -> None:
    permit = pack_of(client, f"?code={machine.label_code}")["machines"][0]["permit"]

    answer = client.post(
        "/phone/entries",
        {
            "entries": json.dumps(body_of(machine, permit)),
            "photo": SimpleUploadedFile("p.jpg", b"no picture", "image/jpeg"),
        },
    )

    assert answer.status_code == 422
    assert not Record.objects.exists()


def test_the_bare_page_names_nobody(client: Client, operator: User) -> None:
    page = client.get("/phone").content.decode()

    assert 'data-bare="1"' in page
    assert "data-who" not in page


def test_the_service_worker_comes_from_the_root_and_keeps_only_static_files(
    client: Client,
) -> None:
    answer = client.get("/sw.js")

    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert answer.headers["Service-Worker-Allowed"] == "/"
    assert "/static/plant/phone.js" in answer.content.decode()


def test_the_bare_page_brings_every_drawing_and_is_alike_for_everybody(client: Client) -> None:
    page = client.get("/phone").content.decode()

    assert {f'data-drawing="{key}"' in page for key in pictures()} == {True}
    workers = {Client().get("/sw.js").content for _ in range(2)}
    assert len(workers) == 1
