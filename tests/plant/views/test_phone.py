"""Shared phones: enrolled once, signed in on by name and code, guessed by nobody, ended at once."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any
from unittest import mock

import pytest
import time_machine
from django.contrib.auth.hashers import check_password
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from make import make_machine, make_user
from plant.actions.phone import ask_phone, enrol, give_first_code, set_own_code, withdraw
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Membership, Phone, PhoneCode, Record, Role, User
from plant.models.phone import MOST_WRONG
from plant.rights import Right, may

NOW = datetime(2026, 11, 25, 7, 31, tzinfo=UTC)
CODE, WRONG, OTHER = "471903", "990217", "602814"
PASSWORD = "seven geese and a kettle"


@pytest.fixture(autouse=True)
def clock() -> Iterator[Any]:
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


def enrolled(depot: Depot, by: User, name: str = "Site box 2") -> tuple[Phone, Client]:
    _, code = ask_phone(depot=depot, name=name, by=by, at=now())
    phone, secret = enrol(code=code, at=now())
    client = Client()
    client.cookies["phone"] = secret
    return phone, client


@pytest.fixture
def box(depot: Depot, manager: User) -> Client:
    """The browser of an enrolled phone."""
    return enrolled(depot, manager)[1]


@pytest.fixture
def coded(fitter: User) -> User:
    set_own_code(user=fitter, code=CODE, at=NOW)
    return fitter


def send(client: Client, person: int, code: str = CODE, **more: str) -> Any:
    return client.post(reverse("plant:code_sign_in"), {"person": person, "code": code, **more})


def signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def plain(answer: Any, *names: str) -> tuple[int, str]:
    text = answer.content.decode().replace(str(answer.context["csrf_token"]), "")
    return answer.status_code, text.replace(" selected", "")


# --- Enrolling -----------------------------------------------------------------------------
def test_a_manager_makes_a_code_and_the_phone_uses_it_up(
    client: Client, depot: Depot, manager: User
) -> None:
    client.force_login(manager)
    asked = {"name": "Site box 2", "depot": depot.pk}
    page = client.post(reverse("plant:phone_list"), asked, follow=True)
    code = page.context["code"]
    assert "<svg" in page.content.decode()
    phone = Client()
    opened = phone.get(reverse("plant:enrol_phone") + f"?code={code}").content.decode()
    assert code in opened
    assert not Phone.objects.enrolled().exists(), "looking uses nothing up"

    answer = phone.post(reverse("plant:enrol_phone"), {"code": code.lower()}, follow=True)

    cookie = phone.cookies["phone"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert int(cookie["max-age"]) > 300 * 24 * 3600
    assert "This is Site box 2, of North yard." in answer.content.decode()
    kept = Phone.objects.get()
    assert cookie.value not in (kept.key_hash, kept.link_hash)
    assert code.replace("-", "") not in repr(Phone.objects.values_list())
    again = Client().post(reverse("plant:enrol_phone"), {"code": code})
    assert again.status_code == 422
    # Used up, it is shown no more; nor was it ever shown to another manager.
    assert client.get(page.request["PATH_INFO"]).status_code == 302


def test_only_who_asked_sees_the_code(client: Client, depot: Depot, manager: User) -> None:
    client.force_login(manager)
    asked = {"name": "Site box 2", "depot": depot.pk}
    where = client.post(reverse("plant:phone_list"), asked)["Location"]
    other = Client()
    other.force_login(make_user("Ove Over", (depot, Role.MANAGER)))

    assert client.get(where).status_code == 200
    assert other.get(where).status_code == 302


@pytest.mark.parametrize("late", [timedelta(hours=1), timedelta(days=2)])
def test_after_an_hour_the_code_counts_no_more(
    depot: Depot, manager: User, clock: Any, late: timedelta
) -> None:
    _, code = ask_phone(depot=depot, name="Van", by=manager, at=NOW)
    clock.shift(late)

    assert Client().post(reverse("plant:enrol_phone"), {"code": code}).status_code == 422
    # Its name is free again.
    assert ask_phone(depot=depot, name="Van", by=manager, at=now())


def test_unknown_used_and_late_codes_are_answered_alike(depot: Depot, manager: User) -> None:
    _, used = ask_phone(depot=depot, name="A", by=manager, at=NOW)
    enrol(code=used, at=NOW)
    gone, withdrawn = ask_phone(depot=depot, name="B", by=manager, at=NOW)
    withdraw(phone=gone, by=manager, at=NOW)
    told = set()
    for code in (used, withdrawn, "2" * 12):
        answer = Client().post(reverse("plant:enrol_phone"), {"code": code})
        told.add(plain(answer)[1].replace(code, ""))

    assert len(told) == 1


def test_guessing_the_code_is_held_back(depot: Depot, manager: User) -> None:
    _, code = ask_phone(depot=depot, name="Van", by=manager, at=NOW)
    statuses = [
        Client().post(reverse("plant:enrol_phone"), {"code": f"{n:012d}"}).status_code
        for n in range(7)
    ]

    assert statuses == [422] * 5 + [429] * 2
    assert Client().post(reverse("plant:enrol_phone"), {"code": code}).status_code == 429


def test_enrolling_signs_out_whoever_was_signed_in_there(
    client: Client, depot: Depot, manager: User
) -> None:
    _, code = ask_phone(depot=depot, name="Van", by=manager, at=NOW)
    client.force_login(manager)

    client.post(reverse("plant:enrol_phone"), {"code": code})

    assert not signed_in(client)


@pytest.mark.parametrize(
    "name", ["", "   ", "x" * 41, "box\n2", "box \u202e2", "Site box 2"], ids=range(6)
)
def test_a_name_that_cannot_be_kept_or_is_taken(depot: Depot, manager: User, name: str) -> None:
    enrolled(depot, manager)

    with pytest.raises(Refused) as refused:
        ask_phone(depot=depot, name=name, by=manager, at=NOW)
    assert refused.value.field == "name"


def test_odd_names_are_shown_as_they_are(depot: Depot, manager: User, coded: User) -> None:
    User.objects.filter(pk=coded.pk).update(name="<b>Łukasz</b> & sons")
    _, box = enrolled(depot, manager, name="<i>Box</i> “2” & van")

    page = box.get(reverse("plant:sign_in")).content.decode()

    assert "&lt;b&gt;Łukasz&lt;/b&gt; &amp; sons" in page
    assert "&lt;i&gt;Box&lt;/i&gt; “2” &amp; van" in page
    assert "<i>Box" not in page


def test_only_managers_and_administrators_enrol_and_withdraw(
    depot: Depot, manager: User, foreman: User, outsider: User
) -> None:
    phone, _ = enrolled(depot, manager)
    for person, status in ((foreman, 403), (outsider, 404)):
        client = Client()
        client.force_login(person)
        answer = client.post(reverse("plant:withdraw_phone", args=[phone.pk]))
        assert answer.status_code == status
        with pytest.raises(PermissionError):
            ask_phone(depot=depot, name="Van", by=person, at=NOW)
    assert Phone.objects.enrolled().exists()


# --- Signing in ----------------------------------------------------------------------------
def test_the_phone_offers_the_people_of_its_depot_and_nobody_else(
    box: Client, coded: User, operator: User, outsider: User, manager: User
) -> None:
    left = make_user("Lou Left")
    page = box.get(reverse("plant:sign_in") + "?next=/due")

    told = page.content.decode()
    assert coded.name in told
    assert operator.name in told
    for person in (outsider, left, manager):  # a manager alone signs in with a password
        assert person.name not in told
    assert 'name="next" value="/due"' in told
    assert "Sign-in name" in box.get(reverse("plant:sign_in") + "?password=1").content.decode()


def test_name_and_code_sign_in_and_lead_on(box: Client, coded: User) -> None:
    answer = send(box, coded.pk, next="/machines?q=1")

    assert (answer.status_code, answer["Location"]) == (302, "/machines?q=1")
    assert box.session["_auth_user_id"] == str(coded.pk)
    assert "Finn Fitter, on Site box 2" in box.get("/").content.decode()
    assert send(box, coded.pk, next="//example.org")["Location"] == "/"


def test_elsewhere_there_is_no_such_door(client: Client, coded: User) -> None:
    for secret in ("", "made-up", "\u00e9" * 30):
        client.cookies["phone"] = secret
        answer = send(client, coded.pk)
        assert (answer.status_code, answer["Location"]) == (302, reverse("plant:sign_in"))
        assert not signed_in(client)


def test_a_phone_of_another_depot_signs_in_none_of_ours(
    coded: User, other_depot: Depot, outsider: User
) -> None:
    _, elsewhere = enrolled(other_depot, outsider)

    assert send(elsewhere, coded.pk).status_code == 422
    assert not signed_in(elsewhere)
    # Nor does it use up anything of theirs.
    assert PhoneCode.objects.get(user=coded).wrong == 0


def test_every_failure_is_answered_alike_and_works_on_one_code(
    box: Client, depot: Depot, coded: User, operator: User, outsider: User, manager: User
) -> None:
    for person in (outsider, manager):
        set_own_code(user=person, code=CODE, at=NOW)
    gone = make_user("Gone", (depot, Role.FITTER))
    set_own_code(user=gone, code=CODE, at=NOW)
    User.objects.filter(pk=gone.pk).update(is_active=False)
    worn = make_user("Worn", (depot, Role.FITTER))
    set_own_code(user=worn, code=CODE, at=NOW)
    PhoneCode.objects.filter(user=worn).update(wrong=MOST_WRONG)
    late = make_user("Late", (depot, Role.FITTER))
    PhoneCode.objects.create(user=late, code=PhoneCode.objects.get(user=worn).code, set_at=NOW,
                             first_until=NOW)  # fmt: skip
    told = {}
    tries = [(coded.pk, WRONG), (10**8, CODE)]
    tries += [(p.pk, CODE) for p in (operator, outsider, manager, gone, worn, late)]
    for person, code in tries:
        with mock.patch("plant.actions.phone.check_password", wraps=check_password) as worked:
            answer = send(box, person, code)
        assert worked.call_count == 1
        assert code not in answer.content.decode()
        told[person] = plain(answer)

    assert len(set(told.values())) == 1
    status, text = told[coded.pk]
    assert status == 422
    assert "This name and code do not go together" in text
    assert not signed_in(box)


def test_a_person_waits_after_five_wrong_codes_and_nothing_is_worked_on(
    box: Client, depot: Depot, manager: User, coded: User
) -> None:
    for _ in range(5):
        assert send(box, coded.pk, WRONG).status_code == 422

    with mock.patch("plant.views.sign_in.known_by_code") as worked:
        answer = send(box, coded.pk)

    assert (answer.status_code, answer["Retry-After"]) == (429, "60")
    worked.assert_not_called()
    # On another phone of the depot it is the same person who waits.
    _, van = enrolled(depot, manager, name="Van")
    assert send(van, coded.pk).status_code == 429
    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        assert send(box, coded.pk).status_code == 302


def test_guessing_across_people_holds_the_phone_back(
    box: Client, depot: Depot, manager: User, coded: User
) -> None:
    others = [make_user(f"Person {n}", (depot, Role.OPERATOR)).pk for n in range(20)]
    statuses = [send(box, pk, WRONG).status_code for pk in others]

    assert statuses == [422] * 15 + [429] * 5
    assert send(box, coded.pk).status_code == 429
    _, van = enrolled(depot, manager, name="Van")
    assert send(van, coded.pk).status_code == 302, "another phone goes on"
    with time_machine.travel(NOW + timedelta(minutes=15), tick=False):
        assert send(box, coded.pk).status_code == 302


def test_after_fifty_wrong_codes_only_a_new_one_helps(
    box: Client, depot: Depot, manager: User, coded: User, clock: Any
) -> None:
    for _ in range(MOST_WRONG):
        clock.shift(timedelta(minutes=20))
        assert send(box, coded.pk, WRONG).status_code == 422
    clock.shift(timedelta(minutes=20))

    assert send(box, coded.pk).status_code == 422

    clock.shift(timedelta(minutes=20))
    set_own_code(user=coded, code=OTHER, at=now())
    assert send(box, coded.pk, OTHER).status_code == 302


def test_the_right_code_clears_the_count_of_wrong_ones(box: Client, coded: User) -> None:
    for _ in range(4):
        send(box, coded.pk, WRONG)
    send(box, coded.pk)
    box.post(reverse("plant:sign_out"))

    for _ in range(4):
        assert send(box, coded.pk, WRONG).status_code == 422
    assert PhoneCode.objects.get().wrong == 4


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"person": "abc", "code": CODE},
        {"person": "-1", "code": CODE},
        {"person": str(10**30), "code": CODE},
        {"person": "1", "code": "x" * 5000},
        {"person": "1' OR 1=1 --", "code": CODE},
    ],
)
def test_what_is_no_name_or_code_is_a_422(box: Client, given: dict[str, str]) -> None:
    assert box.post(reverse("plant:code_sign_in"), given).status_code == 422


def test_it_needs_the_token_of_its_page(depot: Depot, manager: User, coded: User) -> None:
    _, box = enrolled(depot, manager)
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = box.cookies

    assert send(strict, coded.pk).status_code == 403


# --- First codes ---------------------------------------------------------------------------
def test_a_first_code_is_changed_before_anything_else(
    box: Client, depot: Depot, operator: User, manager: User
) -> None:
    first = give_first_code(person=operator, depot=depot, by=manager, at=NOW)

    page = send(box, operator.pk, first)
    assert "That is your first code" in page.content.decode()
    assert not signed_in(box)
    weak = send(box, operator.pk, first, new_code="123456", again="123456")
    other = send(box, operator.pk, first, new_code=CODE, again=OTHER)
    same = send(box, operator.pk, first, new_code=first, again=first)
    assert [weak.status_code, other.status_code, same.status_code] == [422] * 3
    assert not signed_in(box)

    done = send(box, operator.pk, first, new_code=CODE, again=CODE)

    assert done.status_code == 302
    assert signed_in(box)
    box.post(reverse("plant:sign_out"))
    assert send(box, operator.pk, first).status_code == 422
    assert send(box, operator.pk, CODE).status_code == 302


def test_the_new_code_alone_changes_nothing_where_the_first_is_wrong(
    box: Client, depot: Depot, operator: User, manager: User
) -> None:
    first = give_first_code(person=operator, depot=depot, by=manager, at=NOW)
    wrong = WRONG if first != WRONG else OTHER

    assert send(box, operator.pk, wrong, new_code=CODE, again=CODE).status_code == 422
    assert send(box, operator.pk, CODE).status_code == 422


def test_a_first_code_counts_for_a_day(
    box: Client, depot: Depot, operator: User, manager: User, clock: Any
) -> None:
    first = give_first_code(person=operator, depot=depot, by=manager, at=NOW)
    clock.shift(timedelta(days=1))

    assert send(box, operator.pk, first, new_code=CODE, again=CODE).status_code == 422


def test_a_manager_gives_first_codes_to_people_of_the_depot_only(
    depot: Depot, operator: User, manager: User, outsider: User, foreman: User
) -> None:
    client = Client()
    client.force_login(manager)
    member = Membership.objects.get(user=operator)
    page = client.post(reverse("plant:first_code", args=[member.pk]))
    assert f'<dd class="stamped">{page.context["code"]}</dd>' in page.content.decode()

    for giver, person, error in (
        (manager, manager, Refused),
        (manager, outsider, Refused),
        (outsider, operator, PermissionError),
        (foreman, operator, PermissionError),
    ):
        with pytest.raises(error):
            give_first_code(person=person, depot=depot, by=giver, at=NOW)


# --- One's own code ------------------------------------------------------------------------
def own(client: Client, proof: str, code: str = CODE, again: str = "") -> Any:
    given = {"proof": proof, "new_code": code, "again": again or code}
    return client.post(reverse("plant:own_code"), given)


def test_a_person_sets_a_code_with_the_password(client: Client, depot: Depot) -> None:
    person = make_user("Ida Brandt", (depot, Role.FITTER), password=PASSWORD)
    client.force_login(person)

    assert own(client, "another password here").status_code == 422
    assert own(client, PASSWORD, "111111").status_code == 422
    assert own(client, PASSWORD, CODE, again=OTHER).status_code == 422
    assert not PhoneCode.objects.exists()
    assert own(client, PASSWORD).status_code == 302

    kept = PhoneCode.objects.get()
    assert CODE not in kept.code
    assert kept.first_until is None
    assert own(client, PASSWORD).status_code == 422, "the same again is no change"


def test_guessing_the_password_there_is_held_back_too(client: Client, depot: Depot) -> None:
    person = make_user("Ida Brandt", (depot, Role.FITTER), password=PASSWORD)
    client.force_login(person)

    statuses = [own(client, f"another password {n}").status_code for n in range(6)]

    assert statuses == [422] * 5 + [429]


def test_on_a_phone_the_old_code_is_asked_for_and_the_session_goes_on(
    box: Client, depot: Depot, manager: User, coded: User
) -> None:
    send(box, coded.pk)
    _, van = enrolled(depot, manager, name="Van")
    send(van, coded.pk)
    assert own(box, WRONG, OTHER).status_code == 422

    with time_machine.travel(NOW + timedelta(seconds=1), tick=False):
        assert own(box, CODE, OTHER).status_code == 302

        assert box.get("/").status_code == 200
        assert van.get("/").status_code == 302, "the old code's other sessions are over"


# --- What a session on a phone may do, and when it ends --------------------------------------
def test_nobody_manages_or_administers_by_six_figures(
    box: Client, depot: Depot, other_depot: Depot
) -> None:
    everything = [(d, role) for d in (depot, other_depot) for role in Role]
    person = make_user("All Roles", *everything)
    set_own_code(user=person, code=CODE, at=NOW)
    send(box, person.pk)

    assert box.get(reverse("maintenance:people")).status_code == 403
    assert box.get(reverse("plant:phone_list")).status_code == 403
    assert box.get(reverse("plant:health")).status_code == 403
    # Nor does a seen code choose where mail goes, or make a link that lasts.
    assert box.get(reverse("reports:messages")).status_code == 403
    assert box.post(reverse("reports:add_feed"), {"depot": depot.pk}).status_code == 403
    assert box.get(reverse("maintenance:job_list")).status_code == 200
    # Nor does a phone of one depot open another.
    ours, theirs = make_machine(depot), make_machine(other_depot)
    for machine, status in ((ours, 200), (theirs, 404)):
        assert box.get(reverse("maintenance:machine", args=[machine.pk])).status_code == status
    person = User.objects.get(pk=person.pk)
    person.on_phone = Phone.objects.get()
    assert may(person, Right.DECIDE, depot.pk)
    assert not any(may(person, right, depot.pk) for right in (Right.PLAN, Right.IMPORT))
    assert not any(may(person, right, other_depot.pk) for right in Right)


def test_a_password_on_the_same_phone_opens_all_as_ever(box: Client, depot: Depot) -> None:
    person = make_user("Max", (depot, Role.MANAGER), password=PASSWORD)
    box.post(reverse("plant:sign_in"), {"sign_in": person.sign_in, "password": PASSWORD})

    assert box.get(reverse("maintenance:people")).status_code == 200


@pytest.mark.usefixtures("rule_sheet")
def test_the_record_says_on_which_phone(
    box: Client, machine: Machine, coded: User, operator: User
) -> None:
    set_own_code(user=operator, code=CODE, at=NOW)
    send(box, operator.pk)
    label = reverse("maintenance:label_stop", args=[machine.label_code])
    page = box.get(label).content.decode()
    assert "Your name" not in page, "nothing to type for who is signed in"

    box.post(label, {"told": "smokes"})

    record, words = Record.objects.get(), Phone.objects.get().words
    assert record.by == operator
    assert json.loads(record.content)["data"]["signed_in_on"] == words
    assert "Site box" not in record.content
    shown = box.get(reverse("maintenance:record", args=[record.pk])).content.decode()
    assert f"{words} (Site box 2)" in shown


def test_at_a_label_the_phone_offers_to_sign_in_by_code(box: Client, machine: Machine) -> None:
    where = reverse("maintenance:label", args=[machine.label_code])

    assert "Sign in on Site box 2" in box.get(where).content.decode()
    assert "Sign in on" not in Client().get(where).content.decode()


def test_withdrawn_it_is_out_with_the_next_request(
    box: Client, depot: Depot, manager: User, coded: User
) -> None:
    send(box, coded.pk)
    assert box.get("/").status_code == 200
    client = Client()
    client.force_login(manager)

    client.post(reverse("plant:withdraw_phone", args=[Phone.objects.get().pk]))

    # Whoever took both cookies has nothing either.
    stolen = Client()
    stolen.cookies["phone"] = box.cookies["phone"].value
    stolen.cookies["session"] = box.cookies["session"].value
    for taken in (stolen, box):
        assert taken.get("/").status_code == 302
        assert send(taken, coded.pk)["Location"] == reverse("plant:sign_in")
        assert "Sign-in name" in taken.get(reverse("plant:sign_in")).content.decode()


def test_a_session_without_its_phone_is_over(box: Client, coded: User) -> None:
    send(box, coded.pk)
    stolen = Client()
    stolen.cookies["session"] = box.cookies["session"].value

    assert stolen.get("/").status_code == 302
    assert box.get("/").status_code == 302, "it ended for good"


def test_a_new_first_code_ends_what_the_old_one_began(
    box: Client, depot: Depot, manager: User, coded: User, clock: Any
) -> None:
    send(box, coded.pk)
    clock.shift(timedelta(seconds=1))

    give_first_code(person=coded, depot=depot, by=manager, at=now())

    assert box.get("/").status_code == 302


def test_twelve_hours_unused_or_a_week_end_it(box: Client, coded: User, clock: Any) -> None:
    send(box, coded.pk)
    clock.shift(timedelta(hours=12, seconds=1))
    assert box.get("/").status_code == 302

    send(box, coded.pk)
    for _ in range(16):
        clock.shift(timedelta(hours=10))
        assert box.get("/").status_code == 200
    clock.shift(timedelta(hours=9))
    assert box.get("/").status_code == 302


@pytest.mark.parametrize("how", ["disabled", "membership gone"])
def test_who_has_left_is_out_and_stays_out(box: Client, coded: User, how: str) -> None:
    send(box, coded.pk)
    if how == "disabled":
        User.objects.filter(pk=coded.pk).update(is_active=False)
    else:
        Membership.objects.filter(user=coded).delete()

    assert box.get(reverse("maintenance:machine_list")).status_code in (302, 403)
    box.post(reverse("plant:sign_out"))
    assert coded.name not in box.get(reverse("plant:sign_in")).content.decode()
    assert send(box, coded.pk).status_code == 422


def test_when_it_was_last_seen_is_noted_every_five_minutes(
    box: Client, coded: User, clock: Any
) -> None:
    send(box, coded.pk)
    clock.shift(timedelta(minutes=4))
    box.get("/")
    assert Phone.objects.get().last_seen_at == NOW
    clock.shift(timedelta(minutes=1))
    box.get("/")
    assert Phone.objects.get().last_seen_at == NOW + timedelta(minutes=5)


def test_the_security_log_tells_each_act_and_no_code(
    depot: Depot, manager: User, coded: User, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO", logger="security")
    phone, box = enrolled(depot, manager)
    send(box, coded.pk, WRONG)
    send(box, coded.pk)
    withdraw(phone=phone, by=manager, at=NOW)
    box.get("/")

    told = [record.msg for record in caplog.records if record.name == "security"]
    assert told == ["code failed", "signed in on a phone", "phone session ended"]
    assert not any(CODE in str(vars(record)) for record in caplog.records)


def test_what_was_typed_when_the_session_ended_is_sent_after_the_code(
    box: Client, coded: User, clock: Any
) -> None:
    """Who has figures alone has no password to come back by."""
    send(box, coded.pk)
    clock.shift(timedelta(hours=12, seconds=1))
    ended = box.post("/you/lengths", {"lengths": "in"}).content.decode()
    assert "Signed out in the meantime" in ended
    assert f'action="{reverse("plant:code_sign_in")}"' in ended
    assert 'name="password"' not in ended
    kept = re.search(r'name="kept" value="([^"]+)"', ended)
    assert kept is not None
    wrong = send(box, coded.pk, WRONG, kept=kept[1])
    assert f'name="kept" value="{kept[1]}"' in wrong.content.decode()
    assert "What you typed is kept still" in wrong.content.decode()
    again = send(box, coded.pk, kept=kept[1]).content.decode()
    assert 'action="/you/lengths"' in again
    assert 'name="lengths" value="in"' in again
