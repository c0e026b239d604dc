"""Accounts: nobody gives more than they may, the last administrator stays, and all is sealed."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from maintenance.actions.permit import permit_for_person
from make import make_depot, make_machine, make_user
from plant.actions import account as action
from plant.actions import session
from plant.actions.account import Told
from plant.actions.depot import add_depot, change_depot, change_firm
from plant.actions.refusal import Refused
from plant.models import Depot, Firm, Membership, OneTime, Record, Role, User, WayIn
from plant.rights import GIVES, NotAllowed, Right, gives, governs, may
from reports.actions.leaver import end_account
from tests.maintenance.actions.test_entry import entry, send

NOW = datetime(2026, 11, 25, 7, 31, tzinfo=UTC)
GOOD = "kettle birch lantern otter"
IDA = Told("Ida Brandt", "ida.brandt")


def again(user: User) -> User:
    """As the next request reads the account."""
    return User.objects.get(pk=user.pk)


def roles_of(user: User) -> set[tuple[str, str]]:
    return set(Membership.objects.filter(user=user).values_list("depot__code", "role"))


def changed(user: User) -> list[dict[str, object]]:
    rows = Record.objects.filter(kind="access", content__contains=f'"account":"{user.pk}"')
    return [json.loads(row.content)["data"] for row in rows.order_by("seq")]


def test_who_is_invited_has_the_roles_and_no_password(depot: Depot, manager: User) -> None:
    person = action.invite(
        told=Told("  Ida Brandt ", "Ida.Brandt"), roles={depot.pk: {Role.FITTER}}, learner=True,
        at=NOW, by=manager,
    )  # fmt: skip

    assert (person.name, person.sign_in, person.email) == ("Ida Brandt", "ida.brandt", "")
    assert roles_of(person) == {("north", "fitter")}
    assert Membership.objects.get(user=person).learner
    assert not person.has_usable_password()
    assert changed(person) == [
        {"move": "invited", "account": str(person.pk), "given": ["fitter"], "learner": True}
    ]


@pytest.mark.parametrize(
    ("name", "sign_in", "email", "field"),
    [
        ("", "ida", "", "name"),
        ("Ida\u202e", "ida", "", "name"),
        ("Ida", "i", "", "sign_in"),
        ("Ida", "ida brandt", "", "sign_in"),
        ("Ida", "FINN.fitter", "", "sign_in"),
        ("Ida", "erased-1", "x@", "email"),
        ("Ida", "ida\n", "ida@yard", "email"),
    ],
)
def test_names_that_cannot_be_are_refused_at_their_field(
    depot: Depot, manager: User, fitter: User, name: str, sign_in: str, email: str, field: str
) -> None:
    with pytest.raises(Refused) as refused:
        action.invite(
            told=Told(name, sign_in, email), roles={depot.pk: {Role.FITTER}}, at=NOW, by=manager
        )

    assert refused.value.field == field


@pytest.mark.parametrize("giver", list(Role))
@pytest.mark.parametrize("role", list(Role))
def test_each_role_gives_only_what_the_table_says(depot: Depot, giver: Role, role: Role) -> None:
    by = make_user("Gil Giver", (depot, giver))
    person = make_user("Ida Brandt", (depot, Role.OPERATOR))
    make_user("Ada Other", (depot, Role.ADMINISTRATOR))
    allowed = role in GIVES.get(giver, ())
    wanted = {Role.OPERATOR, role}

    def change() -> None:
        action.change_roles(person=person, depot=depot, wanted=wanted, learner=False, at=NOW, by=by)

    if allowed or (role == Role.OPERATOR and not gives(by, depot.pk)):
        change()  # nothing to change, or theirs to give
        assert roles_of(person) == {("north", str(each)) for each in wanted}
    else:
        with pytest.raises((Refused, NotAllowed)):
            change()
        assert roles_of(person) == {("north", "operator")}


def test_nothing_is_given_in_a_depot_of_others(
    depot: Depot, other_depot: Depot, manager: User, administrator: User, fitter: User
) -> None:
    for by in (manager, administrator):
        with pytest.raises(NotAllowed):
            action.change_roles(
                person=fitter, depot=other_depot, wanted={Role.OPERATOR}, learner=False, at=NOW,
                by=by,
            )  # fmt: skip
        with pytest.raises(NotAllowed):
            action.invite(told=IDA, roles={other_depot.pk: {Role.OPERATOR}}, at=NOW, by=by)
    assert roles_of(fitter) == {("north", "fitter")}


def test_roles_above_the_giver_stay_as_they_are(depot: Depot, manager: User) -> None:
    person = make_user("Ida Brandt", (depot, Role.MANAGER), (depot, Role.FITTER))

    action.change_roles(
        person=person, depot=depot, wanted={Role.DESK}, learner=False, at=NOW, by=manager
    )

    assert roles_of(person) == {("north", "manager"), ("north", "desk")}
    assert changed(person)[-1] | {"learner": 0} == {
        "move": "roles changed", "account": str(person.pk), "given": ["desk"], "taken": ["fitter"],
        "learner": 0,
    }  # fmt: skip


@pytest.mark.parametrize(
    "act",
    [action.make_way_in, action.end_account, action.bring_back, action.take_codes,
     action.end_sessions],
)  # fmt: skip
def test_nobody_reaches_through_an_account_above_or_outside_their_own(
    depot: Depot, other_depot: Depot, manager: User, administrator: User, act: object
) -> None:
    above = make_user("Ada Second", (depot, Role.ADMINISTRATOR))
    outside = make_user("Ola Both", (depot, Role.FITTER), (other_depot, Role.FITTER))
    for by, person in (
        (manager, above), (manager, outside), (administrator, outside), (manager, manager),
        (administrator, administrator),
    ):  # fmt: skip
        with pytest.raises(Refused):
            act(person=person, at=NOW, by=by)  # type: ignore[operator]
        assert not governs(by, person)
    assert not WayIn.objects.exists()
    assert not Record.objects.filter(kind="access").exists()


def test_nobody_changes_their_own_roles_but_in_a_one_person_depot(
    depot: Depot, administrator: User
) -> None:
    wanted = {Role.ADMINISTRATOR, Role.FITTER}

    def change(reason: str = "") -> bool:
        return action.change_roles(
            person=administrator, depot=depot, wanted=wanted, learner=False, at=NOW,
            by=administrator, reason=reason,
        )  # fmt: skip

    with pytest.raises(Refused, match="Nobody changes their own roles"):
        change("There is nobody else here.")
    Depot.objects.update(one_person=True)
    with pytest.raises(Refused) as short:
        change("alone")
    assert short.value.field == "reason"
    assert change("There is nobody else here.")
    assert roles_of(administrator) == {("north", "administrator"), ("north", "fitter")}
    wanted = {Role.FITTER}
    with pytest.raises(Refused, match="their own administrator"):
        change("There is nobody else here.")


def test_the_last_administrator_of_a_depot_stays(depot: Depot, administrator: User) -> None:
    second = make_user("Ada Second", (depot, Role.ADMINISTRATOR), (depot, Role.DESK))
    for wanted in ({Role.DESK}, {Role.ADMINISTRATOR, Role.DESK}):
        action.change_roles(
            person=second, depot=depot, wanted=wanted, learner=False, at=NOW, by=administrator
        )
    action.end_account(person=administrator, at=NOW, by=again(second))

    by = make_user("Ada Third", (depot, Role.ADMINISTRATOR))
    User.objects.filter(pk=by.pk).update(is_active=False)  # does not count, having left
    by.is_active = True  # but had asked a moment before
    with pytest.raises(Refused, match="last administrator"):
        action.end_account(person=second, at=NOW, by=by)
    with pytest.raises(Refused, match="last administrator"):
        action.change_roles(
            person=second, depot=depot, wanted={Role.DESK}, learner=False, at=NOW, by=by
        )
    assert may(again(second), Right.DEPOTS, depot.pk)


def test_the_last_role_of_an_account_is_not_taken(
    depot: Depot, manager: User, fitter: User
) -> None:
    with pytest.raises(Refused, match="End the account instead"):
        action.change_roles(
            person=fitter, depot=depot, wanted=set(), learner=False, at=NOW, by=manager
        )


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.lists(
        st.tuples(
            st.integers(0, 3), st.integers(0, 3),
            st.sampled_from(["end", "back", "roles", "link"]), st.sets(st.sampled_from(list(Role))),
        ),
        max_size=25,
    )
)  # fmt: skip
@pytest.mark.django_db
def test_whatever_is_tried_somebody_administers_and_nobody_rose(
    acts: list[tuple[int, int, str, set[Role]]],
) -> None:
    """Four people try everything on each other; a depot always keeps an administrator, and who
    manages never comes to administer by anything that managers did."""
    depot = make_depot("h", name="H")
    try:
        people = [
            make_user("Ada A", (depot, Role.ADMINISTRATOR)),
            make_user("Ann B", (depot, Role.MANAGER)),
            make_user("Abe C", (depot, Role.MANAGER), (depot, Role.FITTER)),
            make_user("Aya D", (depot, Role.OPERATOR)),
        ]  # fmt: skip
        for by, on, what, wanted in acts:
            giver, person = again(people[by]), people[on]
            before = roles_of(person)
            given_ = gives(giver, depot.pk)
            try:
                if what == "end":
                    action.end_account(person=person, at=NOW, by=giver)
                elif what == "back":
                    action.bring_back(person=person, at=NOW, by=giver)
                elif what == "link":
                    action.make_way_in(person=person, at=NOW, by=giver)
                else:
                    action.change_roles(
                        person=person, depot=depot, wanted=wanted, learner=False, at=NOW, by=giver
                    )
            except (Refused, NotAllowed):
                assert roles_of(person) == before
            moved = {role for _, role in roles_of(person) ^ before}
            assert moved <= {str(role) for role in given_}
            assert Membership.objects.filter(
                depot=depot, role=Role.ADMINISTRATOR, user__is_active=True
            ).exists()
    finally:
        undo()


def undo() -> None:
    """Hypothesis runs many examples in one test; the seals refuse to empty the records."""
    from plant import seals

    seals.lift(connection)
    for model in (WayIn, Membership):
        model.objects.all().delete()
    with connection.cursor() as cursor:
        for table in ("plant_recordtext", "plant_record", "plant_chain"):
            cursor.execute(f"DELETE FROM {table}")
    User.objects.all().delete()
    Depot.objects.all().delete()
    seals.lay(connection)


# --- Passwords by link ---------------------------------------------------------------------
def test_a_link_counts_once_for_a_day_and_the_old_password_until_then(
    depot: Depot, manager: User
) -> None:
    person = make_user("Ida Brandt", (depot, Role.FITTER), password="old password of hers")
    first = action.make_way_in(person=person, at=NOW, by=manager)
    link = action.make_way_in(person=person, at=NOW, by=manager)
    assert again(person).check_password("old password of hers")
    late = NOW + timedelta(hours=24)

    other = ("B" if link.code[0] == "A" else "A") + link.code[1:]
    for code, at in ((first.code, NOW), (link.code, late), (other, NOW), ("", NOW)):
        with pytest.raises(Refused):
            action.use_way_in(code=code, password=GOOD, at=at)
    with pytest.raises(Refused) as weak:
        action.use_way_in(code=link.code, password="Ida.Brandt-2026!", at=NOW)
    assert weak.value.field == "new_password"
    action.use_way_in(code=link.code, password=GOOD, at=late - timedelta(seconds=1))

    assert again(person).check_password(GOOD)
    assert again(person).password_set_at == late - timedelta(seconds=1)
    with pytest.raises(Refused):
        action.use_way_in(code=link.code, password=GOOD + "x", at=NOW)


# --- Leaving -------------------------------------------------------------------------------
def test_who_leaves_is_out_at_once_and_what_the_phone_kept_is_taken(
    depot: Depot, manager: User, rule_sheet: object
) -> None:
    person = make_user("Ida Brandt", (depot, Role.FITTER), password=GOOD)
    OneTime.objects.create(user=person, secret="x", begun_at=NOW, confirmed_at=NOW)
    link = action.make_way_in(person=person, at=NOW, by=manager)
    client = Client()
    client.force_login(person)
    permit = permit_for_person(user=person, depot_id=depot.pk)
    machine = make_machine(depot)
    assert client.get("/machines").status_code == 200

    end_account(person=person, at=NOW, by=manager)

    assert client.get("/machines").status_code == 302
    assert not client.login(username="ida.brandt", password=GOOD)
    assert action.way_in_of(link.code, at=NOW) is None
    assert not OneTime.objects.exists()
    record = send(entry(machine, permit)).record
    assert record is not None
    assert (record.by, json.loads(record.content)["data"]["permit"]) == (
        person, "sent after leaving",
    )  # fmt: skip
    assert [each["move"] for each in changed(person)] == [
        "link for a password made", "account ended",
    ]  # fmt: skip

    action.bring_back(person=person, at=NOW, by=manager)
    assert roles_of(person) == {("north", "fitter")}
    assert not again(person).has_usable_password()
    assert client.get("/machines").status_code == 302


def test_another_role_ends_the_sessions_and_taking_codes_away_too(
    depot: Depot, manager: User, fitter: User
) -> None:
    for act in (
        lambda: action.change_roles(
            person=fitter, depot=depot, wanted={Role.DESK}, learner=False, at=NOW, by=manager
        ),
        lambda: action.take_codes(person=fitter, at=NOW, by=manager),
        lambda: action.end_sessions(person=fitter, at=NOW, by=manager),
    ):
        client = Client()
        client.force_login(again(fitter))
        assert client.get("/machines").status_code == 200
        act()
        assert client.get("/machines").status_code == 302
    assert session.end_all(fitter) == 0


# --- Depots and the firm --------------------------------------------------------------------
def test_a_depot_is_added_and_changed_by_an_administrator_and_sealed(
    depot: Depot, administrator: User, manager: User
) -> None:
    told = {"name": "West yard", "code": "west", "time_zone": "Europe/Dublin"}
    for by in (manager,):
        with pytest.raises(NotAllowed):
            add_depot(told=told, at=NOW, by=by)
        with pytest.raises(NotAllowed):
            change_depot(depot=depot, told={"one_person": True}, at=NOW, by=by)
    for wrong, field in (
        ({"code": "north"}, "code"), ({"time_zone": "Europe/Nowhere"}, "time_zone"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            add_depot(told=told | wrong, at=NOW, by=administrator)
        assert refused.value.field == field

    made = add_depot(told=told, at=NOW, by=administrator)
    by = again(administrator)
    assert may(by, Right.DEPOTS, made.pk)
    assert change_depot(depot=made, told={"one_person": True}, at=NOW, by=by) == ["one_person"]
    with pytest.raises(Refused, match="sealed records"):
        change_depot(depot=made, told={"code": "w"}, at=NOW, by=by)
    sealed = [json.loads(r.content)["data"] for r in made.records.order_by("seq")]
    assert [each["move"] for each in sealed] == ["depot added", "settings changed"]
    assert sealed[1]["changed"] == {"one_person": {"was": "no", "now": "yes"}}


def test_codes_are_asked_for_only_by_who_has_them(depot: Depot, administrator: User) -> None:
    with pytest.raises(Refused, match="your own one-time codes first"):
        change_firm(codes_asked=True, depots_seen=False, at=NOW, by=administrator)
    OneTime.objects.create(user=administrator, secret="x", begun_at=NOW, confirmed_at=NOW)

    assert change_firm(codes_asked=True, depots_seen=False, at=NOW, by=administrator)
    assert Firm.now().codes_asked
    assert not change_firm(codes_asked=True, depots_seen=False, at=NOW, by=administrator)


def test_only_who_administers_every_depot_opens_them_to_each_other_and_it_is_sealed_in_each(
    depot: Depot, other_depot: Depot, administrator: User
) -> None:
    assert not Firm.now().depots_seen
    with pytest.raises(Refused, match="every depot") as refused:
        change_firm(codes_asked=False, depots_seen=True, at=NOW, by=administrator)
    assert refused.value.field == "depots_seen"
    assert str(other_depot) not in str(refused.value)
    assert not Firm.now().depots_seen
    of_all = make_user("Of All", (depot, Role.ADMINISTRATOR), (other_depot, Role.ADMINISTRATOR))

    assert change_firm(codes_asked=False, depots_seen=True, at=NOW, by=of_all)

    for each in (depot, other_depot):
        (sealed,) = (json.loads(record.content)["data"] for record in each.records.all())
        assert sealed == {"move": "settings changed", "depots_see_each_other": True}
    # What stays open is no reason to ask again; and any administrator may shut it.
    assert not change_firm(codes_asked=False, depots_seen=True, at=NOW, by=administrator)
    assert change_firm(codes_asked=False, depots_seen=False, at=NOW, by=administrator)
    assert not Firm.now().depots_seen
