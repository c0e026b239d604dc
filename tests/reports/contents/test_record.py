"""The paper of a record gathered and read back: what was found, who signed, what was done since."""

import io
from datetime import date, timedelta
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from bench import CLASS_I, HELD, WRONG, class_i, lead
from bench import record as rcd
from maintenance.actions.belt_record import Correction
from maintenance.actions.check import Dial, questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.inspection import MEASURES, Told, points, record_inspection
from maintenance.actions.instrument import calibrate, strike_calibration
from maintenance.actions.job import ISOLATED, start_job
from maintenance.actions.meter import accept_meter
from maintenance.actions.reading import record_width
from maintenance.actions.release import LOOKS, release_machine
from maintenance.actions.stay import Going, issue
from maintenance.actions.stop import decide_stop
from maintenance.actions.test import Reading, with_unit
from maintenance.actions.work_done import finish_job
from maintenance.models import Instrument, Job, Skill, Stop
from maintenance.rules.check import Given
from make import MONDAY, make_competence, make_drive, make_instrument, make_machine, make_user
from plant import photos, units
from plant.models import Depot, Machine, MachineKind, Record, RecordPhoto, Role, User
from reports.contents.record import record_paper
from reports.pdf.record import RecordPaper, render

pytestmark = pytest.mark.usefixtures("rule_sheet")
LATER = MONDAY + timedelta(days=2)
ALL = [key for key, _ in ISOLATED]


@pytest.fixture
def mixer(depot: Depot) -> Machine:
    return make_machine(
        depot, "MX-203", kind=MachineKind.objects.get(key="mixer_electric"), serial="88-1204",
        protection="I",
    )  # fmt: skip


def told(record: Record) -> RecordPaper:
    machine = Machine.objects.select_related("depot", "kind", "use_rate").get(pk=record.machine_id)
    fresh = Record.objects.select_related("depot", "by").get(pk=record.pk)
    return record_paper(fresh, machine, at=LATER, by="Dara Desk")


def paper(record: Record) -> str:
    pages = PdfReader(io.BytesIO(render(told(record)))).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def checked(machine: Machine, wrong: str = "", **more: Any) -> Record:
    _, asked = questions(machine, at=MONDAY)
    answers = {
        q.key: Given(answer="wrong", word="Cut near the plug")
        if q.key == wrong
        else Given(answer="ok")
        for q in asked
    }
    return record_check(machine=machine, answers=answers, at=MONDAY, **more).record


def inspected(machine: Machine, by: User, **more: Any) -> Record:
    found = {
        point.key: Told(figure=units.read("5", MEASURES[point.unit]))
        if point.unit
        else Told(answer="ok")
        for point in points(machine, "inspection", at=MONDAY)[1]
    }
    given = {
        "told": found | more.pop("told", {}), "at": MONDAY, "kind": "inspection",
        "isolated_at": MONDAY - timedelta(minutes=20),
    }  # fmt: skip
    return record_inspection(machine=machine, by=by, **given | more).record


def picture() -> bytes:
    kept = io.BytesIO()
    Image.new("RGB", (60, 40), "teal").save(kept, "PNG")
    kept.seek(0)
    return photos.clean(kept)


def test_an_inspection_with_its_figures_competence_photos_and_the_fault(
    depot: Depot, fitter: User
) -> None:
    make_competence(fitter, depot, Skill.INSPECT, valid_until=date(2026, 5, 31))
    saw = make_machine(
        depot, "TS-014", kind=MachineKind.objects.filter(family="table_saw")[0], supply="e230"
    )
    _, asked = points(saw, "inspection", at=MONDAY)
    first = asked[0]
    record = inspected(
        saw, fitter, told={first.key: Told(answer="wrong", word="Painted over")},
        photos={asked[3].key: picture(), first.key: picture(), "photo": picture()},
        received_at=MONDAY + timedelta(hours=2),
    )  # fmt: skip

    found, words = told(record), paper(record)

    assert [item.asked for item in found.items] == [point.words for point in asked]
    assert [item.photo for item in found.items if item.photo] == ["1", "2"]
    assert [(p.number, p.of) for p in found.photos] == [
        ("1", "item 1"), ("2", "item 4"), ("3", "the machine"),
    ]  # fmt: skip
    assert all(photo.jpeg for photo in found.photos)
    gap = next(item for item in found.items if item.figure == "5 mm")
    assert gap.limit.startswith("3 to 8 mm (EN 1870 and ISO 19085 series")
    job = Job.objects.get()
    for part in (
        "Inspection NORTH-", "TS-014", "2 Mar 2026 09:00", "Entered later".upper(),
        "2 Mar 2026 11:00", "Painted over", "Wrong", job.number,
        "look-overs and inspections, last day 31 May 2026", "Finn Fitter",
        "confirmed by Finn Fitter, 2 Mar 2026 08:40", "Last test up to that moment: none on record",
        "Corrections".upper(), "None up to the moment of printing.", "page 1 of 1",
        "printed 4 Mar 2026 09:00 by Dara Desk", record.hash[:4], "licensed practice",
    ):  # fmt: skip
        assert part.casefold() in words.casefold(), part


