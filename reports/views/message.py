"""Messages: which a person wants, and the proof that an address is theirs."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from plant.actions.refusal import Refused
from plant.http import UserRequest, anywhere, form_page
from plant.links import code_of, uid_of
from plant.models import Message, MessageChoice
from plant.rights import Right
from reports.actions import message as action
from reports.contents.letter import address
from reports.forms import FeedForm, MessagesForm
from reports.models import Feed, WeeklyNote


@login_required
@form_page
def messages_page(request: UserRequest) -> HttpResponse:
    by_own_password(request)
    if request.method != "POST":
        return page(request)
    form = MessagesForm(request.POST, user=request.user, choice=_choice(request))
    if not form.is_valid():
        return page(request, form=form, status=422)
    chosen = {"at_once": False} | form.cleaned_data
    try:
        asked = action.choose(user=request.user, at=now(), **chosen)
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return page(request, form=form, status=422)
    messages.success(
        request,
        _("Kept. A link was sent to {mail}. Open it to prove the address.").format(
            mail=chosen["mail"]
        )
        if asked
        else _("Kept."),
    )
    return redirect("reports:messages")


@login_required
@require_POST
def ask_proof(request: UserRequest) -> HttpResponse:
    """Sends the link that proves the address once more."""
    by_own_password(request)
    try:
        action.ask_proof(user=request.user, at=now())
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("A link was sent to {email}.").format(email=request.user.email))
    return redirect("reports:messages")


@login_required
@form_page
def prove_address(request: UserRequest) -> HttpResponse:
    """The page behind the link in the proof; a press there proves the address."""
    by_own_password(request)
    at = now()
    code = request.POST.get("code", request.GET.get("code", ""))
    uid = uid_of("proof", code)
    message = None if uid is None else Message.objects.filter(uid=uid).first()
    good = message is not None and action.is_proof(message, user=request.user, at=at)
    status = 200
    if request.method == "POST":
        try:
            action.prove(user=request.user, message=message, at=at)
        except Refused:
            status, good = 422, False
        else:
            messages.success(request, _("This is your address now. Messages go there."))
            return redirect("reports:messages")
    return render(
        request,
        "reports/prove_address.html",
        {"good": good, "code": code if good else ""},
        status=status,
    )


def by_own_password(request: UserRequest) -> None:
    """Where messages go, and links that last, are nothing for a session on a shared phone.

    Raises:
        PermissionDenied: such a session, or no right anywhere.
    """
    anywhere(request.user, Right.SEE)
    if request.user.practising is not None:
        raise PermissionDenied(_("Leave practice first: messages and links are real."))
    if request.user.on_phone is not None:
        raise PermissionDenied(_("Sign in with your own password, not on a shared phone."))


def page(
    request: UserRequest,
    *,
    form: MessagesForm | None = None,
    feed_form: FeedForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page with all of it, for every view that comes back to it."""
    user, at, choice = request.user, now(), _choice(request)
    feeds = Feed.objects.filter(user=user, withdrawn_at__isnull=True).select_related("depot")
    note = WeeklyNote.objects.filter(person=user, withdrawn_at__isnull=True).first()
    note = note if note is not None and note.is_open(at) else None
    shown: dict[str, Any] = {
        "form": form or MessagesForm(user=user, choice=choice),
        "feed_form": feed_form or FeedForm(user=user),
        "choice": choice,
        "mail_on": settings.MAIL_ON,
        "refused": Message.objects.refused().filter(person=user).first(),
        "feeds": [(each, address("reports:feed", code_of("feed", each.uid))) for each in feeds],
        "note": note,
        "note_at": address("reports:note", code_of("note", note.uid)) if note else "",
    }
    return render(request, "reports/messages.html", shown, status=status)


def _choice(request: UserRequest) -> MessageChoice:
    found = MessageChoice.objects.filter(user=request.user).first()
    choice = found or MessageChoice(user=request.user)
    choice.user = request.user
    return choice
