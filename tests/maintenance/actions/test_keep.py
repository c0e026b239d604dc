"""Nothing goes that was not listed for sixty days, what is held stays, and the chain verifies."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from addresses import picture
from maintenance.actions import keep
from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.place import write_off
from maintenance.contents.derived import first_derived_fault
from maintenance.models import (
    DueLine,
    Hirer,
    Job,
    JobStep,
    KeepHold,
    KeepListing,
    KeepRound,
    PlanLine,
    RuleSheet,
    Stay,
    StepAnswer,
    Stop,
)
from maintenance.rules.check import Given
from make import make_machine
from plant.actions.erase import remove_left_files
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.contents.chain import check_chain
from plant.models import Depot, LeftFile, Machine, Record, RecordPhoto, RecordText, User
from plant.rights import NotAllowed

SOLD = datetime(2020, 2, 29, 10, tzinfo=UTC)
OVER = date(2026, 2, 28)
"""Six years later, in a year without a leap day."""


@pytest.fixture(autouse=True)
def _files(settings: Any, tmp_path: Any, rule_sheet: RuleSheet) -> None:
    settings.MEDIA_ROOT = tmp_path


def at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 6, tzinfo=UTC)


def sold(depot: Depot, manager: User, *, when: datetime = SOLD) -> Machine:
    """A machine with a fault, told with a photo, written off at that moment."""
    machine = make_machine(depot)
    job = report_fault(
        machine=machine, part="stands_level", told="Leans to one side", stop_now=False,
        at=when - timedelta(days=30), by_name="Passer By", by_label=True,
        photos={"photo": picture()},
    )  # fmt: skip
    write_off(machine=machine, reason="Sold to a dealer", jobs=[job], at=when, by=manager)
    return machine


def run(depot: Depot, day: date) -> tuple[int, int]:
    taken = keep.take_due(depot=depot, at=at(day))
    listed = keep.list_month(depot=depot, at=at(day))
    remove_left_files()
    return listed, taken


def test_listed_ahead_taken_on_its_day_and_said_on_record(depot: Depot, manager: User) -> None:
    machine = sold(depot, manager)
    fault = Record.objects.get(kind="fault")
    file = RecordPhoto.objects.get().file.name
    told = Record.objects.count()

    assert run(depot, date(2025, 10, 1)) == (0, 0)
    assert run(depot, date(2025, 12, 1)) == (3, 0)
    listing = KeepListing.objects.get(kind="fault")
    assert (listing.goes_on, listing.texts, listing.photos) == (date(2026, 3, 1), 2, 1)
    assert listing.why == "6 years after it left on 29 Feb 2020"
    assert run(depot, OVER) == (0, 0)
    assert default_storage.exists(file)

    assert run(depot, date(2026, 3, 1)) == (0, 3)

    assert set(fault.texts.values_list("text", "salt")) == {("", "")}
    assert not default_storage.exists(file)
    assert not LeftFile.objects.exists()
    erased = Record.objects.get(kind="erased", content__contains='"of_kind":"fault"')
    assert {t.erased_with for t in fault.texts.all()} == {erased}
    assert '"kept":"6 years"' in erased.content
    assert (erased.machine, erased.by, erased.role) == (machine, None, "rule")
    # Every row stands, three more say why the words went, and all of it verifies.
    assert Record.objects.count() == told + 3
    assert check_chain(depot).what == ""
    assert first_derived_fault(depot) is None
    # The same words stood in rows beside the record; they are nowhere now.
    assert Job.objects.get().symptom == ""
    assert set(Stop.objects.values_list("words", "note")) == {("words erased", "")}
    assert run(depot, date(2026, 3, 1)) == run(depot, date(2027, 6, 1)) == (0, 0)


def test_what_was_listed_too_late_waits_its_sixty_days(depot: Depot, manager: User) -> None:
    sold(depot, manager)

    run(depot, date(2026, 7, 10))

    assert set(KeepListing.objects.values_list("goes_on", flat=True)) == {date(2026, 10, 1)}
    assert run(depot, date(2026, 9, 30))[1] == 0
    assert run(depot, date(2026, 10, 1))[1] == 3


def test_what_comes_after_the_listing_is_not_among_it(depot: Depot, manager: User) -> None:
    machine = sold(depot, manager)
    run(depot, date(2025, 12, 1))
    with transaction.atomic():
        late = seal(
            kind=Record.Kind.FAULT, depot=depot, machine=machine, data={}, by=None, role="label",
            by_name="Late Sender", happened_at=SOLD - timedelta(days=40),
            received_at=at(date(2026, 1, 5)), texts={"told": "Sent from an old phone"},
        )  # fmt: skip

    run(depot, date(2026, 3, 1))

    assert late.texts.get(name="told").text == "Sent from an old phone"
    assert KeepListing.objects.open().get().goes_on == date(2026, 5, 1)
    run(depot, date(2026, 5, 1))
    assert late.texts.get(name="told").text == ""


def test_held_stays_and_after_its_release_has_its_sixty_days_again(
    depot: Depot, manager: User, administrator: User, fitter: User
) -> None:
    machine = sold(depot, manager)
    run(depot, date(2025, 12, 1))

    with pytest.raises(NotAllowed):
        keep.hold(machine=machine, reason="Claim running", at=at(OVER), by=fitter)
    with pytest.raises(Refused, match="at least 5"):
        keep.hold(machine=machine, reason="why", at=at(OVER), by=manager)
    held = keep.hold(machine=machine, reason="Claim running", at=at(OVER), by=manager)
    with pytest.raises(Refused, match="held already"):
        keep.hold(machine=machine, reason="Claim running", at=at(OVER), by=administrator)

    assert not KeepListing.objects.open().exists()
    assert run(depot, date(2026, 3, 1)) == run(depot, date(2026, 12, 1)) == (0, 0)
    day = date(2027, 1, 15)
    keep.release_hold(held=held, reason="Claim settled", at=at(day), by=administrator)
    with pytest.raises(Refused, match="released already"):
        keep.release_hold(held=held, reason="Claim settled", at=at(day), by=manager)
    # Put back on the list in the same month, though that month was listed before.
    assert run(depot, day) == (3, 0)
    assert run(depot, date(2027, 3, 1)) == (0, 0)
    assert run(depot, date(2027, 4, 1)) == (0, 3)
    reasons = RecordText.objects.filter(record__kind="held", name="reason").order_by("pk")
    assert [each.text for each in reasons] == ["Claim running", "Claim settled"]


def test_a_sheet_that_keeps_longer_takes_it_off_the_list(
    depot: Depot, manager: User, rule_sheet: RuleSheet
) -> None:
    sold(depot, manager)
    run(depot, date(2025, 12, 1))
    longer = [each | {"months": 120} for each in rule_sheet.content["keep"]]
    RuleSheet.objects.create(
        name="Longer", dated=date(2026, 1, 2), content=rule_sheet.content | {"keep": longer}
    )
    RuleSheet.objects.filter(pk=rule_sheet.pk).update(dated=date(2020, 1, 1))

    assert run(depot, date(2026, 3, 1)) == (0, 0)

    assert set(KeepListing.objects.values_list("ended_because", flat=True)) == {
        "The rule sheet keeps it longer now."
    }
    assert RecordText.objects.filter(erased_at__isnull=False).count() == 0


def checked(machine: Machine, manager: User, when: datetime) -> Record:
    _, asked = questions(machine, at=when)
    given = {each.key: Given(answer="ok", word="") for each in asked}
    return record_check(machine=machine, answers=given, at=when, by=manager, note="Well").record


def test_a_check_goes_by_its_own_day_but_not_before_the_next_inspection(
    depot: Depot, manager: User
) -> None:
    machine = make_machine(depot)
    old = checked(machine, manager, datetime(2019, 5, 6, 8, tzinfo=UTC))
    between = checked(machine, manager, datetime(2019, 9, 6, 8, tzinfo=UTC))

    assert run(depot, date(2026, 1, 1)) == (0, 0)
    with transaction.atomic():
        seal(
            kind=Record.Kind.INSPECTION, depot=depot, machine=machine, data={}, by=manager,
            role="manager", happened_at=datetime(2019, 7, 1, tzinfo=UTC), received_at=at(OVER),
        )  # fmt: skip
    assert run(depot, date(2026, 2, 1)) == (1, 0)
    run(depot, date(2026, 5, 1))

    assert old.texts.get(name="note").erased_at is not None
    assert between.texts.get(name="note").text == "Well"
    assert check_chain(depot).what == ""


def test_killed_half_way_the_next_run_takes_the_rest(
    depot: Depot, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between two listings, before the end of one, and before its file was off the disk."""
    sold(depot, manager)
    file = RecordPhoto.objects.get().file.name
    run(depot, date(2025, 12, 1))
    whole, calls = keep.erase, []

    def dies(**given: Any) -> Any:
        calls.append(whole(**given))
        if len(calls) == 2:
            raise SystemExit("killed")
        return calls[-1]

    monkeypatch.setattr(keep, "erase", dies)
    day = at(date(2026, 3, 1))
    with pytest.raises(SystemExit):
        keep.take_due(depot=depot, at=day)
    monkeypatch.undo()

    assert KeepListing.objects.open().count() == 2
    assert Record.objects.filter(kind="erased").count() == 1
    assert check_chain(depot).what == ""
    assert default_storage.exists(file)
    assert keep.take_due(depot=depot, at=day) == 2
    default_storage.delete(file)  # as if killed between the file and its row
    assert remove_left_files() == 1
    assert remove_left_files() == 0
    assert Record.objects.filter(kind="erased").count() == 3
    assert check_chain(depot).what == ""


