"""A file of a test instrument: sorted row by row, each ready row saved once as a sealed test."""

import io
import json
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from bench import class_i, device
from bench import record as record_test
from maintenance.actions.instrument import calibrate
from maintenance.actions.readings_file import (
    ask_file,
    drop_file,
    leftovers,
    read_file,
    save_file,
    say_yes,
    sort_again,
)
from maintenance.contents.record import summary
from maintenance.models import (
    Competence,
    ElectricalTest,
    Instrument,
    ReadingsFile,
    ReadingsRow,
    RuleSheet,
    Stop,
)
from make import MONDAY, make_instrument, make_machine, make_user
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, MachineKind, Membership, Record, Role, User
from plant.models.work import LEASE

pytestmark = pytest.mark.usefixtures("rule_sheet", "competent")

LATER = MONDAY + timedelta(days=7)
RCD_HEADINGS = (
    "Asset,Date,Time,RCD serial,RCD standard,RCD rating (mA),Test button,Half (ms),Trip time (ms),"
    "Five (ms),Result"
)
RCD_ROW = "MX-203,2026-03-02,10:20,R-417,BS EN 61008,30,ok,no trip,28,12,Pass"
TOOL_HEADINGS = (
    "Machine,Tested on,Visual,Earth path (ohm),Insulation (Mohm),Lead length,Core size,Runs"
)
TOOL_ROW = "mx 203,2026-03-02 08:05,pass,0.12,> 99.9,5 m,1.5,yes"
ALL_RIGHT: dict[str, Any] = {
    "confirm": {"isolated": "right"},
    "look": dict.fromkeys(("case", "cable", "plug", "plug_fuse", "runs", "button"), "right"),
}


@pytest.fixture
def machine(depot: Depot, rule_sheet: RuleSheet) -> Machine:
    kind = MachineKind.objects.get(key="mixer_electric")
    return make_machine(depot, "MX-203", kind=kind, supply="e110", protection="I")


@pytest.fixture
def instrument(depot: Depot, manager: User) -> Instrument:
    return make_instrument(depot, manager, serial="S-1")


def bring(depot: Depot, by: User, *lines: str, at: datetime = LATER) -> ReadingsFile:
    data = "\n".join(lines).encode()
    run = ask_file(file=io.BytesIO(data), file_name="bench.csv", depot=depot, by=by, at=at)
    assert read_file(run=run, at=at)
    run.refresh_from_db()
    return run


def answer(run: ReadingsFile, by: User, answers: Mapping[str, Any], **columns: str) -> None:
    matched = {**run.columns, **columns}
    sort_again(run=run, columns=matched, answers={**run.answers, **answers}, by=by)
    assert read_file(run=run, at=LATER)
    run.refresh_from_db()


def with_instrument(tester: Instrument, word: str = "") -> dict[str, Any]:
    return {"instrument": {word: str(tester.pk)}, **ALL_RIGHT}


def save(run: ReadingsFile, by: User) -> None:
    say_yes(run=run, by=by)
    assert not save_file(run=run, clock=lambda: LATER, until=LATER + timedelta(minutes=1))
    run.refresh_from_db()


def told(run: ReadingsFile) -> list[tuple[str, str]]:
    return [(row.verdict, " ".join(row.reasons)) for row in run.rows.order_by("row")]


def verdicts(run: ReadingsFile) -> list[str]:
    return [verdict for verdict, _ in told(run)]


# --- From file to test ----------------------------------------------------------------------


