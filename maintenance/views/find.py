"""The find box: opens what was meant by a whole number or code, else shows what was found."""

from datetime import timedelta
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from maintenance.contents.elsewhere import Elsewhere, elsewhere
from maintenance.contents.find import LONGEST, Found, find, is_code
from maintenance.contents.sought import key_of
from maintenance.forms.find import FindForm
from plant.actions.label import TooManyCodes, count_code, wait_for_codes
from plant.http import UserRequest, anywhere, first_depot, today_at
from plant.rights import Right, depots_where
from plant.security_log import note


@login_required
@require_safe
def found(request: UserRequest) -> HttpResponse:
    """While somebody types, nothing is opened and no code is looked up; that waits for the key."""
    anywhere(request.user, Right.SEE)
    at = now()
    form = FindForm(request.GET)
    words = form.cleaned_data["q"] if form.is_valid() else ""
    typing = bool(request.htmx)
    coded = is_code(key_of(words)) and not typing
    held = wait_for_codes(user=request.user, at=at) if coded else timedelta(0)
    codes = coded and not held
    on = today_at(request.user, at)
    told = find(request.user, words, on=on, codes=codes)
    if codes and not told.total:
        # Whoever tries codes that open nothing is held back, here as on the page Scan.
        try:
            count_code(user=request.user, at=at)
        except TooManyCodes:
            note("codes held back", user=request.user.pk)
    # The way back from what was opened leads to what was found, and does not open it again.
    stays = request.GET.get("open") == "no"
    if told.only and not typing and not stays:
        return redirect(told.only.page, told.only.key)
    page = render(
        request,
        "maintenance/find.html",
        {
            "form": form,
            "words": words,
            "found": told if words else Found(exact=(), groups=()),
            "elsewhere": elsewhere(request.user, words, on=on) if words else Elsewhere(),
            "held": held,
            "longest": LONGEST,
            "depot": first_depot(request.user),
            "may_move": bool(depots_where(request.user, Right.MOVE)),
        },
        status=422 if form.errors else 200,
    )
    if typing and not form.errors:
        kept = {"q": words} | ({"open": "no"} if told.only else {})
        page.headers["HX-Replace-Url"] = f"{request.path}?{urlencode(kept)}"
    return page
