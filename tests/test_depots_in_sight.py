"""What depots may see of each other, where the firm lets them: exactly that, in every answer."""

import re
from dataclasses import dataclass
from datetime import timedelta
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse_lazy

from addresses import ADDRESSES, NOW, World, make_world, signed_in
from maintenance.actions.plan import give_plans
from maintenance.actions.rack import add_place, receive, save_part
from maintenance.actions.stay import Going, tell_stay
from maintenance.contents.elsewhere import that_can_go
from maintenance.contents.out_in import can_go_many
from maintenance.forms.filters import ElsewhereFilter
from maintenance.models import DueLine, Part, StockPlace
from make import make_machine, make_user
from plant.models import Depot, Firm, Machine, MachineKind, Membership, Place, Role, User
from plant.rights import Right, depots_in_sight
from test_access import everybody_of, readable, told, visit

OURS, THEIRS, THIRD = "quolm", "zvarb", "wexid"
LIST, MACHINES = "/machines/elsewhere", "/machines"
FIND, OUT_IN = reverse_lazy("maintenance:find"), reverse_lazy("maintenance:out_in")


@dataclass(frozen=True)
class There:
    """Another depot with three machines: one out with a hirer, two in the yard, one of them fit."""

    depot: Depot
    machine: Machine


def make_there(marker: str, zone: str = "Europe/London") -> There:
    depot = Depot.objects.create(code=marker, name=f"Yard {marker}", time_zone=zone)
    desk = make_user(f"Desk {marker}", (depot, Role.DESK), (depot, Role.MANAGER))
    kind = MachineKind.objects.get(key="mixer_electric")
    out, *_ = (
        make_machine(
            depot, f"{marker.upper()}-{n}", kind=kind, place="out" if n == 1 else "yard",
            nickname=f"Nick {marker}", maker=f"Maker {marker}", serial=f"Serial {marker}",
            note=f"Note {marker}", passed_at=NOW if n == 3 else None, looked_at=NOW,
        )
        for n in (1, 2, 3)
    )  # fmt: skip
    going = Going(
        site=f"Site {marker}", site_phone=f"1{marker}", hirer=f"Hirer {marker}",
        due_back_on=NOW.date() + timedelta(days=2),
    )  # fmt: skip
    tell_stay(machine=out, at=NOW, by=desk, going=going)
    for name in ("Rack", "Van"):
        place = add_place(
            depot=depot, name=f"{name} {marker}", kind=StockPlace.Kind(name.lower()), by=desk
        )
        part = Part.objects.filter(depot=depot).first() or save_part(
            depot=depot, name=f"A26 {marker}", is_belt=True, section="A", length_m=0.690, at=NOW,
            by=desk,
        )  # fmt: skip
        receive(part=part, place=place, quantity=2, on=NOW.date(), at=NOW, by=desk)
    out.refresh_from_db()
    return There(depot, out)


def theirs_desk(there: There) -> User:
    return User.objects.get(sign_in=f"desk.{there.depot.code}")


@pytest.fixture
def theirs(ours: World) -> There:
    return make_there(THEIRS)


@pytest.fixture
def third(theirs: There) -> There:
    return make_there(THIRD, "Pacific/Auckland")


@pytest.fixture
def seen(theirs: There) -> None:
    Firm.objects.create(pk=1, depots_seen=True)


def rows(page: str) -> list[tuple[str, ...]]:
    """The cells of the list of other depots, in words."""
    body = re.search(r"<tbody.*?</tbody>", page, re.DOTALL)
    return [
        tuple(
            " ".join(re.sub(r"<[^>]*>", " ", cell).split())
            for cell in re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.DOTALL)
        )
        for row in re.findall(r"<tr.*?</tr>", unescape(body[0] if body else ""), re.DOTALL)
    ]


def without_what_is_shown(page: bytes) -> bytes:
    """Without numbers of machines and names of depots of the others: all else must be silent."""
    for marker in (THEIRS, THIRD):
        number = rb"\b" + marker.upper().encode() + rb"-[123]\b"
        page = re.sub(number, b"", page)
        page = re.sub(rb"(Yard|Beside) " + marker.encode() + rb"\b", b"", page)
    return page


def test_by_default_no_depot_is_in_sight(ours: World, theirs: There) -> None:
    user = everybody_of(ours)
    assert not depots_in_sight(user)
    page = visit(signed_in(user), "GET", LIST).all.decode()
    assert "An administrator of every depot opens them" in page
    assert THEIRS not in page.lower()
    # Who is everywhere is not sent to somebody who could open no more.
    for depot in (theirs.depot, *Depot.objects.exclude(pk__in=(theirs.depot.pk, ours.depot.pk))):
        Membership.objects.create(user=user, depot=depot, role=Role.OPERATOR)
    page = visit(signed_in(user), "GET", LIST).all.decode()
    assert "You have a role in every depot" in page
    assert "An administrator of every depot opens them" not in page


