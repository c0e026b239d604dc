"""Check, fault and stop pages: signed in and by label."""

import re
import uuid
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils.html import escape
from django.utils.timezone import now
from PIL import Image

from maintenance.actions.check import questions
from maintenance.actions.meter import record_meter
from maintenance.models import Check, Job, Stop
from make import MONDAY, make_machine
from plant.models import Depot, Machine, MachineKind, Record, RecordPhoto, User

pytestmark = pytest.mark.usefixtures("rule_sheet")


def filled(machine: Machine, **other: str) -> dict[str, Any]:
    """All answers OK but for what is given as answer_key or word_key."""
    _, asked = questions(machine, at=now())
    data = {f"answer_{each.key}": "ok" for each in asked} | {"entry": str(uuid.uuid4())}
    return data | other


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def address(machine: Machine, name: str = "check") -> str:
    return reverse(f"maintenance:{name}", args=[machine.pk])


def label(machine: Machine, name: str = "label_check") -> str:
    return reverse(f"maintenance:{name}", args=[machine.label_code])


def test_six_to_ten_questions_are_asked_in_order(machine: Machine, operator: User) -> None:
    page = signed_in(operator).get(address(machine)).content.decode()

    _, asked = questions(machine, at=now())
    places = [page.index(escape(each.words)) for each in asked]
    assert places == sorted(places)
    assert 6 <= len(asked) <= 10
    assert page.count('type="radio"') == 3 * len(asked)
    assert not re.search(r"<input[^>]*\schecked", page)


def test_all_ok_ends_on_ok_to_use(machine: Machine, operator: User) -> None:
    response = signed_in(operator).post(address(machine), filled(machine), follow=True)

    assert response.status_code == 200
    assert "OK to use" in response.content.decode()
    assert Check.objects.get().mark == "passed"


def test_wrong_ends_on_do_not_use_and_the_job(machine: Machine, operator: User) -> None:
    data = filled(machine, answer_cable_plug="wrong", word_cable_plug="sheath cut")

    page = signed_in(operator).post(address(machine), data, follow=True).content.decode()

    assert "Do not use: tell your foreman." in page
    assert f"Job {Job.objects.get().number} raised." in page


def test_the_same_check_sent_five_times_is_one_record(machine: Machine, operator: User) -> None:
    client, data = signed_in(operator), filled(machine)

    answers = [client.post(address(machine), data) for _ in range(5)]

    assert [answer.status_code for answer in answers] == [302] * 5
    assert len({answer["Location"] for answer in answers}) == 1
    assert Record.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"answer_cable_plug": ""}, "Answer this: OK, Wrong or Could not check."),
        ({"answer_cable_plug": "fine"}, "Choose one of these."),
        ({"answer_cable_plug": "wrong"}, "Say in a word what is wrong"),
        ({"answer_cable_plug": "could not check", "word_cable_plug": " "}, "Say in a word"),
    ],
)
def test_what_is_missing_is_said_and_what_was_typed_is_kept(
    machine: Machine, operator: User, change: dict[str, str], message: str
) -> None:
    data = filled(machine, answer_drum="wrong", word_drum="grinds & squeals") | change

    response = signed_in(operator).post(address(machine), data)

    page = response.content.decode()
    assert response.status_code == 422
    assert message in page
    assert "grinds &amp; squeals" in page
    assert Record.objects.count() == 0


@pytest.mark.parametrize("entry", ["", "no number"])
def test_a_page_that_lost_its_number_is_still_saved(
    machine: Machine, operator: User, entry: str
) -> None:
    signed_in(operator).post(address(machine), filled(machine) | {"entry": entry})

    assert Record.objects.count() == 1


def test_another_depots_machine_does_not_exist(machine: Machine, outsider: User) -> None:
    client = signed_in(outsider)

    for name in ("machine", "check", "report_fault", "stop_machine", "add_meter_figure"):
        assert client.get(address(machine, name)).status_code == 404
    assert client.post(address(machine), filled(machine)).status_code == 404


def test_the_administrator_signs_no_check(machine: Machine, administrator: User) -> None:
    assert signed_in(administrator).get(address(machine)).status_code == 403


def test_by_label_without_an_account(machine: Machine, client: Client) -> None:
    assert "Start check" in client.get(label(machine, "label")).content.decode()
    data = filled(machine, by_name="Łukasz Ó Builder")

    response = client.post(label(machine), data, follow=True)

    assert "OK to use" in response.content.decode()
    check = Check.objects.get()
    assert (check.by_label, check.record.by, check.record.role) == (True, None, "label")
    again = client.get(label(machine)).content.decode()
    assert 'value="Łukasz Ó Builder"' in again