def test_a_row_becomes_an_ordinary_sealed_test(
    machine: Machine, depot: Depot, fitter: User, instrument: Instrument
) -> None:
    run = bring(depot, fitter, RCD_HEADINGS, RCD_ROW)
    answer(run, fitter, with_instrument(instrument))
    assert told(run) == [("ready", "")]

    save(run, fitter)

    test = ElectricalTest.objects.get()
    assert (test.machine, test.form, test.passed) == (machine, "rcd_portable", True)
    assert (test.made_with, test.item_serial, test.profile) == (
        instrument, "R-417", "general_61008",
    )  # fmt: skip
    assert test.at == datetime(2026, 3, 2, 10, 20, tzinfo=UTC)
    assert test.record.by == fitter
    data = json.loads(test.record.content)["data"]
    assert data["from_file"] == {"sha256": run.sha256, "row": "2", "said": "Pass", "differs": False}
    read = {each["reading"]: (each["typed"], each.get("si")) for each in data["readings"]}
    assert read == {
        "button": ("right", None), "half": ("no trip", None), "rated": ("28 ms", "0.028"),
        "five": ("12 ms", "0.012"),
    }  # fmt: skip
    assert (run.step, run.state) == ("saved", "done")


def test_the_word_of_the_instrument_is_never_believed(
    machine: Machine, depot: Depot, fitter: User, instrument: Instrument
) -> None:
    # 230 ms passes a device of BS EN 61008 and fails one of BS 7288: the limits of
    # fixtures/published_tables/electrical/rcd_trip_times.toml.
    slow = RCD_ROW.replace(",28,", ",230,")
    run = bring(depot, fitter, RCD_HEADINGS, slow, slow.replace("BS EN 61008", "BS 7288"))
    answer(run, fitter, with_instrument(instrument))

    assert [(row.passes, row.differs) for row in run.rows.all()] == [(True, False), (False, True)]

    save(run, fitter)

    assert Stop.objects.get().always
    failed = ElectricalTest.objects.get(passed=False)
    assert summary(failed.record).endswith(": failed, though the instrument said Pass")
    assert list(ElectricalTest.objects.order_by("passed").values_list("passed", flat=True)) == [
        False, True,
    ]  # fmt: skip


def test_the_same_file_twice_adds_nothing(
    machine: Machine, depot: Depot, fitter: User, instrument: Instrument
) -> None:
    lines = (RCD_HEADINGS, RCD_ROW, RCD_ROW, RCD_ROW.replace("10:20", "11:40"))
    run = bring(depot, fitter, *lines)
    answer(run, fitter, with_instrument(instrument))
    assert told(run) == [
        ("ready", ""), ("same", "Row 2 is the same test."), ("ready", ""),
    ]  # fmt: skip
    save(run, fitter)
    count = Record.objects.count()

    again = bring(depot, fitter, *lines)
    answer(again, fitter, with_instrument(instrument))

    assert verdicts(again) == ["same", "same", "same"]
    assert again.saved_before() == run
    with pytest.raises(Refused, match="No row is ready"):
        say_yes(run=again, by=fitter)
    # In other units, in another order of columns, with the instrument's word left out.
    other = bring(
        depot, fitter,
        "Five,Trip time,Half,Asset,Date,Time,RCD serial,RCD standard,RCD rating,Test button",
        "0.012 s,0.028 s,no trip,mx203,02/03/2026,10:20,R-417,BS EN 61008-1,0.03 A,right",
    )  # fmt: skip
    answer(other, fitter, {**with_instrument(instrument), "dates": "day"})
    assert told(other) == [("same", "This test is on record.")]
    assert Record.objects.count() == count


def test_two_tests_of_one_day_without_an_hour_are_two(
    machine: Machine, depot: Depot, fitter: User, instrument: Instrument
) -> None:
    bad = RCD_ROW.replace("10:20", "").replace(",28,", ",330,")
    run = bring(depot, fitter, RCD_HEADINGS, bad, RCD_ROW.replace("10:20", ""))
    answer(run, fitter, with_instrument(instrument))
    assert verdicts(run) == ["ready", "ready"]

    save(run, fitter)

    assert ElectricalTest.objects.count() == 2
    newest = ElectricalTest.objects.all().newest_of_each().get()
    assert "noon is taken" in json.loads(newest.record.content)["data"]["from_file"]["hour"]
    assert newest.passed  # the retest stands below the failure in the file


