"""A person erased is named nowhere, every record and seal stands, and a restore erases again."""

import json
from collections.abc import Iterable
from typing import Any

import pytest
from django.apps import apps
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import transaction
from django.db.models import CharField, JSONField, TextField

from addresses import ADDRESSES, NOW, World, body, signed_in
from maintenance.actions.fault import report_fault
from maintenance.actions.practice import practice_depot, practice_machine
from maintenance.models import Competence, Job, JobStep, KeepHold, StepAnswer, Stop
from make import make_machine, make_user
from plant.actions.erase import remove_left_files
from plant.actions.record import seal
from plant.actions.refusal import Refused
from plant.models import Depot, MachineKind, Membership, Record, RecordText, Role, User
from plant.rights import NotAllowed, practise_in
from reports.actions import erasure as action
from reports.actions.erased_paper import WORDS_ERASED, take_released
from reports.actions.sheet import Wanted, ask_paper, ask_sheets, print_batch
from reports.actions.verify import verify_depot
from reports.contents.erasure import hindrances
from reports.models import Batch, Erasure, Sheet, TimedPrint
from reports.models.erasure import erased_name

ALL = {"own_words": True, "others_words": True, "files": True}
NOTHING = dict.fromkeys(ALL, False)


@pytest.fixture(autouse=True)
def media() -> None:
    """The folder of the world, in which its photos lie."""


@pytest.fixture(autouse=True)
def _data(settings: Any, tmp_path: Any) -> None:
    settings.DATA_DIR = tmp_path


def free_words(ours: World, person: User) -> None:
    """Nothing is held back, and nothing that still stands is told in the person's words."""
    KeepHold.objects.filter(machine__depot=ours.depot).delete()
    Stop.objects.standing().filter(record__by=person).update(released_by=ours.record)
    Stop.objects.standing().filter(decided_by__by=person).update(released_by=ours.record)
    Job.objects.open().filter(opened_by_record__by=person).update(opened_by_record=None)


@pytest.fixture
def leaver(ours: World) -> User:
    """The fitter, whose jobs were given up, and who asked for a sheet with his name on it."""
    person = ours.people[Role.FITTER]
    User.objects.filter(pk=person.pk).update(email="fitter@ours.example")
    Job.objects.open().update(
        given_to=None, has_it=None, isolated_by=None, isolated_at=None, countersign_wanted=False
    )
    free_words(ours, person)
    batch = ask_sheets(depot=ours.depot, machines=[ours.machine], by=person, at=NOW)
    print_batch(batch.pk, clock=lambda: NOW, until=NOW.replace(hour=20))
    return User.objects.get(pk=person.pk)


def asked(ours: World, person: User) -> Erasure:
    return action.ask_erasure(
        person=person, depot=ours.depot, reason="Asked for it by letter", at=NOW,
        by=ours.people[Role.MANAGER],
    )  # fmt: skip


def erased(ours: World, person: User, **ticked: bool) -> Erasure:
    return action.carry_out(
        erasure=asked(ours, person), at=NOW, by=ours.people[Role.ADMINISTRATOR], **ticked
    )


def found(*words: str) -> set[str]:
    """Every text column of every table that holds one of the words, read row by row."""
    hits = set()
    for model in apps.get_models():
        names = [
            field.name
            for field in model._meta.concrete_fields
            if isinstance(field, CharField | TextField | JSONField)
        ]
        for row in model._default_manager.values_list(*names).iterator() if names else ():
            for name, value in zip(names, row, strict=True):
                text = json.dumps(value, ensure_ascii=False).casefold()
                if any(word.casefold() in text for word in words):
                    hits.add(f"{model._meta.label}.{name}")
    return hits


def well(depots: Iterable[Depot]) -> bool:
    """Every chain, and the rows and sheets that are held against it, are as they were sealed."""
    reports = [verify_depot(depot, at=NOW, signed=()) for depot in depots]
    return [each.what for each in reports] == [""] * len(reports)


def shown_to(user: User, ours: World, name: str) -> list[str]:
    """The addresses whose answer holds the name."""
    client = signed_in(user)
    pages = [each for each, page in ADDRESSES.items() if page.get]
    answers = {each: body(client.get(ours.address(each))) for each in pages}
    return [each for each, answer in answers.items() if name.encode() in answer]