def test_by_label_the_name_is_needed(machine: Machine, client: Client) -> None:
    response = client.post(label(machine), filled(machine))

    assert response.status_code == 422
    assert Record.objects.count() == 0


def test_signed_in_at_the_label_needs_no_name(machine: Machine, operator: User) -> None:
    signed_in(operator).post(label(machine), filled(machine))

    record = Record.objects.get()
    assert (record.by, record.role) == (operator, "operator")


def test_unknown_and_forbidden_labels_are_answered_alike(depot: Depot, client: Client) -> None:
    closed = make_machine(depot)
    depot.checks_by_label = False
    depot.save()

    for name in ("label", "label_check", "label_fault", "label_stop"):
        answers = [
            client.get(reverse(f"maintenance:{name}", args=[code]))
            for code in (closed.label_code, "A" * 22)
        ]
        assert [answer.status_code for answer in answers] == [302, 302]
        assert answers[0]["Location"] == answers[1]["Location"]
    assert client.post(label(closed), filled(closed, by_name="Ola")).status_code == 302
    assert Record.objects.count() == 0


def test_where_labels_are_closed_the_depots_people_still_use_them(
    depot: Depot, operator: User
) -> None:
    depot.checks_by_label = False
    depot.save()
    machine = make_machine(depot)

    signed_in(operator).post(label(machine), filled(machine))

    assert Record.objects.get().by == operator


def test_a_label_shows_no_other_machine(
    machine: Machine, depot: Depot, client: Client, operator: User
) -> None:
    other = make_machine(depot, "QQ-999")
    response = signed_in(operator).post(address(other), filled(other))
    record = Record.objects.get()
    assert response.status_code == 302

    foreign = reverse("maintenance:label_sent", args=[machine.label_code, record.pk])

    assert client.get(foreign).status_code == 404
    for name in ("label", "label_check", "label_fault", "label_stop"):
        assert "QQ-999" not in client.get(label(machine, name)).content.decode()


def test_a_label_frees_nothing(machine: Machine, client: Client) -> None:
    wrong = filled(machine, answer_drum="wrong", word_drum="grinds", by_name="Ola")
    client.post(label(machine), wrong)

    page = client.post(label(machine), filled(machine, by_name="Ola"), follow=True)

    assert "Do not use: tell your foreman." in page.content.decode()
    assert Stop.objects.standing().count() == 1
    stop = Stop.objects.get()
    for name, pk in (("release", machine.pk), ("decide", stop.pk)):
        answer = client.post(reverse(f"maintenance:{name}", args=[pk]), {})
        assert answer.status_code == 302
        assert "sign-in" in answer["Location"]


def test_a_fault_gives_a_job_number(machine: Machine, client: Client) -> None:
    data = {
        "entry": str(uuid.uuid4()),
        "part": "drum",
        "told": "grinds",
        "stop": "decide",
        "by_name": "Ola",
    }

    page = client.post(label(machine, "label_fault"), data, follow=True).content.decode()

    assert f"Job {Job.objects.get().number} raised." in page


def test_whether_to_stop_has_no_default(machine: Machine, operator: User) -> None:
    data = {"entry": str(uuid.uuid4()), "part": "drum", "told": "grinds"}

    response = signed_in(operator).post(address(machine, "report_fault"), data)

    assert response.status_code == 422
    assert "grinds" in response.content.decode()
    assert Job.objects.count() == 0


def test_stopped_by_one_press_and_a_reason(machine: Machine, operator: User) -> None:
    data = {"entry": str(uuid.uuid4()), "told": "smells of burning"}

    page = signed_in(operator).post(address(machine, "stop_machine"), data, follow=True)

    assert "Do not use: tell your foreman." in page.content.decode()


def photo(**more: Any) -> SimpleUploadedFile:
    picture = BytesIO()
    Image.new("RGB", (64, 48), "red").save(picture, "PNG", **more)
    return SimpleUploadedFile("../../evil.svg", picture.getvalue(), "image/svg+xml")


