"""All pages that the reader may go to; what the menu has no room for is found here."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from plant.http import UserRequest
from plant.pages import groups_of


@login_required
@require_safe
def pages(request: UserRequest) -> HttpResponse:
    return render(request, "plant/pages.html", {"groups": groups_of(request.user)})