def test_erased_the_name_is_in_no_table_and_on_no_page(ours: World, leaver: User) -> None:
    name, words = leaver.name, (leaver.name, leaver.sign_in, leaver.email)
    records = Record.objects.count()
    manager = ours.people[Role.MANAGER]
    # The test would find it: it is in these before.
    assert {
        "plant.User.name", "plant.User.email", "plant.RecordText.text", "reports.Sheet.content",
    } <= found(*words)  # fmt: skip
    assert "maintenance:people" in shown_to(manager, ours, name)
    Job.objects.filter(pk=ours.job.pk).update(symptom=f"Ask {name.upper()}, he knows")

    done = erased(ours, leaver, **ALL)

    assert found(*words) == set()
    assert shown_to(manager, ours, name) == []
    assert shown_to(ours.people[Role.ADMINISTRATOR], ours, name) == []
    label = erased_name(leaver.pk)
    assert Job.objects.get(pk=ours.job.pk).symptom == f"Ask {label}, he knows"
    assert User.objects.get(pk=leaver.pk).name == label
    # Every record stands, one more says what was done, and every chain verifies.
    assert Record.objects.count() == records + 1
    assert well(Depot.objects.all())
    assert done.record is not None
    told = json.loads(done.record.content)["data"]
    assert (told["move"], told["person"], told["own_words"]) == ("person erased", label, True)
    assert done.record.by == ours.people[Role.ADMINISTRATOR]
    sheet = Sheet.objects.get(batch__asked_by=leaver)
    assert (sheet.file.name, sheet.why[:11]) == ("", "File erased")


def test_with_nothing_ticked_words_stay_and_a_kept_file_prints_as_it_was(
    ours: World, leaver: User
) -> None:
    sheet = Sheet.objects.get(batch__asked_by=leaver)
    with sheet.file.open("rb") as file:
        printed = file.read()
    words = ("fitter.quolm", "fitter@ours.example", leaver.name)

    erased(ours, leaver, **NOTHING)
    remove_left_files()

    assert found(*words) == set()
    assert well([ours.depot])
    texts = RecordText.objects.filter(record__by=leaver)
    assert set(texts.filter(name="by_name").values_list("text", flat=True)) == {""}
    assert texts.filter(name="note", text__startswith="Measured").exists()
    assert set(Competence.objects.filter(user=leaver).values_list("told", flat=True)) == {
        "words erased"
    }
    client = signed_in(ours.people[Role.MANAGER])
    assert body(client.get(f"/sheets/{sheet.pk}/file")) == printed
    page = client.get(f"/records/{ours.width_record.pk}").content.decode()
    assert erased_name(leaver.pk) in page
    assert "Words of this record were erased on 25 Nov 2026 by Administrator quolm" in page


def test_files_go_only_where_it_is_ticked(ours: World, leaver: User) -> None:
    sheet, batch = Sheet.objects.get(batch__asked_by=leaver), Batch.objects.get(asked_by=leaver)
    names = [sheet.file.name, batch.file.name]
    assert all(default_storage.exists(name) for name in names)

    erased(ours, leaver, **NOTHING | {"files": True})

    assert all(default_storage.exists(name) for name in names)  # until it is certain
    remove_left_files()
    assert not any(default_storage.exists(name) for name in names)
    page = signed_in(ours.people[Role.MANAGER]).get(f"/paper/{batch.pk}")
    assert "File erased: it named a person" in page.content.decode()


def test_whoever_is_signed_in_is_out_and_every_link_ends(ours: World) -> None:
    manager = ours.people[Role.MANAGER]
    Membership.objects.create(user=make_user("Next One"), depot=ours.depot, role=Role.MANAGER)
    free_words(ours, manager)
    client = signed_in(manager)
    assert client.get("/").status_code == 200
    feed, note = ours.address("reports:feed"), ours.address("reports:note")
    nobody = signed_in(None)
    assert nobody.get(feed).status_code == nobody.get(note).status_code == 200
    other = action.ask_erasure(
        person=manager, depot=ours.depot, reason="Asked for it by letter", at=NOW,
        by=User.objects.get(name="Next One"),
    )  # fmt: skip

    action.carry_out(erasure=other, at=NOW, by=ours.people[Role.ADMINISTRATOR], **ALL)

    assert client.get("/").status_code == 302
    assert nobody.get(feed).status_code == nobody.get(note).status_code == 404
    assert not Membership.objects.filter(user=manager).exists()
    assert not User.objects.get(pk=manager.pk).has_usable_password()
    assert found(manager.name) == set()