def test_the_list_holds_the_four_columns_of_each_machine_and_no_way_in(
    ours: World, theirs: There, third: There, seen: None
) -> None:
    page = visit(signed_in(ours.people[Role.OPERATOR]), "GET", LIST).all.decode()
    kind = ours.machine.kind.name
    shown = [row for row in rows(page) if row[0] != "QUOLM-2"]
    assert shown == [
        (f"{marker.upper()}-{n}", kind, f"Yard {marker}", place, can)
        for marker in (THIRD, THEIRS)
        for n, place, can in ((1, "Out", "No"), (2, "In yard", "No"), (3, "In yard", "Yes"))
    ]
    assert not re.search(r'href="/machines/\d', page)
    only = visit(signed_in(ours.people[Role.OPERATOR]), "GET", f"{LIST}?can=on").all.decode()
    assert [row[0] for row in rows(only)] == ["WEXID-3", "ZVARB-3"]


def test_not_a_byte_more_of_another_depot_is_in_any_answer(ours: World) -> None:
    """Every address and list is asked with the window shut and open. What differs differs by
    numbers, kinds, places, yes or no and counts alone; files and paper do not differ at all."""
    theirs, _ = (make_world(code=m, marker=m, at=NOW) for m in (THEIRS, THIRD))
    client = signed_in(everybody_of(ours))
    walk = readable(ours)
    shut = {name: visit(client, "GET", address) for name, address in walk.items()}
    before = {name: told(each) for name, each in shut.items()}
    Firm.objects.create(pk=1, depots_seen=True)

    differ = set()
    for name, address in walk.items():
        response = visit(client, "GET", address)
        after = told(response)
        asked = address if name.endswith(THEIRS) or THEIRS in name else ""
        silent = without_what_is_shown(after)
        if not asked:
            for marker in (THEIRS, THIRD):
                assert marker.encode() not in silent.lower(), name
        for secret in ("Nick", "Maker", "Serial", "Site", "Note", "Hirer", "Rack", "A26", "Said"):
            for marker in (THEIRS, THIRD):
                assert f"{secret} {marker}".encode() not in after, name
        if after != before[name]:
            differ.add(name.partition("?")[0].strip())
            assert response["Content-Type"].startswith("text/html"), name
    assert differ - {"plant:health"} == {
        "maintenance:elsewhere", "maintenance:machine_list", "maintenance:find", "out and in",
        "maintenance:part", "list", "plant:firm_settings",
    }  # fmt: skip
    # Whatever else is theirs goes on answering as what never was.
    for name, page in ADDRESSES.items():
        if page.fills and not page.shared and isinstance(page.who, Right):
            for method in ("GET", "POST"):
                status = visit(client, method, theirs.address(name)).status_code
                assert status == (404 if page.takes(method) else 405), (name, method)


def test_no_file_holds_what_is_in_sight(ours: World, theirs: There, seen: None) -> None:
    client = signed_in(everybody_of(ours))
    for address in (f"{MACHINES}?csv=1", f"{LIST}?csv=1&q=quolm"):
        page = visit(client, "GET", address)
        assert OURS.upper().encode() in page.all
        assert THEIRS.upper().encode() not in page.all


@pytest.mark.parametrize(
    "field", ["serial", "nickname", "maker", "type_name", "site", "note", "label_code"]
)
def test_a_column_that_is_not_shown_finds_nothing(
    ours: World, theirs: There, seen: None, field: str
) -> None:
    """A hit would tell that it holds the word."""
    told_there = "Nightjarvia"[: 22 if field == "label_code" else 11]
    Machine.objects.filter(pk=theirs.machine.pk).update(**{field: told_there})
    client = signed_in(everybody_of(ours))
    for address in (LIST, FIND, MACHINES, OUT_IN):
        page = visit(client, "GET", f"{address}?q={told_there}").all
        assert THEIRS.upper().encode() not in page, address
    assert rows(visit(client, "GET", f"{LIST}?q=ZVARB-1").all.decode())


def test_neither_the_hirer_nor_the_four_characters_of_a_label_find_it(
    ours: World, theirs: There, seen: None
) -> None:
    client = signed_in(everybody_of(ours))
    for words in ("Hirer", theirs.machine.short_code):
        page = visit(client, "GET", f"{LIST}?q={words}").all
        assert not [row for row in rows(page.decode()) if row[0].startswith("ZVARB")], words
        found = visit(client, "GET", f"{FIND}?open=no&q={words}").all
        assert b"At other depots" not in found, words


@pytest.mark.parametrize("sort", ["number", "-kind__name", "depot__name", "-place"])
def test_the_list_is_sorted_and_filtered_by_what_it_shows(
    ours: World, theirs: There, third: There, seen: None, sort: str
) -> None:
    client = signed_in(ours.people[Role.DESK])
    column = {"number": 0, "kind__name": 1, "depot__name": 2, "place": 3}[sort.lstrip("-")]
    page = visit(client, "GET", f"{LIST}?sort={sort}").all.decode()
    cells = [row[column] for row in rows(page)]
    if column != 3:  # places stand in the order of their keys
        assert cells == sorted(cells, reverse=sort.startswith("-"))
    only = rows(visit(client, "GET", f"{LIST}?depot={theirs.depot.pk}").all.decode())
    assert {row[2] for row in only} == {"Yard zvarb"}
    own = rows(visit(client, "GET", f"{LIST}?depot={ours.depot.pk}").all.decode())
    assert {row[2] for row in own} != {"Yard quolm"}
    assert rows(visit(client, "GET", f"{LIST}?q=zvarb-1").all.decode())[0][0] == "ZVARB-1"


