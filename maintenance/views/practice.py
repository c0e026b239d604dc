"""Practise: a depot of one's own with a machine on which nothing counts."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from maintenance.actions.practice import (
    fresh_practice,
    may_practise,
    practice_depot,
    practice_machine,
)
from maintenance.contents.practice import tries
from plant import http
from plant.http import UserRequest, anywhere
from plant.rights import Right


@login_required
@require_safe
def practice(request: UserRequest) -> HttpResponse:
    """What it is, the way in and out, and what to try there."""
    user = request.user
    anywhere(user, Right.SEE)
    machine = practice_machine(user.practising) if user.practising else None
    return render(
        request,
        "maintenance/practice.html",
        {
            "machine": machine,
            "tries": tries(machine, user) if machine else [],
            "may_practise": may_practise(user),
            "minutes": int(http.PRACTICE_TIME.total_seconds() // 60),
        },
    )


@login_required
@require_POST
def begin_practice(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.CHECK)
    http.begin_practice(request, practice_depot(person=request.user, at=now()))
    return redirect("maintenance:practice")


@login_required
@require_POST
def new_practice(request: UserRequest) -> HttpResponse:
    """A fresh machine; what was tried on the old one is out of sight."""
    anywhere(request.user, Right.CHECK)
    http.begin_practice(request, fresh_practice(person=request.user, at=now()))
    messages.success(request, _("This is a fresh practice machine."))
    return redirect("maintenance:practice")


@login_required
@require_POST
def leave_practice(request: UserRequest) -> HttpResponse:
    anywhere(request.user, Right.SEE)
    http.leave_practice(request)
    messages.success(request, _("You are back with the real machines."))
    return redirect("maintenance:help_page")