def test_it_takes_a_manager_and_an_administrator(ours: World, leaver: User) -> None:
    manager, administrator = ours.people[Role.MANAGER], ours.people[Role.ADMINISTRATOR]
    given = {"depot": ours.depot, "reason": "Asked for it by letter", "at": NOW}
    with pytest.raises(NotAllowed):
        action.ask_erasure(person=leaver, by=administrator, **given)
    with pytest.raises(Refused, match="Nobody erases themselves"):
        action.ask_erasure(person=manager, by=manager, **given)
    with pytest.raises(Refused, match="at least 10"):
        action.ask_erasure(person=leaver, by=manager, **given | {"reason": "gone"})
    request = asked(ours, leaver)
    with pytest.raises(Refused, match="asked for already"):
        asked(ours, leaver)
    with pytest.raises(NotAllowed):
        action.carry_out(erasure=request, at=NOW, by=manager, **NOTHING)
    # Who holds both roles is still one person.
    Membership.objects.create(user=manager, depot=ours.depot, role=Role.ADMINISTRATOR)
    both = User.objects.get(pk=manager.pk)
    with pytest.raises(Refused, match="Ask another administrator"):
        action.carry_out(erasure=request, at=NOW, by=both, **NOTHING)
    Depot.objects.filter(pk=ours.depot.pk).update(one_person=True)
    with pytest.raises(Refused, match="Write why nobody else") as refused:
        action.carry_out(erasure=request, at=NOW, by=both, **NOTHING)
    assert refused.value.field == "alone_because"

    done = action.carry_out(
        erasure=request, at=NOW, by=both, alone_because="Nobody else works here", **NOTHING
    )

    assert done.record is not None
    assert done.record.texts.get(name="alone_because").text == "Nobody else works here"
    with pytest.raises(Refused, match="taken back or carried out"):
        action.carry_out(erasure=request, at=NOW, by=administrator, **NOTHING)
    with pytest.raises(Refused, match="cannot be undone"):
        action.drop_erasure(erasure=request, at=NOW, by=manager)


def test_taken_back_it_is_not_carried_out(ours: World, leaver: User) -> None:
    request = asked(ours, leaver)
    action.drop_erasure(erasure=request, at=NOW, by=ours.people[Role.MANAGER])
    action.drop_erasure(erasure=request, at=NOW, by=ours.people[Role.ADMINISTRATOR])

    with pytest.raises(Refused, match="taken back"):
        action.carry_out(erasure=request, at=NOW, by=ours.people[Role.ADMINISTRATOR], **NOTHING)
    assert User.objects.get(pk=leaver.pk).name == leaver.name


def test_who_has_work_on_hand_or_is_the_last_of_a_depot_stays(ours: World) -> None:
    fitter, manager = ours.people[Role.FITTER], ours.people[Role.MANAGER]
    with pytest.raises(Refused, match=f"{ours.belt_job.number} on .* is theirs"):
        asked(ours, fitter)
    both = make_user("Bo Both", (ours.depot, Role.MANAGER))
    Membership.objects.filter(user=manager, depot=ours.depot, role=Role.MANAGER).delete()
    Membership.objects.create(user=manager, depot=ours.depot, role=Role.OPERATOR)
    by = make_user("An Other", (ours.depot, Role.OPERATOR))
    Membership.objects.create(user=by, depot=ours.depot, role=Role.MANAGER)
    Membership.objects.filter(user=both).update(role=Role.ADMINISTRATOR)
    Membership.objects.filter(user=ours.people[Role.ADMINISTRATOR]).delete()
    with pytest.raises(Refused, match="No other administrator is left at Yard quolm"):
        action.ask_erasure(
            person=both, depot=ours.depot, reason="Asked for it by letter", at=NOW, by=by
        )


def test_of_two_with_one_name_the_other_keeps_it(ours: World, leaver: User) -> None:
    twin = make_user("The Other", (ours.depot, Role.FITTER))
    User.objects.filter(pk=twin.pk).update(name=leaver.name)

    erased(ours, leaver, **NOTHING)

    assert User.objects.get(pk=twin.pk).name == leaver.name
    assert found(leaver.name) == {"plant.User.name"}


