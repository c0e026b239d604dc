"""The pages of electrical tests and of the instruments."""

import csv
import io
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils.timezone import now

from addresses import body, signed_in
from bench import class_i
from maintenance.models import Calibration, ElectricalTest, Instrument, RuleSheet, Stop
from make import make_instrument, make_machine
from plant.models import Depot, Machine, MachineKind, User

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")


@pytest.fixture
def machine(depot: Depot, rule_sheet: RuleSheet) -> Machine:
    kind = MachineKind.objects.get(key="mixer_electric")
    return make_machine(depot, "MX-203", kind=kind, supply="e230", protection="I")


@pytest.fixture
def instrument(depot: Depot, manager: User) -> Instrument:
    today = now().date()
    return make_instrument(
        depot, manager, calibrated=(today - timedelta(days=40), today + timedelta(days=300))
    )


def where(name: str, thing: Any = None) -> str:
    return reverse(f"maintenance:{name}", args=[thing.pk] if thing else [])


def rcd(tester: Instrument, /, **more: str) -> dict[str, str]:
    given = {
        "entry": str(uuid.uuid4()), "profile": "general_61008", "rated_current": "30",
        "rcd_type": "A", "instrument": str(tester.pk), "button": "right", "half_held": "on",
        "rated": "28", "five": "12",
    }  # fmt: skip
    return {name: value for name, value in {**given, **more}.items() if value}


def mains(tester: Instrument, /, **more: str) -> dict[str, str]:
    looks = dict.fromkeys(("case", "cable", "plug", "runs"), "right")
    given = {
        "entry": str(uuid.uuid4()), "instrument": str(tester.pk), "isolated": "on", **looks,
        "plug_fuse": "none on it", "lead_length": "25", "lead_core": "1.5", "earth": "0.4325",
        "insulation": "> 99.9", "earth_current": "0.4",
    }  # fmt: skip
    return {name: value for name, value in {**given, **more}.items() if value}


def test_a_machine_is_asked_by_its_class_with_each_limit_beside_its_box(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    page = signed_in(fitter).get(where("add_test", machine)).content.decode()

    assert "Machine of class I, 230 V or 400 V" in page
    assert "Earth path: at most 0.1 ohm + length x ohm/m of the core" in page
    assert "Insulation resistance: at least 1 Mohm" in page
    assert "Protective conductor current: at most 5 mA" in page
    assert "from memory" in page
    assert "Not an installation certificate" in page or "not an installation certificate" in page
    assert "?form=rcd_portable" in page
    assert "trip time" not in page


def test_a_whole_test_is_entered_and_passes(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    response = signed_in(fitter).post(where("add_test", machine), mains(instrument), follow=True)

    page = response.content.decode()
    assert "Test passed and sealed." in page
    assert "at most 0.1 ohm + 25 m x 0.0133 ohm/m = 0.4325 ohm" in page
    assert "&gt; 99.9 Mohm" in page
    test = ElectricalTest.objects.get()
    assert (test.form, test.made_with, test.passed) == ("class_1_mains", instrument, True)


def test_a_failed_rcd_stops_the_machine(
    machine: Machine, fitter: User, instrument: Instrument
) -> None:
    address = where("add_test", machine) + "?form=rcd_portable"

    response = signed_in(fitter).post(address, rcd(instrument, rated="0.31 s"), follow=True)

    assert "Test failed. Do not use" in response.content.decode()
    assert Stop.objects.get().always


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rated": "310 s"}, "Write 310 ms if that is meant."),
        ({"rated": "0.31"}, "write 0.31 s for seconds"),
        ({"rated": "20", "rated_held": "on"}, "Enter the time, or tick that it did not trip."),
        ({"rated": ""}, "Enter this, or write below why it was not tested."),
        ({"button": ""}, "Enter this, or write below why it was not tested."),
        ({"profile": "delayed_61008"}, "Choose one of these."),
        ({"rated_current": ""}, "Fill this in."),
        ({"instrument": ""}, "A pass names its instrument."),
        ({"instrument": "999999"}, "Choose one of these."),
        ({"rated": "> 40"}, "Enter a number"),
    ],
)
def test_what_is_wrong_stands_at_its_field_and_nothing_is_lost(
    machine: Machine, fitter: User, instrument: Instrument, change: dict[str, str], message: str
) -> None:
    address = where("add_test", machine) + "?form=rcd_portable"

    response = signed_in(fitter).post(address, rcd(instrument, note="kept", **change))

    page = response.content.decode()
    assert response.status_code == 422
    assert message in page
    assert "kept" in page
    assert not ElectricalTest.objects.exists()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"insulation": "5 V"}, "Enter a number alone or with Mohm or kohm"),
        ({"insulation": "> 0.5"}, "use another range"),
        ({"earth_current": "5 A"}, "Write 5 mA if that is meant."),
        ({"lead_core": ""}, "Choose the size"),
        ({"lead_length": ""}, "Enter the length of the lead."),
        ({"isolated": ""}, "Tick this first."),
        ({"insulation": "", "not_tested": "no time"}, "Nothing failed, so a pass needs"),
    ],
)
def test_units_lead_and_isolation_are_guarded(
    machine: Machine, fitter: User, instrument: Instrument, change: dict[str, str], message: str
) -> None:
    response = signed_in(fitter).post(where("add_test", machine), mains(instrument, **change))

    assert response.status_code == 422
    assert message in response.content.decode()


