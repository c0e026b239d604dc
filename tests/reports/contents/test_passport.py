"""The passport gathered and read back from its paper: nothing that is stopped reads as fit."""

import io
from datetime import timedelta

import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.lib.units import mm

from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.inspection import Told, points, record_inspection
from maintenance.actions.plan import give_plans
from maintenance.actions.stay import Going, issue
from maintenance.actions.stop import decide_stop, stop_machine
from maintenance.models import DueLine, Stop
from maintenance.rules.check import Given
from make import MONDAY, make_machine
from plant.models import Depot, Machine, MachineKind, User
from reports.contents.passport import passport
from reports.pdf.page import Printed
from reports.pdf.passport import Coming, Passport, Proof, render
from reports.pdf.plate import Plate, PlateField
from reports.pdf.service_sheet import Caution, Mark

pytestmark = pytest.mark.usefixtures("rule_sheet")
LATER = MONDAY + timedelta(days=1)


@pytest.fixture
def mixer(depot: Depot) -> Machine:
    depot.phone = "01632 960 101"
    depot.save()
    return make_machine(depot, "MX-203", kind=MachineKind.objects.get(key="mixer_electric"))


def told(machine: Machine) -> Passport:
    machine.refresh_from_db()
    return passport(machine, at=LATER, by="Dara Desk", number="12")


def paper(machine: Machine) -> str:
    reader = PdfReader(io.BytesIO(render(told(machine))))
    assert len(reader.pages) == 1
    return " ".join(reader.pages[0].extract_text().split())


def checked(machine: Machine, by: User) -> None:
    _, asked = questions(machine, at=MONDAY)
    record_check(
        machine=machine, answers={q.key: Given(answer="ok") for q in asked}, at=MONDAY, by=by
    )


def test_a_sound_machine_says_so_with_what_was_looked_at_and_how_to_report(
    mixer: Machine, operator: User
) -> None:
    checked(mixer, operator)

    words = paper(mixer)

    for part in (
        "MX-203", "OK to use when this was printed", "In yard",
        "Last check 2 Mar 2026 09:00 Passed",
        "Olwen Operator, operator", "Last electrical test None on record", "01632 960 101",
        "Something wrong", f"Code {mixer.short_code}", "page 1 of 1", "printed 3 Mar 2026 09:00",
    ):  # fmt: skip
        assert part.casefold() in words.casefold(), part
    assert "DO NOT USE" not in words


@pytest.mark.usefixtures("competent")
def test_the_newest_look_over_stands_with_who_did_it(mixer: Machine, fitter: User) -> None:
    told = {
        point.key: Told(answer="none on it" if point.unit else "ok")
        for point in points(mixer, "look-over", at=MONDAY)[1]
    }
    for minutes in (0, 30):
        at = MONDAY + timedelta(minutes=minutes)
        record_inspection(machine=mixer, kind="look-over", at=at, by=fitter, told=told)

    words = paper(mixer)

    assert "Last look-over 2 Mar 2026 09:30 Passed Finn Fitter, fitter NORTH-" in words
    assert "Last inspection None on record" in words


def test_a_stopped_machine_says_do_not_use_larger_than_anything_else(
    mixer: Machine, operator: User
) -> None:
    checked(mixer, operator)
    stop_machine(machine=mixer, told="guard gone", at=MONDAY, by=operator)

    found = told(mixer)
    sizes: dict[str, float] = {}

    def look(text: str, _: object, matrix: list[float], __: object, size: float) -> None:
        if text.strip():
            sizes[text.strip()] = size * abs(matrix[3])

    page = PdfReader(io.BytesIO(render(found))).pages[0]
    words = " ".join(page.extract_text(visitor_text=look).split())

    assert (found.weight, found.answer) == ("stop", "DO NOT USE")
    assert max(sizes, key=lambda text: sizes[text]) == "DO NOT USE"
    assert "guard gone" in words
    assert "OK to use" not in words
    assert page.extract_text().index("DO NOT USE") < page.extract_text().index("Last check")


def test_a_new_machine_is_not_yet_passed_and_never_reads_as_fit(depot: Depot) -> None:
    machine = make_machine(depot, "MX-900", look_wanted_at=MONDAY, passed_at=None)

    words = paper(machine)

    assert told(machine).weight == "care"
    assert "Not yet passed: do not use it yet" in words
    assert "OK to use" not in words
    assert words.count("None on record") == 4


def test_a_note_stands_with_its_last_day(mixer: Machine, operator: User, foreman: User) -> None:
    report_fault(
        machine=mixer, part="stands_level", told="wheel stiff", stop_now=False, at=MONDAY,
        by=operator,
    )  # fmt: skip
    decide_stop(
        stop=Stop.objects.get(), carry_on_until=(MONDAY + timedelta(days=9)).date(),
        reason="One wheel is stiff, not loose", answer="Use it on level ground.",
        at=MONDAY, by=foreman,
    )  # fmt: skip

    words = paper(mixer)

    assert "Use, with a note" in words
    assert "11 Mar 2026" in words
    assert "wheel stiff" in words
    assert "OK to use" not in words