def test_killed_while_listing_the_next_run_lists_the_rest(
    depot: Depot, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(3):
        sold(depot, manager)
    whole, calls = keep._list, []

    def dies(*given: Any, **more: Any) -> int:
        calls.append(1)
        if len(calls) == 2:
            raise SystemExit("killed")
        return whole(*given, **more)

    monkeypatch.setattr(keep, "_list", dies)
    with pytest.raises(SystemExit):
        keep.list_month(depot=depot, at=at(date(2025, 12, 1)))
    monkeypatch.undo()
    assert not KeepRound.objects.exists()

    keep.list_month(depot=depot, at=at(date(2025, 12, 1)))

    assert KeepListing.objects.count() == 9
    assert keep.list_month(depot=depot, at=at(date(2025, 12, 31))) == 0


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.lists(
        st.tuples(st.sampled_from(["run", "hold", "release", "late"]), st.integers(1, 50)),
        min_size=6, max_size=14,
    )
)  # fmt: skip
def test_whatever_happens_nothing_goes_unlisted_early_or_held(
    depot: Depot, manager: User, acts: list[tuple[str, int]]
) -> None:
    """Beside it a model of the test's own: by text, since when it has stood on the list unheld."""
    undo = transaction.atomic()
    with undo:
        machine = sold(depot, manager)
        day, held, listed = date(2025, 11, 20), None, {}
        for act, days in acts:
            day += timedelta(days=days)
            if act == "hold" and held is None:
                held = keep.hold(machine=machine, reason="Claim", at=at(day), by=manager)
                listed = {}
            elif act == "release" and held is not None:
                keep.release_hold(held=held, reason="Settled", at=at(day), by=manager)
                held = None
            elif act == "late":
                with transaction.atomic():
                    seal(
                        kind=Record.Kind.FAULT, depot=depot, machine=machine, data={}, by=None,
                        role="label", by_name="Late", happened_at=SOLD, received_at=at(day),
                        texts={"told": "Late"},
                    )  # fmt: skip
            elif act == "run":
                before = set(RecordText.objects.standing().values_list("pk", flat=True))
                run(depot, day)
                went = before - set(RecordText.objects.standing().values_list("pk", flat=True))
                assert not (went and held)
                assert all(day - listed[pk] >= timedelta(days=60) for pk in went)
                assert not went or day >= OVER
                for listing in KeepListing.objects.open():
                    for pk in listing.standing_texts.values_list("pk", flat=True):
                        listed.setdefault(pk, day)
        assert check_chain(depot).what == ""
        assert KeepHold.objects.standing().exists() == (held is not None)
        transaction.set_rollback(True)


