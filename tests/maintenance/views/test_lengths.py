"""Millimetres or inches, as a person chose: on every page of a drive, and never in a record."""

import json
import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from maintenance.models import Job, WidthReading
from make import MONDAY, make_drive, make_machine, set_hours
from plant.actions.record import new_id
from plant.models import Depot, Drive, Lengths, Machine, Record, User

# A length that is named by a mark or a standard stands in both units, so it is not bare.
BARE_MM = re.compile(r"[\d.]+ mm\b(?! \()")
BARE_IN = re.compile(r"\d\.\d+ in\b(?!\))")
ADDRESSES = (
    "drive", "edit_drive", "add_width", "add_ride", "add_slot", "add_tension", "add_alignment",
    "add_pulley",
)  # fmt: skip


@pytest.fixture
def drive(machine: Machine) -> Drive:
    set_hours(machine, 1000, at=MONDAY)
    return make_drive(machine, entries={})


def read(page: Any) -> str:
    """What is read on a page: not the working, which stays as its sources have it, nor help."""
    text = page.content.decode()
    # Why? and the working quote published sums; what was typed stays as it was typed.
    for part in (
        r"<title>.*?</title>", r'<details class="why.*?</details>', r"<script.*?</script>",
        r'<td class="formula".*?</td>', r'<td class="source".*?</td>', r"typed [\d./ ]+ mm",
    ):  # fmt: skip
        text = re.sub(part, " ", text, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def send(client: Client, name: str, drive: Drive, **told: str) -> Any:
    told = {"entry": str(new_id())} | told
    answer = client.post(reverse(f"maintenance:{name}", args=[drive.pk]), told, follow=True)
    assert answer.status_code == 200, read(answer)
    return answer


def readings(client: Client, drive: Drive) -> list[Any]:
    """One of each sort, typed with its unit, and the page that answers."""
    return [
        send(client, "add_width", drive, width_1="0.425 in", tool="calliper"),
        send(client, "add_slot", drive, slot_out="1/2 in", tool="steel rule", tight="yes"),
        send(client, "add_ride", drive, driver="0.1 in", driver_side="below", tool="calliper"),
        send(client, "add_tension", drive, force="24", depth="2.1 mm", tool="spring gauge"),
        send(client, "add_alignment", drive, near="0 mm", far="0.05 in", tool="feeler blades"),
        send(client, "add_pulley", drive, pulley="driver", shines="no", dish="0.9 mm",
             tool="groove gauge"),
    ]  # fmt: skip


@pytest.mark.parametrize(("lengths", "bare"), [("in", BARE_MM), ("mm", BARE_IN)])
def test_no_page_of_a_drive_tells_a_length_in_the_other_unit(
    client: Client, fitter: User, drive: Drive, lengths: str, bare: re.Pattern[str]
) -> None:
    User.objects.filter(pk=fitter.pk).update(lengths=lengths)
    client.force_login(fitter)

    pages = readings(client, drive)
    pages += [client.get(reverse(f"maintenance:{name}", args=[drive.pk])) for name in ADDRESSES]
    pages += [client.get(reverse("maintenance:belts"))]
    find = reverse("maintenance:find_belt")
    pages += [
        client.get(f"{find}?way=mark&mark=A26&small=80+mm"),
        client.get(f"{find}?way=measure&outside=711+mm&outside_tool=tape&width=12.2+mm"
                   "&width_tool=calliper"),
        client.get(f"{find}?way=drive&section=A&driver=80+mm&driven=180+mm&centres=131.2+mm"
                   "&slot_in=1+mm&slot_out=14+mm"),
    ]  # fmt: skip

    for page in pages:
        assert page.status_code == 200, read(page)
        text = read(page)
        found = [text[max(0, m.start() - 50) : m.end() + 20] for m in bare.finditer(text)]
        assert not found, (page.request["PATH_INFO"], found)
    # The search would find them: the pages do tell lengths, in the unit that was chosen.
    assert re.search(rf"\d {lengths}\b", read(pages[0]))


def test_an_entry_in_inches_is_shown_again_and_kept_in_si(
    client: Client, fitter: User, drive: Drive
) -> None:
    User.objects.filter(pk=fitter.pk).update(lengths=Lengths.IN)
    client.force_login(fitter)

    page = send(
        client, "add_width", drive, **{"width_1": "0.485", "width_1-unit": "in"}, tool="calliper"
    )

    assert "0.485 in saved and sealed" in read(page)
    kept = WidthReading.objects.get()
    assert kept.width_m == pytest.approx(0.012319, rel=1e-12)
    (sealed,) = json.loads(kept.record.content)["data"]["readings"]
    assert sealed == {"typed": "0.485 in", "si": "0.012319", "unit": "m"}


def test_records_and_jobs_do_not_change_with_who_reads(
    client: Client, fitter: User, depot: Depot
) -> None:
    told: dict[str, Any] = {}
    for lengths in Lengths.values:
        User.objects.filter(pk=fitter.pk).update(lengths=lengths)
        client.force_login(fitter)
        machine = make_machine(depot)
        drive = make_drive(machine, entries={})
        readings(client, drive)
        told[lengths] = [
            {**json.loads(each.content)["data"], "drive": ""}
            for each in Record.objects.filter(machine=machine).order_by("seq")
        ] + list(Job.objects.filter(machine=machine).values_list("title", "symptom"))

    assert told["mm"] == told["in"]
    assert len(told["mm"]) >= 6


def test_who_chooses_is_told_so_and_another_unit_is_refused(client: Client, fitter: User) -> None:
    client.force_login(fitter)
    address = reverse("plant:own_lengths")

    told = client.post(address, {"lengths": "in"}, follow=True)
    assert "Lengths are now in inches on your pages." in read(told)
    client.post(address, {"lengths": "cm"})

    fitter.refresh_from_db()
    assert fitter.lengths == Lengths.IN