def test_without_a_class_on_the_plate_the_page_says_so(machine: Machine, fitter: User) -> None:
    Machine.objects.filter(pk=machine.pk).update(protection="")

    page = signed_in(fitter).get(where("add_test", machine)).content.decode()

    assert "The class is not on the plate" in page
    assert "RCD of 30 mA or less" in page


def test_a_petrol_machine_has_no_electrical_test(machine: Machine, fitter: User) -> None:
    Machine.objects.filter(pk=machine.pk).update(supply="petrol", protection="")

    response = signed_in(fitter).get(where("add_test", machine))

    assert "no electrical test for this machine" in response.content.decode()
    assert signed_in(fitter).post(where("add_test", machine), {}).status_code == 200


def test_the_instrument_used_last_is_offered_first(
    machine: Machine, fitter: User, depot: Depot, manager: User, instrument: Instrument
) -> None:
    make_instrument(depot, manager, name="Another")
    signed_in(fitter).post(where("add_test", machine), mains(instrument))

    page = signed_in(fitter).get(where("add_test", machine)).content.decode()

    assert f'value="{instrument.pk}" selected' in page
    assert 'value="25 m"' in page or 'value="25"' in page


def test_an_instrument_is_added_calibrated_found_wrong_and_its_tests_named(
    machine: Machine, fitter: User, foreman: User, depot: Depot
) -> None:
    client = signed_in(foreman)
    given = {
        "name": "Bench 7", "serial": "Q-7", "depot": depot.pk,
        "reads": ["ohm", "Mohm", "mA", "ms"],
    }  # fmt: skip
    client.post(where("add_instrument"), given)
    instrument = Instrument.objects.get()
    today = now().date()
    good = {
        "done_on": (today - timedelta(days=9)).isoformat(), "found": "good", "certificate": "C-1",
        "valid_until": (today + timedelta(days=300)).isoformat(),
    }  # fmt: skip
    client.post(where("calibrate_instrument", instrument), good)
    signed_in(fitter).post(where("add_test", machine), mains(instrument))
    assert ElectricalTest.objects.get().passed

    wrong = {"done_on": today.isoformat(), "found": "wrong", "certificate": "C-2"}
    response = client.post(where("calibrate_instrument", instrument), wrong, follow=True)

    page = response.content.decode()
    assert "Found wrong: 1 test in doubt. Test again." in page
    assert "test MX-203 again" in page
    for name in ("machine", "machine_tests", "add_test"):
        page = signed_in(fitter).get(where(name, machine)).content.decode()
        assert "which was found wrong on" in page, name
    record = ElectricalTest.objects.get().record
    assert "which was found wrong on" in client.get(where("record", record)).content.decode()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"found": "wrong"}, "Leave it empty"),
        ({"valid_until": ""}, "Give the last day that it is valid."),
        ({"found": "adjusted", "valid_until": ""}, "Give the last day that it is valid."),
        ({"done_on": "2999-01-01"}, "Give a day from"),
        ({"certificate": ""}, "Fill this in."),
    ],
)
def test_a_calibration_is_refused_at_its_field(
    manager: User, instrument: Instrument, change: dict[str, str], message: str
) -> None:
    today = now().date()
    good = {
        "done_on": today.isoformat(), "found": "good", "certificate": "C-1",
        "valid_until": (today + timedelta(days=300)).isoformat(),
    }  # fmt: skip

    response = signed_in(manager).post(where("calibrate_instrument", instrument), good | change)

    assert response.status_code == 422
    assert message in response.content.decode()
    assert Calibration.objects.count() == 1


