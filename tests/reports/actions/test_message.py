"""Messages: few, once each, to who chose them, and never lost on the way."""

import re
import threading
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest_django.fixtures import Settings

from mailing import free_port, mail_server, sent_to, text_of, wants
from maintenance.actions.check import questions, record_check
from maintenance.actions.fault import report_fault
from maintenance.actions.job import give_out, open_job
from maintenance.actions.stop import decide_stop
from maintenance.models import DueLine, Job, PlanLine, Skill, Stop, WeekDay
from maintenance.rules.check import Given
from make import make_competence, make_depot, make_machine, make_user
from plant.actions.refusal import Refused
from plant.contents.health import Part, health
from plant.models import Depot, Machine, Membership, Message, MessageChoice, Role, User
from plant.models.message import mail_key
from plant.models.work import LEASE
from reports.actions.message import (
    GIVEN_UP_AFTER,
    PROOFS_AN_HOUR,
    ask_proof,
    choose,
    morning_day,
    note_week,
    promise,
    prove,
    send_waiting,
)
from reports.contents.message import morning

pytestmark = pytest.mark.usefixtures("rule_sheet")
# Wednesday, half past six in London.
AT = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
ZONES = ("Europe/London", "America/New_York", "Asia/Kolkata", "Pacific/Auckland")


def turn(at: datetime) -> list[Any]:
    """One turn of the timer; what it sent."""
    before = len(mail.outbox)
    promise(at=at)
    send_waiting(clock=lambda: at, until=at + timedelta(seconds=1))
    return mail.outbox[before:]


def sends(at: datetime) -> int:
    return send_waiting(clock=lambda: at, until=at + timedelta(seconds=1))


def stop(machine: Machine, *, at: datetime, told: str = "guard gone", **more: Any) -> Job:
    return report_fault(
        machine=machine, part="drum", told=told, stop_now=True, at=at, **{"by_name": "Wim"} | more
    )


@pytest.fixture
def out(depot: Depot) -> Machine:
    return make_machine(depot, "MX-1", place="out", site="Plot 4")


# --- When ----------------------------------------------------------------------------------


@given(
    st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1), timezones=st.just(UTC)),
    st.sampled_from([*ZONES, "Australia/Lord_Howe", "Pacific/Chatham", "America/St_Johns"]),
)
@settings(max_examples=300)
def test_the_morning_is_by_the_clock_on_the_wall(at: datetime, zone: str) -> None:
    """Checked with dateutil, which reads the zones by code of its own."""
    wall = at.astimezone(tz.gettz(zone))
    minutes = wall.hour * 60 + wall.minute

    assert morning_day(at, ZoneInfo(zone)) == (wall.date() if 390 <= minutes < 720 else None)
    week = note_week(at, ZoneInfo(zone))
    monday = wall.date() - timedelta(days=wall.isoweekday() - 1)
    is_due = (wall.isoweekday() == 1 and minutes >= 390) or (
        wall.isoweekday() == 2 and minutes < 720
    )
    assert week == (monday if is_due else None)


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize(
    "first", [date(2026, 3, 7), date(2026, 3, 28), date(2026, 10, 24), date(2026, 9, 26)]
)
def test_one_message_a_day_also_when_the_clocks_change(
    foreman: User, out: Machine, zone: str, first: date
) -> None:
    Depot.objects.update(time_zone=zone)
    wants(foreman, morning=True)
    start = datetime.combine(first, datetime.min.time(), UTC)
    stop(out, at=start - timedelta(days=2))

    for step in range(3 * 24 * 2):
        at = start + step * timedelta(minutes=30)
        for sent in turn(at):
            local = at.astimezone(ZoneInfo(zone))
            assert (local.hour, local.minute) in {(6, 30), (7, 0)}, local
            assert local.strftime("%-d %b %Y") in sent.subject

    days = [row.thing for row in Message.objects.order_by("thing")]
    assert len(days) == len(set(days)) == len(mail.outbox) == 3


