"""The page that works out a drive from what is typed."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from plant.models import User

TYPED = {
    "belt_mark": "13A690 660 Li",
    "driver": "80 mm",
    "driven": "180 mm",
    "driver_depth": "8.7 mm",
    "driven_depth": "8.7 mm",
    "width_now": "10.4 mm",
    "width_now_tool": "calliper",
    "centres": "131.1 mm",
    "slot_out": "10 mm",
    "motor_power": "0.55 kW",
    "motor_speed": "1400 rpm",
    "load": "heavy",
    "hard_start": "on",
    "guessed": ["driven_depth"],
}


@pytest.fixture
def signed_in(client: Client, operator: User) -> Client:
    client.force_login(operator)
    return client


def test_it_is_for_people_signed_in(client: Client, db: None) -> None:
    answer = client.get(reverse("plant:work_out"))

    assert answer.status_code == 302
    assert reverse("plant:sign_in") in answer.headers["Location"]


def test_the_address_is_as_agreed() -> None:
    assert reverse("plant:work_out") == "/belts/work-out"


def test_without_figures_the_form_is_shown(signed_in: Client) -> None:
    answer = signed_in.get(reverse("plant:work_out"))

    assert answer.status_code == 200
    assert "Give what you know" in answer.content.decode()
    assert "Before the guard comes off" in answer.content.decode()


def test_figures_give_the_answer_and_its_working(signed_in: Client) -> None:
    page = signed_in.get(reverse("plant:work_out"), TYPED)
    text = page.content.decode()

    assert page.status_code == 200
    assert "Change the belt now." in text
    assert "2.60 / (2 × tan(34° / 2))" in text
    assert "It stands" in text or "may stand on the floor" in text
    assert 'value="80 mm"' in text
    assert '<span class="guess">guess</span>' in text
    assert "<svg" in text
    assert "style=" not in text.replace("font-style=", "")


def test_a_single_figure_gives_what_it_can(signed_in: Client) -> None:
    page = signed_in.get(reverse("plant:work_out"), {"driver": "80 mm", "driven": "180 mm"})

    assert page.status_code == 200
    assert "It would settle" in page.content.decode()


def test_the_figures_stay_in_the_address(signed_in: Client) -> None:
    first = signed_in.get(reverse("plant:work_out"), TYPED)
    again = signed_in.get(first.wsgi_request.get_full_path())

    assert again.context["said"] == first.context["said"]


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ({"driver": "80 kg"}, "driver", "mm"),
        ({"driver": "80,5"}, "driver", "point"),
        ({"belt_mark": "A690"}, "belt_mark", "."),
        ({"gears": "15-60"}, "gears", "15:60"),
        ({"friction": "much"}, "friction", "plain number"),
        ({"belts": "0"}, "belts", "1"),
        ({"load": "monstrous"}, "load", "Choose"),
        ({"section": "Q"}, "section", "Choose"),
    ],
)
def test_what_is_wrong_stands_beside_its_field_and_all_is_kept(
    signed_in: Client, wrong: dict[str, str], field: str, said: str
) -> None:
    page = signed_in.get(reverse("plant:work_out"), TYPED | wrong)

    assert page.status_code == 422
    assert said in " ".join(page.context["form"].errors[field])
    assert 'value="180 mm"' in page.content.decode()


def test_figures_that_contradict_are_told_at_the_top(signed_in: Client) -> None:
    page = signed_in.get(
        reverse("plant:work_out"), {"driver": "80 mm", "driven": "180 mm", "length": "300 mm"}
    )

    assert page.status_code == 422
    assert "accepted" in str(page.context["form"].non_field_errors())


def test_what_is_typed_is_never_taken_for_markup(signed_in: Client) -> None:
    page = signed_in.get(
        reverse("plant:work_out"), {"belt_mark": '"><script>alert(1)</script>', "driver": "<b>"}
    )

    assert page.status_code == 422
    assert "<script>alert" not in page.content.decode()
    assert "<b>" not in page.content.decode().replace("<b>Site plant</b>", "")


def test_nothing_is_written(signed_in: Client) -> None:
    with CaptureQueriesContext(
        connection,
    ) as queries:
        signed_in.get(reverse("plant:work_out"), TYPED)

    assert not [one for one in queries if not one["sql"].lstrip().upper().startswith("SELECT")]
    assert len(queries) <= 8


def test_other_methods_are_not_taken(signed_in: Client) -> None:
    assert signed_in.post(reverse("plant:work_out"), TYPED).status_code == 405
