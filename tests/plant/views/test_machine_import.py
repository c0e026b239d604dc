"""The pages on which a spreadsheet is brought, seen row by row, asked about, and said yes to."""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from make import MONDAY, make_kind, make_machine
from plant import tasks
from plant.actions import machine_import as actions
from plant.models import Depot, Machine, MachineImport, User


@pytest.fixture(autouse=True)
def _kinds(db: None) -> None:
    make_kind("generator", name="Generator", has_meter=True, usual_supplies=["petrol", "diesel"])


def as_csv(*rows: list[str], headings: str = "Number,Kind,Supply") -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows([headings.split(","), *rows])
    return text.getvalue().encode()


GOOD = ["A1", "Generator", "diesel"]
ODD = ["A2", "Genrator", "diesel"]


@pytest.fixture
def signed_in(client: Client, manager: User) -> Client:
    client.force_login(manager)
    return client


def upload(client: Client, depot: Depot, data: bytes, name: str = "machines.csv"):
    return client.post(
        reverse("plant:add_import"), {"depot": depot.pk, "file": SimpleUploadedFile(name, data)}
    )


def bring(depot: Depot, by: User, *rows: list[str], headings: str = "Number,Kind,Supply"):
    data = io.BytesIO(as_csv(*rows, headings=headings))
    run = actions.ask_import(file=data, file_name="machines.csv", depot=depot, by=by, at=MONDAY)
    actions.read_import(run=run, at=MONDAY)
    run.refresh_from_db()
    return run


def page(client: Client, run: MachineImport, query: str = ""):
    return client.get(reverse("plant:machine_import", args=[run.pk]) + query)


def test_from_the_file_to_the_register_without_a_script(
    signed_in: Client, depot: Depot, django_capture_on_commit_callbacks
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        answer = upload(signed_in, depot, as_csv(GOOD, ODD))
    run = MachineImport.objects.get()
    assert answer.status_code == 302
    assert answer.url == reverse("plant:machine_import", args=[run.pk])

    html = page(signed_in, run).content.decode()
    assert "<strong>1 of 2 rows</strong>" in html
    assert "Bring in 1 machine<" in html
    assert "Nearest: Generator" in html
    assert not Machine.objects.exists()

    columns = {"column:0": "number", "column:1": "kind", "column:2": "supply"}
    with django_capture_on_commit_callbacks(execute=True):
        answer = signed_in.post(
            reverse("plant:sort_import", args=[run.pk]), columns | {"kind:genrator": "generator"}
        )
    assert answer.status_code == 302
    assert "Bring in 2 machines<" in page(signed_in, run).content.decode()

    with django_capture_on_commit_callbacks(execute=True):
        signed_in.post(reverse("plant:save_import", args=[run.pk]))
    assert Machine.objects.count() == 2
    html = page(signed_in, run).content.decode()
    assert "<strong>2 machines</strong> were brought into the register." in html
    assert "Bring in" not in html


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("machines.csv", b"", "This file is empty."),
        ("machines.csv", b"x" * (6 * 2**20), "larger than 5 MiB"),
        ("photo.jpg", b"\xff\xd8\xff\xe0\0\x10JFIF\0", "not a spreadsheet"),
        ("machines.csv", b"Number,Kind\n", "headings but no rows"),
        ("machines.csv", b"a,b\n" + b"\0,1\n", "not a spreadsheet"),
        ("<b>x</b>.pdf", b"%PDF-1.4", "is a PDF"),
    ],
)
def test_a_file_that_cannot_be_taken_is_said_at_the_field(
    signed_in: Client, depot: Depot, name: str, data: bytes, words: str
) -> None:
    answer = upload(signed_in, depot, data, name)

    html = answer.content.decode()
    assert answer.status_code == 422
    assert words in html
    assert 'aria-invalid="true"' in html
    assert "<b>x</b>" not in html
    assert not MachineImport.objects.exists()


def test_a_file_of_twenty_mebibytes_is_turned_away_in_words(
    signed_in: Client, depot: Depot
) -> None:
    answer = upload(signed_in, depot, b"x" * (20 * 2**20), "machines.csv")

    assert answer.status_code == 413
    assert b"12 MiB" in answer.content
    assert not MachineImport.objects.exists()


def test_no_file_at_all_keeps_the_depot_and_asks_for_one(signed_in: Client, depot: Depot) -> None:
    answer = signed_in.post(reverse("plant:add_import"), {"depot": depot.pk})

    assert answer.status_code == 422
    assert "Choose a file." in answer.content.decode()
    assert f'value="{depot.pk}" selected' in answer.content.decode()