def test_after_a_restore_the_list_erases_again(ours: World, leaver: User) -> None:
    """The backup is the database as it was before: what was done in between is rolled back."""
    words = (leaver.name, leaver.sign_in, leaver.email)
    with transaction.atomic():
        erased(ours, leaver, **ALL)
        assert action.write_list() == 1
        assert action.write_list() == 0
        transaction.set_rollback(True)
    written = next(action.folder().iterdir()).read_text(encoding="utf-8")
    assert not any(word in written for word in words)
    assert found(*words)

    call_command("erase_again")
    call_command("erase_again")

    assert found(*words) == set()
    again = Record.objects.get(kind="erased")
    assert (again.by, again.role) == (None, "rule")
    assert well([ours.depot])


def test_ones_own_file_holds_what_one_wrote_and_nobody_else(ours: World, leaver: User) -> None:
    answer = signed_in(leaver).get("/your-data.json")

    assert answer.headers["Content-Type"] == "application/json"
    told = json.loads(body(answer))
    assert told["account"]["name"] == leaver.name
    assert told["roles"] == [{"depot": "Yard quolm", "role": "fitter", "learner": False}]
    mine = Record.objects.filter(by=leaver)
    assert len(told["records"]) == mine.count() > 5
    assert {each["number"] for each in told["records"]} == {
        each.number for each in mine.select_related("depot")
    }
    assert any(each["words"].get("note") == "Measured quolm" for each in told["records"])
    others = [person.name for role, person in ours.people.items() if role != Role.FITTER]
    assert not any(name in json.dumps(told) for name in others)


def test_a_managers_own_file_does_not_name_whom_he_judged(ours: World) -> None:
    manager, other = ours.people[Role.MANAGER], ours.people[Role.OPERATOR]
    with transaction.atomic():
        seal(
            kind=Record.Kind.COMPETENCE, depot=ours.depot, by=manager, role="manager",
            data={"account": str(other.pk)}, happened_at=NOW, received_at=NOW,
            texts={"person": other.name, "told": "Card 4711"},
        )  # fmt: skip
        seal(
            kind=Record.Kind.PLACE, depot=ours.depot, machine=ours.machine, by=manager,
            role="manager", data={}, happened_at=NOW, received_at=NOW,
            texts={"hirer": "A. Hirer", "site_phone": "0123 4711", "condition": "Clean"},
        )  # fmt: skip

    told = body(signed_in(manager).get("/your-data.json")).decode()

    assert "Clean" in told
    assert not any(word in told for word in (other.name, "4711", "A. Hirer"))


def test_where_the_system_wrote_the_name_it_goes_without_a_tick(ours: World, leaver: User) -> None:
    manager, name = ours.people[Role.MANAGER], leaver.name
    given = {"depot": ours.depot, "asked_by": manager, "asked_at": NOW}
    batch = Batch.objects.create(kind="job list", title=f"Job list of {name}", **given)
    Sheet.objects.create(
        batch=batch, position=1, person=leaver, why=f"Stopped by {name}. Nothing is printed.",
        **given,
    )  # fmt: skip
    TimedPrint.objects.filter(pk=ours.timed.pk).update(why=f"{name} has no role here any more.")

    erased(ours, leaver, **NOTHING)

    assert found(name) == set()


def test_another_with_a_longer_or_the_same_name_keeps_words_and_paper(
    ours: World, leaver: User
) -> None:
    """Jan Smit goes, Jan Smith does not."""
    given = {"depot": ours.depot, "asked_by": ours.people[Role.MANAGER], "asked_at": NOW}
    batch = Batch.objects.create(title="Sheets", **given)
    sheet = Sheet.objects.create(
        batch=batch, position=1, content={"by": [f"{leaver.name}h"]}, **given
    )
    erased(ours, leaver, **ALL)
    sheet.refresh_from_db()
    assert sheet.content == {"by": [f"{leaver.name}h"]}


