"""The drive's pages: the answer first, marks shown, what was typed kept, walls between depots."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from maintenance.models import Job, TensionReading, WidthReading
from make import MONDAY, make_drive, make_machine
from plant.actions.record import new_id
from plant.contents.drive import FIELDS
from plant.models import Depot, Drive, Machine, Record, User


@pytest.fixture
def drive(machine: Machine) -> Drive:
    """Belt examples V14 and V24: 80 and 180 mm, 690 mm, grooves 8.7 mm deep, all measured."""
    entries = {
        name: {"typed": "", "mark": "measured", "tool": ""}
        for name in FIELDS
        if name not in ("belt_new_width_m", "driver_depth_m")
    } | {"driver_depth_m": {"typed": "8.7 mm", "mark": "guess", "tool": ""}}
    made: Drive = make_drive(machine, entries=entries)
    return made


@pytest.fixture
def as_fitter(client: Client, fitter: User) -> Client:
    client.force_login(fitter)
    return client


def words(response: Any) -> str:
    """The page as it is read, without its tags and with single spaces."""
    text = re.sub(r"<title>.*?</title>|<desc.*?</desc>", " ", response.content.decode(), flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def address(name: str, pk: int) -> str:
    return reverse(f"maintenance:{name}", args=[pk])


def width(client: Client, drive: Drive, text: str = "10.4", **more: str) -> Any:
    told = {"entry": str(new_id()), "width_1": text, "tool": "calliper"} | more
    return client.post(address("add_width", drive.pk), told)


def tension(client: Client, drive: Drive, **told: Any) -> Any:
    filled = {"entry": str(new_id()), "tool": "spring gauge"} | told
    return client.post(address("add_tension", drive.pk), filled)


def data(**other: Any) -> dict[str, Any]:
    told = {
        "entry": str(new_id()), "name": "Drum drive", "belt_mark": "A26", "belts": "1",
        "groove_system": "ISO 4183", "belt_tight": "yes", "load": "heavy", "hours_a_day": "6",
        "driver_m": "80 mm", "driver_m_mark": "measured", "driver_m_from": "datum",
        "driven_m": "180 mm", "driven_m_mark": "plate", "driven_m_from": "datum",
        "centres_m": "131.2", "centres_m_mark": "measured",
        "motor_power_w": "0.55 kW", "motor_power_w_mark": "plate",
        "motor_speed_rpm": "1400 rpm", "motor_speed_rpm_mark": "plate",
    }  # fmt: skip
    return told | other


def test_the_page_answers_first_and_shows_the_figures_of_the_worked_examples(
    as_fitter: Client, drive: Drive
) -> None:
    width(as_fitter, drive)

    text = words(as_fitter.get(address("drive", drive.pk)))

    # Drop 2.6 / (2 tan 17 deg) and 2.6 / (2 tan 19 deg); extra centre distance by root-finding.
    for figure in ("4.25 mm", "3.78 mm", "12.93 mm", "13.35 mm by the flanks alone"):
        assert figure in text
    order = ["Change the belt now.", "Stop, unplug or lock off", "Fit a new belt", "Why",
             "mm used by the wear", "odds that it touches", "now, 2.25 with a new belt",
             "slip margin", "Drawn to scale", "What comes out",
             "What the sums start from", "The working", "Readings"]  # fmt: skip
    # Each after the one before it: the words of Why? beside a figure hold some of them too.
    place = 0
    for part in order:
        place = text.index(part, place)
    assert re.search(r"10\.4 mm ± 0\.1 mm , calliper, at \d+\.\d h", text)


def test_a_guess_is_framed_and_named_in_words(as_fitter: Client, drive: Drive) -> None:
    page = as_fitter.get(address("drive", drive.pk))

    assert '<span class="guess">8.7 mm</span>' in page.content.decode()
    assert "dotted frame is a guess:" in words(page)
    assert "groove depth below the datum line, motor pulley" in words(page)


def test_the_page_says_what_is_not_measured_and_what_it_would_settle(
    as_fitter: Client, drive: Drive
) -> None:
    text = words(as_fitter.get(address("drive", drive.pk)))

    assert "Top width now It would settle how far the belt has worn" in text
    assert "Nothing was read yet." in text


def test_a_mark_that_can_be_read_in_two_ways_is_said_with_both(
    as_fitter: Client, drive: Drive
) -> None:
    """13A690: metric marks with the width first state the datum length, automotive ones the
    outside length; 690 mm datum, or 670 mm (belt reference, code grammar)."""
    assert "can be read in" not in words(as_fitter.get(address("drive", drive.pk)))
    Drive.objects.filter(pk=drive.pk).update(belt_datum_m=None)

    text = words(as_fitter.get(address("drive", drive.pk)))

    assert "13A690 stands on the belt, and can be read in 2 ways: say which" in text
    for ways in ("datum 690 mm", "datum 670 mm"):
        assert ways in text
    assert "Enter in the drive's data: datum length of the belt." in text
    assert "calliper or a depth gauge" not in text


def test_pictures_stand_in_the_page_with_their_words(as_fitter: Client, drive: Drive) -> None:
    width(as_fitter, drive)

    page = as_fitter.get(address("drive", drive.pk)).content.decode()

    assert page.count('role="img"') == 4
    assert "style=" not in page
    assert "The belt is 10.4 mm wide, 13.0 mm when new." in page


def test_figures_that_contradict_one_another_are_said_and_do_not_break_the_page(
    as_fitter: Client, drive: Drive
) -> None:
    drive.centres_m = 0.09
    drive.save()

    page = as_fitter.get(address("drive", drive.pk))

    assert page.status_code == 200
    assert "The figures contradict one another." in words(page)


def test_a_width_is_saved_and_its_verdict_is_said(as_fitter: Client, drive: Drive) -> None:
    saved = width(as_fitter, drive, "10.4 mm", width_2="1.04 cm", tool="steel rule")

    reading = WidthReading.objects.get()
    assert saved.headers["Location"] == address("drive", drive.pk)
    assert "10.4 mm saved and sealed. Change the belt now." in words(
        as_fitter.get(saved.headers["Location"])
    )
    assert (reading.tool, reading.record.kind) == ("steel rule", "width")
    assert Job.objects.get().kind == "belt"


def test_the_tool_is_remembered(as_fitter: Client, drive: Drive) -> None:
    width(as_fitter, drive, tool="steel rule")

    page = as_fitter.get(address("add_width", drive.pk)).content.decode()

    assert '<option value="steel rule" selected>' in page


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"width_1": "12,5"}, "Use a point for decimals"),
        ({"width_1": "12 kg"}, "mm, cm, m or in"),
        ({"width_1": "120 mm"}, "A belt is 2.0 mm to 60.0 mm wide."),
        ({"width_1": "12", "width_3": "120"}, "A belt is 2.0 mm to 60.0 mm wide."),
        ({"width_1": ""}, "Fill this in."),
        ({"width_1": "12", "slot_out": "99 mm"}, "The slot is not that long"),
    ],
)
def test_a_wrong_width_is_told_at_its_field_and_what_was_typed_stays(
    as_fitter: Client, drive: Drive, told: dict[str, str], said: str
) -> None:
    drive.slot_in_m = 0.0
    drive.save()

    answer = width(as_fitter, drive, **{"text": told.pop("width_1"), **told})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in words(answer)
    wrong = page[page.index("field-wrong") :]
    assert said in words(answer)
    assert all(f'value="{typed}"' in page for typed in told.values())
    assert "errorlist" in wrong
    assert not Record.objects.exists()


def test_the_same_form_sent_twice_keeps_one_reading(as_fitter: Client, drive: Drive) -> None:
    entry = str(new_id())

    for _ in range(2):
        width(as_fitter, drive, entry=entry)

    assert WidthReading.objects.count() == 1


def test_who_came_from_a_job_goes_back_to_it(as_fitter: Client, drive: Drive) -> None:
    job = Job.objects.create(machine=drive.machine, kind="belt", title="Belt", opened_at=MONDAY)

    page = as_fitter.get(address("add_width", drive.pk), {"job": job.pk})
    saved = width(as_fitter, drive, job=str(job.pk))

    assert f'name="job" value="{job.pk}"' in page.content.decode()
    assert saved.headers["Location"].endswith(f"/jobs/{job.pk}")


def test_a_job_of_another_machine_is_not_gone_back_to(
    as_fitter: Client, drive: Drive, depot: Depot
) -> None:
    other = make_machine(depot)
    job = Job.objects.create(machine=other, kind="belt", title="Belt", opened_at=MONDAY)

    saved = width(as_fitter, drive, job=str(job.pk))

    assert saved.headers["Location"] == address("drive", drive.pk)


def test_the_tension_page_says_depth_and_force_before_it_asks(
    as_fitter: Client, drive: Drive
) -> None:
    text = words(as_fitter.get(address("add_tension", drive.pk)))

    assert re.search(
        r"Press the middle of the span in by \d\.\d mm . Wanted: [\d.]+ to [\d.]+ N", text
    )
    assert re.search(r"[\d.]+ to [\d.]+ kgf, [\d.]+ to [\d.]+ lbf", text)
    assert text.index("Stop, unplug or lock off") < text.index("Force at mid-span")


def test_a_tension_is_saved(as_fitter: Client, drive: Drive) -> None:
    saved = tension(as_fitter, drive, force="8 N")

    text = words(as_fitter.get(saved.headers["Location"]))
    assert TensionReading.objects.get().verdict == "within"
    assert "saved and sealed. It lies within its band." in text
    assert "Tension as read" in text or "tension as read" in text


def test_a_force_in_kilograms_is_asked_about_once_and_then_kept(
    as_fitter: Client, drive: Drive
) -> None:
    asked = tension(as_fitter, drive, force="0.85")
    page = asked.content.decode()

    assert asked.status_code == 422
    assert "Was it read in kgf?" in words(asked)
    assert 'type="checkbox" name="confirmed"' in page
    assert 'value="0.85"' in page

    tension(as_fitter, drive, force="0.85 kgf")
    assert TensionReading.objects.count() == 1


@pytest.mark.parametrize("told", [{}, {"force": "8", "frequency": "130"}])
def test_one_of_force_and_frequency_is_wanted(
    as_fitter: Client, drive: Drive, told: dict[str, str]
) -> None:
    answer = tension(as_fitter, drive, **told)

    assert answer.status_code == 422
    assert not Record.objects.exists()


def test_a_drive_is_added_with_how_each_figure_is_known(
    as_fitter: Client, machine: Machine
) -> None:
    saved = as_fitter.post(
        address("add_drive", machine.pk),
        data(driver_m="85.5 mm", driver_m_from="rim", gear_1_in="12", gear_1_out="120"),
    )

    drive = Drive.objects.get(kind="belt")
    text = words(as_fitter.get(saved.headers["Location"]))
    assert drive.driver_m == pytest.approx(0.080)
    assert drive.mark_of("driven_m") == "plate"
    assert (drive.section, drive.hours_a_day) == ("A", 6.0)
    assert "Drum drive saved and sealed." in text
    assert "from plate" in text
    assert "typed 85.5 mm" in text


def test_what_the_machine_says_already_is_not_asked_again(
    as_fitter: Client, machine: Machine
) -> None:
    machine.power_w, machine.speed_rpm = 550, 1400
    machine.save()

    page = as_fitter.get(address("add_drive", machine.pk)).content.decode()

    assert 'value="0.55 kW"' in page
    assert 'value="1400 rpm"' in page


def test_a_mark_with_two_meanings_offers_both_and_takes_the_choice(
    as_fitter: Client, machine: Machine
) -> None:
    asked = as_fitter.post(address("add_drive", machine.pk), data(belt_mark="13A690"))
    page = asked.content.decode()
    keys = re.findall(r'type="radio" name="belt_choice" value="([^"]+)"', page)

    assert asked.status_code == 422
    assert len(keys) == 2
    assert "Lay a tape round the outside" in words(asked)
    assert 'value="13A690"' in page

    as_fitter.post(address("add_drive", machine.pk), data(belt_mark="13A690", belt_choice=keys[0]))
    assert Drive.objects.get().belt_datum_m == pytest.approx(0.69)


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"centres_m": "90 mm"}, "overlap at 90.0 mm"),
        ({"driven_m": "2 m", "centres_m": ""}, "does not reach round"),
        ({"belt_mark": "HELLO"}, "The mark cannot be read"),
        ({"motor_power_w": "2 kVA"}, "apparent power"),
        ({"driver_angle_rad": "90"}, "enter 20.0 deg to 60.0 deg"),
        ({"gear_1_in": "12"}, "both gears"),
    ],
)
def test_data_that_cannot_be_are_told_at_the_field_and_kept_on_the_page(
    as_fitter: Client, machine: Machine, told: dict[str, str], said: str
) -> None:
    answer = as_fitter.post(address("add_drive", machine.pk), data(**told))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in words(answer)
    assert "field-wrong" in page
    assert all(f'value="{typed}"' in page for typed in told.values() if typed)
    assert not Drive.objects.exists()


def test_changing_a_drive_begins_with_what_was_typed(as_fitter: Client, machine: Machine) -> None:
    as_fitter.post(
        address("add_drive", machine.pk),
        data(driver_m="85.5 mm", driver_m_from="rim", belt_mark="13A690",
             belt_choice="A 690.0 ISO/DIN datum", gear_1_in="12", gear_1_out="120"),
    )  # fmt: skip
    drive = Drive.objects.get(kind="belt")
    page = as_fitter.get(address("edit_drive", drive.pk)).content.decode()

    assert 'value="85.5 mm"' in page
    assert '<option value="rim" selected>across the rim' in page
    # Every box as the page shows it, sent back, leaves the drive as it was.
    shown = dict(re.findall(r'<input[^>]*?name="([^"]+)" value="([^"]*)"', page))
    for box in re.findall(r"<select.*?</select>", page, flags=re.S):
        chosen = re.search(r'name="([^"]+)".*value="([^"]*)" selected', box, flags=re.S)
        if chosen is not None:
            shown[chosen[1]] = chosen[2]
    assert shown["belt_choice"] == "A 690.0 ISO/DIN datum"
    saved = as_fitter.post(address("edit_drive", drive.pk), data() | shown | {"belt_tight": "yes"})
    assert saved.status_code == 302
    before = {name: getattr(drive, name) for name in FIELDS}
    drive.refresh_from_db()
    assert {name: getattr(drive, name) for name in FIELDS} == before
    assert Drive.objects.filter(kind="gear").count() == 1


PAGES = ("drive", "edit_drive", "add_width", "add_ride", "add_slot", "add_tension",
         "add_alignment", "add_pulley")  # fmt: skip


@pytest.mark.parametrize("name", PAGES)
def test_another_depots_drive_does_not_exist(
    client: Client, outsider: User, drive: Drive, name: str
) -> None:
    client.force_login(outsider)

    assert client.get(address(name, drive.pk)).status_code == 404
    assert client.get(address(name, 987_654)).status_code == 404
    assert client.get(address("add_drive", drive.machine.pk)).status_code == 404


@pytest.mark.parametrize("name", PAGES[1:])
def test_an_operator_sees_the_drive_and_may_change_nothing(
    client: Client, operator: User, drive: Drive, name: str
) -> None:
    client.force_login(operator)

    page = client.get(address("drive", drive.pk))
    assert page.status_code == 200
    assert "Measure width" not in words(page)
    assert client.get(address(name, drive.pk)).status_code == 403
    assert client.post(address(name, drive.pk), {"width_1": "12"}).status_code == 403
    assert client.get(address("add_drive", drive.machine.pk)).status_code == 403
    assert not Record.objects.exists()


@pytest.mark.parametrize("name", PAGES)
def test_somebody_signed_out_is_sent_to_sign_in(client: Client, drive: Drive, name: str) -> None:
    answer = client.get(address(name, drive.pk))

    assert answer.status_code == 302
    assert "sign-in" in answer.headers["Location"]


def test_a_gear_stage_has_no_belt_page(as_fitter: Client, machine: Machine) -> None:
    gears = Drive.objects.create(machine=machine, stage=3, kind="gear", teeth_in=12, teeth_out=96)

    assert as_fitter.get(address("drive", gears.pk)).status_code == 404


def test_the_page_takes_the_same_queries_however_many_readings(
    as_fitter: Client, drive: Drive, django_assert_max_num_queries: Any
) -> None:
    for _ in range(5):
        width(as_fitter, drive)
        tension(as_fitter, drive, force="8 N")

    with django_assert_max_num_queries(32):
        as_fitter.get(address("drive", drive.pk))


def send(client: Client, drive: Drive, name: str, **told: str) -> Any:
    return client.post(address(name, drive.pk), {"entry": str(new_id())} | told)


def test_each_reading_of_a_visit_is_one_short_form_and_tells_the_drive(
    as_fitter: Client, drive: Drive
) -> None:
    told: dict[str, dict[str, str]] = {
        "add_ride": {"driver": "2.4", "driver_side": "below", "tool": "depth gauge"},
        "add_slot": {"slot_out": "6", "tool": "steel rule", "tight": "yes"},
        "add_alignment": {"near": "0", "far": "2.5", "tool": "feeler blades"},
        "add_pulley": {"pulley": "driver", "dish": "1.2", "tool": "groove gauge", "shines": "yes"},
    }
    width(as_fitter, drive, "12.6")
    for name, figures in told.items():
        assert send(as_fitter, drive, name, **figures).status_code == 302

    text = words(as_fitter.get(address("drive", drive.pk)))

    # A belt 0.4 mm narrower than new, at 13.0 mm, rides 0.65 mm deeper in a sound 34 degree groove.
    assert "deeper than its width explains: the groove is worn" in text
    assert "The pulleys are out of line" in text
    assert "dished 1.2 ± 0.2 mm, limit 0.8 mm (common practice, no source)" in text
    assert "6.0 ± " in text
    assert "max" not in text
    assert "pulleys out of line, worst groove" in text


def test_a_gap_under_the_gauge_is_not_asked_of_who_has_none(
    as_fitter: Client, drive: Drive
) -> None:
    refused = send(as_fitter, drive, "add_pulley", pulley="driver", tool="groove gauge")

    assert refused.status_code == 422
    assert "Say what you saw, or give the gap" in words(refused)
    assert not Record.objects.exists()


def test_a_reading_from_paper_keeps_its_own_moment(as_fitter: Client, drive: Drive) -> None:
    width(as_fitter, drive, "10.4", read_at="2026-03-05T10:00")
    later = width(as_fitter, drive, "12.4", read_at="2999-01-01T10:00")

    assert later.status_code == 422
    reading = WidthReading.objects.get()
    assert reading.at.isoformat() == "2026-03-05T10:00:00+00:00"
    assert reading.record.received_at > reading.at


def test_a_reading_is_put_right_and_both_are_shown(as_fitter: Client, drive: Drive) -> None:
    width(as_fitter, drive, "10.4", slot_out="9 mm")
    first = WidthReading.objects.get()
    page = as_fitter.get(address("correct_reading", first.record_id))

    assert 'name="width_1" value="10.4"' in page.content.decode()
    assert 'name="slot_out" value="9 mm"' in page.content.decode()
    send_right = {"entry": str(new_id()), "width_1": "12.4", "tool": "calliper"}
    bare = as_fitter.post(address("correct_reading", first.record_id), send_right)
    saved = as_fitter.post(
        address("correct_reading", first.record_id),
        send_right | {"reason": "Read from the wrong edge."},
    )

    assert bare.status_code == 422
    assert saved.headers["Location"] == address("drive", drive.pk)
    text = words(as_fitter.get(saved.headers["Location"]))
    assert text.index("The belt may stay on") < text.index("12.4 mm ± 0.1 mm , a correction")
    assert "10.4 mm put right" in text
    record = words(as_fitter.get(address("record", Record.objects.get(kind="correction").pk)))
    assert "10.4 mm, now 12.4 ± 0.1 mm: Read from the wrong edge." in record
    again = as_fitter.post(
        address("correct_reading", first.record_id),
        send_right | {"reason": "Once more, unseen.", "entry": str(new_id())},
    )
    assert "corrected already" in words(again)


def test_a_reading_of_another_belt_is_taken_out(as_fitter: Client, drive: Drive) -> None:
    width(as_fitter, drive, "10.4")
    told = {"entry": str(new_id()), "act": "take out", "reason": "It was of the pump next to it."}

    as_fitter.post(address("correct_reading", WidthReading.objects.get().record_id), told)

    text = words(as_fitter.get(address("drive", drive.pk)))
    assert "is taken out. It stays to be seen." in text
    assert text.index("Not certain. Measure again.") < text.index("10.4 mm put right")


def test_at_the_end_of_the_slot_no_tensioning_is_offered_anywhere(
    as_fitter: Client, drive: Drive
) -> None:
    width(as_fitter, drive, "12.0")
    send(as_fitter, drive, "add_slot", slot_out="0", tool="steel rule", tight="yes")
    tension(as_fitter, drive, force="3 N", confirmed="on")

    page = words(as_fitter.get(address("drive", drive.pk)))
    job = Job.objects.get(kind="belt")

    assert "The slot is used up: change the belt." in page
    assert "Tighten" not in page
    assert "Move the motor outwards" not in page
    assert "ension" not in job.title
    assert "Tensioning again is not possible" in job.symptom
    form = words(as_fitter.get(address("add_tension", drive.pk)))
    assert "These are the figures of a new belt: this one is to be changed." in form


def test_two_fitters_at_one_drive_see_each_others_data_before_they_take_their_place(
    as_fitter: Client, drive: Drive
) -> None:
    page = as_fitter.get(address("edit_drive", drive.pk)).content.decode()
    seen = re.search(r'name="seen" value="([^"]+)"', page)
    assert seen is not None
    first = as_fitter.post(address("edit_drive", drive.pk), data(seen=seen[1]))
    second = as_fitter.post(address("edit_drive", drive.pk), data(seen=seen[1], driven_m="175"))

    assert (first.status_code, second.status_code) == (302, 422)
    assert "Somebody changed this drive since" in words(second)
    assert 'value="175"' in second.content.decode()
    again = re.search(r'name="seen" value="([^"]+)"', second.content.decode())
    assert again is not None
    as_fitter.post(address("edit_drive", drive.pk), data(seen=again[1], driven_m="175"))
    drive.refresh_from_db()
    assert drive.driven_m == pytest.approx(0.175)


def test_a_drive_is_drawn_before_it_is_saved_and_names_what_is_missing(
    as_fitter: Client, machine: Machine
) -> None:
    told = {"draw": "1", "driver_m": "80 mm", "driven_m": "180 mm", "centres_m": "150 mm"}
    part = as_fitter.post(address("add_drive", machine.pk), told, headers={"x-part": "drawn"})
    whole = as_fitter.post(address("add_drive", machine.pk), told)

    assert (part.status_code, whole.status_code) == (200, 200)
    assert "Motor pulley 80.0 mm, driven pulley 180.0 mm, centres 150.0 mm now." in words(part)
    assert "Belt section It would settle how the belt sits in its grooves" in words(part)
    assert "<html" not in part.content.decode()
    assert 'value="150 mm"' in whole.content.decode()
    assert not Drive.objects.exists()


def test_each_figure_keeps_the_tool_and_the_day_of_its_own_entry(
    as_fitter: Client, drive: Drive
) -> None:
    as_fitter.post(
        address("edit_drive", drive.pk), data(driver_m_mark="measured calliper", belt_tight="yes")
    )
    Drive.objects.filter(pk=drive.pk).update(
        entries={
            name: entry | ({"told": MONDAY.isoformat()} if "told" in entry else {})
            for name, entry in Drive.objects.get(pk=drive.pk).entries.items()
        }
    )
    as_fitter.post(
        address("edit_drive", drive.pk),
        data(driver_m_mark="measured calliper", driven_m="179 mm"),
    )

    kept = Drive.objects.get(pk=drive.pk).entries
    assert kept["driver_m"]["tool"] == "calliper"
    assert kept["driver_m"]["told"] == MONDAY.isoformat()
    assert kept["driven_m"]["told"] > MONDAY.isoformat()
    text = words(as_fitter.get(address("drive", drive.pk)))
    assert "calliper, 2 Mar 2026" in text
    # A calliper's 0.05 and 0.1 mm, evenly spread, twice over: not the 0.6 mm of a bare figure.
    assert "80.0 mm ± 0.1 mm" in text