def test_a_competence_that_ended_since_stands_as_it_was_on_that_day(
    depot: Depot, mixer: Machine, fitter: User
) -> None:
    make_competence(fitter, depot, Skill.INSPECT, valid_until=MONDAY.date())

    assert "last day 2 Mar 2026" in paper(inspected(mixer, fitter))


def test_a_check_by_label_names_who_gave_the_name_and_that_no_competence_is_asked(
    mixer: Machine,
) -> None:
    record = checked(mixer, by_name="Łukasz Wiśniewski", by_label=True, note="Dusty <b>site</b>")

    words = paper(record)

    for part in (
        "Pre-use check", "Passed", "Łukasz Wiśniewski; by the machine's label, without an account",
        "none is asked for this", "None were found.", "Note: Dusty <b>site</b>",
        "No plan runs on this machine.",
    ):  # fmt: skip
        assert part.casefold() in words.casefold(), part
    assert "DO NOT USE" not in words


@pytest.mark.usefixtures("competent")
def test_a_fault_from_the_check_to_the_release_stands_on_both_papers(
    mixer: Machine, operator: User, fitter: User, foreman: User
) -> None:
    record = checked(mixer, wrong="cable_plug", by=operator)
    before = paper(record)
    job = Job.objects.get()
    start_job(job=job, confirmed=ALL, at=MONDAY, by=fitter)
    finish_job(
        job=job, symptom="cut", cause="Dragged", action="New lead", minutes=20, at=MONDAY, by=fitter
    )
    freed = release_machine(
        machine=mixer, frees=Stop.objects.all(), looks={key: "right" for key, _ in LOOKS},
        at=MONDAY + timedelta(hours=3), by=foreman,
    )  # fmt: skip

    after, release = paper(record), paper(freed)

    for part in ("Stopped the machine: DO NOT USE", "Freed: not up to the printing", job.number,
                 "always critical", "nothing up to the printing"):  # fmt: skip
        assert part in before
    for part in (f"release check, record {freed.number}", "Cause: Dragged. New lead",
                 "Finn Fitter, 2 Mar 2026 09:00", "2 Mar 2026 12:00 by Freya Foreman"):  # fmt: skip
        assert part in after
    for part in ("Release check", "Freed the machine", f"record {record.number}", "Cut near the",
                 "All guards and covers back on and fixed: right", "release checks"):  # fmt: skip
        assert part.casefold() in release.casefold()
    assert "DO NOT USE" not in release


@pytest.mark.usefixtures("competent")
def test_a_decision_to_carry_on_stands_with_who_when_and_why(
    mixer: Machine, operator: User, foreman: User
) -> None:
    job = report_fault(
        machine=mixer, part="stands_level", told="wheel stiff", stop_now=False, at=MONDAY,
        by=operator,
    )  # fmt: skip
    stop = Stop.objects.get(job=job)
    decide_stop(
        stop=stop, carry_on_until=date(2026, 3, 11), reason="One wheel is stiff, not loose",
        answer="Use it on level ground.", at=MONDAY, by=foreman,
    )  # fmt: skip
    Stop.objects.filter(pk=stop.pk).update(record=checked(mixer, by=operator))

    (fault,) = told(Stop.objects.get().record).faults

    decision = fault.told[0].value
    for part in ("Carry on with a note until 11 Mar 2026", "not loose", "Freya Foreman"):
        assert part in decision


