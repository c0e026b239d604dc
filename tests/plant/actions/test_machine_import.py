"""A spreadsheet of machines is sorted row by row, and saved once, whole, after a yes."""

import csv
import hashlib
import io
import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from django.db import connection
from django.test.utils import CaptureQueriesContext

from make import MONDAY, make_kind, make_machine, make_user
from plant.actions import machine_import as actions
from plant.actions.brought import TooOften
from plant.actions.machine_import import (
    ask_import,
    drop_import,
    leftovers,
    read_import,
    save_import,
    say_yes,
    sort_again,
)
from plant.actions.refusal import Refused
from plant.models import (
    Chain,
    Depot,
    Drive,
    Machine,
    MachineImport,
    MachineImportRow,
    Membership,
    Meter,
    Record,
    Role,
    User,
)
from plant.models.work import LEASE
from plant.sealing import Link, verify

HEADINGS = ["Asset no.", "Kind", "Supply"]


@pytest.fixture(autouse=True)
def _kinds(db: None) -> None:
    make_kind(
        "mixer_electric", name="Cement mixer, electric", belt_driven=True,
        usual_supplies=["e230", "e110"],
    )  # fmt: skip
    make_kind(
        "mixer_engine", name="Cement mixer, engine", belt_driven=True, has_meter=True,
        usual_supplies=["petrol", "diesel"],
    )  # fmt: skip
    make_kind("generator", name="Generator", has_meter=True, usual_supplies=["petrol", "diesel"])
    make_kind("transformer", name="Transformer", usual_supplies=["e230"])


def as_csv(rows: list[list[object]], headings: list[str] = HEADINGS) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows([headings, *rows])
    return text.getvalue().encode()


def as_openpyxl(rows: list[list[object]], headings: list[str] = HEADINGS) -> bytes:
    book = openpyxl.Workbook()
    for row in [headings, *rows]:
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def as_xlsxwriter(rows: list[list[object]], headings: list[str] = HEADINGS) -> bytes:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    sheet = book.add_worksheet()
    day = book.add_format({"num_format": "dd/mm/yyyy"})
    for at, row in enumerate([headings, *rows]):
        for column, value in enumerate(row):
            if isinstance(value, date):
                sheet.write_datetime(at, column, datetime(value.year, value.month, value.day), day)
            else:
                sheet.write(at, column, value)
    book.close()
    return out.getvalue()


def bring(
    depot: Depot, by: User, data: bytes, *, name: str = "machines.csv", at: datetime = MONDAY
) -> MachineImport:
    run = ask_import(file=io.BytesIO(data), file_name=name, depot=depot, by=by, at=at)
    assert read_import(run=run, at=at)
    run.refresh_from_db()
    return run


def save(run: MachineImport, by: User, *, at: datetime = MONDAY) -> int:
    say_yes(run=run, by=by, at=at)
    return save_import(run=run, at=at)


def rows_of(run: MachineImport) -> dict[int, tuple[str, str]]:
    return {row.row: (row.verdict, " ".join(row.reasons)) for row in run.rows.all()}


def verdicts(run: MachineImport) -> list[str]:
    return list(run.rows.order_by("row").values_list("verdict", flat=True))


def reason(run: MachineImport) -> str:
    return " ".join(run.rows.get().reasons)


# From file to register


FULL_HEADINGS = [
    "Plant No", "Description", "Volts", "Make", "Model", "Serial No.", "Year", "Class",
    "Power (hp)", "RPM", "Weight", "Where it is", "Hours", "Meter date", "Driver pulley",
    "Driven pulley", "Belt", "Centres", "Slot in", "Slot out", "Colour",
]  # fmt: skip
FULL = [
    "00412", "cement mixer", "110V", "Hollin", "M 150", "H-7781", 2019, "I",
    1, 1400, "55 lb", "yard", "168.5", date(2026, 2, 27), "80 mm",
    "7 1/16 in", "A26", "131 mm", "6 mm", "14 mm", "orange",
]  # fmt: skip


