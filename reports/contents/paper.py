"""The kinds of paper, in one table: how each is gathered, drawn, and put into one file."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, BinaryIO

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _
from pydantic import TypeAdapter

from plant.models import Machine, Record
from plant.models.work import LEASE, LONG_LEASE
from plant.rights import Right, depots_where, role_for
from reports.contents.board import board
from reports.contents.bundle import bundle
from reports.contents.folder import folder
from reports.contents.job_list import job_list
from reports.contents.job_sheet import filled
from reports.contents.label import label_of
from reports.contents.passport import passport
from reports.contents.record import record_paper
from reports.contents.service_sheet import read_ahead, service_sheet
from reports.contents.tag import fail_tag, no_fail_tag, no_stop_tag, stop_tag
from reports.models import Batch, Sheet
from reports.pdf import board as board_pdf
from reports.pdf import bundle as bundle_pdf
from reports.pdf import folder as folder_pdf
from reports.pdf import job_list as job_list_pdf
from reports.pdf import label as label_pdf
from reports.pdf import passport as passport_pdf
from reports.pdf import record as record_pdf
from reports.pdf import service_sheet as service_pdf
from reports.pdf import tag as tag_pdf
from reports.pdf.batch import Part, merge
from reports.pdf.board import Board
from reports.pdf.bundle import Bundle
from reports.pdf.folder import Folder
from reports.pdf.job_list import JobList
from reports.pdf.label import Label
from reports.pdf.page import Printed
from reports.pdf.passport import Passport
from reports.pdf.record import RecordPaper
from reports.pdf.service_sheet import ServiceSheet
from reports.pdf.tag import Tag


@dataclass(frozen=True)
class Leaf:
    """One printed sheet of a batch: whose it is, its file, and its frozen content."""

    number: str
    file: Path
    content: Any


Whole = Callable[[str, list[Leaf], Printed, BinaryIO], object]


@dataclass(frozen=True)
class Paper:
    """One kind of paper.

    one, many: its title, with the machine's number or with how many; file_name: of what is taken;
    sealed_as: what its record calls it, or "" for paper that states nothing about the machine;
    gather: the content of one sheet, from the database at that moment, for who is named;
    content: reads that content back from how it was kept; draw: one sheet as a PDF, a long one with
    whom to tell how far it is;
    whole: writes the file of the batch, from its title, its leaves and the words of its printing;
    refusal: why it cannot be printed at that moment, or ""; ahead: reads for many machines at once
    what gather asks of each; together: so many sheets are taken by a worker at a time; is_long:
    each may take minutes, so it is printed by a task with limits of its own.
    """

    one: str
    many: str
    file_name: str
    sealed_as: str
    gather: Callable[[Sheet, datetime, str], Any]
    content: TypeAdapter[Any]
    draw: Callable[..., bytes]
    whole: Whole
    # Why there is no such paper of this now; it may be freed between the asking and the printing.
    refusal: Callable[[Sheet, datetime], str] = lambda sheet, at: ""
    ahead: Callable[[Sequence[Machine]], None] = lambda machines: None
    together: int = 20
    is_long: bool = False

    @property
    def lease(self) -> timedelta:
        """How long a worker that says nothing is not taken for dead."""
        return LONG_LEASE if self.is_long else LEASE


def _joined(title: str, leaves: list[Leaf], printed: Printed, file: BinaryIO) -> None:
    """One sheet alone is the file of its batch, so that both have one SHA-256."""
    if len(leaves) == 1:
        file.write(leaves[0].file.read_bytes())
    else:
        merge((Part(leaf.number, leaf.file) for leaf in leaves), title=title, file=file)


def _labels(leaves: Iterable[Leaf]) -> list[Label]:
    return [_label.validate_python(leaf.content) for leaf in leaves]


def _one_label(label: Label) -> bytes:
    return label_pdf.one_a_page(
        [label], title=gettext("Label of {label}").format(label=label.number)
    )


_label = TypeAdapter(Label)


def _label_paper(whole: Callable[[str, list[Label], Printed], bytes]) -> Paper:
    """A label says only which machine it is fixed to, so it needs no record; replacing its link
    is what is sealed."""
    return Paper(
        one=_("Label of {}"),
        many=_("{} labels"),
        file_name="label",
        sealed_as="",
        gather=lambda sheet, at, by: label_of(sheet.of_machine),
        content=_label,
        draw=_one_label,
        whole=lambda title, leaves, printed, file: file.write(
            whole(title, _labels(leaves), printed)
        ),
    )


def _bundle(sheet: Sheet, at: datetime, by: str) -> Bundle:
    person, batch = sheet.asked_by, sheet.batch
    if person is None or batch.first_day is None or batch.last_day is None:
        raise ValueError("a bundle has a period and somebody who asked for it")
    role = role_for(person, Right.PRINT_MANY, sheet.depot_id)
    return bundle(
        sheet.of_machine, first=batch.first_day, last=batch.last_day, at=at, by=person,
        role=str(role.label).lower(), number=str(sheet.pk), tell=sheet.tell,
    )  # fmt: skip


def _service_sheet(sheet: Sheet, at: datetime, by: str) -> ServiceSheet:
    job = sheet.job
    blank = service_sheet(sheet.of_machine, at=at, by=by, sheet_number=str(sheet.pk), job=job)
    return blank if job is None else filled(blank, job)


def _about(sheet: Sheet) -> Record:
    if sheet.about is None:
        raise ValueError("this paper is of no record")
    return sheet.about


def _record(sheet: Sheet, at: datetime, by: str) -> RecordPaper:
    about = _about(sheet)
    # The record came with the machine; words about it that stayed in its old depot did not.
    seen = depots_where(sheet.asked_by, Right.SEE) if sheet.asked_by else frozenset()
    return record_paper(about, sheet.of_machine, at=at, by=by, seen={*seen, about.depot_id})


def _of_record(one: str, many: str, *, file_name: str) -> Paper:
    return Paper(
        one=one,
        many=many,
        file_name=file_name,
        sealed_as=file_name.replace("-", " "),
        gather=_record,
        content=TypeAdapter(RecordPaper),
        draw=record_pdf.render,
        whole=_joined,
    )


def _day(sheet: Sheet, at: datetime) -> date:
    """The day that the batch speaks of, else that of its depot now."""
    return sheet.batch.first_day or sheet.depot.day_of(at)


def _job_list(sheet: Sheet, at: datetime, by: str) -> JobList:
    person = sheet.person
    assert person is not None  # held by ask_job_lists
    return job_list(person, sheet.depot, on=_day(sheet, at), at=at, by=by)


def _board(sheet: Sheet, at: datetime, by: str) -> Board:
    asked_by = sheet.asked_by
    assert asked_by is not None  # held by whoever freezes a sheet
    return board(sheet.depot, asked_by, on=_day(sheet, at), at=at)


PAPERS: dict[Batch.Kind, Paper] = {
    Batch.Kind.SERVICE: Paper(
        one=_("Service sheet of {}"),
        many=_("{} service sheets"),
        file_name="service-sheet",
        sealed_as=_("service sheet"),
        gather=_service_sheet,
        content=TypeAdapter(ServiceSheet),
        draw=service_pdf.render,
        whole=_joined,
        ahead=read_ahead,
    ),
    Batch.Kind.PASSPORT: Paper(
        one=_("Passport of {}"),
        many=_("{} passports"),
        file_name="passport",
        sealed_as="passport",
        gather=lambda sheet, at, by: passport(sheet.of_machine, at=at, by=by, number=str(sheet.pk)),
        content=TypeAdapter(Passport),
        draw=passport_pdf.render,
        whole=_joined,
    ),
    Batch.Kind.FOLDER: Paper(
        one=_("Folder of {}"),
        many=_("{} folders"),
        file_name="folder",
        sealed_as="folder",
        gather=lambda sheet, at, by: folder(sheet.depot, at=at, by=by, number=str(sheet.pk)),
        content=TypeAdapter(Folder),
        draw=folder_pdf.render,
        whole=_joined,
        together=1,
        is_long=True,
    ),
    Batch.Kind.BUNDLE: Paper(
        one=_("Inspector's bundle of {}"),
        many=_("{} inspector's bundles"),
        file_name="inspector-bundle",
        sealed_as="inspector's bundle",
        gather=_bundle,
        content=TypeAdapter(Bundle),
        draw=bundle_pdf.render,
        whole=_joined,
        together=1,
        is_long=True,
    ),
    # Neither states anything that stands on no record already, so neither is sealed.
    Batch.Kind.JOB_LIST: Paper(
        one=_("Job list of {}"),
        many=_("{} job lists"),
        file_name="job-list",
        sealed_as="",
        gather=_job_list,
        content=TypeAdapter(JobList),
        draw=job_list_pdf.render,
        whole=_joined,
    ),
    Batch.Kind.BOARD: Paper(
        one=_("Wall board of {}"),
        many=_("{} wall boards"),
        file_name="wall-board",
        sealed_as="",
        gather=_board,
        content=TypeAdapter(Board),
        draw=board_pdf.render,
        whole=_joined,
    ),
    Batch.Kind.LABEL: _label_paper(
        lambda title, labels, printed: label_pdf.one_a_page(labels, title=title)
    ),
    Batch.Kind.LABEL_SHEET: _label_paper(
        lambda title, labels, printed: label_pdf.on_a4(labels, title=title, printed=printed)
    ),
    Batch.Kind.INSPECTION: _of_record(
        _("Record of {}"), _("{} records"), file_name="inspection-record"
    ),
    Batch.Kind.TEST: _of_record(
        _("Test record of {}"), _("{} test records"), file_name="test-record"
    ),
    Batch.Kind.FAIL_TAG: Paper(
        one=_("Tag of the failed test of {}"),
        many=_("{} tags of failed tests"),
        file_name="failed-test-tag",
        sealed_as=_("tag of a failed test"),
        gather=lambda sheet, at, by: fail_tag(_about(sheet), sheet.of_machine, at=at, by=by),
        content=TypeAdapter(Tag),
        draw=tag_pdf.render,
        whole=_joined,
        refusal=lambda sheet, at: no_fail_tag(_about(sheet)),
    ),
    Batch.Kind.STOP_TAG: Paper(
        one=_("Do not use tag of {}"),
        many=_("{} do not use tags"),
        file_name="do-not-use-tag",
        sealed_as=_("do not use tag"),
        gather=lambda sheet, at, by: stop_tag(sheet.of_machine, at=at, by=by),
        content=TypeAdapter(Tag),
        draw=tag_pdf.render,
        whole=_joined,
        refusal=lambda sheet, at: no_stop_tag(sheet.of_machine, at=at),
    ),
}


def paper_of(batch: Batch) -> Paper:
    return PAPERS[Batch.Kind(batch.kind)]
