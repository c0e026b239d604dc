"""What a phone needs without signal: the pack, the bare page, and the door for what it kept."""

import json
import re
from datetime import datetime
from io import BytesIO
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from maintenance.actions.check import MOST_PHOTOS
from maintenance.actions.entry import MOST_AT_ONCE, Result, take
from maintenance.actions.permit import holder_of, permit_for_label, permit_for_person
from maintenance.contents.pack import depots_of, machines_for, pack
from maintenance.rules.clock import is_told
from maintenance.views.told import receipt_address
from plant import photos
from plant.actions.label import count_label_entry
from plant.actions.throttle import A_MINUTE, MOST_SENDINGS, TooOften, count_use
from plant.models import Machine, User
from plant.security_log import note

MOST_BYTES = 1_048_576
# Of maps and lists in one another; an entry of ours has five.
DEEPEST = 10
# The photo of the whole machine, or of one item by its key.
_PHOTO = re.compile(r"photo(?:_[a-z0-9_]{1,40})?")


@require_safe
def phone(request: HttpRequest) -> HttpResponse:
    """The page that stands in for any other while there is no signal. It names nobody."""
    return render(request, "maintenance/phone.html")


@require_safe
def phone_pack(request: HttpRequest) -> HttpResponse:
    """The machines of who is signed in, or the one machine of a label. 204 when nothing is new."""
    at = now()
    code = request.GET.get("code", "")
    if code:
        machine = (
            Machine.objects.select_related("kind", "depot")
            .filter(label_code=code, depot__checks_by_label=True)
            .first()
        )
        if machine is None:
            raise Http404
        made = pack(
            [machine], permits={machine.pk: permit_for_label(machine)}, by_label=True, at=at
        )
    elif isinstance(request.user, User):
        depots = depots_of(request.user)
        permits = {
            depot.pk: permit_for_person(user=request.user, depot_id=depot.pk) for depot in depots
        }
        made = pack(machines_for(request.user), permits=permits, by_label=False, at=at)
    else:
        return JsonResponse({"words": gettext("Sign in first.")}, status=401)
    if request.GET.get("have") == made["version"]:
        return HttpResponse(status=204)
    return JsonResponse(made)


# No cookie counts here, so no other site can borrow one: each entry carries its own permit.
@csrf_exempt
@require_POST
def phone_entries(request: HttpRequest) -> JsonResponse:
    """Takes up to fifty entries, or one with its photos; one result each, in the same order."""
    received = now()
    try:
        told, pictures = _body(request)
        sent = datetime.fromisoformat(told["sent_at"])
        entries = told["entries"]
        if sent.tzinfo is None or not is_told(sent) or not isinstance(entries, list):
            raise ValueError("no moment of sending, or no list")
    except photos.PhotoRefused as refused:
        return JsonResponse({"words": str(refused)}, status=422)
    except (ValueError, TypeError, KeyError, RecursionError):
        return JsonResponse({"words": gettext("This cannot be read.")}, status=422)
    if not 1 <= len(entries) <= MOST_AT_ONCE or (pictures and len(entries) != 1):
        return JsonResponse(
            {
                "words": gettext("Send 1 to {most_at_once} entries at a time.").format(
                    most_at_once=MOST_AT_ONCE
                )
            },
            status=422,
        )
    try:
        for holder in {holder_of(entry.get("permit")) for entry in entries if type(entry) is dict}:
            if holder:
                count_use(
                    "sendings", holder, most=MOST_SENDINGS, within=A_MINUTE, at=received,
                    told=gettext("This phone sent too often."),
                )  # fmt: skip
    except TooOften as held:
        note("sending held back")
        answer = JsonResponse({"words": str(held)}, status=429)
        answer.headers["Retry-After"] = held.seconds
        return answer
    address = request.META.get("REMOTE_ADDR", "")

    def count(machine: Machine) -> None:
        count_label_entry(code=machine.label_code, address=address, at=received)

    results = [
        take(entry, sent_at=sent, received_at=received, photos=pictures, count=count)
        for entry in entries
    ]
    return JsonResponse({"results": [_told(result) for result in results]})


def _body(request: HttpRequest) -> tuple[dict[str, Any], dict[str, bytes] | None]:
    if request.content_type == "multipart/form-data":
        told = _json(request.POST.get("entries", ""))
        if len(request.FILES) > MOST_PHOTOS:
            raise photos.PhotoRefused(
                gettext("At most {most_photos} photos. Take some off.").format(
                    most_photos=MOST_PHOTOS
                )
            )
        pictures = {
            name.removeprefix("photo_"): photos.clean(BytesIO(file.read()))
            for name, file in request.FILES.items()
            if _PHOTO.fullmatch(name) and not isinstance(file, list)
        }
        return told, pictures or None
    return _json(request.body.decode("utf-8")), None


def _json(text: str) -> dict[str, Any]:
    """JSON of a sane size, without repeated keys or figures that are none."""

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        if len({key for key, _ in pairs}) != len(pairs):
            raise ValueError("a key stands twice")
        return dict(pairs)

    def no_figure(word: str) -> None:
        raise ValueError(word)

    if len(text) > MOST_BYTES:
        raise ValueError("too long")
    told = json.loads(text, object_pairs_hook=once, parse_constant=no_figure)
    if not isinstance(told, dict) or _deeper(told, DEEPEST):
        raise ValueError("no map, or too deep")
    return told


def _deeper(part: Any, than: int) -> bool:
    inner = part.values() if isinstance(part, dict) else part if isinstance(part, list) else ()
    return than == 0 or any(_deeper(each, than - 1) for each in inner)


def _told(result: Result) -> dict[str, str]:
    told = {"id": result.id, "state": result.state, "words": result.words}
    if result.record is not None:
        record, machine = result.record, result.record.machine
        told["number"] = record.number
        if record.by_id is None and machine is not None:
            told["address"] = receipt_address(record, code=machine.label_code)
        else:
            told["address"] = reverse("maintenance:sent", args=[record.pk])
    return told