@pytest.mark.parametrize("write", [as_csv, as_openpyxl, as_xlsxwriter])
def test_a_whole_row_comes_in_the_same_from_every_writer(
    depot: Depot, manager: User, write
) -> None:
    run = bring(depot, manager, write([FULL], FULL_HEADINGS))
    assert rows_of(run)[2][0] == "ready", rows_of(run)
    assert not Machine.objects.exists()

    assert save(run, manager) == 1

    machine = Machine.objects.get()
    assert (machine.number, machine.number_key) == ("00412", "00412")
    assert (machine.kind.key, machine.supply, machine.protection) == ("mixer_electric", "e110", "I")
    assert (machine.maker, machine.type_name, machine.serial) == ("Hollin", "M 150", "H-7781")
    assert (machine.year, machine.depot, machine.place) == (2019, depot, "yard")
    # 550 foot-pounds a second and the international pound: NIST SP 811 (2008), appendix B.8.
    assert machine.power_w == pytest.approx(745.699_871_58, rel=1e-9)
    assert machine.mass_kg == pytest.approx(55 * 0.453_592_37, rel=1e-12)
    assert machine.speed_rpm == 1400
    assert machine.plate_typed == {
        "power": "1 hp", "mass": "55 lb", "speed": "1400 rpm", "meter": "168.5 h",
    }  # fmt: skip
    assert machine.hours_tenths == 1685
    assert machine.hours_at == datetime(2026, 2, 27, 0, 0, tzinfo=UTC)
    assert machine.look_wanted_at == MONDAY
    assert machine.passed_at is None
    assert Meter.objects.get().machine == machine
    drive = Drive.objects.get()
    assert (drive.driver_m, drive.centres_m) == (0.08, 0.131)
    assert drive.driven_m == pytest.approx((7 + 1 / 16) * 0.0254, rel=1e-12)
    assert (drive.belt_mark, drive.section) == ("A26", "A")
    assert drive.mark_of("driver_m") == "guess"
    assert drive.typed("driven_m") == "7 1/16 in"
    assert drive.motor_speed_rpm == 1400


def test_what_a_figure_became_stands_beside_what_was_typed(depot: Depot, manager: User) -> None:
    run = bring(depot, manager, as_csv([FULL], FULL_HEADINGS))

    values = run.rows.get().values
    assert values["shown"]["power"] == "0.75 kW"
    assert values["shown"]["mass"] == "24.9 kg"
    assert values["typed"]["mass"] == "55 lb"
    assert "centres" not in values["shown"]


def test_headings_match_whatever_their_case_space_and_signs(depot: Depot, manager: User) -> None:
    headings = ["ASSET-NO", " machine_kind ", "Power  Supply", "Shoe size"]
    run = bring(depot, manager, as_csv([["A1", "Generator", "Diesel", "9"]], headings))

    assert run.columns == {
        "ASSET-NO": "number", "machine_kind": "kind", "Power  Supply": "supply",
    }  # fmt: skip
    assert verdicts(run) == ["ready"]


def test_a_heading_nobody_knows_can_be_matched_and_is_remembered(
    depot: Depot, manager: User
) -> None:
    headings = ["Tally", "Kind", "Supply"]
    run = bring(depot, manager, as_csv([["A1", "Generator", "diesel"]], headings))
    assert verdicts(run) == ["unreadable"]

    columns = run.columns | {"Tally": "number"}
    run = sort_again(run=run, columns=columns, answers={}, by=manager, at=MONDAY)
    read_import(run=run, at=MONDAY)
    assert verdicts(run) == ["ready"]

    later = bring(depot, manager, as_csv([["A2", "Generator", "diesel"]], headings))
    assert verdicts(later) == ["ready"]


# How rows are sorted


def test_spellings_of_one_number_are_one_machine(depot: Depot, manager: User) -> None:
    rows = [["MX-203", "Generator", "diesel"], ["mx 203", "Generator", "diesel"],
            ["MX203", "generator", "Diesel"]]  # fmt: skip
    run = bring(depot, manager, as_csv(rows))

    assert verdicts(run) == ["ready", "same", "same"]
    assert "Row 2" in rows_of(run)[3][1]
    assert save(run, manager) == 1