@pytest.mark.parametrize("hour", [5, 12, 23])
def test_outside_the_morning_nothing_is_promised(foreman: User, out: Machine, hour: int) -> None:
    wants(foreman, morning=True)
    stop(out, at=AT - timedelta(days=2))

    assert turn(AT.replace(hour=hour)) == []


def test_two_timers_at_once_send_one(transactional_db: None) -> None:
    depot = make_depot("twice")
    user = make_user("Twice", (depot, Role.FOREMAN))
    wants(user, morning=True, when_well=True)
    start = threading.Barrier(2)

    def run() -> None:
        start.wait()
        turn(AT)
        connection.close()

    both = [threading.Thread(target=run) for _ in range(2)]
    for each in both:
        each.start()
    for each in both:
        each.join()

    assert Message.objects.count() == 1
    assert len(mail.outbox) == 1


def test_many_turns_send_one(foreman: User, out: Machine) -> None:
    wants(foreman, morning=True)
    stop(out, at=AT - timedelta(days=2))

    assert [len(turn(AT + timedelta(minutes=n))) for n in range(4)] == [1, 0, 0, 0]


def test_on_a_closed_day_only_a_machine_stopped_in_use_is_told_of(
    foreman: User, out: Machine, machine: Machine
) -> None:
    """Saturday: the depot is closed. Once it is open on Saturdays, all is told."""
    saturday = AT + timedelta(days=3)
    wants(foreman, morning=True, when_well=True)
    stop(machine, at=AT)
    assert turn(saturday) == []

    stop(out, at=AT)
    (sent,) = turn(saturday + timedelta(days=1))
    assert sent.subject.endswith(": 1 stopped")

    WeekDay.objects.create(depot=out.depot, weekday=saturday.weekday(), is_open=True)
    (sent,) = turn(saturday + timedelta(days=7))
    assert sent.subject.endswith(": 2 stopped")


# --- To whom -------------------------------------------------------------------------------


def test_without_a_proved_address_nobody_is_written_to(foreman: User, out: Machine) -> None:
    stop(out, at=AT - timedelta(minutes=2))
    choice = wants(foreman, morning=True, at_once_from=AT - timedelta(days=1))
    for change in (
        {"email": ""}, {"email": "another@plant.example"},
        {"email": foreman.email, "is_active": False},
    ):  # fmt: skip
        User.objects.filter(pk=foreman.pk).update(**change)
        assert turn(AT) == []
    User.objects.filter(pk=foreman.pk).update(is_active=True, email=foreman.email)
    MessageChoice.objects.filter(pk=choice.pk).update(proved_key="")
    assert turn(AT) == []
    assert Message.objects.count() == 0


def test_who_left_between_the_promise_and_the_sending_gets_nothing(
    foreman: User, out: Machine
) -> None:
    wants(foreman, morning=True, at_once_from=AT - timedelta(days=1))
    stop(out, at=AT - timedelta(minutes=2))
    assert promise(at=AT) == 2

    Membership.objects.filter(user=foreman).delete()

    assert sends(AT) == 0
    assert mail.outbox == []
    assert set(Message.objects.values_list("state", "sent_at")) == {("done", None)}


def test_nothing_to_say_sends_nothing_unless_that_was_chosen(
    foreman: User, manager: User, machine: Machine
) -> None:
    wants(foreman, morning=True)
    wants(manager, morning=True, when_well=True)

    (one,) = turn(AT)

    assert one.to == [manager.email]
    assert "nothing waits for you" in one.subject
    assert turn(AT + timedelta(minutes=1)) == []


