"""The people page, giving and ending, and what the pages say before a form is filled in."""

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import localdate, now

from maintenance.actions.competence import end
from maintenance.actions.fault import report_fault
from maintenance.models import Competence, Skill, Stop
from make import make_competence, make_kind, make_user
from plant.models import Depot, Machine, Membership, Record, Role, User


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def shown(user: User, name: str = "maintenance:people", *args: Any) -> str:
    answer = signed_in(user).get(reverse(name, args=args))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def ends_in(days: int) -> date:
    return localdate() + timedelta(days=days)


def soon(person: User, depot: Depot, skill: Skill = Skill.TEST, days: int = 9, **more: Any) -> None:
    make_competence(person, depot, skill, valid_until=ends_in(days), at=now(), **more)


def send(user: User, name: str, pk: int, **data: Any) -> Any:
    given = {"entry": str(uuid.uuid4())} | data
    return signed_in(user).post(reverse(f"maintenance:{name}", args=[pk]), given)


def test_people_roles_learners_and_what_they_may_sign_for(
    depot: Depot, manager: User, fitter: User, outsider: User
) -> None:
    learner = make_user("<i>Lena</i> Learner")
    Membership.objects.create(user=learner, depot=depot, role=Role.FITTER, learner=True)
    soon(fitter, depot)
    make_competence(fitter, depot, Skill.RELEASE)

    page = shown(manager)

    assert f"until {ends_in(9):%-d %b %Y}" in page
    assert "all machines, without a last day" in page
    assert "Fitter, <strong>learner</strong>" in page
    assert "&lt;i&gt;Lena&lt;/i&gt;" in page
    assert outsider.name not in page
    assert page.index("Ending within 30 days") < page.index(f"until {ends_in(9):%-d %b %Y}")


def test_what_ends_soon_is_said_to_foremen_and_managers_and_not_to_others(
    depot: Depot, manager: User, foreman: User, fitter: User, operator: User, outsider: User
) -> None:
    soon(fitter, depot)
    words = f"Competence of Finn Fitter for electrical tests ends on {ends_in(9):%-d %b %Y}."

    for person in (manager, foreman):
        assert words in shown(person, "reports:today")
    for person in (fitter, operator, outsider):
        assert words not in shown(person, "reports:today")
    assert words in shown(manager)


@pytest.mark.parametrize(
    ("days", "told"), [(0, True), (30, True), (31, False)], ids=["today", "thirty", "later"]
)
def test_thirty_days_before(
    depot: Depot, manager: User, fitter: User, days: int, told: bool
) -> None:
    soon(fitter, depot, days=days)

    assert ("Competence of Finn Fitter" in shown(manager)) == told


def test_nothing_is_said_where_a_longer_one_follows_or_nobody_is_left(
    depot: Depot, manager: User, fitter: User, foreman: User
) -> None:
    make_kind("saw_petrol")
    soon(fitter, depot)
    make_competence(fitter, depot, Skill.TEST)
    soon(foreman, depot, Skill.RELEASE)
    make_competence(foreman, depot, Skill.RELEASE, family="saw")
    gone = make_user("Gone", (depot, Role.FITTER))
    soon(gone, depot)
    User.objects.filter(pk=gone.pk).update(is_active=False)

    page = shown(manager)

    assert "Competence of Finn" not in page
    assert "Competence of Freya Foreman for release checks ends on" in page, "one for saws is less"
    assert "Competence of Gone" not in page


def test_given_and_ended_by_the_pages(depot: Depot, manager: User, foreman: User) -> None:
    member = Membership.objects.get(user=foreman)
    data = {"skill": "release", "family": "", "valid_from": localdate(), "valid_until": "",
            "told": "Card 7, “seen” <b>"}  # fmt: skip

    assert send(manager, "give_competence", member.pk, **data).status_code == 302
    made = Competence.objects.get()
    assert (made.user, made.skill, made.told) == (foreman, "release", "Card 7, “seen” <b>")
    assert send(manager, "end_competence", made.pk, because="").status_code == 422
    assert send(manager, "end_competence", made.pk, because="Left").status_code == 302

    page = shown(manager)
    assert f"ended on {localdate():%-d %b %Y}" in page
    record = shown(manager, "maintenance:record", Record.objects.get(competence_row=made).pk)
    assert "Card 7, “seen” &lt;b&gt;" in record
    again = send(manager, "end_competence", made.pk, because="Left")
    assert again.status_code == 422
    assert "has ended already" in again.content.decode()


@pytest.mark.parametrize(
    "wrong",
    [
        {"skill": "flying"}, {"family": "spaceship"}, {"valid_from": "31 Feb 2026"},
        {"valid_until": "2001-01-01"}, {"told": ""}, {"told": "x" * 201}, {"told": "a\u202eb"},
    ],
)  # fmt: skip
def test_a_bad_form_is_answered_and_keeps_what_was_typed(
    depot: Depot, manager: User, foreman: User, wrong: dict[str, str]
) -> None:
    member = Membership.objects.get(user=foreman)
    data = {"skill": "release", "family": "", "valid_from": "2026-01-05", "valid_until": "",
            "told": "Card 7"}  # fmt: skip

    answer = send(manager, "give_competence", member.pk, **data | wrong)

    assert answer.status_code == 422
    assert not Competence.objects.exists()
    if "told" not in wrong:
        assert "Card 7" in answer.content.decode()


def test_nobody_gives_one_to_themselves_by_the_page(depot: Depot, manager: User) -> None:
    member = Membership.objects.get(user=manager)
    data = {"skill": "release", "family": "", "valid_from": "2026-01-05", "told": "Card 7"}

    answer = send(manager, "give_competence", member.pk, **data)

    assert answer.status_code == 422
    assert "Nobody gives a competence to themselves." in answer.content.decode()


def test_another_depots_people_do_not_exist(
    depot: Depot, other_depot: Depot, manager: User, outsider: User, foreman: User
) -> None:
    made = make_competence(foreman, depot, Skill.RELEASE)
    theirs = Membership.objects.filter(user=outsider)[0]

    assert send(manager, "give_competence", theirs.pk).status_code == 404
    assert send(outsider, "end_competence", made.pk, because="x").status_code == 404
    assert send(foreman, "end_competence", made.pk, because="x").status_code == 403


@pytest.mark.usefixtures("rule_sheet")
def test_who_cannot_sign_is_told_before_filling_in(
    machine: Machine, depot: Depot, operator: User, foreman: User
) -> None:
    report_fault(machine=machine, part="drum", told="cracked", stop_now=True, at=now(), by=operator)
    page = shown(foreman, "maintenance:release", machine.pk)
    assert "You hold no competence for release checks." in page
    assert "Release what is ticked" not in page
    page = shown(foreman, "maintenance:add_test", machine.pk)
    assert "You hold no competence for electrical tests." in page
    assert "A failed test can still be entered" in page
    assert "Save the test" in page

    for skill in (Skill.RELEASE, Skill.TEST):
        made = make_competence(foreman, depot, skill)

    assert "Release what is ticked" in shown(foreman, "maintenance:release", machine.pk)
    assert "can still be entered" not in shown(foreman, "maintenance:add_test", machine.pk)
    giver = User.objects.get(sign_in="gwen.giver")
    end(competence=made, because="Card lost", at=now(), by=giver)
    words = f"Your competence for electrical tests was ended on {localdate():%-d %b %Y}."
    assert words in shown(foreman, "maintenance:add_test", machine.pk)
    assert Stop.objects.standing().exists()
