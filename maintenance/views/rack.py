"""On the rack: the list of parts, one part, its numbers and movements, counts, what to buy."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Q, Sum
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from maintenance.actions import rack as action
from maintenance.contents import rack as contents
from maintenance.contents.cost import money_right, sees_money
from maintenance.contents.shopping import shopping as what_to_buy
from maintenance.contents.sought import parts_with
from maintenance.forms.entry import EntryForm, sent
from maintenance.forms.filters import DepotFilter
from maintenance.forms.rack import (
    CountForm,
    MovePartForm,
    PartForm,
    PartNumberForm,
    PiecesForm,
    PriceForm,
    RackFilter,
    ReceiveForm,
    StockPlaceForm,
)
from maintenance.models import Part, StockPlace
from maintenance.models.part import PartQuerySet
from maintenance.rules.rack import store_words
from maintenance.rules.words import day_text
from maintenance.tables import paged
from maintenance.tables_belts import RackTable
from maintenance.views.acted import acted
from plant.actions.record import new_id
from plant.actions.refusal import Refused
from plant.http import (
    UserRequest,
    anywhere,
    csv_answer,
    find,
    first_depot,
    form_page,
    see,
    today_at,
)
from plant.length_words import MM
from plant.models import Depot, User
from plant.rights import Right, depots_where, may

# Movements shown on the page of a part; all stand in the depot's records.
SHOWN = 30


@login_required
@require_safe
def rack(request: UserRequest) -> HttpResponseBase:
    anywhere(request.user, Right.SEE)
    at = now()
    on = today_at(request.user, at)
    form = RackFilter(request.GET, user=request.user)
    kept = form.kept()
    parts = _parts(request)
    if kept.get("depot"):
        parts = parts.filter(depot=kept["depot"])
    stock = contents.stock_of(list(parts.kept()), on=on).values()
    low = [each.part.pk for each in stock if each.is_low or each.low_places]
    parts = _only(parts, form, low, request.user).annotate(total=Coalesce(Sum("moves__change"), 0))
    may_export = bool(depots_where(request.user, Right.IMPORT))
    if may_export and request.GET.get("csv") == "1":
        table = RackTable(parts, user=request.user, on=on)
        return csv_answer(RackTable.CSV, table.csv_rows(), name=f"rack-{on}")
    table = paged(RackTable(parts, user=request.user, on=on), request, at=at)
    if not depots_where(request.user, Right.STOCK):
        table.empty_text = _(
            "No part is like that. Fitters enter parts, and count what lies where."
        )
    if may_export:
        query = request.GET.copy()
        query["csv"] = "1"
        table.csv_address = f"?{query.urlencode()}"
    depots = depots_where(request.user, Right.STOCK)
    return render(
        request,
        "maintenance/rack.html",
        {
            "form": form,
            "table": table,
            "low": len(low),
            "places": StockPlace.objects.filter(depot__in=depots).select_related(
                "depot", "withdrawn_by"
            ),
            "may_stock": bool(depots),
            "may_keep": depots_where(request.user, Right.KEEP_PARTS),
        },
    )


def _only(parts: PartQuerySet, form: RackFilter, low: list[int], user: User) -> PartQuerySet:
    kept = form.cleaned_data
    if kept.get("only") == form.WITHDRAWN:
        parts = parts.filter(withdrawn_at__isnull=False)
    else:
        parts = parts.kept()
    if words := kept.get("q", ""):
        parts = parts_with(parts, user, words)
    only = {
        form.LOW: Q(pk__in=low), form.BELTS: ~Q(section=""), form.SMALL: Q(section="")
    }.get(kept.get("only", ""))  # fmt: skip
    return parts if only is None else parts.filter(only)


@login_required
@require_safe
def part(request: UserRequest, pk: int) -> HttpResponse:
    """One part: where it lies, what it serves, its numbers, and what came and went."""
    found = see(_parts(request), request.user, pk=pk)
    on = found.depot.day_of(now())
    stock = contents.stock_of([found], on=on)[found.pk]
    belt = found.as_belt
    drives = contents.serves(request.user, [belt])[belt] if belt is not None else []
    return render(
        request,
        "maintenance/part.html",
        {
            "stocked": found,
            "stock": stock,
            "drives": [each for each in drives if each.machine.depot_id == found.depot_id],
            "old": store_words(stock.oldest, on=on) if found.is_belt else "",
            "numbers": found.numbers.select_related("approved_by"),
            "moves": found.moves.select_related("place", "job", "record__by")[:SHOWN],
            "orders": found.orders.filter(came_at__isnull=True).select_related("by"),
            "elsewhere": _elsewhere(request, belt, found.depot_id),
            "may_stock": may(request.user, Right.STOCK, found.depot_id),
            "may_keep": may(request.user, Right.KEEP_PARTS, found.depot_id),
            "sees_money": sees_money(request.user, found.depot),
            "has_places": StockPlace.objects.kept().filter(depot=found.depot).exists(),
        },
    )


def _elsewhere(
    request: UserRequest, belt: contents.Belt | None, depot_id: int
) -> list[contents.Lies]:
    if belt is None:
        return []
    lies = contents.nearest(request.user, [belt])[belt]
    return [each for each in lies if each.part is None or each.part.depot_id != depot_id]


@login_required
@form_page
def add_part(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.STOCK)
    form = PartForm(**sent(request), user=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            kept = action.save_part(
                depot=form.cleaned_data["depot"], at=now(), by=request.user, **form.told()
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(
                request, _("{kept} was added. Say how many came, or count it.").format(kept=kept)
            )
            return redirect("maintenance:part", kept.pk)
    return _act(request, form, title=_("Add a part"), button=_("Add it"))


@login_required
@form_page
def edit_part(request: UserRequest, pk: int) -> HttpResponse:
    found = _part(request, pk, Right.STOCK)
    length = "" if found.length_m is None else f"{found.length_m * 1e3:.1f} {MM}"
    form = PartForm(
        **sent(request),
        user=request.user,
        part=found,
        initial={
            "name": found.name, "is_belt": found.is_belt, "section": found.section,
            "length": length, "bought_from": found.bought_from, "lead_days": found.lead_days,
        },
    )  # fmt: skip

    def act(given: dict[str, Any]) -> str:
        action.save_part(depot=found.depot, part=found, at=now(), by=request.user, **form.told())
        return _("Changed.")

    return _acted(
        request,
        form,
        found,
        act,
        title=_("Change {found}").format(found=found),
        button=_("Change it"),
    )


@login_required
@form_page
def receive_part(request: UserRequest, pk: int) -> HttpResponse:
    found = _part(request, pk, Right.STOCK)
    form = ReceiveForm(**sent(request), depot_id=found.depot_id)

    def act(given: dict[str, Any]) -> str:
        action.receive(
            part=found, place=given["to"], quantity=given["quantity"], on=given["on"], at=now(),
            by=request.user, record_id=given["entry"],
        )  # fmt: skip
        return _("{quantity} came: kept and sealed.").format(quantity=given["quantity"])

    return _acted(
        request,
        form,
        found,
        act,
        title=_("{found} came").format(found=found),
        button=_("They came"),
    )


@login_required
@form_page
def move_part(request: UserRequest, pk: int) -> HttpResponse:
    found = _part(request, pk, Right.STOCK)
    form = MovePartForm(**sent(request), depot_id=found.depot_id)

    def act(given: dict[str, Any]) -> str:
        action.move_stock(
            part=found, source=given["source"], target=given["target"],
            quantity=given["quantity"], at=now(), by=request.user, record_id=given["entry"],
        )  # fmt: skip
        return _("{quantity} moved from {source} to {target}.").format(
            quantity=given["quantity"], source=given["source"], target=given["target"]
        )

    return _acted(
        request, form, found, act, title=_("Move {found}").format(found=found), button=_("Move it")
    )


@login_required
@form_page
def add_part_number(request: UserRequest, pk: int) -> HttpResponse:
    found = _part(request, pk, Right.KEEP_PARTS)
    form = PartNumberForm(**sent(request))

    def act(given: dict[str, Any]) -> str:
        action.add_number(
            part=found, number=given["number"], note=given["note"], at=now(), by=request.user
        )
        return _("{number} now finds {found}, in your name.").format(
            number=given["number"], found=found
        )

    return _acted(
        request,
        form,
        found,
        act,
        title=_("Another number of {found}").format(found=found),
        button=_("It is the same part"),
    )


@login_required
@form_page
def part_price(request: UserRequest, pk: int) -> HttpResponse:
    seen = see(_parts(request), request.user, pk=pk)
    found = _part(request, pk, money_right(request.user, seen.depot))
    form = PriceForm(**sent(request), initial={"price": found.price})

    def act(given: dict[str, Any]) -> str:
        action.set_price(part=found, price=given["price"], by=request.user)
        return _("Price kept. It counts for what is taken from now on.")

    return _acted(
        request,
        form,
        found,
        act,
        title=_("Price of {found}").format(found=found),
        button=_("Keep the price"),
    )


@login_required
@require_POST
def order_part(request: UserRequest, pk: int) -> HttpResponse:
    found = _part(request, pk, Right.STOCK)
    form = PiecesForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Write how many were ordered, 1 to 999. Nothing was kept."))
        return redirect("maintenance:shopping")
    given = form.cleaned_data
    try:
        order = action.order_part(
            part=found, quantity=given["quantity"], at=now(), by=request.user, entry=given["entry"]
        )
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(
            request,
            _("{order}: expected {expected_on}.").format(
                order=order, expected_on=day_text(order.expected_on)
            ),
        )
    return redirect("maintenance:shopping")


@login_required
@form_page
def add_stock_place(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.KEEP_PARTS)
    form = StockPlaceForm(**sent(request), user=request.user)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            place = action.add_place(
                depot=given["depot"], name=given["name"], kind=StockPlace.Kind(given["kind"]),
                by=request.user,
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("{place} was added.").format(place=place))
            return redirect("maintenance:rack")
    return _act(request, form, title=_("Add a rack or a van"), button=_("Add it"))


@login_required
@form_page
def count_place(request: UserRequest, pk: int) -> HttpResponse:
    """Every part of the depot with a box; those that lie here stand first."""
    places = StockPlace.objects.visible_to(request.user).select_related("depot")
    place = find(places, request.user, Right.STOCK, depot="depot_id", pk=pk)
    rows = Part.objects.filter(depot=place.depot)
    # What somebody withdrew while this was being counted is refused in words, not dropped.
    parts: Any = (
        (rows if request.method == "POST" else rows.kept())
        .annotate(here=Coalesce(Sum("moves__change", filter=Q(moves__place=place)), 0))
        .order_by("-here", "name")
    )
    form = CountForm(**sent(request), parts=[(each, each.here) for each in parts])
    if request.method == "POST" and form.is_valid():
        try:
            action.count_place(
                place=place, counts=form.counts(), at=now(), by=request.user,
                record_id=form.cleaned_data["entry"],
            )  # fmt: skip
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("{place}: counted and sealed.").format(place=place))
            return redirect("maintenance:rack")
    return _act(
        request, form, title=_("Count {place}").format(place=place), button=_("Save the count"),
        note=_("Leave a box empty where you did not count. Nought is a count."),
    )  # fmt: skip


@login_required
@require_POST
def withdraw_part(request: UserRequest, pk: int) -> HttpResponse:
    """Kept no longer, or again: what the button said, however often."""
    found = _part(request, pk, Right.KEEP_PARTS)
    withdrawn = request.POST.get("withdrawn") == "yes"
    try:
        action.withdraw_part(part=found, withdrawn=withdrawn, at=now(), by=request.user)
    except Refused as refused:
        messages.error(request, _("{found} stays. {refused}").format(found=found, refused=refused))
    else:
        told = _("is withdrawn: it stands under “Withdrawn”") if withdrawn else _("is kept again")
        messages.success(request, f"{found} {told}.")
    return redirect("maintenance:part", found.pk)


@login_required
@require_POST
def withdraw_place(request: UserRequest, pk: int) -> HttpResponse:
    """The same of a rack or a van."""
    places = StockPlace.objects.visible_to(request.user)
    place = find(places, request.user, Right.KEEP_PARTS, depot="depot_id", pk=pk)
    withdrawn = request.POST.get("withdrawn") == "yes"
    try:
        action.withdraw_place(place=place, withdrawn=withdrawn, at=now(), by=request.user)
    except Refused as refused:
        messages.error(request, _("{place} stays. {refused}").format(place=place, refused=refused))
    else:
        told = _("{place} is withdrawn.") if withdrawn else _("{place} is kept again.")
        messages.success(request, told.format(place=place))
    return redirect("maintenance:rack")


@login_required
@require_safe
def shopping(request: UserRequest) -> HttpResponse:
    """What to buy in the next thirty days, grouped and to be printed."""
    anywhere(request.user, Right.STOCK)
    form = DepotFilter(request.GET, user=request.user)
    form.is_valid()
    depot = form.cleaned_data.get("depot") or first_depot(request.user)
    assert depot is not None  # who has the right has it somewhere
    if not may(request.user, Right.STOCK, depot.pk):
        depot = Depot.objects.filter(pk__in=depots_where(request.user, Right.STOCK))[0]
    on = depot.day_of(now())
    found = what_to_buy(depot, on=on)
    groups = [(name, [(need, new_id()) for need in needs]) for name, needs in found.groups]
    return render(
        request,
        "maintenance/shopping.html",
        {"form": form, "depot": depot, "found": found, "groups": groups, "on": on},
    )


def _parts(request: UserRequest) -> PartQuerySet:
    seen = Part.objects.visible_to(request.user).select_related("depot", "withdrawn_by")
    return seen.prefetch_related("numbers")


def _part(request: UserRequest, pk: int, right: Right) -> Part:
    return find(_parts(request), request.user, right, depot="depot_id", pk=pk)


def _acted(
    request: UserRequest, form: EntryForm, found: Part, act: Any, *, title: str, button: str
) -> HttpResponse:
    return acted(
        request, form, act, then=("maintenance:part", found.pk),
        template="maintenance/rack_act.html", title=title, button=button, stocked=found,
    )  # fmt: skip


def _act(request: UserRequest, form: EntryForm, **words: Any) -> HttpResponse:
    return render(
        request,
        "maintenance/rack_act.html",
        {"form": form, **words},
        status=422 if form.errors else 200,
    )