def test_no_word_of_another_depot_is_in_a_message(
    foreman: User, out: Machine, other_depot: Depot
) -> None:
    Depot.objects.filter(pk=other_depot.pk).update(name="Zvarb yard")
    theirs = make_machine(other_depot, "ZVARB-1", place="out", site="Zvarb site")
    stop(theirs, at=AT - timedelta(minutes=3), told="zvarb", by_name="Zvarb")
    stop(out, at=AT - timedelta(minutes=3))
    wants(foreman, morning=True, at_once_from=AT - timedelta(days=1))

    sent = turn(AT)

    assert len(sent) == 2
    assert not any(re.search("zvarb", text_of(each), re.IGNORECASE) for each in sent)


# --- What ----------------------------------------------------------------------------------


def due_line(machine: Machine, *, on: date, title: str) -> DueLine:
    line, _ = PlanLine.objects.get_or_create(
        kind=machine.kind, key=title, title=title, every_months=3, source="-", trust="-"
    )
    return DueLine.objects.create(
        machine=machine, line=line, start_on=on - timedelta(days=91), due_on=on, plan_on=on,
        past_after=on, raise_on=on - timedelta(days=14), worked_out_at=AT,
    )  # fmt: skip


def test_the_morning_tells_each_thing_with_what_to_do_and_where(
    depot: Depot, foreman: User, fitter: User, machine: Machine, out: Machine, competent: None
) -> None:
    today = AT.date()
    stop(out, at=AT - timedelta(days=1), told="guard hangs loose")
    other = make_machine(depot, "MX-9", place="out")
    due_line(other, on=today - timedelta(days=3), title="Grease the ring")
    due_line(machine, on=today, title="Change the oil")
    due_line(machine, on=today + timedelta(days=1), title="Not before tomorrow")
    job = open_job(
        machine=machine, kind=Job.Kind.FAULT, title="Pull cord", symptom="torn",
        at=AT - timedelta(days=1), by=foreman,
    )  # fmt: skip
    give_out(job=job, to=foreman, for_day=today, at=AT - timedelta(days=1), by=foreman)
    waits = open_job(
        machine=machine, kind=Job.Kind.FAULT, title="Wheel", symptom="stiff",
        at=AT - timedelta(days=1), by=foreman,
    )  # fmt: skip
    Job.objects.filter(pk=waits.pk).update(
        state=Job.State.WAITING, waiting_for="a wheel", expected_on=today
    )
    make_competence(
        foreman, depot, Skill.INSPECT, family="mixer", valid_until=today + timedelta(days=7)
    )
    wants(foreman, morning=True)

    (one,) = turn(AT)

    for told in (
        "STOPPED: 1",
        "MX-1 Cement mixer, electric, out at Plot 4\n  Drum and lock: guard hangs loose.",
        "Ring the site. It must not be used.",
        "OVERDUE IN USE: 1", "MX-9 Cement mixer, electric: Grease the ring\n",
        "DUE TODAY: 1", "MX-203 Cement mixer, electric: Change the oil\n",
        "JOBS FOR YOU: 1", f"{job.number} MX-203 Cement mixer, electric: Pull cord",
        "Isolate and lock off first.",
        "WAITS THAT END: 1", "It waits for a wheel, expected on 25 Nov 2026",
        "COMPETENCES THAT END: 1", "Last day 2 Dec 2026",
        f"http://localhost:8000/jobs/{job.pk}", f"http://localhost:8000/machines/{other.pk}",
    ):  # fmt: skip
        assert told in one.body, told
    assert "Not before tomorrow" not in text_of(one)
    assert one.subject == "25 Nov 2026: 1 stopped, 1 overdue in use, 1 due today"


def test_the_morning_asks_as_often_for_many_machines_as_for_few(
    depot: Depot, foreman: User, other_depot: Depot
) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as found:
            assert morning(User.objects.get(pk=foreman.pk), at=AT) is not None
        return len(found)

    def add(count: int) -> None:
        for _ in range(count):
            one = make_machine(depot, place="out")
            stop(one, at=AT - timedelta(days=1))
            due_line(one, on=AT.date(), title="Oil")
            due_line(one, on=AT.date() - timedelta(days=1), title="Grease")

    add(8)
    few = asked()
    add(20)

    assert asked() == few


