"""What a check does to its machine, and that sending it again does nothing."""

import json
from datetime import timedelta

import pytest

from maintenance.actions.check import AnswersRefused, Dial, questions, record_check
from maintenance.contents.fitness import fitness_of
from maintenance.models import Check, Job, MeterReading, Stop
from maintenance.rules.check import Given
from make import MONDAY, make_machine
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.models import Depot, Machine, Record, User

ON = MONDAY.date()
pytestmark = pytest.mark.usefixtures("rule_sheet")


def answers(machine: Machine, **other: Given) -> dict[str, Given]:
    """All well, but for what is named."""
    _, items = questions(machine, at=MONDAY)
    return {item.key: other.get(item.key, Given(answer="ok")) for item in items}


def test_everything_ok_passes_the_machine(machine: Machine, operator: User) -> None:
    machine.passed_at = None
    machine.save()

    check = record_check(machine=machine, answers=answers(machine), at=MONDAY, by=operator)

    machine.refresh_from_db()
    assert check.mark == Check.Mark.PASSED
    assert machine.passed_at == MONDAY
    assert fitness_of(machine, ON).mark == "OK to use"
    assert check.record.role == "operator"
    assert json.loads(check.record.content)["data"]["mark"] == "passed"


def test_wrong_on_an_always_critical_item_stops_and_raises_a_safety_job(
    machine: Machine, operator: User
) -> None:
    wrong = answers(machine, cable_plug=Given(answer="wrong", word="sheath cut through"))

    check = record_check(machine=machine, answers=wrong, at=MONDAY, by=operator)

    stop, job = Stop.objects.get(), Job.objects.get()
    assert check.mark == Check.Mark.STOP
    assert (stop.kind, stop.always, stop.item_key) == ("stop", True, "cable_plug")
    assert (job.kind, job.is_safety, job.state) == ("fault", True, "looked at")
    assert stop.job == job
    assert stop.record == check.record
    assert fitness_of(machine, ON).mark == "Do not use"
    assert "sheath cut through" in fitness_of(machine, ON).reasons[0]


def test_wrong_on_another_item_waits_for_a_decision(machine: Machine, operator: User) -> None:
    wrong = answers(machine, stands_level=Given(answer="wrong", word="one wheel flat"))

    check = record_check(machine=machine, answers=wrong, at=MONDAY, by=operator)

    stop, job = Stop.objects.get(), Job.objects.get()
    assert check.mark == Check.Mark.DECIDE
    assert (stop.kind, stop.always) == ("undecided", False)
    assert (job.state, job.is_safety) == ("reported", False)
    assert fitness_of(machine, ON).mark == "Do not use"


def test_could_not_check_on_a_critical_item_leaves_it_not_yet_passed(
    machine: Machine, operator: User
) -> None:
    at = MONDAY + timedelta(hours=1)
    unseen = answers(machine, mixer_guards=Given(answer="could not check", word="too dark"))

    check = record_check(machine=machine, answers=unseen, at=at, by=operator)

    machine.refresh_from_db()
    assert check.mark == Check.Mark.NOT_PASSED
    assert machine.check_wanted_at == at
    assert machine.look_wanted_at is None
    assert fitness_of(machine, ON).mark == "Not yet passed"


def test_could_not_check_on_a_lesser_item_passes(machine: Machine, operator: User) -> None:
    unseen = answers(machine, stands_level=Given(answer="could not check", word="on the trailer"))

    assert record_check(machine=machine, answers=unseen, at=MONDAY, by=operator).mark == "passed"


def test_a_pass_frees_nothing(machine: Machine, operator: User) -> None:
    wrong = answers(machine, cable_plug=Given(answer="wrong", word="cut"))
    record_check(machine=machine, answers=wrong, at=MONDAY, by=operator)

    later = MONDAY + timedelta(hours=1)
    record_check(machine=machine, answers=answers(machine), at=later, by=operator)

    machine.refresh_from_db()
    assert fitness_of(machine, ON).mark == "Do not use"


def test_a_late_pass_does_not_take_the_moment_back(machine: Machine, operator: User) -> None:
    machine.passed_at = MONDAY
    machine.save()

    record_check(
        machine=machine,
        answers=answers(machine),
        at=MONDAY - timedelta(days=2),
        received_at=MONDAY,
        by=operator,
    )

    machine.refresh_from_db()
    assert machine.passed_at == MONDAY