def test_what_was_passed_does_not_read_as_fit_once_the_machine_is_stopped(
    mixer: Machine, operator: User
) -> None:
    record = checked(mixer, by=operator)
    assert told(record).weight == "plain"
    report_fault(machine=mixer, part="drum", told="loose", stop_now=True, at=MONDAY, by=operator)

    found = told(record)

    assert found.weight == "stop"
    assert found.answer == "Passed. Stopped by now: DO NOT USE"


@pytest.mark.usefixtures("competent")
class TestTests:
    """The paper of electrical tests."""

    @pytest.fixture(autouse=True)
    def instrument(self, depot: Depot, manager: User) -> Instrument:
        return make_instrument(depot, manager, serial="S-77")

    def test_each_reading_with_its_unit_limit_and_source_and_the_retest(
        self, mixer: Machine, fitter: User
    ) -> None:
        typed = units.read_open("0.9", units.EARTH_RESISTANCE)
        earth = Reading(typed=with_unit(typed), si=typed.value_si)
        failed = class_i(mixer, fitter, readings=CLASS_I | {"earth": earth}).record
        before = paper(failed)
        passed = class_i(mixer, fitter, at=MONDAY + timedelta(hours=1)).record

        words, again = paper(failed), paper(passed)

        for part in (
            "Failed: Machine of class I", "0.9 ohm", "= 0.233 ohm", "Wrong",
            "IET Code of Practice", "from memory", "Bench tester, serial S-77",
            "Calibration until, as on that day: 31 Dec 2026", "Lead: 10 m, 1.5 mm2",
            "electrical tests, without a last day", "A fault in it can kill.",
        ):  # fmt: skip
            assert part in words, part
        assert "Tested again: not up to the printing" in before
        assert f"passed, 2 Mar 2026 10:00, record {passed.number}" in words
        assert f"failed, 2 Mar 2026 09:00, record {failed.number}" in again

    def test_a_part_with_a_plate_of_its_own_and_a_reading_left_out(
        self, mixer: Machine, fitter: User
    ) -> None:
        readings = {"button": WRONG, "half": HELD}
        record = rcd(
            mixer, fitter, readings=readings, item_serial="R-5 <b>", not_tested="It did not trip"
        ).record

        words = paper(record)

        assert "Serial of what was tested: R-5 <b>" in words
        assert "It did not trip" in words
        assert words.count("Could not check") == 2
        assert "30 mA, type A" in words

    def test_doubt_on_the_instrument_since_and_its_calibration_struck_out(
        self, mixer: Machine, fitter: User, manager: User, instrument: Instrument
    ) -> None:
        record = class_i(mixer, fitter, lead=lead("5 m")).record
        slip = calibrate(
            instrument=instrument, done_on=date(2026, 3, 3), found_good=False, valid_until=None,
            certificate="C-2", at=MONDAY + timedelta(days=1), by=manager,
        )  # fmt: skip
        doubted = paper(record)
        strike_calibration(calibration=slip, reason="It was another tester", at=LATER, by=manager)
        first = instrument.calibrations.order_by("done_on")[0]
        strike_calibration(calibration=first, reason="The year was mixed up", at=LATER, by=manager)

        words = paper(record)

        assert "Passed, in doubt since" in doubted
        assert "found wrong on 3 Mar 2026" in doubted
        for part in ("Was: done on 1 Jan 2026", "Is now: struck out", "The year was mixed up",
                     "Mara Manager, manager, 4 Mar 2026 09:00"):  # fmt: skip
            assert part in words
        # As it was on that day, whatever came to light since.
        assert "Calibration until, as on that day: 31 Dec 2026" in words

    def test_a_calibration_struck_out_before_the_test_is_no_correction_of_it(
        self, mixer: Machine, fitter: User, manager: User, instrument: Instrument
    ) -> None:
        slip = calibrate(
            instrument=instrument, done_on=date(2026, 2, 1), found_good=True,
            valid_until=date(2026, 12, 1), certificate="C-2", at=MONDAY - timedelta(days=2),
            by=manager,
        )  # fmt: skip
        strike_calibration(
            calibration=slip, reason="It was another tester", at=MONDAY - timedelta(days=1),
            by=manager,
        )  # fmt: skip

        assert told(class_i(mixer, fitter, lead=lead("5 m")).record).corrections == ()