def test_a_step_left_out_keeps_saying_that_it_says_why_and_nothing_stops_the_taking(
    depot: Depot, manager: User
) -> None:
    machine = sold(depot, manager)
    job = Job.objects.get(machine=machine)
    step = JobStep.objects.create(job=job, position=1, text="Look at the guard")
    said = {"step": step, "by": manager, "at": SOLD, "tool": "Rule 3"}
    StepAnswer.objects.create(is_done=False, because="The key was lost", **said)
    StepAnswer.objects.create(is_done=True, **said)
    run(depot, date(2025, 12, 1))

    assert run(depot, date(2026, 3, 1))[1] == 3

    answers = StepAnswer.objects.values_list("is_done", "because", "tool")
    assert set(answers) == {(False, "words erased", ""), (True, "", "")}


def test_one_listing_that_fails_keeps_no_other_back(
    depot: Depot, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    sold(depot, manager)
    run(depot, date(2025, 12, 1))
    whole, bad = keep._empty_copies, KeepListing.objects.order_by("pk")[0]

    def fails(listing: KeepListing, machine: Machine) -> None:
        if listing.pk == bad.pk:
            raise ValueError("odd")
        whole(listing, machine)

    monkeypatch.setattr(keep, "_empty_copies", fails)

    assert keep.take_due(depot=depot, at=at(date(2026, 3, 1))) == 2
    assert list(KeepListing.objects.open()) == [bad]


def test_the_words_of_a_stop_that_stands_stay_on_a_machine_in_use(
    depot: Depot, manager: User
) -> None:
    """A check is counted from its day, but what it found still speaks against using the machine."""
    machine, long_ago = make_machine(depot), datetime(2019, 5, 6, 8, tzinfo=UTC)
    for told in ("Guard cracked", "All well"):
        record = seal(
            kind=Record.Kind.CHECK, depot=depot, machine=machine, data={}, by=None, role="label",
            by_name="Passer By", happened_at=long_ago, received_at=long_ago, texts={"note": told},
        )  # fmt: skip
        if told == "Guard cracked":
            stop = Stop.objects.create(
                machine=machine, kind=Stop.Kind.STOP, words=told, since=long_ago, record=record
            )
    seal(
        kind=Record.Kind.INSPECTION, depot=depot, machine=machine, data={}, by=manager,
        role="manager", happened_at=at(date(2019, 7, 1)), received_at=at(date(2019, 7, 1)),
            )  # fmt: skip
    run(depot, date(2025, 12, 1))
    assert KeepListing.objects.get().texts == 2

    assert run(depot, date(2026, 3, 1))[1] == 1
    assert run(depot, date(2026, 4, 1)) == (0, 0)  # nor is it listed again

    assert Stop.objects.get(pk=stop.pk).words == "Guard cracked"
    texts = RecordText.objects.standing().filter(name="note")
    assert list(texts.values_list("text", flat=True)) == ["Guard cracked"]


def test_of_a_machine_that_left_stay_and_rest_say_nothing_and_no_inspection_is_claimed(
    depot: Depot, manager: User
) -> None:
    machine = sold(depot, manager)
    long_ago = datetime(2019, 5, 6, 8, tzinfo=UTC)
    records = [
        seal(
            kind=kind,
            depot=depot,
            machine=machine,
            data={},
            by=manager,
            role="manager",
            happened_at=long_ago,
            received_at=long_ago,
            texts={"note": "By the brook"},
        )
        for kind in (Record.Kind.CHECK, Record.Kind.PLACE, Record.Kind.PLAN)
    ]
    hirer = Hirer.objects.create(depot=depot, name="A. Hirer")
    Stay.objects.create(
        machine=machine, hirer=hirer, site="1 Brook Lane", out_at=long_ago, back_at=long_ago,
        due_back_on=long_ago.date(), record=records[1],
    )  # fmt: skip
    line = PlanLine.objects.create(machine=machine, key="look", title="Look", every_days=30)
    DueLine.objects.create(
        machine=machine,
        line=line,
        start_on=SOLD.date(),
        resting_because="Lent to Ann",
        worked_out_at=SOLD,
    )
    run(depot, date(2025, 12, 1))
    assert KeepListing.objects.get(kind="check").why == "6 years after it was made"

    run(depot, date(2026, 3, 1))

    stay = Stay.objects.get()
    assert (stay.site, stay.hirer, stay.with_whom) == ("words erased", None, "words erased")
    assert DueLine.objects.get().resting_because == "words erased"
