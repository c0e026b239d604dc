"""Electrical tests: the bench, the list of last tests, and all tests of one machine."""

from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _
from django.views.decorators.http import require_safe

from maintenance.actions.test import record_test
from maintenance.contents.competence import standing
from maintenance.contents.record_answers import measured
from maintenance.contents.test import (
    class_missing,
    doubt,
    forms_of,
    in_doubt,
    instruments_for,
    last_told,
    last_used,
    sheet_of,
    tested_machines,
)
from maintenance.forms.entry import sent
from maintenance.forms.filters import ElectricalFilter
from maintenance.forms.test import ElectricalTestForm
from maintenance.models import ElectricalTest, Skill
from maintenance.rules.electrical import Form
from maintenance.rules.sheet import cited
from maintenance.tables import paged
from maintenance.tables_tests import ElectricalTable
from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, csv_answer, find, form_page, today_at
from plant.models import Machine
from plant.rights import Right, depots_where, may

LAST = 8
TESTS_PAGE = 20
_HEADINGS = (
    "Machine",
    _("Kind"),
    "Depot",
    _("Class"),
    _("Last test"),
    _("Serial"),
    _("On"),
    _("Result"),
    _("In doubt"),
    _("Due on"),
)


@login_required
@form_page
def add_test(request: UserRequest, pk: int) -> HttpResponse:
    machine = _found(request, pk, Right.WORK)
    at = now()
    context: dict[str, Any] = {"machine": machine}
    sheet = sheet_of(machine, at=at)
    forms = forms_of(machine, sheet) if sheet else ()
    if sheet is not None and class_missing(machine, sheet):
        context["class_missing"] = True
    if sheet is None or not forms:
        told = gettext("The rule sheet has no electrical test for this machine.")
        if context.get("class_missing"):
            told = gettext("Its class is not on the plate, so it cannot be said what is tested.")
        return render(request, "maintenance/test.html", context | {"cannot": told})
    asked_by = _asked_for(request, forms)
    instruments = list(instruments_for(machine))
    on = machine.depot.day_of(at)
    mine = last_used(request.user, instruments)
    form = ElectricalTestForm(
        **sent(request),
        asked_by=asked_by,
        sheet=sheet,
        instruments=instruments,
        on=on,
        initial=last_told(machine, asked_by) | ({"instrument": str(mine.pk)} if mine else {}),
    )
    if request.method == "POST" and form.is_valid():
        try:
            test = record_test(
                machine=machine, form=asked_by.key, at=at, by=request.user, **form.given
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            if test.passed:
                messages.success(request, gettext("Test passed and sealed."))
            else:
                messages.error(request, gettext("Test failed. Do not use: a job was raised."))
            return redirect("maintenance:record", test.record_id)
    return render(
        request,
        "maintenance/test.html",
        context
        | {
            "form": form,
            "asked_by": asked_by,
            "forms": forms,
            "failures_only": standing(
                request.user,
                depot_id=machine.depot_id,
                skill=Skill.TEST,
                family=machine.kind.family,
                on=on,
            ).refusal,
            "limits": [
                (device.name, row, row.told, cited(row.source, row.trust))
                for device in asked_by.devices(sheet.rcd)
                for row in device.rows
                if row.factor in {asked.factor for asked in asked_by.asked}
            ]
            if asked_by.has_trips
            else [],
            "doubts": [doubt(test) for test in in_doubt([machine]).get(machine.pk, ())],
            "tests": machine.electrical_tests.select_related("record__depot")[:LAST],
        },
        status=422 if form.errors else 200,
    )


@login_required
@require_safe
def machine_tests(request: UserRequest, pk: int) -> HttpResponse:
    """Every test of one machine with its readings, newest first; failures and retests alike."""
    machine = _found(request, pk, Right.SEE)
    tests = (
        ElectricalTest.objects.filter(machine=machine)
        .select_related("record__by", "record__depot", "doubted_by__instrument", "made_with")
        .prefetch_related("record__texts")
        .order_by("-at", "-pk")
    )
    page = Paginator(tests, TESTS_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "maintenance/machine_tests.html",
        {
            "machine": machine,
            "page": page,
            "tests": [(test, measured(test.record), doubt(test)) for test in page.object_list],
            "may_test": may(request.user, Right.WORK, machine.depot_id),
        },
    )


@login_required
@require_safe
def test_list(request: UserRequest) -> HttpResponseBase:
    """The machines that are tested, with their last test and when the next is due."""
    anywhere(request.user, Right.SEE)
    at = now()
    on = today_at(request.user, at)
    form = ElectricalFilter(request.GET, user=request.user)
    kept = form.kept()
    machines = tested_machines(request.user, on=on)
    if kept.get("depot"):
        machines = machines.filter(depot=kept["depot"])
    if kept.get("q"):
        machines = machines.matching(kept["q"])
    counts = {
        "failed": machines.filter(last_passed=False).count(),
        "doubt": machines.filter(last_doubted__isnull=False).count(),
        "due": machines.filter(test_due_on__lt=on).count(),
    }
    wanted: dict[str, dict[str, Any]] = {
        form.FAILED: {"last_passed": False},
        form.DOUBT: {"last_doubted__isnull": False},
        form.DUE: {"test_due_on__lt": on},
        form.NEVER: {"last_at__isnull": True},
    }
    machines = machines.filter(**wanted.get(kept.get("state", ""), {}))
    may_export = bool(depots_where(request.user, Right.IMPORT))
    if may_export and request.GET.get("csv") == "1":
        return _file(machines.order_by("number_key"), name=f"tests-{on}")
    table = paged(ElectricalTable(machines, on=on), request, at=at)
    if not depots_where(request.user, Right.WORK):
        table.empty_text = gettext(
            "No machine is like that. What fitters test, or is due, stands here."
        )
    if may_export:
        query = request.GET.copy()
        query["csv"] = "1"
        table.csv_address = f"?{query.urlencode()}"
    return render(
        request,
        "maintenance/test_list.html",
        {
            "form": form,
            "table": table,
            "counts": counts,
            "may_work": bool(depots_where(request.user, Right.WORK)),
        },
    )


def _file(machines: QuerySet[Machine], *, name: str) -> StreamingHttpResponse:
    def rows() -> Iterator[tuple[object, ...]]:
        each: Any
        for each in machines.iterator(chunk_size=500):
            result = "" if each.last_at is None else "passed" if each.last_passed else "failed"
            yield (
                each.number, each.kind.name, each.depot.name, each.get_protection_display(),
                each.last_title or "", each.last_serial or "", each.last_at, result,
                each.last_doubted is not None, each.test_due_on,
            )  # fmt: skip

    return csv_answer(_HEADINGS, rows(), name=name)


def _asked_for(request: UserRequest, forms: tuple[Form, ...]) -> Form:
    """The test that the address names; else the first, that of the machine itself."""
    wanted = request.GET.get("form")
    return next((form for form in forms if form.key == wanted), forms[0])


def _found(request: UserRequest, pk: int, right: Right) -> Machine:
    return find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        right,
        depot="depot_id",
        pk=pk,
    )
