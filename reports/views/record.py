"""The papers of one record, and the tags of what must not be used."""

import uuid

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from maintenance.contents.record import WITH_A_PAPER
from plant.actions.refusal import Refused
from plant.actions.throttle import TooOften
from plant.http import UserRequest, find
from plant.models import Machine, Record
from plant.nudge import nudge
from reports.actions.sheet import Wanted, ask_paper
from reports.models import Batch
from reports.models.sheet import RIGHTS
from reports.tasks import print_batch


@login_required
@require_POST
def ask_record(request: UserRequest, pk: uuid.UUID) -> HttpResponse:
    """The paper of one check, look-over, inspection, release check, test or belt reading."""
    record = _record(request, pk, Batch.Kind.INSPECTION)
    if record.kind not in WITH_A_PAPER:
        raise Http404(_("this kind of record has no paper of its own"))
    is_test = record.kind == Record.Kind.TEST
    return _ask(request, record, Batch.Kind.TEST if is_test else Batch.Kind.INSPECTION)


@login_required
@require_POST
def ask_fail_tag(request: UserRequest, pk: uuid.UUID) -> HttpResponse:
    """The tag of a failed electrical test."""
    record = _record(request, pk, Batch.Kind.FAIL_TAG)
    if record.kind != Record.Kind.TEST:
        raise Http404(_("this record is of no test"))
    return _ask(request, record, Batch.Kind.FAIL_TAG)


@login_required
@require_POST
def ask_stop_tag(request: UserRequest, pk: int) -> HttpResponse:
    """The tag of a machine that is stopped."""
    machine = find(
        Machine.objects.visible_to(request.user).select_related("depot"),
        request.user,
        RIGHTS[Batch.Kind.STOP_TAG][0],
        depot="depot_id",
        pk=pk,
    )
    wanted = Wanted(machine=machine)
    return _asked(request, machine, wanted, Batch.Kind.STOP_TAG, back="maintenance:machine", of=pk)


def _record(request: UserRequest, pk: uuid.UUID, kind: Batch.Kind) -> Record:
    """The record, of a machine that is in a depot where this person prints."""
    return find(
        Record.objects.visible_to(request.user)
        .filter(machine__isnull=False)
        .select_related("machine__depot", "depot"),
        request.user,
        RIGHTS[kind][0],
        depot="machine__depot_id",
        pk=pk,
    )


def _ask(request: UserRequest, record: Record, kind: Batch.Kind) -> HttpResponse:
    assert record.machine is not None  # _record finds no other
    wanted = Wanted(machine=record.machine, about=record)
    return _asked(request, record.machine, wanted, kind, back="maintenance:record", of=record.pk)


def _asked(
    request: UserRequest,
    machine: Machine,
    wanted: Wanted,
    kind: Batch.Kind,
    *,
    back: str,
    of: int | uuid.UUID,
) -> HttpResponse:
    try:
        batch = ask_paper(
            depot=machine.depot, wanted=[wanted], by=request.user, at=now(), kind=kind
        )
    except TooOften:
        raise
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect(back, of)
    nudge(print_batch, batch.pk)
    return redirect("reports:batch", batch.pk)
