"""One sealed record as it was told, and its photos."""

import uuid

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from maintenance.actions.belt_record import rows_of
from maintenance.contents.put_right import put_right
from maintenance.contents.record import OF_BELTS, WITH_A_PAPER, heading, summary, who
from maintenance.contents.record_answers import answers, measured, other_photos, steps
from maintenance.contents.record_facts import erasures, facts, words
from maintenance.contents.test import doubt
from maintenance.models import ElectricalTest, Stop
from plant.http import UserRequest, see
from plant.models import Record, RecordPhoto, RecordText
from plant.rights import Right, may


@login_required
@require_safe
def record(request: UserRequest, pk: uuid.UUID) -> HttpResponse:
    found = _found(request, pk)
    return render(
        request,
        "maintenance/record.html",
        {
            "record": found,
            "summary": summary(found),
            "who": who(found),
            "heading": heading(found),
            "answers": answers(found),
            "measured": measured(found),
            "doubt": _doubt(found),
            "steps": steps(found),
            "facts": facts(found),
            "words": words(found),
            "photos": other_photos(found),
            "put_right": put_right(found, request.user),
            "erasures": erasures(found),
            "may_correct": _may_correct(request, found),
            "papers": _papers(request, found),
        },
    )


def _papers(request: UserRequest, found: Record) -> dict[str, bool]:
    """Which papers this person may ask of the record: its own, and the tag of a failed test."""
    if found.machine is None or not may(request.user, Right.PRINT, found.machine.depot_id):
        return {}
    return {
        "own": found.kind in WITH_A_PAPER,
        "fail_tag": found.kind == Record.Kind.TEST
        and Stop.objects.standing().filter(record=found).exists(),
    }


def _may_correct(request: UserRequest, found: Record) -> bool:
    """Whether it is a reading of a belt drive that still stands, and this person may correct it."""
    return (
        found.kind in (*OF_BELTS, Record.Kind.CORRECTION)
        and found.machine is not None
        and may(request.user, Right.CORRECT, found.machine.depot_id)
        and any(row.stands for row in rows_of(found))
    )


@login_required
@require_safe
def record_photo(request: UserRequest, pk: uuid.UUID, name: str) -> FileResponse:
    """The photo, only to who may see its record; never as a page of its own."""
    photo = _found(request, pk).photos.filter(name=name, erased_at__isnull=True).first()
    if photo is None or not photo.file:
        raise Http404
    try:
        content = photo.file.open("rb")
    except FileNotFoundError as missing:
        raise Http404(_("taken off the disk")) from missing
    response = FileResponse(
        content, content_type="image/jpeg", as_attachment=True, filename="photo.jpg"
    )
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


_ERASABLE = [
    Prefetch(name, queryset=model.objects.select_related("erased_with__depot", "erased_with__by"))
    for name, model in (("texts", RecordText), ("photos", RecordPhoto))
]


def _found(request: UserRequest, pk: uuid.UUID) -> Record:
    return see(
        Record.objects.visible_to(request.user)
        .select_related("depot", "machine", "by", "corrects__depot")
        .prefetch_related(*_ERASABLE),
        request.user,
        pk=pk,
    )


def _doubt(record: Record) -> str:
    """What came to light since about the instrument of a passed test. The record stands."""
    if record.kind != Record.Kind.TEST:
        return ""
    tests = ElectricalTest.objects.filter(record=record, passed=True)
    test = tests.select_related("doubted_by__instrument", "record__depot").first()
    return doubt(test) if test else ""