def test_sent_five_times_it_is_one_record(machine: Machine, operator: User) -> None:
    wrong = answers(machine, cable_plug=Given(answer="wrong", word="cut"))
    record_id = new_id()

    checks = [
        record_check(
            machine=machine,
            answers=wrong,
            at=MONDAY + timedelta(minutes=minute),
            by=operator,
            record_id=record_id,
        )
        for minute in range(5)
    ]

    assert {check.pk for check in checks} == {checks[0].pk}
    counts = [model.objects.count() for model in (Record, Check, Stop, Job)]
    assert counts == [1, 1, 1, 1]


def test_the_same_number_with_another_content_is_refused(
    machine: Machine, operator: User, fitter: User
) -> None:
    record_id = new_id()
    record_check(
        machine=machine, answers=answers(machine), at=MONDAY, by=operator, record_id=record_id
    )
    other_word = answers(machine, cable_plug=Given(answer="wrong", word="cut"))

    for by, given in ((operator, other_word), (fitter, answers(machine))):
        with pytest.raises(Refused, match="Another entry"):
            record_check(machine=machine, answers=given, at=MONDAY, by=by, record_id=record_id)
    assert Record.objects.count() == 1


def test_the_same_words_but_another_word_is_refused(machine: Machine, operator: User) -> None:
    record_id = new_id()
    for word, fine in (("cut", True), ("cut deep", False)):
        given = answers(machine, cable_plug=Given(answer="wrong", word=word))
        if fine:
            record_check(
                machine=machine, answers=given, at=MONDAY, by=operator, record_id=record_id
            )
            continue
        with pytest.raises(Refused, match="Another entry"):
            record_check(
                machine=machine, answers=given, at=MONDAY, by=operator, record_id=record_id
            )


def test_the_same_word_but_another_answer_is_refused(machine: Machine, operator: User) -> None:
    record_id = new_id()
    first = answers(machine, cable_plug=Given(answer="could not check", word="in a drum"))
    other = answers(machine, cable_plug=Given(answer="wrong", word="in a drum"))
    record_check(machine=machine, answers=first, at=MONDAY, by=operator, record_id=record_id)

    with pytest.raises(Refused, match="Another entry"):
        record_check(machine=machine, answers=other, at=MONDAY, by=operator, record_id=record_id)


def test_two_people_the_same_hour_are_two_checks_and_one_job(
    machine: Machine, operator: User, fitter: User
) -> None:
    wrong = answers(machine, cable_plug=Given(answer="wrong", word="cut"))

    for by in (operator, fitter):
        record_check(machine=machine, answers=wrong, at=MONDAY, by=by)

    assert Check.objects.count() == 2
    assert Stop.objects.count() == 2
    assert Job.objects.get().stops.count() == 2


def test_found_again_after_the_work_was_done_is_a_new_job(machine: Machine, operator: User) -> None:
    wrong = answers(machine, cable_plug=Given(answer="wrong", word="cut"))
    record_check(machine=machine, answers=wrong, at=MONDAY, by=operator)
    Job.objects.update(state=Job.State.DONE, done_at=MONDAY + timedelta(hours=1))

    record_check(machine=machine, answers=wrong, at=MONDAY + timedelta(hours=2), by=operator)

    assert Job.objects.count() == 2


@pytest.mark.parametrize("left_out", ["answer", "word"])
def test_an_answer_or_a_word_left_out_is_refused_at_its_question(
    machine: Machine, operator: User, left_out: str
) -> None:
    given = answers(machine, cable_plug=Given(answer="wrong", word=" "))
    if left_out == "answer":
        del given["cable_plug"]

    with pytest.raises(AnswersRefused) as refused:
        record_check(machine=machine, answers=given, at=MONDAY, by=operator)

    assert list(refused.value.problems) == ["cable_plug"]
    assert Record.objects.count() == 0


def test_by_label_it_keeps_the_name_given_and_stops(machine: Machine) -> None:
    wrong = answers(machine, cable_plug=Given(answer="wrong", word="cut"))

    check = record_check(machine=machine, answers=wrong, at=MONDAY, by_name="Ola Builder")

    assert check.by_label
    assert (check.record.by, check.record.role) == (None, "label")
    assert check.record.texts.get(name="by_name").text == "Ola Builder"
    assert "Ola Builder" not in check.record.content
    assert Stop.objects.standing().count() == 1