def test_a_photo_is_cleaned_sealed_and_shown_to_whom_it_concerns(
    machine: Machine, operator: User, outsider: User, client: Client
) -> None:
    data = filled(machine, answer_drum="wrong", word_drum="grinds") | {"photo": photo()}
    signed_in(operator).post(address(machine), data)

    kept = RecordPhoto.objects.get()
    where = reverse("maintenance:record_photo", args=[kept.record_id, "photo"])
    shown = signed_in(operator).get(where)
    body = b"".join(shown.streaming_content)  # type: ignore[arg-type]
    assert Image.open(BytesIO(body)).format == "JPEG"
    assert shown["Content-Type"] == "image/jpeg"
    assert shown["Content-Disposition"].startswith("attachment")
    assert "sandbox" in shown["Content-Security-Policy"]
    assert "evil" not in kept.file.name
    assert signed_in(outsider).get(where).status_code == 404
    assert client.get(where).status_code == 302


def test_what_is_no_photo_is_refused_at_its_field(machine: Machine, operator: User) -> None:
    svg = SimpleUploadedFile("a.jpg", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "image/jpeg")

    response = signed_in(operator).post(address(machine), filled(machine) | {"photo": svg})

    assert response.status_code == 422
    assert "This is not a photo." in response.content.decode()


def test_each_photo_stands_beside_its_answer_on_the_record(
    machine: Machine, operator: User
) -> None:
    data = filled(machine, answer_drum="wrong", word_drum="grinds") | {
        "photo_drum": photo(), "photo": photo(), "answer_cable_plug": "could not check",
        "word_cable_plug": "no supply here", "photo_cable_plug": photo(),
    }  # fmt: skip
    client = signed_in(operator)
    client.post(address(machine), data)

    record = Record.objects.get()
    assert {each.name for each in record.photos.all()} == {"drum", "cable_plug", "photo"}
    page = client.get(reverse("maintenance:record", args=[record.pk])).content.decode()
    row = page[page.index("grinds") : page.index("</tr>", page.index("grinds"))]
    assert reverse("maintenance:record_photo", args=[record.pk, "drum"]) in row
    assert page.count("<img") == 3


def test_seven_photos_are_refused_and_the_answers_kept(machine: Machine, operator: User) -> None:
    _, asked = questions(machine, at=now())
    data = filled(machine, word_drum="grinds") | {f"photo_{q.key}": photo() for q in asked[:7]}

    response = signed_in(operator).post(address(machine), data)

    assert response.status_code == 422
    assert "At most 6 photos" in response.content.decode()
    assert 'value="grinds"' in response.content.decode()


@pytest.mark.parametrize(
    ("typed", "dial"), [("1204.5", 12045), ("120:30", 1205), ("", None), (" ", None)]
)
def test_the_meter_is_asked_for_and_may_be_left_empty(
    machine: Machine, operator: User, typed: str, dial: int | None
) -> None:
    assert "What the meter shows" in signed_in(operator).get(address(machine)).content.decode()

    signed_in(operator).post(address(machine), filled(machine, dial=typed))

    reading = Check.objects.get().reading
    assert (reading.dial_tenths if reading else None) == dial


def test_a_questioned_figure_is_said_on_the_answer_page(machine: Machine, operator: User) -> None:
    data = filled(machine, dial="40.1")

    page = signed_in(operator).post(address(machine), data, follow=True).content.decode()

    assert "Kept as questioned: 40.1 h is lower than the last reading" in page
    assert "OK to use" in page


def test_a_decimal_comma_in_the_meter_is_said_and_nothing_is_lost(
    machine: Machine, operator: User
) -> None:
    response = signed_in(operator).post(address(machine), filled(machine, dial="40,1"))

    assert response.status_code == 422
    assert 'value="40,1"' in response.content.decode()
    assert not Record.objects.exists()


def test_a_machine_that_counts_is_asked_for_each_count(
    machine: Machine, operator: User, fitter: User
) -> None:
    record_meter(
        machine=machine, dial_tenths=12_000, typed="1200", measure="starts",
        at=MONDAY - timedelta(days=1), by=fitter,
    )  # fmt: skip
    client = signed_in(operator)
    assert "What the counter shows, starts" in client.get(address(machine)).content.decode()
    wrong = client.post(address(machine), filled(machine, count_starts="12,4"))
    assert wrong.status_code == 422
    assert "12,4" in wrong.content.decode()
    client.post(address(machine), filled(machine, count_starts="1240"))

    assert machine.counters.get().total_tenths == 12_400
    check = Check.objects.get()
    shown = client.get(reverse("maintenance:record", args=[check.record_id])).content.decode()
    assert "On the counter: starts" in shown


def test_a_machine_without_a_meter_is_not_asked_for_one(machine: Machine, operator: User) -> None:
    Machine.objects.update(hours_tenths=None)
    MachineKind.objects.update(has_meter=False)

    page = signed_in(operator).get(address(machine)).content.decode()

    assert "What the meter shows" not in page
