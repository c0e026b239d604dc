"""Parts 7 to 10 of a bundle: instruments, the tests made with them, belt readings."""

import json
from uuid import UUID

from django.utils.translation import gettext, ngettext

from maintenance.contents.belt_readings import readings_of
from maintenance.contents.record import summary
from maintenance.contents.record_answers import measured
from maintenance.models import Instrument
from maintenance.rules.words import day_text, iso_text
from plant.models import Drive, Record, User
from reports.contents.bundle_said import Said
from reports.pdf.bundle import Grid, Section


def instruments(said: Said, *, by: User) -> Section:
    period = said.period
    tests = said.machine.electrical_tests.filter(at__gte=period.begin, at__lt=period.end)
    used = Instrument.objects.filter(pk__in=tests.values("made_with")).order_by("name", "pk")
    seen = used.visible_to(by)
    unseen = used.count() - seen.count()
    rows: list[tuple[str, ...]] = []
    for each in seen.prefetch_related("calibrations__record__depot", "calibrations__struck_by"):
        told = sorted(each.calibrations.all(), key=lambda one: (one.done_on, one.pk))
        if not told:
            rows.append((str(each), "none", "", "", "", ""))
        for one in told:
            until = day_text(one.valid_until) if one.valid_until else gettext("not brought right")
            struck = gettext(", struck out since") if one.struck_by_id else ""
            found = "good" if one.found_good else "wrong"
            rows.append(
                (str(each), day_text(one.done_on), f"{found}{struck}", until, one.certificate,
                 one.record.number)
            )  # fmt: skip
    return Section(
        key="instruments",
        title=gettext("7. Test instruments and their calibrations"),
        words=(
            ngettext(
                "{unseen} instrument of a depot which who asked for this may not see: not "
                "listed. What was in force on the day of each test stands in part 8.",
                "{unseen} instruments of a depot which who asked for this may not see: not "
                "listed. What was in force on the day of each test stands in part 8.",
                unseen,
            ).format(unseen=unseen),
        )
        if unseen
        else (),
        none=gettext("None to list.")
        if unseen
        else gettext("No instrument of the register was used in this period."),
        grid=Grid(
            (
                gettext("Instrument"),
                gettext("Calibrated"),
                gettext("Found"),
                gettext("Holds until"),
                gettext("Certificate"),
                gettext("Record"),
            ),
            (28, 15, 15, 15, 14, 13),
            tuple(rows),
        ),
    )


def tested_with(said: Said, records: list[Record]) -> Section:
    rows = []
    for record in records:
        if record.kind != Record.Kind.TEST:
            continue
        data = json.loads(record.content)["data"]
        until = data.get("calibrated_until")
        rows.append(
            (
                said.when(record.happened_at),
                str(data.get("instrument") or gettext("none named")),
                iso_text(until) if until else gettext("no calibration in force"),
                summary(record),
                record.number,
            )
        )
    return Section(
        key="tested with",
        title=gettext("8. The instrument of each test, as on the day"),
        grid=Grid(
            (
                gettext("When"),
                gettext("Instrument"),
                gettext("In calibration until"),
                gettext("Test"),
                gettext("Record"),
            ),
            (16, 28, 17, 27, 12),
            tuple(rows),
        ),
    )


def electrical(said: Said, records: list[Record]) -> Section:
    rows = [
        (
            said.when(record.happened_at),
            each.what,
            each.reading,
            each.limit,
            each.result,
            record.number,
        )
        for record in records
        for each in measured(record)
    ]
    return Section(
        key="electrical",
        title=gettext("9. Electrical readings"),
        words=(gettext("The source of each limit stands with its record in part 4."),),
        grid=Grid(
            (
                gettext("When"),
                gettext("Reading"),
                gettext("Figure"),
                gettext("Limit"),
                gettext("Result"),
                gettext("Record"),
            ),
            (16, 32, 15, 15, 10, 12),
            tuple(rows),
        ),
    )


def belts(said: Said, numbers: dict[UUID, str]) -> Section:
    rows = []
    for drive in said.machine.drives.filter(kind=Drive.Kind.BELT).order_by("pk"):
        for each in sorted(
            readings_of(drive, most=10_000), key=lambda read: (read.at, read.record_id)
        ):
            if said.period.holds(each.at):
                stands = "" if each.stands else gettext("Put right since: it no longer stands. ")
                figure = " ".join(filter(None, (each.figure, each.doubt)))
                rows.append(
                    (said.when(each.at), f"{drive.name}: {each.what}",
                     ", ".join(filter(None, (figure, each.note))), each.tool,
                     f"{stands}{each.verdict}", numbers.get(each.record_id, ""))
                )  # fmt: skip
    return Section(
        key="belts",
        title=gettext("10. Belt readings, each with the verdict of its day"),
        grid=Grid(
            (
                gettext("When"),
                gettext("Drive and reading"),
                gettext("Figure"),
                gettext("Tool"),
                gettext("Verdict"),
                gettext("Record"),
            ),
            (15, 18, 22, 12, 21, 12),
            tuple(rows),
        ),
    )
