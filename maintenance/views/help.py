"""The help: open to everybody, since it holds nothing of any depot."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from maintenance.contents.help import look_up
from maintenance.contents.worked import worked
from plant.contents.help import drawing
from plant.help_texts import help_texts

LONGEST = 100


@require_safe
def help_page(request: HttpRequest) -> HttpResponse:
    """Where to begin, and what was found for the words that were typed."""
    asked = " ".join(request.GET.get("q", "")[:LONGEST].split())
    texts = help_texts()
    return render(
        request,
        "maintenance/help.html",
        {
            "asked": asked, "found": look_up(asked), "longest": LONGEST,
            "guides": texts.guides.values(), "words": texts.words, "examples": worked(),
        },
    )  # fmt: skip


@require_safe
def help_words(request: HttpRequest) -> HttpResponse:
    return render(request, "maintenance/help_words.html", {"words": help_texts().words})


@require_safe
def help_why(request: HttpRequest) -> HttpResponse:
    whys = help_texts().whys.values()
    return render(request, "maintenance/help_why.html", {"whys": whys})


@require_safe
def help_worked(request: HttpRequest) -> HttpResponse:
    return render(request, "maintenance/help_worked.html", {"examples": worked()})


@require_safe
def help_guide(request: HttpRequest, key: str) -> HttpResponse:
    guide = help_texts().guides.get(key)
    if guide is None:
        raise Http404(key)
    steps = [(step, drawing(step.drawing)) for step in guide.steps]
    return render(request, "maintenance/help_guide.html", {"guide": guide, "steps": steps})