def test_a_test_that_is_past_is_said_before_anything_that_reads_as_fit(mixer: Machine) -> None:
    give_plans([mixer], at=MONDAY - timedelta(days=800))
    DueLine.objects.filter(machine=mixer).exclude(line__is_test=True).delete()

    found = told(mixer)

    assert (found.weight, found.answer) == ("care", "Work is needed before use")
    assert found.coming[0].state == "Needed before use"
    assert "OK to use when this was printed" not in paper(mixer)


def test_who_it_went_out_with_stands_on_it_and_no_telephone_of_theirs(
    mixer: Machine, desk: User
) -> None:
    going = Going(
        site="Plot 4", due_back_on=(MONDAY + timedelta(days=9)).date(), hirer="Ash Groundworks",
        site_phone="01632 960 777", went_with="Lead, 10 m",
    )  # fmt: skip
    issue(machine=mixer, going=going, at=MONDAY, by=desk, passport=True)

    words = paper(mixer)

    for part in ("Ash Groundworks", "Plot 4", "11 Mar 2026", "Lead, 10 m", "2 Mar 2026 09:00"):
        assert part in words
    assert "01632 960 777" not in words


def test_its_code_opens_the_label_of_this_machine_alone(mixer: Machine) -> None:
    page = pypdfium2.PdfDocument(render(told(mixer)))[0]

    (code,) = zxingcpp.read_barcodes(page.render(scale=3, grayscale=True).to_numpy())

    assert code.text == f"http://localhost:8000/q/{mixer.label_code}"
    assert code.ec_level in ("Q", "H")


def test_a_depot_that_takes_nothing_by_label_does_not_promise_it(
    mixer: Machine, depot: Depot
) -> None:
    assert "No account is needed." in paper(mixer)
    depot.checks_by_label = False
    depot.save()

    words = paper(Machine.objects.select_related("depot", "kind").get(pk=mixer.pk))

    assert "No account is needed." not in words
    assert "Sign in, scan the code" in words


def test_cautions_are_short_and_fit_the_machine(depot: Depot) -> None:
    pump = make_machine(depot, supply="petrol", kind=MachineKind.objects.get(key="mixer_engine"))
    mixer = make_machine(depot, supply="e110", kind=MachineKind.objects.get(key="mixer_electric"))
    fuel, electric = (
        [each.words for each in passport(m, at=LATER, by="x", number="1").cautions]
        for m in (pump, mixer)
    )

    assert any("Exhaust" in words for words in fuel)
    assert not any("Exhaust" in words for words in electric)
    assert any("cable" in words for words in electric)
    assert not any("cable" in words for words in fuel)
    assert all(len(words.split()) <= 15 for words in fuel + electric)


LONG = st.text(max_size=200)


@settings(max_examples=25, deadline=None)
@given(
    reasons=st.lists(LONG, max_size=12).map(tuple), site=st.text(max_size=120), name=LONG,
    lines=st.integers(0, 30),
)  # fmt: skip
def test_long_and_odd_words_are_drawn_and_a_stop_stays_a_stop(
    reasons: tuple[str, ...], site: str, name: str, lines: int
) -> None:
    """Whatever people typed, it prints; the same passport gives the same bytes."""
    given = Passport(
        number="1", plate=Plate(number="A" * 32, kind=name), printed=Printed(at="now", by=name),
        weight="stop", answer="DO NOT USE", because=reasons,
        marks=(Mark("Where it is", "Out", since=site),),
        proofs=(Proof("Last check", name, when="1 Jan 2026 00:00", who=name, record="QM-1"),),
        coming=(Coming(name, "1 Jan 2026", "Overdue"),) * lines,
        gone_to=(PlateField("Where", site or "-"),), link="https://a.example/q/x", phone=name,
        cautions=(Caution("Stop", "Do not start it."),),
    )  # fmt: skip

    data = render(given)

    assert data == render(given)
    pages = PdfReader(io.BytesIO(data)).pages
    assert "DO NOT USE" in pages[0].extract_text()
    assert [float(side) / mm for side in pages[0].mediabox[2:]] == pytest.approx(
        [210, 297], abs=0.2
    )  # ISO 216


def test_a_full_passport_keeps_to_one_page(mixer: Machine) -> None:
    words = "x" * 30 + " and a word more of what was found there this morning " * 3
    found = told(mixer)
    full = Passport(
        number="1", plate=found.plate, printed=found.printed, weight="stop", answer="DO NOT USE",
        because=(words,) * 9, marks=found.marks, proofs=found.proofs,
        coming=(Coming("Service of every three months", "4 May 2027 or 171.5 h", "Overdue"),) * 20,
        gone_to=(PlateField("Where", words),) * 5, link=found.link, phone=found.phone,
        cautions=found.cautions,
    )  # fmt: skip

    pages = PdfReader(io.BytesIO(render(full))).pages

    assert len(pages) == 1
    text = " ".join(pages[0].extract_text().split())
    assert "And 3 more." in text or "And 6 more." in text or "And 7 more." in text
    assert "Something wrong".upper() in text