def test_words_that_people_write_make_no_header_and_no_markup(
    foreman: User, out: Machine, desk: User
) -> None:
    Depot.objects.update(name="North\r\nBcc: evil@plant.example")
    Machine.objects.update(
        site="<img src=http://evil.example/x>\r\nBcc: evil@plant.example", nickname="\r\nX: y"
    )
    stop(out, at=AT - timedelta(minutes=1), told="<script>alert(1)</script> http://evil.example")
    for user in (foreman, desk):
        wants(user, morning=True, at_once_from=AT - timedelta(days=1), weekly_for=out.depot)
    monday = datetime(2026, 11, 23, 7, 0, tzinfo=UTC)

    with mail_server() as server:
        promise(at=monday)
        promise(at=AT)
        assert sends(AT) == 6

    for one in server.taken:
        assert one["Bcc"] is None
        assert one["X"] is None
        assert set(one.keys()) <= {
            "Subject", "From", "To", "Date", "Message-ID", "Auto-Submitted", "MIME-Version",
            "Content-Type", "X-Peer", "X-MailFrom", "X-RcptTo",
        }  # fmt: skip
        body = one.get_body(("html",))
        assert body is not None
        page = body.get_content()
        assert "<img" not in page
        assert "<script" not in page
        assert not re.search(r"(src|style|background)\s*=", page.replace("src=http://evil", ""))


# --- At once -------------------------------------------------------------------------------


def listens(user: User) -> None:
    wants(user, at_once_from=AT - timedelta(days=1))


def test_a_machine_stopped_where_it_is_used_is_told_at_once_to_who_chose_it(
    desk: User, foreman: User, fitter: User, operator: User, manager: User, out: Machine
) -> None:
    for user in (desk, fitter, operator):
        listens(user)
    wants(foreman, morning=False)
    night = AT.replace(hour=2)
    stop(out, at=night - timedelta(seconds=30), told="smokes")

    (one,) = turn(night)

    assert one.to == [desk.email]
    assert one.subject == "DO NOT USE: MX-1 stopped while it is out"
    assert "Since 02:29 on 25 Nov 2026" in one.body
    assert "out at Plot 4\n  Drum and lock: smokes." in one.body
    assert turn(night + timedelta(minutes=1)) == []


def test_a_machine_in_the_yard_waits_for_the_morning(desk: User, machine: Machine) -> None:
    listens(desk)
    stop(machine, at=AT)

    assert turn(AT) == []


def test_a_test_that_fails_in_the_yard_is_told_at_once(desk: User, machine: Machine) -> None:
    listens(desk)
    stop(machine, at=AT)
    record = Stop.objects.get().record
    # The kind alone says that it was a test; the columns of a record are sealed.
    from maintenance.actions.stop import raise_stop
    from plant.actions.record import seal

    test = seal(
        kind="test", depot=machine.depot, machine=machine, data={"passed": False},
        happened_at=AT, received_at=AT, by=desk, role="desk",
    )  # fmt: skip
    raise_stop(
        machine=machine, record=test, at=AT, kind=Stop.Kind.STOP, what="RCD test failed",
        told="40 ms is over the limit", item_key="rcd_test", always=True,
    )  # fmt: skip
    instead = make_machine(machine.depot, "MX-777")

    (one,) = turn(AT)

    assert one.subject == "DO NOT USE: MX-203 failed its test before issue"
    assert (
        "- MX-777 Cement mixer, electric can go instead\n  Issue this one.\n"
        f"  http://localhost:8000/machines/{instead.pk}/issue\n"
    ) in one.body
    assert Message.objects.get().thing == str(test.pk) != str(record.pk)


