"""The find box: what opens at once, what is found and why, what is nearly it, and whose it is."""

from datetime import date
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.urls import reverse

from maintenance.actions.instrument import withdraw_instrument
from maintenance.contents.find import LONGEST, _slips, find
from maintenance.contents.sought import belts_of
from maintenance.models import ElectricalTest, Hirer, Job, Part, PartNumber, Stay
from make import MONDAY, make_drive, make_instrument, make_kind, make_machine, make_user
from plant.actions.record import seal
from plant.drives.sections import System
from plant.models import Depot, Drive, Machine, Record, Role, User

TODAY = date(2026, 3, 2)


@pytest.fixture
def fleet(depot: Depot, other_depot: Depot, manager: User) -> dict[str, Machine]:
    """Four machines of ours, one of them out with a hirer, and one of another depot."""
    mixer, saw = make_kind(name="Cement mixer, electric"), make_kind("saw", name="Site saw")
    ours = {
        "MX-203": make_machine(
            depot, "MX-203", kind=mixer, serial="SN 44-710/B", short_code="K7QP"
        ),
        "MX-2031": make_machine(depot, "MX-2031", kind=mixer, nickname="Old Agnes"),
        "00412": make_machine(depot, "00412", kind=saw, maker="Ostrey"),
        "SW-9": make_machine(depot, "SW-9", kind=saw, place="out", site="Quarry Lane, plot 4"),
        "GONE-1": make_machine(depot, "GONE-1", kind=saw, place="gone"),
    }
    theirs = make_machine(other_depot, "MX-204", kind=mixer, serial="SN 44-711", site="Quarry Lane")
    for machine in (ours["SW-9"], theirs):
        record = seal(
            kind=Record.Kind.PLACE, depot=machine.depot, machine=machine, data={}, by=manager,
            role="manager", happened_at=MONDAY, received_at=MONDAY,
        )  # fmt: skip
        hirer = Hirer.objects.create(depot=machine.depot, name="Tarnhow Civils")
        Stay.objects.create(
            machine=machine, hirer=hirer, site=machine.site, out_at=MONDAY,
            due_back_on=date(2026, 4, 1), record=record,
        )  # fmt: skip
    return ours | {"theirs": theirs}


def asked(user: User, words: str, **more: str) -> tuple[int, str, str]:
    """Status, where it sends one on, and the page."""
    client = Client()
    client.force_login(user)
    response = client.get(f"{reverse('maintenance:find')}?{urlencode({'q': words})}", headers=more)
    return response.status_code, response.headers.get("Location", ""), response.content.decode()


def names(user: User, words: str) -> dict[str, list[str]]:
    return {
        group.title: [hit.name for hit in group.hits]
        for group in find(user, words, on=TODAY).groups
    }


def why(user: User, words: str) -> dict[str, tuple[str, ...]]:
    found = find(user, words, on=TODAY)
    return {hit.name: hit.why for group in found.groups for hit in group.hits}


def test_a_whole_number_or_code_opens_what_it_means(
    fleet: dict[str, Machine], manager: User
) -> None:
    for words, machine in (
        ("MX-203", "MX-203"), ("mx 203", "MX-203"), ("mx203", "MX-203"), ("203", "MX-203"),
        ("MX-00203", "MX-203"), ("412", "00412"), ("00412", "00412"), ("0412", "00412"),
        ("k7qp", "MX-203"), ("GONE-1", "GONE-1"),
    ):  # fmt: skip
        opens = reverse("maintenance:machine", args=[fleet[machine].pk])
        assert asked(manager, words)[:2] == (302, opens), words
    # The way back leads to a page that does not open it again.
    client = Client()
    client.force_login(manager)
    typing = client.get("/find?q=MX-203", headers={"HX-Request": "true"})
    assert typing.headers["HX-Replace-Url"] == "/find?q=MX-203&open=no"
    assert client.get(typing.headers["HX-Replace-Url"]).status_code == 200
    # While somebody types nothing is opened, and codes are not tried.
    assert asked(manager, "MX-203", **{"HX-Request": "true"})[0] == 200
    assert "Nothing of your depots" in asked(manager, "k7qp", **{"HX-Request": "true"})[2]


def test_jobs_and_records_open_by_their_number_and_bare_figures_mean_a_machine_first(
    fleet: dict[str, Machine], manager: User, depot: Depot
) -> None:
    job = Job.objects.create(
        pk=77_000, machine=fleet["SW-9"], kind="service", title="Blade guard", opened_at=MONDAY
    )
    record = Record.objects.filter(depot=depot).get()
    at_job = (302, reverse("maintenance:job", args=[job.pk]))
    for words in ("J-78000", "j78000", "j 78000", "78000"):
        assert asked(manager, words)[:2] == at_job, words
    for words in (record.number, record.number.lower(), f"{depot.code} {record.seq}"):
        opens = reverse("maintenance:record", args=[record.pk])
        assert asked(manager, words)[:2] == (302, opens), words
    make_machine(depot, "SP-78000")
    assert asked(manager, "78000")[1] == reverse(
        "maintenance:machine", args=[Machine.objects.get(number="SP-78000").pk]
    )
    assert asked(manager, "J-78000")[:2] == at_job
    Job.objects.filter(pk=job.pk).update(state=Job.State.CLOSED)
    assert asked(manager, "J-78000")[:2] == at_job
    assert "Open jobs" not in names(manager, "blade guard")