def test_noughts_in_front_tell_machines_apart(depot: Depot, manager: User) -> None:
    rows = [["00412", "Generator", "diesel"], ["412", "Generator", "diesel"]]
    assert save(bring(depot, manager, as_csv(rows)), manager) == 2

    assert set(Machine.objects.values_list("number", flat=True)) == {"00412", "412"}


def test_the_same_file_again_adds_nothing(depot: Depot, manager: User) -> None:
    data = as_csv([FULL], FULL_HEADINGS)
    save(bring(depot, manager, data), manager)
    Machine.objects.update(place="out", site="Mill Lane", note="new drum")

    run = bring(depot, manager, data)

    assert verdicts(run) == ["same"]
    assert run.rows.get().machine == Machine.objects.get()
    with pytest.raises(Refused, match="No row is ready"):
        say_yes(run=run, by=manager, at=MONDAY)


def test_other_facts_under_a_known_number_clash_and_say_which(depot: Depot, manager: User) -> None:
    make_machine(depot, "MX-1", serial="777", kind=make_kind("generator"), supply="diesel")
    data = as_csv([["mx1", "Generator", "diesel", "778"]], [*HEADINGS, "Serial"])
    run = bring(depot, manager, data)

    assert verdicts(run) == ["clash"]
    assert "Serial number: 778 in the file, 777 in the register." in reason(run)


def test_of_another_depots_machine_nothing_is_said_but_that_it_is_taken(
    depot: Depot, other_depot: Depot, manager: User
) -> None:
    make_machine(other_depot, "MX-1", serial="777", maker="Hollin", kind=make_kind("generator"))
    data = as_csv([["MX1", "Transformer", "", "777"], ["MX2", "Transformer", "", "777"]],
                  [*HEADINGS, "Serial"])  # fmt: skip
    run = bring(depot, manager, data)

    first, second = run.rows.all()
    assert (first.verdict, first.machine_id) == ("clash", None)
    assert first.reasons[0] == "This number is taken. Give the machine another."
    told = json.dumps([first.reasons, second.reasons, run.questions])
    for word in ("Hollin", "South", "south", "MX-1", "register"):
        assert word not in told
    assert second.verdict == "ready"


def test_two_rows_with_one_number_and_other_facts_both_clash(depot: Depot, manager: User) -> None:
    rows = [["A1", "Generator", "diesel"], ["A-1", "Generator", "petrol"]]
    run = bring(depot, manager, as_csv(rows))

    assert verdicts(run) == ["clash", "clash"]
    assert "Row 3" in rows_of(run)[2][1]
    assert "Row 2" in rows_of(run)[3][1]


def test_a_number_that_only_reads_the_same_clashes(depot: Depot, manager: User) -> None:
    make_machine(depot, "12.5", kind=make_kind("generator"), supply="diesel")
    run = bring(depot, manager, as_csv([["1.25", "Generator", "diesel"]]))

    assert verdicts(run) == ["clash"]
    assert "12.5 in the register reads the same" in reason(run)


def test_a_serial_that_is_there_already_is_pointed_out(depot: Depot, manager: User) -> None:
    make_machine(depot, "OLD-1", serial="H-7781")
    data = as_csv([["NEW-1", "Generator", "diesel", "H-7781"]], [*HEADINGS, "Serial"])
    run = bring(depot, manager, data)

    assert verdicts(run) == ["ready"]
    assert "OLD-1" in reason(run)


def test_an_unknown_kind_is_asked_once_with_the_nearest_and_never_guessed(
    depot: Depot, manager: User
) -> None:
    rows = [["A1", "Genrator", "diesel"], ["A2", "genrator", "diesel"], ["A3", "Widget", "diesel"]]
    run = bring(depot, manager, as_csv(rows))

    assert verdicts(run) == ["ask", "ask", "ask"]
    assert "Nearest: Generator." in rows_of(run)[2][1]
    assert run.questions["kind"]["genrator"]["rows"] == 2
    assert run.questions["kind"]["widget"]["nearest"] == []

    answers = {"kind": {"genrator": "generator"}}
    run = sort_again(run=run, columns=run.columns, answers=answers, by=manager, at=MONDAY)
    read_import(run=run, at=MONDAY)

    assert verdicts(run) == ["ready", "ready", "ask"]