def test_what_is_put_right_or_carried_on_with_by_then_is_not_told(
    desk: User, foreman: User, out: Machine
) -> None:
    listens(desk)
    report_fault(machine=out, part="drum", told="grinds", stop_now=False, at=AT, by_name="Wim")
    assert promise(at=AT) == 1
    decide_stop(
        stop=Stop.objects.get(), carry_on_until=AT.date() + timedelta(days=3),
        reason="It only squeaks a little", answer="Looked at; go on with care.",
        at=AT, by=foreman,
    )  # fmt: skip

    assert sends(AT) == 0
    assert Message.objects.get().state == Message.State.DONE


def test_the_same_guard_reported_again_is_told_once(
    desk: User, operator: User, out: Machine
) -> None:
    listens(desk)
    _, asked = questions(out, at=AT)
    wrong = next(each.key for each in asked if each.key in {"cable_plug", "mixer_guards"})
    answers = {each.key: Given(answer="ok") for each in asked}
    answers[wrong] = Given(answer="wrong", word="gone")

    counts = []
    for minutes in (0, 30):
        at = AT + timedelta(minutes=minutes)
        record_check(machine=out, answers=answers, at=at, by=operator)
        counts.append(len(turn(at)))

    assert counts == [1, 0]


def test_news_from_before_it_was_chosen_is_not_told(desk: User, out: Machine) -> None:
    stop(out, at=AT - timedelta(hours=1))
    wants(desk, at_once_from=AT)

    assert turn(AT) == []


def test_late_news_says_when_it_was_heard(desk: User, out: Machine) -> None:
    listens(desk)
    stop(out, at=AT - timedelta(hours=3), received_at=AT)

    (one,) = turn(AT)

    assert "Since 03:30 on 25 Nov 2026, heard at 06:30." in one.body


# --- The way -------------------------------------------------------------------------------


class Killed(BaseException):
    """As a worker that dies."""


class DiesAfterSending(EmailBackend):
    def send_messages(self, messages: Any) -> int:
        super().send_messages(messages)
        raise Killed


def test_a_worker_that_dies_after_sending_may_send_a_double_of_the_same_name(
    foreman: User, settings: Settings
) -> None:
    wants(foreman, morning=True, when_well=True)
    promise(at=AT)
    usual = settings.EMAIL_BACKEND
    settings.EMAIL_BACKEND = f"{__name__}.DiesAfterSending"
    with pytest.raises(Killed):
        sends(AT)
    settings.EMAIL_BACKEND = usual

    assert sends(AT + LEASE / 2) == 0  # it may still be alive
    assert sends(AT + LEASE + timedelta(seconds=1)) == 1
    assert sends(AT + 3 * LEASE) == 0
    names = [each.message()["Message-ID"] for each in mail.outbox]
    assert len(names) == 2
    assert len(set(names)) == 1


def test_a_message_that_kills_its_worker_three_times_is_parked(
    foreman: User, settings: Settings
) -> None:
    wants(foreman, morning=True, when_well=True)
    promise(at=AT)
    settings.EMAIL_BACKEND = f"{__name__}.DiesAfterSending"
    at = AT
    for _ in range(3):
        with pytest.raises(Killed):
            sends(at)
        at += LEASE + timedelta(seconds=1)

    assert sends(at) == 0
    assert Message.objects.get().state == Message.State.FAILED


@pytest.fixture
def waiting(foreman: User) -> Message:
    wants(foreman, morning=True, when_well=True)
    promise(at=AT)
    return Message.objects.get()


def mail_part(at: datetime = AT) -> Part:
    return next(part for part in health(at) if part.name == "Mail")


def test_a_real_server_takes_text_and_html(waiting: Message, foreman: User) -> None:
    with mail_server() as server:
        assert sends(AT) == 1

    (one,) = server.taken
    assert one["To"] == foreman.email
    assert one["Message-ID"] == f"<{waiting.uid.hex}@localhost>"
    assert one["Auto-Submitted"] == "auto-generated"
    assert [part.get_content_type() for part in one.iter_parts()] == ["text/plain", "text/html"]
    assert mail_part() == Part("Mail", True, "Nothing is refused.")


