"""The office: inviting, roles, links, and three depots that see nothing of each other."""

import io
from datetime import UTC, datetime

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from make import make_depot, make_user
from plant.models import Depot, Membership, Role, User, WayIn

PASSWORD = "kettle birch lantern otter"
NOW = datetime(2026, 11, 25, 7, 31, tzinfo=UTC)


@pytest.fixture
def three(db: None) -> dict[str, tuple[Depot, User, User]]:
    """Three depots, each with its manager and a fitter; one person works in two of them."""
    found = {}
    for code in ("north", "south", "west"):
        depot = make_depot(code)
        manager = make_user(f"Mo {code.title()}", (depot, Role.MANAGER), password=PASSWORD)
        make_user(f"Ada {code.title()}", (depot, Role.ADMINISTRATOR))
        found[code] = (depot, manager, make_user(f"Finn {code.title()}", (depot, Role.FITTER)))
    for code in ("north", "south"):
        both, _ = User.objects.get_or_create(sign_in="bo.both", defaults={"name": "Bo Both"})
        Membership.objects.create(user=both, depot=found[code][0], role=Role.DESK)
    return found


def signed_in(user: User) -> Client:
    client = Client()
    client.post(reverse("plant:sign_in"), {"sign_in": user.sign_in, "password": PASSWORD})
    return client


def test_list_search_paper_and_pages_hold_one_depot_of_three(
    three: dict[str, tuple[Depot, User, User]],
) -> None:
    for code, (depot, manager, fitter) in three.items():
        client = signed_in(manager)
        others = [each for each in three if each != code]
        for query in ("", "?q=finn", "?role=fitter", "?state=invited", "?q=both", "?q=west"):
            page = client.get(reverse("plant:account_list") + query).content.decode()
            shown = page.split("<main", 1)[1].replace(f'value="{query[3:]}"', "")
            for other in others:
                assert f"{other.title()} yard" not in shown, (code, query)
                assert f"Finn {other.title()}" not in shown
        listed = client.get(reverse("plant:account_list")).content.decode()
        assert f"Finn {code.title()}" in listed
        assert ("Bo Both" in listed) == (code != "west")
        assert f"{3 + (code != 'west')} accounts" in listed
        paper = PdfReader(io.BytesIO(client.get(reverse("reports:rights_list")).content))
        words = "".join(each.extract_text() for each in paper.pages)
        assert f"{code} yard".upper() in words
        assert "Signature" in words
        assert not any(other in words.lower() for other in others)
        form = client.get(reverse("plant:change_roles", args=[fitter.pk])).content.decode()
        assert not any(f"{other.title()} yard" in form for other in others)
        for other in others:
            stranger = three[other][2]
            for name in ("account", "change_roles", "change_account", "way_in_link"):
                answer = client.post(reverse(f"plant:{name}", args=[stranger.pk]))
                assert answer.status_code in (404, 405), name
        # A role in a depot of others, sent without a field for it, is not given.
        client.post(
            reverse("plant:change_roles", args=[fitter.pk]),
            {f"role-{depot.pk}-desk": "on", f"role-{three[others[0]][0].pk}-desk": "on",
             f"role-{depot.pk}-administrator": "on"},
        )  # fmt: skip
        held = set(Membership.objects.filter(user=fitter).values_list("depot", "role"))
        assert held == {(depot.pk, "desk")}


def test_an_invitation_ends_in_a_link_that_only_who_made_it_sees(
    three: dict[str, tuple[Depot, User, User]],
) -> None:
    depot, manager, _ = three["north"]
    client = signed_in(manager)
    told = {"name": "Ida Brandt", "sign_in": "ida.brandt", f"role-{depot.pk}-fitter": "on"}
    bad = client.post(reverse("plant:invite"), told | {"sign_in": "finn.north"})
    assert bad.status_code == 422
    assert "This sign-in name is taken" in bad.content.decode()
    assert 'value="Ida Brandt"' in bad.content.decode()

    answer = client.post(reverse("plant:invite"), told, follow=True)

    link = WayIn.objects.get()
    page = answer.content.decode()
    assert link.code in page
    assert "<svg" in page
    other = make_user("Ada Other", (depot, Role.ADMINISTRATOR), password=PASSWORD)
    seen = signed_in(other).get(reverse("plant:way_in_link", args=[link.user_id])).content.decode()
    assert link.code not in seen
    assert "Somebody else made a link" in seen


def test_an_administrator_gives_roles_and_does_no_plant_work(db: None) -> None:
    depot = make_depot("north")
    ada = make_user("Ada North", (depot, Role.ADMINISTRATOR), password=PASSWORD)
    person = make_user("Ida Brandt", (depot, Role.OPERATOR))
    client = signed_in(ada)
    client.post(reverse("plant:change_roles", args=[person.pk]), {f"role-{depot.pk}-manager": "on"})
    assert Membership.objects.get(user=person).role == "manager"
    own = client.post(
        reverse("plant:change_roles", args=[ada.pk]),
        {f"role-{depot.pk}-administrator": "on", f"role-{depot.pk}-fitter": "on"},
    )
    assert own.status_code == 422
    assert "Nobody changes their own roles" in own.content.decode()
    assert client.get(reverse("maintenance:add_machine")).status_code == 403


def test_settings_say_what_they_do_and_who_may_not_change_them_reads_them(db: None) -> None:
    depot = make_depot("north")
    ada = make_user("Ada North", (depot, Role.ADMINISTRATOR), password=PASSWORD)
    mo = make_user("Mo North", (depot, Role.MANAGER), password=PASSWORD)
    address = reverse("maintenance:depot_settings", args=[depot.pk])
    client = signed_in(ada)
    page = client.get(address).content.decode()
    assert "without an account" in page
    shown = {
        "name": "North yard", "code": "north", "time_zone": "Europe/London",
        "length_system": "RMA", "one_person": "on",
    }  # fmt: skip
    wrong = client.post(address, shown | {"time_zone": "Mars"})
    assert wrong.status_code == 422
    assert "Mars is not a time zone" in wrong.content.decode()
    assert client.post(address, shown).status_code == 302
    depot.refresh_from_db()
    assert (depot.checks_by_label, depot.one_person, depot.length_system) == (False, True, "RMA")
    manager = signed_in(mo)
    assert manager.get(address).status_code == 403
    listed = manager.get(reverse("maintenance:depot_list")).content.decode()
    assert "A label asks to sign in first." in listed
    assert "An administrator changes these." in listed
