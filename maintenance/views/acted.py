"""The page of one act: shown blank, done when it is sent, shown again with why it was refused."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from maintenance.forms.entry import EntryForm
from plant.actions.refusal import Refused
from plant.http import UserRequest


def acted(
    request: UserRequest,
    form: EntryForm,
    act: Callable[[dict[str, Any]], str],
    *,
    then: tuple[Any, ...],
    template: str = "maintenance/act.html",
    **page: Any,
) -> HttpResponse:
    """Does the act with what was typed, and goes on; what the page shows beside its form is page.

    Args:
        act: does it and tells in a sentence what was done.
        then: the page after it, as redirect() takes it.
    """
    if request.method == "POST" and form.is_valid():
        try:
            told = act(form.cleaned_data)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, told)
            return redirect(*then)
    return render(request, template, {"form": form, **page}, status=422 if form.errors else 200)