def test_an_address_that_is_refused_is_told_and_tried_again_with_growing_waits(
    foreman: User, out: Machine
) -> None:
    listens(foreman)
    stop(out, at=AT)
    promise(at=AT)
    waiting, at, waits = Message.objects.get(), AT, []
    with mail_server() as server:
        server.answer_to_address = f"550 5.1.1 no {foreman.email} here"
        while waiting.state != Message.State.FAILED:
            assert sends(at) == 0
            waiting.refresh_from_db()
            waits.append(waiting.due_at - at)
            assert waiting.why == "550 5.1.1 no the address here."
            if waiting.state == "asked":
                assert mail_part(at).well
                assert "1 of the addresses are refused" in mail_part(at).words
            at = waiting.due_at
        assert sends(at + timedelta(days=1)) == 0

    assert server.tries == len(waits) >= 6
    assert waits[0] == timedelta(minutes=2)
    assert all(2 * a == b or b == timedelta(hours=4) for a, b in pairwise(waits))
    assert waiting.ended_at is not None
    assert GIVEN_UP_AFTER <= waiting.ended_at - AT <= GIVEN_UP_AFTER + timedelta(hours=4)
    # One person's wrong address is not a fault of the system.
    assert mail_part(at) == Part("Mail", True, "1 given up in the last 7 days.")


def test_a_morning_message_that_was_refused_until_the_next_day_gives_way_to_that_ones(
    waiting: Message,
) -> None:
    with sent_to(free_port()):
        assert sends(AT) == 0
    tomorrow = AT + timedelta(days=1)

    assert [each.subject[:11] for each in turn(tomorrow)] == ["26 Nov 2026"]
    waiting.refresh_from_db()
    assert (waiting.state, waiting.sent_at) == ("done", None)


def test_a_server_that_refuses_shows_on_health_and_ends_the_run(
    waiting: Message, manager: User
) -> None:
    wants(manager, morning=True, when_well=True)
    promise(at=AT)
    with mail_server() as server:
        server.answer_to_mail = "554 5.7.1 not from you"
        assert sends(AT) == 0
        assert server.tries == 1

        part = mail_part()
        assert not part.well
        assert "Mail refused since 25 Nov 2026 06:30: 554 5.7.1 not from you." in part.words
        assert "1 waiting" in part.words

        assert sends(AT + timedelta(minutes=1)) == 0  # the other one is tried at the next turn
        assert server.tries == 2

        server.answer_to_mail = "250 OK"
        # One goes at its time, and with it at once all that the server had refused.
        assert sends(AT + timedelta(minutes=2)) == 2
    assert mail_part().well


@pytest.mark.parametrize("how", ["slow", "nobody", "busy"])
def test_a_server_that_is_not_there_costs_one_try_and_loses_nothing(
    waiting: Message, how: str
) -> None:
    if how == "nobody":
        with sent_to(free_port()):
            assert sends(AT) == 0
    else:
        with mail_server() as server:
            server.sleep_s = 1.0 if how == "slow" else 0.0
            server.answer_to_address = "421 busy, come back" if how == "busy" else "250 OK"
            with pytest.MonkeyPatch.context() as patched:
                from django.conf import settings as now_

                patched.setattr(now_, "EMAIL_TIMEOUT", 0.3)
                assert sends(AT) == 0

    waiting.refresh_from_db()
    words = {
        "slow": "The mail server did not answer in time.",
        "nobody": "The mail server cannot be reached (ConnectionRefusedError).",
        "busy": "421 busy, come back.",
    }[how]
    assert (waiting.state, waiting.why, waiting.attempts) == ("asked", words, 0)
    assert not mail_part().well

    with mail_server() as server:
        assert sends(waiting.due_at) == 1


def test_mail_that_is_off_promises_nothing_and_says_so(foreman: User, settings: Settings) -> None:
    wants(foreman, morning=True, when_well=True)
    settings.MAIL_ON = False

    assert turn(AT) == []
    assert Message.objects.count() == 0
    assert mail_part() == Part(
        "Mail", True, "No mail is sent: MAIL_URL is not set. Nobody gets messages."
    )