def test_each_thing_says_by_which_word_it_was_found(
    fleet: dict[str, Machine], manager: User
) -> None:
    assert names(manager, "mx") == {"Machines": ["MX-203", "MX-2031"]}
    for words, number, reason in (
        ("44710", "MX-203", "serial SN 44-710/B"),
        ("sn44-710b", "MX-203", "serial SN 44-710/B"),
        ("agnes", "MX-2031", "nickname Old Agnes"),
        ("ostrey", "00412", "maker Ostrey"),
        ("quarry", "SW-9", "at Quarry Lane, plot 4"),
        ("tarnhow", "SW-9", "out with Tarnhow Civils"),
        ("saw out", "SW-9", "where it is: Out"),
        ("GONE", "GONE-1", "number"),
    ):
        found = why(manager, words)
        assert list(found) == [number], words
        assert reason in found[number], words
    # A kind is found though a letter of it is wrong, and each further word narrows it down.
    assert set(why(manager, "mixr")) == {"MX-203", "MX-2031"}
    assert why(manager, "mixr")["MX-203"] == ("kind, spelt nearly like “mixr”",)
    assert set(why(manager, "mixer agnes")) == {"MX-2031"}
    assert why(manager, "mixer tarnhow") == {}
    # What is gone stands by itself, after what can be used.
    assert names(manager, "saw") == {
        "Machines": ["00412", "SW-9"], "Machines that are gone": ["GONE-1"]
    }  # fmt: skip


def test_a_belt_is_found_by_its_mark_in_any_form(
    fleet: dict[str, Machine], manager: User, depot: Depot
) -> None:
    """A 26 in belt is 13 x 660 Li: 26 x 25.4 = 660.4 mm inside, and datum 30 mm more by ISO 4184
    (from memory): so A26, 13x660 Li and A690 Ld are one belt."""
    drive = make_drive(fleet["MX-203"], belt_mark="13A690", belt_datum_m=0.690)
    make_drive(fleet["SW-9"], belt_mark="B40", section="B", belt_datum_m=1.056)
    part = Part.objects.create(
        depot=depot, name="A26", name_key="A26", section="A", length_m=0.6904
    )
    PartNumber.objects.create(
        part=part, number="77-Q-1250", key="77Q1250", approved_by=manager, approved_at=MONDAY
    )
    for words in ("A26", "a 26", "13x660 Li", "13X660LI", "A690 Ld"):
        found = names(manager, words)
        assert found["Belts on machines"] == [str(drive)], words
        assert found["Parts"] == ["A26"], words
    assert belts_of("A26", System.ISO_DIN) == (("A", pytest.approx(0.6904)),)
    assert names(manager, "77q12")["Parts"] == ["A26"]
    assert asked(manager, "77 q 1250")[:2] == (302, reverse("maintenance:part", args=[part.pk]))
    assert Drive.objects.count() == 2


def test_a_number_with_one_slip_offers_those_nearest(
    fleet: dict[str, Machine], manager: User
) -> None:
    for words in ("MX-2O31", "MX-231", "MX-23031", "XM-2031", "MX-20311"):
        near = [hit.name for hit in find(manager, words, on=TODAY).near]
        assert "MX-2031" in near, words
    # Another depot's MX-204 is one slip from this, and is not told.
    assert [hit.name for hit in find(manager, "MX-205", on=TODAY).near] == ["MX-203"]
    assert find(manager, "mixer", on=TODAY).near == ()
    # An insertion has (n + 1) x 36 ways less the n doubled ones, as the textbooks count them.
    assert len(_slips("AB")) == 2 + 1 + 2 * 35 + (3 * 36 - 2)


def test_another_depots_things_do_not_exist_here(
    fleet: dict[str, Machine], manager: User, outsider: User
) -> None:
    theirs = fleet["theirs"]
    for words in ("MX-204", "44711", theirs.short_code):
        status, _, page = asked(manager, words)
        assert status == 200
        assert reverse("maintenance:machine", args=[theirs.pk]) not in page, words
    assert set(why(outsider, "mixer")) == {"MX-204"}
    assert set(why(outsider, "tarnhow")) == {"MX-204"}
    nobody = make_user("Nobody Here")
    assert asked(nobody, "MX-203")[0] == 403


