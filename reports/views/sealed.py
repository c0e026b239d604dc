"""For whoever holds a paper of ours: is it as it was sealed?"""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.timezone import now

from plant.actions.link import TooManyVisits, count_visit
from plant.http import form_page
from reports.contents.sealed import Found, by_file, by_number
from reports.forms import SealedForm

# All who ask from one address count together, whatever they ask about.
_THIS_PAGE = "as sealed"
# The code on a paper brings number and hash along; whoever scans it has only to press Look.
LONGEST = 64


@form_page
def sealed(request: HttpRequest) -> HttpResponse:
    """Answers by a record's number and hash, or by the file; shows nothing that is on neither."""
    asked = {name: request.GET.get(name, "")[:LONGEST] for name in ("number", "digits")}
    form = SealedForm(initial=asked)
    found: Found | None = None
    status = 200
    if request.method == "POST":
        form = SealedForm(request.POST, request.FILES)
        if form.is_valid():
            try:
                count_visit(code=_THIS_PAGE, address=request.META.get("REMOTE_ADDR", ""), at=now())
            except TooManyVisits as refused:
                form.add_error(None, str(refused))
            else:
                file = form.cleaned_data["file"]
                found = (
                    by_file(file.open())
                    if file
                    else by_number(form.cleaned_data["number"], form.cleaned_data["digits"])
                )
        is_unknown = found is not None and not found.stands and found.record is None
        status = 422 if form.errors or is_unknown else 200
    return render(request, "reports/sealed.html", {"form": form, "found": found}, status=status)
