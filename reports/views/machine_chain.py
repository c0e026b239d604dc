"""The sealed records of one machine as a file for a stranger."""

import re

from django.contrib.auth.decorators import login_required
from django.http import StreamingHttpResponse
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from plant.http import UserRequest, find
from plant.models import Machine
from plant.rights import Right
from plant.security_log import note
from reports.exports.machine_chain import machine_chain


@login_required
@require_safe
def machine_records(request: UserRequest, pk: int) -> StreamingHttpResponse:
    """All records of a machine with the hashes of the others, to be checked without us."""
    machine = find(
        Machine.objects.visible_to(request.user),
        request.user,
        Right.IMPORT,
        depot="depot_id",
        pk=pk,
    )
    note("records sent out", machine=machine.pk, user=request.user.pk)
    response = StreamingHttpResponse(
        machine_chain(machine, at=now()), content_type="application/jsonl"
    )
    name = re.sub(r"[^A-Za-z0-9-]", "_", machine.number)
    response.headers["Content-Disposition"] = f'attachment; filename="records-{name}.jsonl"'
    return response