def test_one_message_that_cannot_be_written_keeps_no_other_back(
    foreman: User, desk: User, out: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    wants(foreman, morning=True, when_well=True)
    wants(desk, morning=True, when_well=True)
    from reports.contents import message as contents

    usual = contents.morning

    def odd(user: User, *, at: datetime) -> Any:
        if user == foreman:
            raise ValueError("odd data")
        return usual(user, at=at)

    monkeypatch.setattr(contents, "morning", odd)

    assert [each.to for each in turn(AT)] == [[desk.email]]
    failed = Message.objects.get(person=foreman)
    assert (failed.state, failed.why) == (
        "failed", "It could not be written (ValueError). Tell your administrator.",
    )  # fmt: skip


# --- The choice ----------------------------------------------------------------------------


def chosen(user: User, mail: str, **more: Any) -> bool:
    given: dict[str, Any] = {
        "morning": True, "when_well": False, "at_once": False, "weekly_for": None, "at": AT,
    } | more  # fmt: skip
    return choose(user=user, mail=mail, **given)


def test_a_new_address_is_asked_whose_it_is_and_written_to_after_the_answer(
    foreman: User, out: Machine
) -> None:
    stop(out, at=AT - timedelta(days=2))
    assert chosen(foreman, "freya@plant.example")
    assert not chosen(foreman, "freya@plant.example")  # the same again sends no second link

    (one,) = turn(AT)
    assert one.subject == "Is this your address?"
    assert one.to == ["freya@plant.example"]
    assert "MX-1" not in text_of(one)

    prove(user=foreman, message=Message.objects.get(), at=AT + timedelta(hours=1))
    (later,) = turn(AT + timedelta(hours=1))
    assert "1 stopped" in later.subject


@pytest.mark.parametrize("case", ["late", "another address", "another person", "another message"])
def test_a_link_that_is_not_good_proves_nothing(foreman: User, desk: User, case: str) -> None:
    chosen(foreman, "freya@plant.example")
    message, user, at = Message.objects.get(), foreman, AT
    if case == "late":
        at += timedelta(hours=24)
    elif case == "another address":
        User.objects.filter(pk=foreman.pk).update(email="else@plant.example")
    elif case == "another person":
        User.objects.filter(pk=desk.pk).update(email="freya@plant.example")
        user = desk
    else:
        message.kind = Message.Kind.MORNING

    with pytest.raises(Refused, match="not good any more"):
        prove(user=user, message=message, at=at)
    assert not MessageChoice.objects.exclude(proved_key="").exists()


def test_nobody_can_have_links_sent_without_end(foreman: User) -> None:
    chosen(foreman, "a0@plant.example")
    for n in range(1, PROOFS_AN_HOUR):
        chosen(foreman, f"a{n}@plant.example")
    with pytest.raises(Refused, match="Wait an hour"):
        chosen(foreman, "one@plant.example")
    with pytest.raises(Refused, match="Wait an hour"):
        ask_proof(user=foreman, at=AT + timedelta(minutes=59))
    foreman.refresh_from_db()
    assert foreman.email == f"a{PROOFS_AN_HOUR - 1}@plant.example"  # all or nothing

    ask_proof(user=foreman, at=AT + timedelta(minutes=61))


def test_nobody_chooses_what_is_not_theirs(operator: User, other_depot: Depot) -> None:
    with pytest.raises(Refused):
        chosen(operator, "", at_once=True)
    with pytest.raises(Refused):
        chosen(operator, "", weekly_for=other_depot)
    assert not MessageChoice.objects.exists()


def test_the_key_of_an_address_is_not_the_address() -> None:
    key = mail_key("freya@plant.example")

    assert "freya" not in key
    assert key != mail_key("freyb@plant.example")


@pytest.fixture(autouse=True)
def _empty_outbox() -> None:
    mail.outbox = []