def test_a_kind_without_its_half_is_taken_by_the_supply_and_said_so(
    depot: Depot, manager: User
) -> None:
    rows = [["A1", "Cement mixer", "petrol"], ["A2", "Cement mixer", "battery"]]
    run = bring(depot, manager, as_csv(rows))

    assert verdicts(run) == ["ready", "ask"]
    assert "taken as cement mixer, engine, by its supply" in rows_of(run)[2][1]


def test_a_missing_supply_is_taken_only_where_the_kind_has_one(depot: Depot, manager: User) -> None:
    rows = [["A1", "Transformer", ""], ["A2", "Generator", ""], ["A3", "Generator", "steam"]]
    run = bring(depot, manager, as_csv(rows))

    assert verdicts(run) == ["ready", "ask", "ask"]
    assert run.rows.get(row=2).values["is"]["supply"] == "e230"


def test_another_depot_by_its_code_only_where_the_person_may(
    depot: Depot, other_depot: Depot, manager: User
) -> None:
    rows = [["A1", "Generator", "diesel", "south"], ["A2", "Generator", "diesel", "nowhere"]]
    run = bring(depot, manager, as_csv(rows, [*HEADINGS, "Depot"]))
    known, made_up = (reasons.replace("nowhere", "south") for _, reasons in rows_of(run).values())
    assert verdicts(run) == ["ask", "ask"]
    assert known == made_up

    Membership.objects.create(user=manager, depot=other_depot, role=Role.MANAGER)
    run = bring(depot, User.objects.get(pk=manager.pk), as_csv(rows, [*HEADINGS, "Depot"]))
    assert verdicts(run) == ["ready", "ask"]
    assert save(run, User.objects.get(pk=manager.pk)) == 1
    assert Machine.objects.get().depot == other_depot
    assert [record.depot for record in Record.objects.all()] == [other_depot]


@pytest.mark.parametrize(
    ("heading", "typed", "words"),
    [
        ("Power", "5 kVA", "apparent power"),
        ("Power", "2,2 kW", "Use a point for decimals"),
        ("Power", "900 kW", "Enter 0 to 500 kW"),
        ("Mass", "12 stone", "kg, lb or g"),
        ("Hours", "lots", "Enter a number"),
        ("Hours", "-3", "Enter 0 to 999 999.9 h"),
        ("Lifts", "12.5", "Write a whole number of lifts, 0 to 99 999 999"),
        ("Lifts", "40 starts", "Write a whole number of lifts"),
        ("Starts", "100000000", "0 to 99 999 999"),
        ("Year", "87", "Write a year from 1950 to 2027"),
        ("Class", "IV", "Write I, II or III"),
        ("Place", "somewhere", "no place that we know"),
        ("Place", "scrapped", "Take the row out"),
        ("Meter date", "31/31/2025", "is no date"),
        ("Meter date", "2031-01-01", "not between"),
        ("Serial", "1.23E+15", "rounded by a spreadsheet"),
        ("Serial", "a\tb", "tab"),
        ("Maker", "x" * 81, "too long"),
        ("Motor pulley", "0 mm", "more than nought"),
    ],
)
def test_what_cannot_be_read_names_its_column_and_what_to_do(
    depot: Depot, manager: User, heading: str, typed: str, words: str
) -> None:
    data = as_csv([["A1", "Generator", "diesel", typed]], [*HEADINGS, heading])
    run = bring(depot, manager, data)

    assert verdicts(run) == ["unreadable"]
    assert reason(run).startswith(f"{heading}: ")
    assert words in reason(run)


@pytest.mark.parametrize("number", ["", "1.3E+03", "Nº7", "x" * 33, "--", "=1+1"])
def test_a_number_that_cannot_be_one_is_refused(depot: Depot, manager: User, number: str) -> None:
    run = bring(depot, manager, as_csv([[number, "Generator", "diesel"]]))

    assert verdicts(run) == ["unreadable"]
    assert reason(run).startswith("Asset no.: ")