def test_into_a_depot_without_the_right_nothing_goes(
    signed_in: Client, depot: Depot, other_depot: Depot
) -> None:
    answer = upload(signed_in, other_depot, as_csv(GOOD))

    assert answer.status_code == 422
    assert "South" not in answer.content.decode()
    assert not MachineImport.objects.exists()


def test_too_many_files_in_an_hour_are_held_back(
    signed_in: Client, depot: Depot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(actions, "MOST_AN_HOUR", 0)

    answer = upload(signed_in, depot, as_csv(GOOD))

    assert answer.status_code == 429
    assert answer.headers["Retry-After"] == "3600"


def test_who_may_not_import_is_refused_and_a_stranger_finds_nothing(
    client: Client, depot: Depot, manager: User, foreman: User, outsider: User
) -> None:
    run = bring(depot, manager, GOOD)
    pages = ("machine_import", "import_progress", "import_left_over")
    acts = ("sort_import", "save_import", "drop_import")
    for user, status in ((foreman, 403), (outsider, 404)):
        client.force_login(user)
        for name in pages:
            assert client.get(reverse(f"plant:{name}", args=[run.pk])).status_code == status
        for name in acts:
            assert client.post(reverse(f"plant:{name}", args=[run.pk])).status_code == status
    client.force_login(foreman)
    assert client.get(reverse("plant:import_list")).status_code == 403
    assert client.get(reverse("plant:add_import")).status_code == 403
    client.force_login(outsider)
    assert "machines.csv" not in client.get(reverse("plant:import_list")).content.decode()


def test_hostile_words_in_a_file_are_shown_as_words(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    bad = "<script>alert(1)</script>"
    run = bring(depot, manager, [bad, bad, bad], headings=f"Number,Kind,{bad}")

    html = page(signed_in, run).content.decode()
    assert bad not in html
    assert "&lt;script&gt;" in html


def test_rows_are_shown_by_verdict_with_their_count(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    run = bring(depot, manager, GOOD, ODD, ["", "Generator", "diesel"])

    every = page(signed_in, run).content.decode()
    assert '<a href="?verdict=unreadable"><b>1</b> cannot be read</a>' in every
    some = page(signed_in, run, "?verdict=unreadable").content.decode()
    assert "no number" in some
    assert "A2</th>" not in some
    assert page(signed_in, run, "?verdict=none&page=x&sort=zz").status_code == 200


def test_what_was_typed_stands_beside_what_it_became(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    run = bring(depot, manager, [*GOOD, "5 hp"], headings="Number,Kind,Supply,Power")

    assert "5 hp = 3.73 kW" in page(signed_in, run).content.decode()


def test_two_columns_for_one_field_are_refused_and_the_choice_kept(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    run = bring(depot, manager, GOOD)

    answer = signed_in.post(
        reverse("plant:sort_import", args=[run.pk]),
        {"column:0": "kind", "column:1": "kind", "column:2": "supply"},
    )

    html = answer.content.decode()
    assert answer.status_code == 422
    assert "Kind is another column already" in html
    assert "One column has to hold the machine number" in html
    run.refresh_from_db()
    assert run.columns["Number"] == "number"


def test_nothing_ready_and_a_yes_is_refused_in_words(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    run = bring(depot, manager, ODD)

    answer = signed_in.post(reverse("plant:save_import", args=[run.pk]))

    assert answer.status_code == 422
    assert "No row is ready" in answer.content.decode()


def test_dropping_says_that_nothing_was_saved(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    run = bring(depot, manager, GOOD)

    answer = signed_in.post(reverse("plant:drop_import", args=[run.pk]), follow=True)

    assert "Nothing of it was saved." in answer.content.decode()
    assert "Dropped, nothing was saved" in page(signed_in, run).content.decode()


def test_progress_is_polled_and_ends_with_a_fresh_page(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    run = bring(depot, manager, GOOD, ["A9", "Generator", "petrol"])
    actions.say_yes(run=run, by=manager, at=MONDAY)
    address = reverse("plant:import_progress", args=[run.pk])
    htmx = {"HX-Request": "true"}

    under_way = signed_in.get(address, headers=htmx)
    assert "0 of 2 machines saved" in under_way.content.decode()
    assert "HX-Refresh" not in under_way.headers
    assert "Look again" in page(signed_in, run).content.decode()

    actions.save_import(run=run, at=MONDAY)
    assert signed_in.get(address, headers=htmx).headers["HX-Refresh"] == "true"
    assert signed_in.get(address).status_code == 302


def test_the_left_over_rows_come_as_a_file_that_can_be_brought_in_again(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    rows = (GOOD, [*ODD, "5"], ["=A3", "Generator", "diesel", ""])
    run = bring(depot, manager, *rows, headings="Tally no,Kind,Supply,Power (hp)")
    columns = run.columns | {"Tally no": "number"}
    actions.sort_again(run=run, columns=columns, answers={}, by=manager, at=MONDAY)
    actions.read_import(run=run, at=MONDAY)

    answer = signed_in.get(reverse("plant:import_left_over", args=[run.pk]))

    data = b"".join(answer.streaming_content)
    lines = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    assert lines[0] == [
        "Row", "Sorted as", "Why", "Machine number", "Kind", "Supply", "Power (hp)",
    ]  # fmt: skip
    assert [line[3] for line in lines[1:]] == ["A2", "'=A3"]
    assert lines[1][1] == "Needs an answer"

    mended = data.replace(b"Genrator,", b"Generator,").replace(b"'=A3", b"A3")
    again = actions.ask_import(
        file=io.BytesIO(mended), file_name="left.csv", depot=depot, by=manager, at=MONDAY
    )
    actions.read_import(run=again, at=MONDAY)
    assert set(again.rows.values_list("verdict", flat=True)) == {"ready"}
    assert again.rows.get(number="A2").values["shown"]["power"] == "3.73 kW"


def test_a_file_that_stopped_shows_why(signed_in: Client, depot: Depot, manager: User) -> None:
    run = bring(depot, manager, GOOD)
    MachineImport.objects.update(step="read", state="failed", why="Row 7: too long. Shorten it.")

    html = page(signed_in, run).content.decode()
    assert "Row 7: too long. Shorten it." in html
    assert "Read it again" in html
    answer = signed_in.post(reverse("plant:sort_import", args=[run.pk]), {"again": "1"})
    assert answer.status_code == 302
    run.refresh_from_db()
    assert (run.state, run.columns["Number"]) == ("asked", "number")


def test_the_same_file_again_is_pointed_out(signed_in: Client, depot: Depot, manager: User) -> None:
    first = bring(depot, manager, GOOD)
    actions.say_yes(run=first, by=manager, at=MONDAY)
    actions.save_import(run=first, at=MONDAY)

    html = page(signed_in, bring(depot, manager, GOOD)).content.decode()
    assert "This very file was saved before." in html
    assert "0 of 1 row</strong> are ready" in html


def test_pages_ask_the_same_queries_however_many_rows(
    signed_in: Client, depot: Depot, manager: User
) -> None:
    counts = []
    for size in (3, 40):
        rows = [[f"S{size}-{n}", "Generator", "diesel"] for n in range(size)]
        make_machine(depot, rows[0][0], kind=make_kind("generator"), supply="diesel")
        run = bring(depot, manager, *rows, ODD)
        with CaptureQueriesContext(connection) as queries:
            page(signed_in, run)
        counts.append(len(queries))

    assert counts[0] == counts[1]
    with CaptureQueriesContext(connection) as queries:
        signed_in.get(reverse("plant:import_list"))
    assert len(queries) <= 10


def test_the_timer_finishes_what_a_lost_message_left(
    depot: Depot, manager: User, django_capture_on_commit_callbacks
) -> None:
    data = io.BytesIO(as_csv(GOOD))
    run = actions.ask_import(file=data, file_name="a.csv", depot=depot, by=manager, at=MONDAY)

    tasks.sweep_imports()
    run.refresh_from_db()
    assert run.step == "ask"
    actions.say_yes(run=run, by=manager, at=MONDAY)
    tasks.sweep_imports()
    tasks.sweep_imports()

    run.refresh_from_db()
    assert run.step == "saved"
    assert Machine.objects.count() == 1


def test_a_broker_that_is_down_does_not_stop_the_person(
    signed_in: Client, depot: Depot, monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks, caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    def down(*args: object, **more: object) -> None:
        raise OSError("no broker")

    monkeypatch.setattr(tasks.read_import, "apply_async", down)
    with django_capture_on_commit_callbacks(execute=True):
        answer = upload(signed_in, depot, as_csv(GOOD))

    assert answer.status_code == 302
    assert MachineImport.objects.get().state == "asked"