def test_of_namesakes_others_words_are_refused_and_only_certain_paper_goes(
    ours: World, leaver: User
) -> None:
    twin = make_user("The Other", (ours.depot, Role.FITTER))
    User.objects.filter(pk=twin.pk).update(name=leaver.name)
    batch = Batch.objects.get(asked_by=leaver)
    twins = Sheet.objects.create(
        batch=batch, position=9, content={"by": leaver.name}, depot=ours.depot, asked_by=twin,
        asked_at=NOW, person=twin,
    )  # fmt: skip
    request = asked(ours, leaver)
    administrator = ours.people[Role.ADMINISTRATOR]
    with pytest.raises(Refused, match="another account has the same name") as refused:
        action.carry_out(erasure=request, at=NOW, by=administrator, **ALL)
    assert refused.value.field == "others_words"

    action.carry_out(erasure=request, at=NOW, by=administrator, **NOTHING)

    twins.refresh_from_db()
    assert twins.content == {"by": leaver.name}
    assert Sheet.objects.get(batch=batch, position=1).content is None


def test_words_reach_no_further_than_the_depots_of_who_erases(
    ours: World, other_depot: Depot, leaver: User
) -> None:
    told = f"Ask {leaver.name}"
    machine = make_machine(other_depot)
    job = Job.objects.create(machine=machine, kind="fault", title="Leans", opened_at=NOW)
    Job.objects.filter(pk__in=(ours.job.pk, job.pk)).update(symptom=told)
    MachineKind.objects.filter(pk=machine.kind_id).update(name=f"{leaver.name} mixer")
    with transaction.atomic():
        theirs_text = seal(
            kind=Record.Kind.FAULT, depot=other_depot, machine=machine, by=None,
            role="label", by_name="X", data={}, happened_at=NOW, received_at=NOW,
            texts={"told": told},
        ).texts.get(name="told")  # fmt: skip

    erased(ours, leaver, **ALL)

    assert Job.objects.get(pk=ours.job.pk).symptom != told
    assert Job.objects.get(pk=job.pk).symptom == told
    assert RecordText.objects.get(pk=theirs_text.pk).text == told
    assert MachineKind.objects.get(pk=machine.kind_id).name == f"{leaver.name} mixer"


def test_a_hold_and_a_standing_stop_keep_the_words(ours: World, leaver: User) -> None:
    request, administrator = asked(ours, leaver), ours.people[Role.ADMINISTRATOR]
    with transaction.atomic():
        record = seal(
            kind=Record.Kind.STOP, depot=ours.depot, machine=ours.machine, by=leaver,
            role="fitter", data={}, happened_at=NOW, received_at=NOW, texts={"told": "Cracked"},
        )  # fmt: skip
    stop = Stop.objects.create(
        machine=ours.machine, kind="stop", words="Cracked", since=NOW, record=record
    )
    with pytest.raises(Refused, match="told in their words") as refused:
        action.carry_out(erasure=request, at=NOW, by=administrator, **NOTHING | {"own_words": True})
    assert refused.value.field == "own_words"
    Stop.objects.filter(pk=stop.pk).update(released_by=record)
    KeepHold.objects.create(machine=ours.machine, record=record)
    with pytest.raises(Refused, match=r"records of .* are held back"):
        action.carry_out(erasure=request, at=NOW, by=administrator, **NOTHING | {"own_words": True})
    action.carry_out(erasure=request, at=NOW, by=administrator, **NOTHING)


def test_a_step_left_out_still_says_why_after_own_words_went(ours: World, leaver: User) -> None:
    step = JobStep.objects.create(job=ours.job, position=77, text="Look at the guard")
    StepAnswer.objects.create(
        step=step, is_done=False, because="Key lost", tool="Rule 3", by=leaver, at=NOW
    )

    erased(ours, leaver, **ALL)

    answer = StepAnswer.objects.get(step=step)
    assert (answer.because, answer.tool) == ("words erased", "")


def test_after_a_restore_the_number_of_another_person_is_left_alone(
    ours: World, leaver: User
) -> None:
    with transaction.atomic():
        erased(ours, leaver, **NOTHING)
        action.write_list()
        transaction.set_rollback(True)
    User.objects.filter(pk=leaver.pk).update(sign_in="somebody.else")

    call_command("erase_again")

    assert User.objects.get(pk=leaver.pk).name == leaver.name
    User.objects.filter(pk=leaver.pk).update(sign_in=leaver.sign_in)
    call_command("erase_again")
    assert User.objects.get(pk=leaver.pk).name == erased_name(leaver.pk)


def test_work_in_another_depot_is_not_told_by_name(ours: World, other_depot: Depot) -> None:
    fitter, manager = ours.people[Role.FITTER], ours.people[Role.MANAGER]
    job = Job.objects.create(
        machine=make_machine(other_depot, "ELSE-7"), kind="fault", title="Leans", opened_at=NOW,
        given_to=fitter,
    )  # fmt: skip

    told = " ".join(hindrances(fitter, by=manager))

    assert ours.belt_job.number in told
    assert "work on hand in a depot that is not yours" in told
    assert job.number not in told
    assert "ELSE-7" not in told