@pytest.mark.parametrize(
    "words",
    ["<script>alert(1)</script>", "'); DROP TABLE plant_machine; --", "=HYPERLINK(\"x\")",
     "{{ settings }}", "%s %d \\", "🚜" * 40],
)  # fmt: skip
def test_hostile_words_are_only_words(depot: Depot, manager: User, words: str) -> None:
    data = as_csv([["A1", "Generator", "diesel", words]], [*HEADINGS, "Nickname"])
    save(bring(depot, manager, data), manager)

    assert Machine.objects.get().nickname == words


def test_a_sum_with_many_decimals_is_rounded_and_said_so(depot: Depot, manager: User) -> None:
    headings = [*HEADINGS, "Power (kW)", "Mass (lb)"]
    data = as_openpyxl([["A1", "Generator", "diesel", 1 / 3, 100 / 3]], headings)
    run = bring(depot, manager, data)

    row = run.rows.get()
    assert row.verdict == "ready", row.reasons
    assert row.values["is"]["power_w"] == 330
    assert "rounded to 0.33 kW" in reason(run)
    assert "rounded to 33.3 lb" in reason(run)


def test_a_figure_without_unit_is_asked_once_for_the_file(depot: Depot, manager: User) -> None:
    headings = [*HEADINGS, "Power", "Weight"]
    rows = [["A1", "Generator", "diesel", "3", "95 lb"], ["A2", "Generator", "diesel", "5", "2 kg"]]
    run = bring(depot, manager, as_csv(rows, headings))
    assert verdicts(run) == ["ask", "ask"]
    assert run.questions["units"] == {"power": ["3", "5"]}

    answers = {"units": {"power": "hp"}}
    run = sort_again(run=run, columns=run.columns, answers=answers, by=manager, at=MONDAY)
    read_import(run=run, at=MONDAY)
    assert verdicts(run) == ["ready", "ready"]
    save(run, manager)

    machine = Machine.objects.get(number="A1")
    assert machine.power_w == pytest.approx(3 * 745.699_871_58, rel=1e-9)
    assert machine.plate_typed["power"] == "3 hp"


def test_a_date_of_two_meanings_is_asked_once_when_it_matters(depot: Depot, manager: User) -> None:
    headings = [*HEADINGS, "Hours", "Meter date"]
    rows = [
        ["A1", "Generator", "diesel", "10", "03/02/26"],
        ["A2", "Generator", "diesel", "11", "01.01.2026"],
        ["A3", "Generator", "diesel", "12", "14/02/2026"],
        ["A4", "Generator", "diesel", "13", "3 Feb 2026"],
        ["A5", "Generator", "diesel", "14", "2026-02-03"],
    ]
    run = bring(depot, manager, as_csv(rows, headings))
    assert verdicts(run) == ["ask", "ready", "ready", "ready", "ready"]
    assert "3 Feb 2026 or 2 Mar 2026" in rows_of(run)[2][1]
    assert run.questions["dates"] == {"examples": ["03/02/26"], "seems": "day"}

    days = {}
    for order in ("day", "month"):
        run = sort_again(
            run=run, columns=run.columns, answers={"dates": order}, by=manager, at=MONDAY
        )
        read_import(run=run, at=MONDAY)
        assert verdicts(run) == ["ready"] * 5
        days[order] = run.rows.get(row=2).values["is"]["hours_on"]
    assert days == {"day": "2026-02-03", "month": "2026-03-02"}


def test_a_figure_far_above_the_usual_is_questioned(depot: Depot, manager: User) -> None:
    headings = [*HEADINGS, "Power"]
    data = as_csv([["A1", "Cement mixer, electric", "110 V", "400 kW"]], headings)
    run = bring(depot, manager, data)
    assert verdicts(run) == ["ask"]
    assert "far above the usual" in reason(run)

    run = sort_again(
        run=run, columns=run.columns, answers={"large": "right"}, by=manager, at=MONDAY
    )
    read_import(run=run, at=MONDAY)
    assert verdicts(run) == ["ready"]


def test_a_belt_mark_of_several_readings_is_kept_and_left_open(depot: Depot, manager: User) -> None:
    headings = [*HEADINGS, "Belt"]
    rows = [["A1", "Cement mixer", "110", "A26"], ["A2", "Cement mixer", "110", "no label"]]
    save(bring(depot, manager, as_csv(rows, headings)), manager)

    known, unknown = Drive.objects.order_by("machine__number")
    # ISO 4184: an inside length of 26 in with the 30 mm of section A (ISO/DIN) added.
    assert known.belt_datum_m == pytest.approx(26 * 0.0254 + 0.030)
    assert known.mark_of("belt_datum_m") == "plate"
    assert (unknown.belt_mark, unknown.section, unknown.belt_datum_m) == ("no label", "", None)
    assert unknown.mark_of("belt_datum_m") == "guess"