def test_an_instrument_and_a_machine_by_its_own_rcd_are_found_by_their_serials(
    fleet: dict[str, Machine], manager: User, outsider: User, operator: User, depot: Depot,
    other_depot: Depot, foreman: User,
) -> None:  # fmt: skip
    ours = make_instrument(depot, foreman, serial="TT 31-905", name="Bench tester")
    make_instrument(
        other_depot, make_user("Far Foreman", (other_depot, Role.FOREMAN)), serial="TT 31-906"
    )
    gone = make_instrument(depot, foreman, serial="TT 31-907")
    withdraw_instrument(instrument=gone, reason="Dropped from a roof.", at=MONDAY, by=foreman)
    near = {"made_with": ours, "passed": True, "at": MONDAY}
    for number, serial in (("SW-9", "RB-7718/2"), ("theirs", "RB-7719"), ("MX-2031", "")):
        machine = fleet[number]
        sealed = seal(
            kind=Record.Kind.TEST, depot=machine.depot, machine=machine, data={}, by=manager,
            role="manager", happened_at=MONDAY, received_at=MONDAY,
        )  # fmt: skip
        ElectricalTest.objects.create(machine=machine, item_serial=serial, record=sealed, **near)

    for words in ("TT 31-905", "tt31905", "31905", "tt 31"):
        assert names(manager, words) == {"Test instruments": ["Bench tester"]}, words
    assert why(manager, "31905") == {"Bench tester": ("serial TT 31-905",)}
    for words in ("RB-7718/2", "rb77182", "7718"):
        assert why(manager, words) == {"SW-9": ("serial RB-7718/2 of what was tested",)}, words
    assert why(manager, "saw rb-7718") == {
        "SW-9": ("kind", "serial RB-7718/2 of what was tested")
    }  # fmt: skip
    # Another depot's are not among them, nor are instruments for who does not work with them.
    assert names(outsider, "31905") == names(outsider, "7718") == {}
    assert names(manager, "7719") == {}
    assert names(operator, "31905") == {}
    assert names(operator, "7718") == {"Machines": ["SW-9"]}

    client = Client()
    client.force_login(manager)
    for words, listed in (("31905", 1), ("31906", 0), ("bench", 2), ("tt 31-90", 2)):
        page = client.get(reverse("maintenance:instrument_list"), {"q": words})
        assert page.context["table"].paginator.count == listed, words


def test_show_all_leads_to_a_list_of_just_these(depot: Depot, manager: User) -> None:
    kind = make_kind("pump", name="Puddle pump")
    machines = [make_machine(depot, f"PU-{n:03d}", kind=kind) for n in range(9)]
    for machine in machines:
        make_drive(machine, belt_mark="13A690")
        Job.objects.create(machine=machine, kind="service", title="Strainer", opened_at=MONDAY)
        Part.objects.create(
            depot=depot, name=f"Seal {machine.number}", name_key=f"SEALPU{machine.pk}"
        )
    client = Client()
    client.force_login(manager)
    for words, total in (("puddle", 9), ("strainer", 9), ("13A690", 9), ("seal pu", 9)):
        group = find(manager, words, on=TODAY).groups[0]
        assert (group.total, len(group.hits)) == (total, 6), words
        listed = client.get(f"{reverse(group.list_page)}?{group.address}")
        assert listed.context["table"].paginator.count == total, words
        assert f"Show all 9 {group.nouns}" in asked(manager, words)[2]


def test_nothing_found_says_what_can_be_looked_for_and_odd_input_is_met_with_words(
    fleet: dict[str, Machine], manager: User
) -> None:
    _, _, page = asked(manager, "no such thing")
    assert "Nothing of your depots fits “no such thing”" in page
    assert "record number at its foot: NORTH-1042" in page
    assert asked(manager, "")[0] == 200
    for words in (
        "%", "_", "\\", "'; DROP TABLE", "Ω", "J-999999999999", "north-999999999999999", "-", "٣٣",
        "a " * 50, "13x" + "9" * 90, "🔧", "x" * LONGEST,
    ):  # fmt: skip
        status, _, page = asked(manager, words)
        assert status == 200, page
        assert "Nothing of your" in page or " found with " in page, words
    for words in ("x" * (LONGEST + 1), "a\u202eb", "bell\x07"):
        status, _, page = asked(manager, words)
        assert status == 422, page
        assert "errorlist" in page, words
    # A sign that means "anything" to the database means itself here.
    assert names(manager, "%") == names(manager, "_") == {}


def test_codes_that_open_nothing_are_held_back_as_on_the_page_scan(
    fleet: dict[str, Machine], manager: User, operator: User
) -> None:
    for n in range(20):
        assert asked(operator, f"Z{n // 9 + 2}X{n % 8 + 2}")[0] == 200
    status, _, page = asked(operator, "K7QP")
    assert status == 200, page
    assert "no code is looked up" in page
    assert asked(operator, "MX-203")[0] == 302
    assert asked(manager, "K7QP")[0] == 302