def test_an_own_depot_is_never_in_the_list_and_who_has_no_role_sees_none(
    ours: World, theirs: There, third: There, seen: None
) -> None:
    two = make_user("In Two", (ours.depot, Role.DESK), (theirs.depot, Role.OPERATOR))
    names = {row[2] for row in rows(visit(signed_in(two), "GET", LIST).all.decode())}
    assert "Yard wexid" in names
    assert not names & {"Yard quolm", "Yard zvarb"}
    # Depots that people practise in are nobody's business, and who practises sees only that.
    Depot.objects.filter(pk=third.depot.pk).update(practice_of=theirs_desk(theirs))
    assert third.depot not in depots_in_sight(two)
    nobody = make_user("No Role")
    assert not depots_in_sight(nobody)
    assert visit(signed_in(nobody), "GET", LIST).status_code == 403
    Membership.objects.filter(user=two).delete()
    assert not depots_in_sight(User.objects.get(pk=two.pk))
    assert visit(Client(), "GET", LIST).status_code == 302


def test_whether_it_can_go_is_said_as_its_own_depot_says_it(rule_sheet: None, depot: Depot) -> None:
    """The rule in SQL against the rule itself, over machines in every state that decides."""
    far = Depot.objects.create(code="far", name="Far yard", time_zone="Pacific/Auckland")
    kind = MachineKind.objects.get(key="mixer_electric")
    made: list[Machine] = []
    for where in (depot, far):
        for place in Place.values:
            for passed, looked in ((NOW, NOW), (None, NOW), (NOW, None)):
                made.append(
                    make_machine(
                        where, f"{where.code}-{len(made)}", kind=kind, place=place,
                        passed_at=passed, looked_at=looked,
                    )
                )  # fmt: skip
    late = make_machine(depot, "LATE-1", kind=kind, place="yard", passed_at=NOW, looked_at=NOW)
    give_plans([late], at=NOW)
    DueLine.objects.filter(machine=late).update(due_on=NOW.date().replace(year=2020))
    made.append(late)
    answers = {
        each.machine.pk: each.yes for each in can_go_many(made, NOW.date()) if each.machine.pk
    }
    going = that_can_go(Machine.objects.all(), NOW.date(), [depot, far])
    assert {pk for pk, yes in answers.items() if yes} == set(going.values_list("pk", flat=True))
    assert 0 < sum(answers.values()) < len(answers)


def test_no_query_a_row(ours: World, theirs: There, seen: None) -> None:
    client = signed_in(everybody_of(ours))

    def counted(address: str) -> int:
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address).status_code == 200
        return len(asked)

    addresses = (LIST, f"{FIND}?q=zvarb&open=no", f"{MACHINES}?q=zvarb", f"{OUT_IN}?q=zvarb")
    few = [counted(each) for each in addresses]
    for n in range(40):
        make_machine(theirs.depot, f"ZVARB-1{n:02}", passed_at=NOW, looked_at=NOW)
    for each, before in zip(addresses, few, strict=True):
        # One more counts what does not fit on the page.
        assert counted(each) <= before + 1, each


def test_find_out_and_in_and_machines_answer_with_a_plain_list(
    ours: World, theirs: There, seen: None
) -> None:
    client = signed_in(everybody_of(ours))
    for address in (f"{FIND}?q=zvarb-2&open=no", f"{MACHINES}?q=zvarb-2", f"{OUT_IN}?q=zvarb-2"):
        page = unescape(visit(client, "GET", address).all.decode())
        part = page[page.index('id="elsewhere"') :].partition("</section>")[0]
        assert "ZVARB-2" in part
        assert "Yard zvarb" in part
        assert "Cannot go out now." in part
        assert "href" not in part, address
    # Of a belt that is asked for: how many, and where; never what a place is called.
    page = unescape(visit(client, "GET", f"{FIND}?q=A26&open=no").all.decode())
    assert "4 at Yard zvarb" in page
    assert "Rack zvarb" not in page


def asks(client: Client, **given: str) -> bytes:
    return bytes(
        visit(client, "GET", f"{LIST}?" + "&".join(f"{k}={v}" for k, v in given.items())).all
    )


def test_a_filter_that_cannot_be_is_said_and_breaks_nothing(
    ours: World, theirs: There, seen: None
) -> None:
    client = signed_in(everybody_of(ours))
    for given in ({"depot": "x"}, {"kind": "99999999"}, {"place": "gone"}, {"q": "x" * 101}):
        assert b"At other depots" in asks(client, **given)


def test_filters_that_are_set_stand_in_words_and_a_tick_by_its_name(db: None) -> None:
    form = ElsewhereFilter({"can": "on", "place": "yard", "depot": ""}, depots=[])
    assert form.is_valid()
    assert form.chosen() == ["Where it is: In yard", "Can go out"]
