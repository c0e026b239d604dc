"""One machine is added and changed by hand; what was typed is never lost."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from make import make_kind, make_machine
from plant.models import Depot, Machine, MachineKind, User


@pytest.fixture
def kind(db: None) -> MachineKind:
    return make_kind("generator", name="Generator", has_meter=True)


@pytest.fixture
def signed_in(client: Client, manager: User) -> Client:
    client.force_login(manager)
    return client


def given(depot: Depot, kind: MachineKind, **more: object) -> dict[str, object]:
    return {"number": "GN-7", "kind": kind.pk, "supply": "diesel", "depot": depot.pk} | more


def add(client: Client, data: dict[str, object]):
    return client.post(reverse("maintenance:add_machine"), data)


def test_four_entries_are_enough(signed_in: Client, depot: Depot, kind: MachineKind) -> None:
    html = signed_in.get(reverse("maintenance:add_machine")).content.decode()
    answer = add(signed_in, given(depot, kind))

    machine = Machine.objects.get()
    assert answer.status_code == 302
    assert answer.url == reverse("maintenance:machine", args=[machine.pk])
    assert (machine.number, machine.kind, machine.depot) == ("GN-7", kind, depot)
    assert html.count(" required") <= 5


def test_a_plate_in_other_units_is_kept_as_typed_and_converted(
    signed_in: Client, depot: Depot, kind: MachineKind
) -> None:
    plate = {"power": "5 hp", "mass": "95", "speed": "3000 r/min", "meter": "12:30", "year": "2019"}
    add(signed_in, given(depot, kind, **plate))

    machine = Machine.objects.get()
    # 550 foot-pounds a second: NIST SP 811 (2008), appendix B.8.
    assert machine.power_w == pytest.approx(5 * 745.699_871_58, rel=1e-9)
    assert (machine.mass_kg, machine.speed_rpm, machine.hours_tenths) == (95, 3000, 125)
    assert machine.plate_typed == {
        "power": "5 hp", "mass": "95 kg", "speed": "3000 r/min", "meter": "12:30",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("number", "", "Fill this in."),
        ("number", "Nº 7", "Use only A to Z"),
        ("number", "x" * 33, "too long"),
        ("kind", "", "Choose one."),
        ("kind", "999999", "Choose one of these."),
        ("supply", "steam", "Choose one of these."),
        ("depot", "999999", "Choose one of these."),
        ("power", "5 kVA", "apparent power"),
        ("power", "2,2", "Use a point for decimals"),
        ("power", "400 kW", "far above the usual"),
        ("mass", "12 stone", "kg, lb or g"),
        ("meter", "lots", "Enter a number"),
        ("year", "1066", "1950 or more"),
        ("year", "3000", "or less"),
        ("serial", "a\x00b", "ontrol character"),
        ("maker", "x\u202ey", "turns the writing round"),
        ("note", "x" * 2001, "too long"),
    ],
)
def test_a_bad_entry_is_said_at_its_field_and_all_is_kept(
    signed_in: Client, depot: Depot, kind: MachineKind, field: str, typed: str, words: str
) -> None:
    answer = add(signed_in, given(depot, kind) | {"nickname": "Old faithful", field: typed})

    html = answer.content.decode()
    assert answer.status_code == 422
    assert words in html
    assert 'value="Old faithful"' in html
    assert not Machine.objects.exists()


def test_a_figure_far_above_the_usual_passes_after_a_second_look(
    signed_in: Client, depot: Depot, kind: MachineKind
) -> None:
    data = given(depot, kind, power="400 kW")
    assert "I have looked again" in add(signed_in, data).content.decode()

    add(signed_in, data | {"right_as_it_stands": "on"})

    assert Machine.objects.get().power_w == 400_000


def test_a_number_in_use_is_said_at_the_number(
    signed_in: Client, depot: Depot, kind: MachineKind
) -> None:
    make_machine(depot, "gn 7")

    answer = add(signed_in, given(depot, kind))

    assert answer.status_code == 422
    assert "gn 7 is in the register already" in answer.content.decode()


def test_hostile_words_are_shown_as_words(
    signed_in: Client, depot: Depot, kind: MachineKind
) -> None:
    answer = add(signed_in, given(depot, kind, nickname="<script>x</script>", number=""))

    assert "<script>x" not in answer.content.decode()


def test_a_change_touches_what_was_changed_alone(
    signed_in: Client, depot: Depot, kind: MachineKind
) -> None:
    add(signed_in, given(depot, kind, power="5 hp", maker="Hollin"))
    machine = Machine.objects.get()
    address = reverse("maintenance:edit_machine", args=[machine.pk])
    assert 'value="5 hp"' in signed_in.get(address).content.decode()

    data = given(depot, kind, power="5 hp", maker="Hollin", serial="H-1")
    assert signed_in.post(address, data).status_code == 302

    machine.refresh_from_db()
    assert (machine.serial, machine.maker) == ("H-1", "Hollin")
    assert machine.plate_typed == {"power": "5 hp"}
    assert signed_in.post(address, data | {"power": ""}).status_code == 302
    machine.refresh_from_db()
    assert (machine.power_w, machine.plate_typed) == (None, {})


def test_a_form_cannot_move_a_machine_or_set_its_hours(
    signed_in: Client, depot: Depot, other_depot: Depot, machine: Machine
) -> None:
    address = reverse("maintenance:edit_machine", args=[machine.pk])
    data = {
        "number": machine.number, "kind": machine.kind_id, "supply": "e110", "maker": "Hollin",
        "depot": other_depot.pk, "meter": "9 h", "place": "gone", "hours_tenths": "1",
        "passed_at": "2020-01-01", "label_code": "x",
    }  # fmt: skip
    assert signed_in.post(address, data).status_code == 302

    after = Machine.objects.get()
    assert after.maker == "Hollin"
    for name in ("depot_id", "place", "hours_tenths", "passed_at", "label_code"):
        assert getattr(after, name) == getattr(machine, name)


def test_who_may_not_is_refused_and_a_stranger_finds_nothing(
    client: Client, depot: Depot, machine: Machine, foreman: User, outsider: User
) -> None:
    edit = reverse("maintenance:edit_machine", args=[machine.pk])
    client.force_login(foreman)
    assert client.get(reverse("maintenance:add_machine")).status_code == 403
    assert client.get(edit).status_code == 403
    assert client.post(edit, {}).status_code == 403
    client.force_login(outsider)
    assert client.get(edit).status_code == 404
    assert add(client, given(depot, machine.kind)).status_code == 422
    assert Machine.objects.count() == 1


def photo() -> SimpleUploadedFile:
    exif = Image.Exif()
    exif[0x010E] = "Taken at Heron Mews"
    data = BytesIO()
    Image.new("RGB", (64, 48), "grey").save(data, "JPEG", exif=exif)
    return SimpleUploadedFile("plate.jpg", data.getvalue(), "image/jpeg")


def test_a_photo_of_the_plate_stands_on_the_machines_page_without_its_position(
    signed_in: Client, depot: Depot, kind: MachineKind
) -> None:
    add(signed_in, given(depot, kind, photo=photo()))
    machine = Machine.objects.get()

    page = signed_in.get(reverse("maintenance:machine", args=[machine.pk])).content.decode()
    address = reverse("maintenance:machine_photo", args=[machine.pk])
    answer = signed_in.get(address)
    data = b"".join(answer.streaming_content)
    answer.close()

    assert address in page
    assert Image.open(BytesIO(data)).size == (64, 48)
    assert b"Heron" not in data


def test_another_photo_takes_the_place_of_the_one_before(
    signed_in: Client, depot: Depot, kind: MachineKind, django_capture_on_commit_callbacks
) -> None:
    add(signed_in, given(depot, kind, photo=photo()))
    machine = Machine.objects.get()
    before = machine.photo.path

    with django_capture_on_commit_callbacks(execute=True):
        signed_in.post(
            reverse("maintenance:edit_machine", args=[machine.pk]),
            given(depot, kind, photo=photo()),
        )

    machine.refresh_from_db()
    assert machine.photo.path != before
    assert not machine.photo.storage.exists(before)
    assert machine.photo.storage.exists(machine.photo.name)


def test_what_is_no_photo_is_said_at_the_field_and_adds_no_machine(
    signed_in: Client, depot: Depot, kind: MachineKind
) -> None:
    no_photo = SimpleUploadedFile("plate.jpg", b"words", "image/jpeg")
    answer = add(signed_in, given(depot, kind, photo=no_photo))

    assert answer.status_code == 422
    assert "GN-7" in answer.content.decode()
    assert not Machine.objects.exists()


def test_a_machine_without_a_photo_leads_back_to_its_page(
    signed_in: Client, machine: Machine
) -> None:
    answer = signed_in.get(reverse("maintenance:machine_photo", args=[machine.pk]))

    assert answer.url == reverse("maintenance:machine", args=[machine.pk])