# What is refused at once


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b" \r\n \r\n", "empty"),
        (b"Number,Kind\r\n", "headings but no rows"),
        (b"x" * (5 * 2**20 + 1), "larger than 5 MiB"),
        (b"%PDF-1.7 etc", "PDF"),
        (b"PK\x03\x04 not really", "damaged"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a spreadsheet"),
        (b"Number,Kind\r\nA1,Gen\0erator\r\n", "not a spreadsheet"),
        (b"Number;Kind\r\nA1;M\xfcller\r\n", "UTF-8"),
        ((",".join(f"c{n}" for n in range(61)) + "\r\n1\r\n").encode(), "more than 60 columns"),
    ],
)
def test_what_is_no_spreadsheet_of_machines_is_refused_at_the_field(
    depot: Depot, manager: User, data: bytes, words: str
) -> None:
    with pytest.raises(Refused, match=words) as refused:
        ask_import(file=io.BytesIO(data), file_name="x.csv", depot=depot, by=manager, at=MONDAY)

    assert refused.value.field == "file"
    assert not MachineImport.objects.exists()


def test_a_formula_without_its_result_is_refused(depot: Depot, manager: User) -> None:
    data = as_openpyxl([["=1+1", "Generator", "diesel"]])
    with pytest.raises(Refused, match="formula has no saved result"):
        ask_import(file=io.BytesIO(data), file_name="x.xlsx", depot=depot, by=manager, at=MONDAY)


def test_a_file_that_is_damaged_further_down_stops_with_its_reason(
    depot: Depot, manager: User
) -> None:
    data = as_csv([["A1", "Generator", "diesel"]] * 30) + b'A2,"Generator,diesel\r\n'
    run = ask_import(file=io.BytesIO(data), file_name="x.csv", depot=depot, by=manager, at=MONDAY)

    assert not read_import(run=run, at=MONDAY)

    run.refresh_from_db()
    assert run.state == "failed"
    assert "quotation mark is not closed" in run.why
    assert leftovers(at=MONDAY + timedelta(days=1)) == []


def test_only_who_may_bring_in_machines_can(depot: Depot, foreman: User, outsider: User) -> None:
    for user in (foreman, outsider):
        with pytest.raises(PermissionError):
            ask_import(
                file=io.BytesIO(as_csv([["A1"]])), file_name="x", depot=depot, by=user, at=MONDAY
            )


def test_the_name_of_the_file_is_never_a_path(depot: Depot, manager: User) -> None:
    data = as_csv([["A1", "Generator", "diesel"]])
    run = bring(depot, manager, data, name="../../etc/passwd.csv")

    assert run.file_name == "../../etc/passwd.csv"
    assert Path(run.file.name).parent.name == "imports"
    assert "passwd" not in run.file.name


# Saving


def many(count: int) -> bytes:
    return as_csv([[f"M-{n:05}", "Generator", "diesel"] for n in range(count)])


def test_each_block_is_sealed_with_its_counts_and_the_hash_of_the_file(
    depot: Depot, administrator: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "BLOCK", 4)
    data = as_csv([[f"M{n}", "Generator", "diesel", "12:30"] for n in range(10)],
                  [*HEADINGS, "Hours"])  # fmt: skip
    save(bring(depot, administrator, data, name="spring list.csv"), administrator)

    records = list(Record.objects.order_by("seq"))
    told = [json.loads(record.content)["data"] for record in records]
    assert [one["count"] for one in told] == ["4", "4", "2"]
    assert {one["file_sha256"] for one in told} == {hashlib.sha256(data).hexdigest()}
    assert {record.role for record in records} == {"administrator"}
    machine = Machine.objects.get(number="M9")
    assert told[2]["machines"][1] == {
        "id": str(machine.pk), "number": "M9",
        "dial": {"typed": "12:30", "si": "45000", "unit": "s", "read_on": None},
    }  # fmt: skip
    assert "spring list" not in records[0].content
    assert records[0].texts.get(name="file_name").text == "spring list.csv"
    links = [Link(r.seq, r.content, r.content_hash, r.previous_hash, r.hash) for r in records]
    head = Chain.objects.get(depot=depot)
    assert verify(links, head_seq=head.head_seq, head_hash=head.head_hash).bad_seq is None


