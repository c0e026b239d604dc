"""Why a thing is asked or what a figure means, opened on the spot; without a script too."""

from typing import Any

from django import template
from django.utils.translation import gettext as _

from plant.contents.help import drawing, of_figure
from plant.help_texts import HelpRefused, help_texts

register = template.Library()


@register.inclusion_tag("_why.html")
def why(key: str, drawn: bool = False) -> dict[str, Any]:
    """{% why "isolate" %}: the text of that key, folded; with drawn its drawing too.

    Raises:
        HelpRefused: there is no such text.
    """
    found = help_texts().whys.get(key)
    if found is None:
        raise HelpRefused(_("There is no text for {key} in the help.").format(key=f"{key!r}"))
    return {"why": found, "picture": drawing(found.drawing) if drawn else None}


@register.inclusion_tag("_why.html")
def why_of(part: str, name: str, drawn: bool = False) -> dict[str, Any]:
    """{% why_of "check" question.key %}: the same for a key that comes from a record.

    Nothing where there is no text: a depot's own rule sheet may ask what ours does not.
    """
    found = help_texts().whys.get(f"{part}.{name}")
    return {"why": found, "picture": drawing(found.drawing) if drawn and found else None}


@register.inclusion_tag("_whys.html")
def whys_of(part: str) -> dict[str, Any]:
    """{% whys_of "check" %}: all texts of a part, for a page that is read where no signal is."""
    return {"whys": [why for key, why in help_texts().whys.items() if key.startswith(f"{part}.")]}


@register.inclusion_tag("_why_link.html")
def why_figure(key: str) -> dict[str, Any]:
    """{% why_figure result.key %}: in a table of a drive's figures, the way to what one means."""
    return {"why": of_figure(key)}
