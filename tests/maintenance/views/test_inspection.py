"""The pages of the look-over and the inspection, and the condition of a machine out and in."""

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from addresses import picture, signed_in
from maintenance.actions.inspection import points
from maintenance.actions.job import ISOLATED
from maintenance.models import Inspection, InspectionDraft, Stay
from make import make_kind, make_machine
from plant.models import Depot, Machine, Record, User

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")
ALL_TICKED = [key for key, _ in ISOLATED]


def address(name: str, pk: object) -> str:
    # The issue lies with the paper that goes with it.
    return reverse(f"{'reports' if name == 'issue' else 'maintenance'}:{name}", args=[pk])


def filled(machine: Machine, kind: str = "look-over", **more: Any) -> dict[str, Any]:
    form: dict[str, Any] = {"entry": str(uuid.uuid4())}
    for point in points(machine, kind, at=now())[1]:
        form[f"answer_{point.key}"] = "none on it" if point.unit else "ok"
    return form | more


def text(response: Any) -> str:
    return str(response.content.decode())


def inspected(client: Client, machine: Machine) -> str:
    return text(client.get(address("inspection", machine.pk)))


def test_a_look_over_from_the_page_and_pressed_twice(machine: Machine, fitter: User) -> None:
    client, form = signed_in(fitter), filled(machine, note="dry and clean")
    page = text(client.get(address("look_over", machine.pk)))
    assert page.index("General") < page.index("Electrical") < page.index("Guards")
    assert "Isolated by" not in page

    for _ in range(2):
        response = client.post(address("look_over", machine.pk), form, follow=True)

    assert "Look-over: passed. Sealed." in text(response)
    made = Inspection.objects.get()
    shown = text(client.get(address("record", made.record_id)))
    assert shown.index("General") < shown.index("Electrical") < shown.index("Guards")
    assert "dry and clean" in shown


def test_what_is_missing_is_said_at_its_point_and_nothing_is_lost(
    machine: Machine, fitter: User
) -> None:
    form = filled(machine, answer_belt_guard="wrong", word_cable="a nick", note="kept")
    client = signed_in(fitter)

    wordless = text(client.post(address("look_over", machine.pk), form))
    del form["answer_frame"]
    response = client.post(address("look_over", machine.pk), form)

    assert "Belt guard: say in a word what is wrong, or why not checked." in wordless
    assert response.status_code == 422
    shown = text(response)
    assert "Answer this: OK, Wrong or Could not check." in shown
    assert 'value="a nick"' in shown
    assert "kept</textarea>" in shown
    assert Inspection.objects.count() == 0


def test_the_isolated_points_come_only_after_the_confirmation(
    machine: Machine, fitter: User
) -> None:
    client, form = signed_in(fitter), filled(machine, "inspection")
    before = inspected(client, machine)
    assert "answer_belt_condition" not in before
    assert "Isolate it" in before

    sneaked = client.post(address("inspection", machine.pk), form)
    assert sneaked.status_code == 422
    half = client.post(
        address("inspection", machine.pk), form | {"do": "isolate", "isolated": ALL_TICKED[:3]}
    )
    assert half.status_code == 422
    assert "Not confirmed yet: The tag is on" in text(half)
    assert "answer_belt_condition" not in inspected(client, machine)

    done = client.post(
        address("inspection", machine.pk),
        form | {"do": "isolate", "isolated": ALL_TICKED, "word_cable": "a nick"}, follow=True,
    )  # fmt: skip
    after = text(done)
    assert "answer_belt_condition" in after
    assert f"Isolated by {fitter.name}" in after
    assert 'value="a nick"' in after, "what was answered before is kept"
    assert client.post(address("inspection", machine.pk), form).status_code == 302
    assert Inspection.objects.get().kind == "inspection"
    assert not InspectionDraft.objects.exists()


def test_the_confirmation_of_one_person_shows_nothing_to_another(
    machine: Machine, fitter: User, foreman: User
) -> None:
    client = signed_in(fitter)
    isolate = {"do": "isolate", "isolated": ALL_TICKED}
    client.post(address("inspection", machine.pk), filled(machine, "inspection", **isolate))

    assert "answer_belt_condition" in inspected(client, machine)
    assert "answer_belt_condition" not in inspected(signed_in(foreman), machine)


def test_it_is_kept_on_the_way_and_found_again(machine: Machine, fitter: User) -> None:
    client = signed_in(fitter)
    hostile = "<i>\u202e half \u0000 done"
    typed = {"do": "keep", "answer_frame": "wrong", "word_frame": "bent", "note": hostile}

    kept = client.post(address("look_over", machine.pk), typed, follow=True)

    shown = text(kept)
    assert "Kept for you, photos aside. Not sealed yet." in shown
    assert 'value="bent"' in shown
    assert "<i>" not in shown
    assert Record.objects.filter(machine=machine).count() == 0