def test_an_entry_saved_for_something_else_erases_nobody(ours: World, leaver: User) -> None:
    with pytest.raises(Refused, match="Another entry was saved"):
        action.carry_out(
            erasure=asked(ours, leaver), at=NOW, by=ours.people[Role.ADMINISTRATOR],
            record_id=ours.record.pk, **NOTHING,
        )  # fmt: skip
    assert User.objects.get(pk=leaver.pk).name == leaver.name


def test_a_batch_whose_kept_files_went_ends_and_is_not_tried_for_ever(
    ours: World, leaver: User
) -> None:
    batch = Batch.objects.get(asked_by=leaver)
    Sheet.objects.filter(batch=batch).update(file="")
    Batch.objects.filter(pk=batch.pk).update(
        state=Batch.State.ASKED, ended_at=None, lease_until=None, file=""
    )

    print_batch(batch.pk, clock=lambda: NOW, until=NOW.replace(hour=20))

    assert Batch.objects.get(pk=batch.pk).state == Batch.State.FAILED


def test_what_was_written_in_practice_goes_too_and_hinders_nothing(
    ours: World, leaver: User
) -> None:
    depot = practice_depot(person=leaver, at=NOW)
    practising = User.objects.get(pk=leaver.pk)
    practise_in(practising, depot)
    job = report_fault(
        machine=practice_machine(depot), part="something_else", told="Zworble in the drum",
        stop_now=True, at=NOW, by=practising,
    )  # fmt: skip
    Job.objects.filter(pk=job.pk).update(given_to=leaver, has_it=leaver)
    assert found("Zworble")

    erased(ours, leaver, **ALL)

    assert not found("Zworble", leaver.name)


def test_paper_that_shows_own_words_goes_with_them_whatever_is_ticked_for_files(
    ours: World, leaver: User
) -> None:
    """The sheet that only names the person keeps its file; the bundle shows words, and goes."""
    days = (NOW.date().replace(month=1, day=1), NOW.date())
    bundle = ask_paper(
        depot=ours.depot, wanted=[Wanted(ours.machine)], by=ours.people[Role.MANAGER], at=NOW,
        kind=Batch.Kind.BUNDLE, days=days,
    )  # fmt: skip
    print_batch(bundle.pk, clock=lambda: NOW, until=NOW.replace(hour=20))
    shown = Sheet.objects.get(batch=bundle)
    own = RecordText.objects.filter(
        record__by=leaver, record__machine=ours.machine, name="note", text__startswith="Measured"
    )
    assert own.exists()
    assert own[0].text in json.dumps(shown.content, ensure_ascii=False)

    erased(ours, leaver, **NOTHING | {"own_words": True})
    remove_left_files()

    gone = Sheet.objects.get(pk=shown.pk)
    assert (gone.content, gone.file.name, gone.why) == (None, "", WORDS_ERASED)
    assert not default_storage.exists(shown.file.name)
    named = Sheet.objects.get(batch__asked_by=leaver)
    assert named.content is None
    assert default_storage.exists(named.file.name)
    assert well([ours.depot])


def test_paper_of_a_machine_that_is_held_goes_once_it_is_released(
    ours: World, leaver: User
) -> None:
    sheet = Sheet.objects.get(batch__asked_by=leaver)
    KeepHold.objects.create(machine=ours.machine, record=ours.record)

    erased(ours, leaver, **NOTHING | {"files": True})
    assert take_released(at=NOW) == 0
    remove_left_files()

    kept = Sheet.objects.get(pk=sheet.pk)
    assert (kept.content, kept.file.name) == (sheet.content, sheet.file.name)
    assert default_storage.exists(sheet.file.name)
    assert well([ours.depot])

    KeepHold.objects.filter(machine=ours.machine).update(released=ours.record)
    assert take_released(at=NOW) > 0
    assert take_released(at=NOW) == 0
    remove_left_files()
    gone = Sheet.objects.get(pk=sheet.pk)
    assert (gone.content, gone.file.name) == (None, "")
    assert not default_storage.exists(sheet.file.name)
    assert well([ours.depot])