def test_another_reading_of_the_same_moment_is_not_added_beside_the_first(
    machine: Machine, depot: Depot, fitter: User, instrument: Instrument
) -> None:
    at = datetime(2026, 3, 2, 10, 20, tzinfo=UTC)
    record_test(machine, fitter, at=at, item_serial="R-417")

    run = bring(depot, fitter, RCD_HEADINGS, RCD_ROW.replace(",28,", ",29,"))
    answer(run, fitter, with_instrument(instrument))

    assert told(run) == [("same", "A test of that moment is on record, with other readings.")]


# --- Which machine, which test --------------------------------------------------------------


def test_a_machine_is_found_as_the_register_finds_it(
    depot: Depot, other_depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    make_machine(depot, "00412", kind=machine.kind, supply="e110")
    make_machine(other_depot, "MX-900", kind=machine.kind, supply="e110")
    numbers = ("mx 203", "MX203", "412", "00412", "MX-900", "", "4.12E+02")
    rows = [RCD_ROW.replace("MX-203", each).replace("10:2", f"1{n}:0") for n, each in
            enumerate(numbers)]  # fmt: skip

    run = bring(depot, fitter, RCD_HEADINGS, *rows)
    answer(run, fitter, with_instrument(instrument))

    assert verdicts(run) == [
        "ready", "ready", "no machine", "ready", "no machine", "unreadable", "unreadable",
    ]  # fmt: skip


def test_which_test_it_is_follows_from_its_readings_and_the_class_on_the_plate(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    double = make_machine(depot, "DR-1", kind=machine.kind, supply="e110", protection="II")
    unknown = make_machine(depot, "DR-2", kind=machine.kind, supply="e110")
    headings = f"{TOOL_HEADINGS},Trip time (ms),Half,Five,Test button,RCD standard,RCD rating"
    tool = ",pass,0.12,> 99.9,5 m,1.5,yes,,,,,,"
    run = bring(
        depot, fitter, headings,
        f"MX-203,2026-03-02 08:05{tool}",
        f"{double.number},2026-03-02 08:15{tool}",
        f"{unknown.number},2026-03-02 08:25{tool}",
        "MX-203,2026-03-02 08:35,,,,,,,28,no trip,12 ms,ok,BS 7288,30 mA",
    )  # fmt: skip
    answer(run, fitter, {**with_instrument(instrument), "units": {}})

    assert [row.values.get("form") for row in run.rows.all()] == [
        "class_1_110", "class_2_110", "rcd_portable", "rcd_portable",
    ]  # fmt: skip
    assert "Not asked by this test, left out: Earth path (ohm)." in told(run)[1][1]
    assert verdicts(run)[2] == "unreadable"


def test_a_word_for_the_test_is_asked_once_and_remembered_by_depot_and_headings(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    headings = TOOL_HEADINGS.replace("Machine,", "Machine,Test,Tester,Odd heading,")
    row = TOOL_ROW.replace("mx 203,", "mx 203,Site tool,Box A,kept out,")
    run = bring(depot, fitter, headings, row, row.replace("08:05", "08:15"))
    assert run.questions["item"] == {"sitetool": {"typed": "Site tool", "rows": 2}}
    answers = {"item": {"sitetool": "machine"}, **with_instrument(instrument, "boxa")}
    answer(run, fitter, answers, **{"Odd heading": "note"})
    assert verdicts(run) == ["ready", "ready"]

    other_order = ",".join(reversed(headings.split(",")))
    next_one = bring(depot, fitter, other_order, ",".join(reversed(row.split(","))))

    assert next_one.columns["Odd heading"] == "note"
    assert next_one.answers["item"] == {"sitetool": "machine"}
    assert next_one.answers["instrument"] == {"boxa": str(instrument.pk)}
    # What was looked at and done first is answered for each file anew.
    assert "look" not in next_one.answers
    assert "Unplugged, locked off" in told(next_one)[0][1]


def test_two_tests_that_read_alike_are_told_apart_by_their_name(
    depot: Depot, fitter: User, instrument: Instrument
) -> None:
    heater = MachineKind.objects.filter(family="heater")[0]
    make_machine(depot, "HT-1", kind=heater, supply="e230", protection="I", power_w=3000.0)
    headings = f"{TOOL_HEADINGS},Leakage (mA),Test"
    row = "HT-1,2026-03-02 08:05,pass,0.12,0.4,5 m,1.5,yes,0.3,"
    run = bring(
        depot, fitter, headings, row + "machine", f"{row}Heater of class I, 3 kW and over"
        .replace("Heater of class I, 3 kW and over", '"Heater of class I, 3 kW and over"'),
    )  # fmt: skip
    answer(run, fitter, with_instrument(instrument))

    assert verdicts(run) == ["no form", "ready"]
    assert "It may be of several tests" in told(run)[0][1]
    # 0.4 Mohm: enough for a heating element, too little for a machine of class I.
    assert [row.passes for row in run.rows.all()] == [None, True]


# --- Figures --------------------------------------------------------------------------------


def test_units_are_read_from_cell_or_heading_and_else_asked_once_a_column(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    headings = "Machine,Tested on,Visual,Earth path,Insulation,Lead length,Core size,Runs"
    run = bring(
        depot, fitter, headings,
        "MX-203,2026-03-02 08:05,pass,120,> 99.9,5 m,1.5,yes",
        "MX-203,2026-03-02 08:15,pass,0.13 Ohm,8 MΩ,5 m,1.5,yes",
    )  # fmt: skip
    answer(run, fitter, with_instrument(instrument))
    assert verdicts(run) == ["ask", "ready"]
    assert run.questions["units"] == {
        "reading_earth": ["120"], "reading_insulation": ["> 99.9"],
    }  # fmt: skip

    answer(run, fitter, {"units": {"reading_earth": "mohm", "reading_insulation": "Mohm"}})
    save(run, fitter)

    read = [
        {each["reading"]: each.get("si") for each in json.loads(test.record.content)["data"]
         ["readings"]} for test in ElectricalTest.objects.order_by("at")
    ]  # fmt: skip
    assert [each["earth"] for each in read] == ["0.12", "0.13"]
    assert [each["insulation"] for each in read] == ["99900000", "8000000"]


SORTED: list[tuple[dict[str, str], str, str]] = [
    ({"0.12": ""}, "unreadable", "Missing, and nothing failed: Earth path"),
    ({"0.12": '"0,12"'}, "unreadable", "Use a point for decimals"),
    ({"0.12": "lots"}, "unreadable", "Enter a number alone or with ohm"),
    ({"0.12": "-1"}, "unreadable", "Enter 0 to"),
    ({"0.12": "> 0.05"}, "unreadable", "does not tell whether"),
    ({"> 99.9": "> 0.5 Mohm"}, "unreadable", "does not tell whether"),
    ({"pass": "fail"}, "unreadable", "does not say what was wrong"),
    ({"pass": "perhaps"}, "unreadable", "is no answer"),
    ({"1.5": "1.7"}, "unreadable", "Write one of"),
    ({"5 m,1.5": ","}, "unreadable", "the earth path needs it"),
    ({"2026-03-02 08:05": "31/02/2026"}, "unreadable", "is no date"),
    ({"2026-03-02 08:05": "2026-03-02 25:00"}, "unreadable", "is no"),
    ({"2026-03-02 08:05": "2027-03-02"}, "unreadable", "is not between"),
    ({"2026-03-02 08:05": "03/02/2026"}, "ask", "may be 3 Feb 2026 or 2 Mar 2026"),
    ({"2026-03-02 08:05": ""}, "ask", "on which day was it tested?"),
    ({"0.12": "3"}, "ready", "3 ohm is outside the limit"),
    ({"0.12": "> 19.99", "> 99.9": ""}, "ready", "> 19.99 ohm is outside the limit"),
    ({"yes": "no"}, "ready", "not right"),
]


def test_each_row_is_sorted_with_its_reason(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    rows = []
    for change, _, _ in SORTED:
        row = TOOL_ROW
        for old, new in change.items():
            row = row.replace(old, new)
        rows.append(row)
    run = bring(depot, fitter, TOOL_HEADINGS, *rows)
    answer(run, fitter, with_instrument(instrument))

    for (change, verdict, words), (found, why) in zip(SORTED, told(run), strict=True):
        assert found == verdict, (change, why)
        assert words in why, change


def test_an_hour_that_is_there_twice_is_not_guessed(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    # British clocks went back on 26 Oct 2025 at 02:00 and forward on 30 Mar 2025 at 01:00.
    rows = [TOOL_ROW.replace("2026-03-02 08:05", each) for each in
            ("2025-10-26 01:30", "2025-03-30 01:30", "2025-10-26 02:30")]  # fmt: skip
    run = bring(depot, fitter, TOOL_HEADINGS, *rows)
    answer(run, fitter, with_instrument(instrument))

    assert [verdict for verdict, _ in told(run)][:2] == ["unreadable", "unreadable"]
    assert "the clocks change" in told(run)[0][1]
    assert "the clocks change" not in told(run)[2][1]


BEYOND = [
    ("> 1999 ms", "28 ms", "ready", True),  # 2000 ms or more is what half current asks
    ("> 300 ms", "28 ms", "unreadable", None),
    ("no trip", "> 300 ms", "ready", False),
    ("no trip", "> 40 ms", "unreadable", None),
    ("no trip", "0.31 s", "ready", False),
    ("no trip", "310 s", "unreadable", None),
    ("1200 ms", "28 ms", "ready", False),
]


def test_a_time_beyond_the_range_of_the_instrument_counts_only_where_it_decides(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    rows = [RCD_ROW.replace("no trip,28,", f"{half},{rated},") for half, rated, _, _ in BEYOND]
    run = bring(depot, fitter, RCD_HEADINGS, *rows)
    answer(run, fitter, with_instrument(instrument))

    for (half, rated, verdict, passes), row in zip(BEYOND, run.rows.all(), strict=True):
        assert (row.verdict, row.passes) == (verdict, passes), (half, rated, row.reasons)


def test_lead_and_device_are_taken_from_the_last_test_where_the_file_has_none(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    class_i(machine, fitter, instrument=instrument)
    record_test(
        machine, fitter, instrument=instrument, item_serial="R-417",
        device=device("socket_7288"),
    )  # fmt: skip
    run = bring(
        depot, fitter, "Machine,Date,Time,Visual,Earth (ohm),Insulation (Mohm),Trip time (ms),"
        "Half,Five (ms),Runs,Button",
        "MX-203,2026-03-09,08:05,ok,0.11,50,,,,ok,", "MX-203,2026-03-09,08:15,,,,21,no trip,9,,ok",
    )  # fmt: skip
    answer(run, fitter, with_instrument(instrument))

    assert verdicts(run) == ["ready", "ready"]
    assert "Lead: 10 m, 1.5 mm2, as at its last test." in told(run)[0][1]
    assert "as at its last test" in told(run)[1][1]

    save(run, fitter)

    test = ElectricalTest.objects.order_by("-at")[0]
    assert (test.item_serial, test.profile) == ("R-417", "socket_7288")


# --- Who and with what ----------------------------------------------------------------------


def test_a_pass_needs_calibration_and_competence_and_a_failure_neither(
    depot: Depot, fitter: User, manager: User, machine: Machine, instrument: Instrument
) -> None:
    old = make_instrument(
        depot, manager, serial="S-2", calibrated=(date(2025, 1, 1), date(2025, 12, 31))
    )
    bad = RCD_ROW.replace(",28,", ",330,").replace("10:20", "10:40")
    run = bring(depot, fitter, RCD_HEADINGS, RCD_ROW, bad)
    answer(run, fitter, with_instrument(old))
    assert verdicts(run) == ["ask", "ready"]
    assert "It passes, but: Calibration ended on 31 Dec 2025." in told(run)[0][1]

    Competence.objects.filter(user=fitter).update(valid_until=date(2026, 1, 1))
    answer(run, fitter, with_instrument(instrument))
    assert verdicts(run) == ["ask", "ready"]

    save(run, fitter)

    assert [test.passed for test in ElectricalTest.objects.all()] == [False]


def test_what_changed_between_the_look_and_the_yes_is_told_at_the_row(
    depot: Depot, fitter: User, manager: User, machine: Machine, instrument: Instrument
) -> None:
    run = bring(depot, fitter, RCD_HEADINGS, RCD_ROW)
    answer(run, fitter, with_instrument(instrument))
    assert verdicts(run) == ["ready"]
    calibrate(
        instrument=instrument, done_on=date(2026, 3, 1), found_good=False, valid_until=None,
        certificate="C-9", at=LATER, by=manager,
    )  # fmt: skip

    save(run, fitter)

    assert verdicts(run) == ["ask"]
    assert "not put right" in told(run)[0][1]
    assert not ElectricalTest.objects.exists()


def test_only_who_brought_the_file_signs_its_tests(
    depot: Depot, fitter: User, foreman: User, operator: User, machine: Machine,
    instrument: Instrument,
) -> None:  # fmt: skip
    run = bring(depot, fitter, RCD_HEADINGS, RCD_ROW)
    answer(run, fitter, with_instrument(instrument))

    with pytest.raises(Refused, match="Only who brought"):
        say_yes(run=run, by=foreman)
    with pytest.raises(Refused, match="Only who brought"):
        sort_again(run=run, columns={}, answers={}, by=foreman)
    with pytest.raises(PermissionError):
        bring(depot, operator, RCD_HEADINGS, RCD_ROW)
    Membership.objects.filter(user=fitter).delete()
    with pytest.raises(PermissionError):
        say_yes(run=run, by=User.objects.get(pk=fitter.pk))


def test_an_instrument_of_another_depot_is_no_answer(
    depot: Depot, other_depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    keeper = make_user("Kit Keeper", (other_depot, Role.MANAGER))
    theirs = make_instrument(other_depot, keeper)
    run = bring(depot, fitter, RCD_HEADINGS, RCD_ROW)

    answer(run, fitter, with_instrument(theirs))

    assert verdicts(run) == ["ask"]


# --- In the background ----------------------------------------------------------------------


def test_a_run_that_dies_half_way_goes_on_and_saves_each_row_once(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    rows = [RCD_ROW.replace("10:20", f"10:{n:02}") for n in range(6)]
    run = bring(depot, fitter, RCD_HEADINGS, *rows)
    answer(run, fitter, with_instrument(instrument))
    say_yes(run=run, by=fitter)
    say_yes(run=run, by=fitter)
    ticks = iter(LATER + timedelta(seconds=n) for n in range(100))

    left = save_file(run=run, clock=lambda: next(ticks), until=LATER + timedelta(seconds=4))

    assert left
    assert ElectricalTest.objects.count() == 3
    assert leftovers(at=LATER) == [(run.pk, "save")]
    # A worker that died after its first row holds the run until its lease ends.
    monkeypatch.setattr(ReadingsRow, "save", _dies)
    with pytest.raises(KeyboardInterrupt):
        save_file(run=run, clock=lambda: LATER, until=LATER + timedelta(hours=1))
    monkeypatch.undo()
    assert not save_file(run=run, clock=lambda: LATER, until=LATER + timedelta(hours=1))
    after = LATER + 2 * LEASE

    assert not save_file(run=run, clock=lambda: after, until=after + timedelta(hours=1))

    assert ElectricalTest.objects.count() == 6
    run.refresh_from_db()
    assert (run.step, run.state) == ("saved", "done")


def _dies(self: ReadingsRow, **given: Any) -> None:
    raise KeyboardInterrupt


def test_a_dropped_file_saves_nothing(
    depot: Depot, fitter: User, machine: Machine, instrument: Instrument
) -> None:
    run = bring(depot, fitter, RCD_HEADINGS, RCD_ROW)
    answer(run, fitter, with_instrument(instrument))

    drop_file(run=run, by=fitter, at=LATER)

    with pytest.raises(Refused, match="was dropped"):
        say_yes(run=run, by=fitter)
    assert not ElectricalTest.objects.exists()
