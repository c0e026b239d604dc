"""The machine's page: its plate, its three marks and why, and its story."""

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from maintenance.contents.check_due import wanted_of
from maintenance.contents.cost import sees_money
from maintenance.contents.due import told
from maintenance.contents.fitness import due_state_of_many, fitness_of
from maintenance.contents.inspection import look_over_due
from maintenance.contents.meter import stands_of
from maintenance.contents.record import story
from maintenance.contents.test import doubt, in_doubt
from maintenance.models import DueLine, Job, Stay, Stop
from maintenance.rules.due import NOTHING
from maintenance.rules.fitness import DO_NOT_USE
from plant.http import UserRequest, find
from plant.models import Drive, Machine, Place, Record
from plant.rights import Right, may

STORY_PAGE = 30


@login_required
@require_safe
def machine(request: UserRequest, pk: int) -> HttpResponse:
    found = find(
        Machine.objects.visible_to(request.user).select_related("depot", "kind"),
        request.user,
        Right.SEE,
        depot="depot_id",
        pk=pk,
    )
    at = now()
    on = found.depot.day_of(at)
    stops = (
        Stop.objects.standing()
        .filter(machine=found)
        .select_related("job", "record__by", "decided_by__by")
        .prefetch_related("record__texts")
    )
    lines = list(
        DueLine.objects.filter(machine=found)
        .select_related("line", "counter__use_rate", "machine__depot", "machine__use_rate")
        .order_by("plan_on", "pk")
    )
    records = (
        Record.objects.filter(machine=found)
        .select_related("by", "depot")
        .prefetch_related("texts")
        .order_by("-happened_at", "-seq")
    )
    page = Paginator(records, STORY_PAGE).get_page(request.GET.get("story"))
    checks = found.checks.select_related("record__by").prefetch_related("record__texts")
    due = told(lines, on)
    drives = list(found.drives.all())
    fitness = fitness_of(found, on)
    return render(
        request,
        "maintenance/machine.html",
        {
            "machine": found,
            "fitness": fitness,
            "stopped": fitness.mark == DO_NOT_USE,
            "due_state": due_state_of_many([found], on)[found.pk],
            "due": due,
            "due_now": [each for each in due if each.state != NOTHING],
            "stops": stops,
            "jobs": Job.objects.open().filter(machine=found).select_related("given_to"),
            "sees_money": sees_money(request.user, found.depot),
            "last_check": checks.first(),
            "last_look": found.inspections.select_related("record__by").first(),
            "look_due": None if found.place == Place.GONE else look_over_due(found, on),
            "wanted": wanted_of(found, at=at),
            "stands": stands_of(found),
            "last_test": found.electrical_tests.order_by("-at", "-pk").first(),
            "doubts": [doubt(test) for test in in_doubt([found]).get(found.pk, ())],
            "drives": drives,
            "belts": [each for each in drives if each.kind == Drive.Kind.BELT],
            "stay": Stay.objects.open().filter(machine=found).select_related("hirer").first(),
            "story": story(page.object_list),
            "story_page": page,
            "can": {
                right.name.lower(): may(request.user, right, found.depot_id) for right in Right
            },
        },
    )