def test_who_is_not_competent_reads_so_before_anything_is_filled_in(
    machine: Machine, operator: User
) -> None:
    client = signed_in(operator)

    shown = text(client.get(address("look_over", machine.pk)))
    sent = client.post(address("look_over", machine.pk), filled(machine))

    assert "You hold no competence for look-overs and inspections" in shown
    assert "<fieldset" not in shown
    assert sent.status_code == 422
    assert Inspection.objects.count() == 0


def test_a_figure_has_its_limit_beside_it_and_a_wrong_unit_is_refused(
    depot: Depot, fitter: User
) -> None:
    generator = make_machine(depot, kind=make_kind("generator"), supply="petrol")
    client = signed_in(fitter)
    shown = text(client.get(address("look_over", generator.pk)))
    assert shown.index("Limit: 207 to 253 V. EN 50160") < shown.index('name="figure_output_230"')

    form = filled(generator, answer_output_230="", figure_output_230="230 Hz")
    odd = client.post(address("look_over", generator.pk), form)
    both = client.post(
        address("look_over", generator.pk), filled(generator, figure_output_230="230")
    )

    assert odd.status_code == both.status_code == 422
    assert "Enter a number alone or with V or kV" in text(odd)
    assert "not both" in text(both)


def test_a_photo_stands_beside_its_point(machine: Machine, fitter: User) -> None:
    file = SimpleUploadedFile("x.png", picture(), "image/jpeg")
    form = filled(machine, answer_frame="wrong", word_frame="bent", photo_frame=file)
    client = signed_in(fitter)

    client.post(address("look_over", machine.pk), form)

    made = Inspection.objects.get()
    assert [photo.name for photo in made.record.photos.all()] == ["frame"]
    assert "photo" in text(client.get(address("record", made.record_id)))


def going(**more: Any) -> dict[str, Any]:
    back = (now() + timedelta(days=1)).date().isoformat()
    return {
        "entry": str(uuid.uuid4()), "site": "Plot 4", "site_phone": "01632 960 200",
        "hirer": "Ash Groundworks", "due_back_on": back, "passport": "on",
    } | more  # fmt: skip


def test_the_condition_out_stands_beside_the_condition_in(depot: Depot, desk: User) -> None:
    machine = make_machine(depot, supply="petrol", looked_at=now())
    client = signed_in(desk)
    out = going(
        went_with="Two leads\nGuard; key", condition="a scratch", fuel="3/4", clean="clean",
        photo=SimpleUploadedFile("x.png", picture(), "image/jpeg"),
    )  # fmt: skip
    assert client.post(address("issue", machine.pk), out).status_code == 302

    page = text(client.get(address("take_back", machine.pk)))
    for seen in ("Three quarters", "a scratch", "Ash Groundworks", "Guard", "key", "<img"):
        assert seen in page, seen
    response = client.post(
        address("take_back", machine.pk),
        {
            "entry": str(uuid.uuid4()), "came": ["0", "2"], "came_with": "a bucket",
            "condition": "a dent", "fuel": "empty", "clean": "dirty",
        },
    )  # fmt: skip

    assert response["Location"] == address("machine", machine.pk), "no competence, no look-over"
    stay = Stay.objects.get()
    assert (stay.fuel_out, stay.fuel_in) == ("3/4", "empty")
    assert (stay.clean_out, stay.clean_in) == ("clean", "dirty")
    assert stay.came_with == "Two leads\nkey\na bucket"
    assert stay.missing_in == "Guard"
    assert stay.ended is not None
    shown = text(client.get(address("record", stay.ended_id)))
    assert "Did not come back" in shown
    assert "a dent" in shown


def test_fuel_is_asked_only_where_it_is_fuelled(machine: Machine, desk: User) -> None:
    page = text(signed_in(desk).get(address("issue", machine.pk)))

    assert 'name="fuel"' not in page
    assert 'name="clean"' in page


def test_the_machine_page_says_until_when_the_look_over_holds(
    machine: Machine, fitter: User
) -> None:
    client = signed_in(fitter)
    assert "Not looked over yet" in text(client.get(address("machine", machine.pk)))

    client.post(address("look_over", machine.pk), filled(machine))
    shown = text(client.get(address("machine", machine.pk)))
    assert "Look-over: passed" in shown
    assert "Look-over due by" in shown

    Machine.objects.update(looked_at=now() - timedelta(days=90))
    page = text(client.get(address("machine", machine.pk)))
    assert "Look-over overdue since" in page
    assert "It cannot go out before one is passed." in page