def test_by_label_a_name_is_needed(machine: Machine) -> None:
    with pytest.raises(Refused) as refused:
        record_check(machine=machine, answers=answers(machine), at=MONDAY, by_name="  ")

    assert refused.value.field == "by_name"


def test_by_label_nothing_where_the_depot_does_not_allow_it(depot: Depot) -> None:
    depot.checks_by_label = False
    depot.save()
    machine = make_machine(depot)

    with pytest.raises(PermissionError):
        record_check(machine=machine, answers=answers(machine), at=MONDAY, by_name="Ola Builder")


def test_an_administrator_signs_no_check(machine: Machine, administrator: User) -> None:
    with pytest.raises(PermissionError):
        record_check(machine=machine, answers=answers(machine), at=MONDAY, by=administrator)


def test_a_record_and_its_effect_are_kept_together_or_not_at_all(
    machine: Machine, operator: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(**_: object) -> None:
        raise RuntimeError("power cut")

    monkeypatch.setattr("maintenance.actions.check.raise_stop", fail)
    wrong = answers(machine, cable_plug=Given(answer="wrong", word="cut"))

    with pytest.raises(RuntimeError):
        record_check(machine=machine, answers=wrong, at=MONDAY, by=operator)

    assert [Record.objects.count(), Check.objects.count()] == [0, 0]


def test_a_meter_figure_is_its_own_reading_in_the_same_go(machine: Machine, operator: User) -> None:
    entry = new_id()
    for _ in range(3):
        check = record_check(
            machine=machine, answers=answers(machine), at=MONDAY + timedelta(hours=2), by=operator,
            dial=Dial(1012, "101.2"), record_id=entry,
        )  # fmt: skip

    assert check.reading is not None
    machine.refresh_from_db()
    assert (machine.hours_tenths, MeterReading.objects.count()) == (1012, 1)
    told = json.loads(check.record.content)["data"]["dial"]
    assert (told["typed"], told["si"]) == ("101.2", "364320")
    meter = json.loads(check.reading.record.content)["data"]
    assert meter["check"] == str(check.record.pk)
    assert check.reading.record.kind == Record.Kind.METER


def test_a_questioned_figure_blocks_no_check_and_moves_nothing(
    machine: Machine, operator: User
) -> None:
    check = record_check(
        machine=machine, answers=answers(machine), at=MONDAY + timedelta(hours=1), by=operator,
        dial=Dial(401, "40.1"),
    )  # fmt: skip

    machine.refresh_from_db()
    assert check.reading is not None
    assert "lower than the last reading" in check.reading.questioned
    assert machine.hours_tenths == 1000
    assert check.mark == "passed"


def test_a_figure_that_no_running_hours_fit_stays_in_the_check_alone(
    machine: Machine, operator: User
) -> None:
    machine.meters.update(offset_tenths=-400)

    check = record_check(
        machine=machine, answers=answers(machine), at=MONDAY, by=operator, dial=Dial(10, "1")
    )

    assert (check.reading, check.mark) == (None, "passed")
    assert json.loads(check.record.content)["data"]["dial"]["typed"] == "1"


def test_the_same_number_with_another_figure_is_another_entry(
    machine: Machine, operator: User
) -> None:
    entry = new_id()

    def send(dial: Dial | None) -> None:
        record_check(
            machine=machine, answers=answers(machine), at=MONDAY, by=operator, dial=dial,
            record_id=entry,
        )  # fmt: skip

    send(None)
    with pytest.raises(Refused, match="Another entry"):
        send(Dial(1001, "100.1"))
    assert not MeterReading.objects.exists()


def test_seven_photos_are_too_many(machine: Machine, operator: User) -> None:
    with pytest.raises(Refused, match="At most 6 photos"):
        record_check(
            machine=machine, answers=answers(machine), at=MONDAY, by=operator,
            photos={f"p{n}": b"x" for n in range(7)},
        )  # fmt: skip
    assert not Record.objects.exists()


def test_the_record_says_when_the_next_check_is_wanted_and_by_which_rule(
    machine: Machine, operator: User
) -> None:
    machine.place = "out"
    machine.save()

    check = record_check(machine=machine, answers=answers(machine), at=MONDAY, by=operator)

    told = json.loads(check.record.content)["data"]["next_check"]
    assert told["on"] == (ON + timedelta(days=7)).isoformat()
    assert (told["rule"], told["trust"]) == ("Check before use, 110 V, weekly", "secondary")
    assert "HSG107" in told["source"]