def test_an_instrument_is_withdrawn_and_offered_no_more(
    machine: Machine, fitter: User, manager: User, instrument: Instrument
) -> None:
    signed_in(manager).post(where("withdraw_instrument", instrument), {"reason": "lost"})

    page = signed_in(fitter).get(where("add_test", machine)).content.decode()
    assert str(instrument) not in page
    assert "Withdrawn" in signed_in(fitter).get(where("instrument", instrument)).content.decode()


def test_the_list_of_tests_is_filtered_and_sent_as_a_file(
    machine: Machine, fitter: User, manager: User, depot: Depot, instrument: Instrument
) -> None:
    make_machine(depot, "PC-1", supply="petrol")
    signed_in(fitter).post(where("add_test", machine), mains(instrument, earth="3"))

    def shown(query: str) -> str:
        return signed_in(manager).get(where("test_list") + query).content.decode()

    assert "1 failed last" in shown("")
    assert "PC-1" not in shown("")
    assert "MX-203" in shown("?state=failed")
    assert "MX-203" not in shown("?state=doubt")
    assert "MX-203" not in shown("?state=never")
    assert "MX-203" not in shown("?q=nothing+like+it")
    file = body(signed_in(manager).get(where("test_list") + "?csv=1")).decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(file)))
    assert [(row["Machine"], row["Result"], row["In doubt"]) for row in rows] == [
        ("MX-203", "failed", "no")
    ]
    assert "csv" not in signed_in(fitter).get(where("test_list")).content.decode()


def test_the_readings_of_a_machine_stand_side_by_side_failure_and_retest(
    machine: Machine, fitter: User, operator: User, instrument: Instrument
) -> None:
    signed_in(fitter).post(where("add_test", machine), mains(instrument, earth="3"))
    signed_in(fitter).post(where("add_test", machine), mains(instrument))

    page = signed_in(operator).get(where("machine_tests", machine)).content.decode()

    assert "2 tests" in page
    assert "3 ohm" in page
    assert "0.4325 ohm" in page
    assert "where" in page.lower()
    assert "Test MX-203" not in page  # operators do not test


def test_a_machine_at_another_depot_is_counted_but_not_named(
    machine: Machine, fitter: User, foreman: User, other_depot: Depot, instrument: Instrument
) -> None:
    Machine.objects.filter(pk=machine.pk).update(supply="e110")
    machine.refresh_from_db()
    class_i(machine, fitter, instrument=instrument, at=now())
    Machine.objects.filter(pk=machine.pk).update(depot=other_depot)

    page = signed_in(foreman).get(where("instrument", instrument)).content.decode()

    assert "MX-203" not in page
    assert "1 of them on machines that are at other depots now" in page


def test_the_serial_of_an_rcd_is_shown_wherever_its_test_is_and_offered_for_the_next(
    machine: Machine, fitter: User, manager: User, instrument: Instrument
) -> None:
    address = where("add_test", machine) + "?form=rcd_portable"
    record = signed_in(fitter).post(address, rcd(instrument, item_serial="R-417"), follow=True)

    assert "R-417" in record.content.decode()
    shown = [
        address, where("machine_tests", machine), where("test_list"),
        where("instrument", instrument),
    ]  # fmt: skip
    for each in shown:
        assert "R-417" in signed_in(manager).get(each).content.decode(), each
    file = body(signed_in(manager).get(where("test_list") + "?csv=1")).decode("utf-8-sig")
    assert [row["Serial"] for row in csv.DictReader(io.StringIO(file))] == ["R-417"]
    assert (
        "Serial number of the RCD"
        not in signed_in(fitter).get(where("add_test", machine)).content.decode()
    )


def test_a_calibration_entered_by_mistake_is_struck_out_and_both_stand_on_the_page(
    fitter: User, manager: User, instrument: Instrument
) -> None:
    calibration = instrument.calibrations.get()
    strike = where("strike_calibration", calibration)
    assert (
        "entered by mistake"
        not in signed_in(fitter).get(where("instrument", instrument)).content.decode()
    )

    short = signed_in(manager).post(strike, {"reason": "slip"})
    page = signed_in(manager).post(strike, {"reason": "It was another tester"}, follow=True)

    assert short.status_code == 422
    told = page.content.decode()
    assert "Struck out" in told
    assert "It was another tester" in told
    assert "Certificate C-1" in told
    assert "no calibration yet" in told