def test_a_corrected_reading_stands_as_it_was_and_as_it_is_now(
    machine: Machine, fitter: User, foreman: User
) -> None:
    drive = make_drive(machine)
    taken = record_width(
        drive=drive, widths=[units.read("12.6 mm", units.WIDTH)], tool="calliper", at=MONDAY,
        by=fitter,
    )  # fmt: skip
    for width, at in (("11.8 mm", 1), ("11.9 mm", 2)):
        taken = record_width(
            drive=drive, widths=[units.read(width, units.WIDTH)], tool="calliper",
            at=MONDAY + timedelta(hours=at), by=foreman,
            correction=Correction(of=taken, reason="Read from the wrong scale."),
        )  # fmt: skip
    first = Record.objects.get(kind=Record.Kind.WIDTH)

    words, found = paper(first), told(first)

    assert [(c.was, c.now) for c in found.corrections] == [
        ("12.6 mm", "11.8 ± 0.1 mm"), ("11.8 mm", "11.9 ± 0.1 mm"),
    ]  # fmt: skip
    for part in ("Was: 12.6 mm", "Is now: 11.8 ± 0.1 mm", "Is now: 11.9 ± 0.1 mm",
                 "Freya Foreman, foreman", "2 Mar 2026 10:00",
                 "Read from the wrong scale."):  # fmt: skip
        assert part in words


def test_a_questioned_meter_figure_that_counts_after_all_says_both(
    mixer: Machine, operator: User, foreman: User
) -> None:
    _, asked = questions(mixer, at=MONDAY)
    check = record_check(
        machine=mixer, answers={q.key: Given(answer="ok") for q in asked},
        at=MONDAY + timedelta(hours=2), by=operator, dial=Dial(1400, "140"),
    )  # fmt: skip
    before = paper(check.record)
    assert check.reading is not None
    accept_meter(reading=check.reading, reason="Two shifts", at=LATER, by=foreman)

    words = paper(check.record)

    assert "Meter: 140 h; questioned:" in before
    assert "Meter figure 140" in words
    assert "Was: questioned:" in words
    assert "Is now: the figure counts" in words
    assert "Two shifts" in words


def test_where_it_was_then_is_not_where_it_is_now(
    mixer: Machine, desk: User, operator: User
) -> None:
    going = Going(
        site="Plot 4", due_back_on=date(2026, 3, 11), hirer="Ash Groundworks", site_phone="",
        went_with="",
    )  # fmt: skip
    before = checked(mixer, by=operator)
    issue(machine=mixer, going=going, at=MONDAY + timedelta(hours=1), by=desk, passport=True)
    _, asked = questions(mixer, at=MONDAY)
    after = record_check(
        machine=mixer, answers={q.key: Given(answer="ok") for q in asked},
        at=MONDAY + timedelta(hours=2), by=operator,
    ).record  # fmt: skip

    def where(record: Record) -> str:
        return next(f.value for f in told(record).plate.more if f.label == "Where it was")

    assert where(before) == "In yard"
    assert where(after) == "Out: Plot 4"


def test_an_erased_photo_and_a_lost_one_are_said(mixer: Machine, operator: User) -> None:
    record = checked(mixer, by=operator, photos={"photo": picture()})
    photo = record.photos.get()
    photo.file.storage.delete(photo.file.name)

    (lost,) = told(record).photos
    RecordPhoto.objects.filter(pk=photo.pk).update(file="", salt="", erased_at=LATER)
    (erased,) = told(record).photos

    assert (lost.jpeg, lost.why) == ("", "It is not on the disk any more.")
    assert (erased.jpeg, erased.why) == ("", "Erased on 4 Mar 2026 09:00.")


def test_a_person_called_otherwise_since_is_named_as_signed(depot: Depot, mixer: Machine) -> None:
    person = make_user("Olwen Before", (depot, Role.OPERATOR))
    record = checked(mixer, by=person)
    User.objects.filter(pk=person.pk).update(name="Olwen After")

    words = paper(record)

    assert "Name as typed: Olwen Before" in words
    assert "Called now: Olwen After" in words


def test_a_record_that_was_changed_in_the_database_says_so_before_its_answer(
    mixer: Machine, operator: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = checked(mixer, by=operator)
    assert told(record).weight == "plain"
    monkeypatch.setattr("reports.contents.record.check_record", lambda each: "the hash")

    found = told(record)

    assert found.weight == "stop"
    assert found.answer == "This record is NOT as it was sealed: the hash"
    assert found.because[0] == "It says: Passed."