def test_a_run_killed_between_blocks_and_begun_again_adds_each_once(
    depot: Depot, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "BLOCK", 4)
    run = bring(depot, manager, many(10))
    say_yes(run=run, by=manager, at=MONDAY)
    whole = actions._save_block
    done = []

    def dies_in_the_third(run_id: int, *, at: datetime) -> int | None:
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(run_id)
        return whole(run_id, at=at)

    monkeypatch.setattr(actions, "_save_block", dies_in_the_third)
    with pytest.raises(KeyboardInterrupt):
        save_import(run=run, at=MONDAY)
    assert Machine.objects.count() == 8
    monkeypatch.setattr(actions, "_save_block", whole)
    assert save_import(run=run, at=MONDAY) == 0, "the dead worker still has its lease"

    later = MONDAY + LEASE + timedelta(seconds=1)
    assert leftovers(at=later) == [(run.pk, "save")]
    assert save_import(run=run, at=later) == 2
    assert save_import(run=run, at=later) == 0

    run.refresh_from_db()
    assert (run.step, run.state) == ("saved", "done")
    assert Machine.objects.count() == 10
    assert Record.objects.count() == 3
    assert all(row.machine.number == row.number for row in run.rows.select_related("machine"))


def test_a_block_that_fails_half_way_leaves_nothing_of_itself(
    depot: Depot, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = bring(depot, manager, many(3))
    say_yes(run=run, by=manager, at=MONDAY)
    sealing = actions.seal

    def refuses(**given) -> Record:
        raise OSError("disk full")

    monkeypatch.setattr(actions, "seal", refuses)
    with pytest.raises(OSError, match="disk full"):
        save_import(run=run, at=MONDAY)
    assert not Machine.objects.exists()
    assert not run.rows.exclude(machine=None).exists()

    monkeypatch.setattr(actions, "seal", sealing)
    assert save_import(run=run, at=MONDAY + timedelta(seconds=1)) == 3


def test_what_stops_three_times_is_parked_with_words(
    depot: Depot, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = bring(depot, manager, many(1))
    say_yes(run=run, by=manager, at=MONDAY)
    with monkeypatch.context() as patch:
        patch.setattr(actions, "_save_block", lambda *a, **k: 1 / 0)
        for minute in range(3):
            with pytest.raises(ZeroDivisionError):
                save_import(run=run, at=MONDAY + timedelta(minutes=minute))

    later = MONDAY + timedelta(hours=1)
    assert leftovers(at=later) == []
    run.refresh_from_db()
    assert (run.state, "three times" in run.why) == ("failed", True)

    say_yes(run=run, by=manager, at=later)
    assert save_import(run=run, at=later) == 1


def test_counts_beside_the_hours_come_in_with_their_counters_and_are_sealed(
    depot: Depot, manager: User
) -> None:
    rows: list[list[object]] = [
        ["A1", "Generator", "diesel", "1200 h", "420", "7 lifts", "2026-02-03"]
    ]
    headings = [*HEADINGS, "Hours", "Number of starts", "Lifts", "Meter date"]
    run = bring(depot, manager, as_csv(rows, headings))
    assert verdicts(run) == ["ready"]
    save(run, manager)

    machine = Machine.objects.get()
    read_at = machine.hours_at
    counted = {(each.measure, each.total_tenths, each.total_at) for each in machine.counters.all()}
    assert counted == {("starts", 4200, read_at), ("lifts", 70, read_at)}
    assert set(machine.meters.values_list("measure", flat=True)) == {"hours", "starts", "lifts"}
    (told,) = json.loads(Record.objects.get().content)["data"]["machines"]
    assert told["counts"] == {"read_on": "2026-02-03", "lifts": "7", "starts": "420"}


def test_a_number_given_out_meanwhile_is_set_aside(depot: Depot, manager: User) -> None:
    run = bring(depot, manager, many(3))
    make_machine(depot, "m 00001")

    assert save(run, manager) == 2

    row = run.rows.get(row=3)
    assert row.verdict == "clash"
    assert "given out after the file was read" in row.reasons[0]


def test_who_lost_the_right_meanwhile_saves_nothing(depot: Depot, manager: User) -> None:
    run = bring(depot, manager, many(2))
    say_yes(run=run, by=manager, at=MONDAY)
    Membership.objects.filter(user=manager).delete()

    assert save_import(run=run, at=MONDAY) == 0

    assert not Machine.objects.exists()
    assert verdicts(run) == ["ask", "ask"]


def test_only_a_yes_saves_and_saying_it_twice_saves_once(depot: Depot, manager: User) -> None:
    run = bring(depot, manager, many(2))
    assert save_import(run=run, at=MONDAY) == 0

    say_yes(run=run, by=manager, at=MONDAY)
    say_yes(run=run, by=manager, at=MONDAY)
    assert save_import(run=run, at=MONDAY) == 2
    say_yes(run=run, by=manager, at=MONDAY)
    assert save_import(run=run, at=MONDAY) == 0


def test_a_dropped_file_is_gone_with_its_rows_and_cannot_be_saved(
    depot: Depot, manager: User, django_capture_on_commit_callbacks
) -> None:
    run = bring(depot, manager, many(2))
    path = Path(run.file.path)
    with django_capture_on_commit_callbacks(execute=True):
        drop_import(run=run, by=manager, at=MONDAY)

    assert not path.exists()
    assert not MachineImportRow.objects.exists()
    with pytest.raises(Refused, match="dropped"):
        say_yes(run=run, by=manager, at=MONDAY)
    saved = bring(depot, manager, many(1))
    save(saved, manager)
    with pytest.raises(Refused, match="saved already"):
        drop_import(run=saved, by=manager, at=MONDAY)


def test_reading_again_gives_the_same_rows(depot: Depot, manager: User) -> None:
    run = bring(depot, manager, many(3))
    run = sort_again(run=run, columns=run.columns, answers=run.answers, by=manager, at=MONDAY)
    assert read_import(run=run, at=MONDAY)
    assert not read_import(run=run, at=MONDAY)

    assert verdicts(run) == ["ready"] * 3


def queries_of_saving(depot: Depot, by: User, *, numbers: str, count: int) -> int:
    rows = [[f"{numbers}{n}", "Generator", "diesel", "12 h"] for n in range(count)]
    run = bring(depot, by, as_csv(rows, [*HEADINGS, "Hours"]))
    say_yes(run=run, by=by, at=MONDAY)
    with CaptureQueriesContext(connection) as queries:
        assert save_import(run=run, at=MONDAY) == count
    return len(queries)


def test_a_block_costs_the_same_queries_however_many_rows(depot: Depot, manager: User) -> None:
    queries_of_saving(depot, manager, numbers="first", count=1)

    few = queries_of_saving(depot, manager, numbers="few", count=2)
    more = queries_of_saving(depot, manager, numbers="more", count=25)
    block = queries_of_saving(depot, manager, numbers="block", count=500)

    assert few == more
    # Where a statement may hold only 999 values, one block needs several of each kind.
    values = connection.features.max_query_params
    assert block <= few + (500 * 40 // values + 10 if values else 0)


def test_short_codes_never_meet(depot: Depot, manager: User) -> None:
    save(bring(depot, manager, many(3000)), manager)

    assert Machine.objects.values("short_code").distinct().count() == 3000
    assert Machine.objects.values("label_code").distinct().count() == 3000


def test_a_program_that_never_tires_is_told_to_wait(
    depot: Depot, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "MOST_AN_HOUR", 2)
    for _ in range(2):
        bring(depot, manager, many(1))

    with pytest.raises(TooOften):
        bring(depot, manager, many(1))
    bring(depot, manager, many(1), at=MONDAY + timedelta(hours=2))
    bring(depot, make_user("Another", (depot, Role.MANAGER)), many(1))
