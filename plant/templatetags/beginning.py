"""How one begins: on a system without anybody, and on a list that waits for the first machine."""

from typing import Any

from django import template
from django.template import RequestContext
from django.urls import NoReverseMatch, reverse

from plant.actions.set_up import is_wanted
from plant.lazy_text import gettext_lazy as _
from plant.models import Machine
from plant.rights import Right, depots_where

register = template.Library()

# What leads to the first machine, by right; who has none of these tries things out meanwhile.
_WAYS = (
    (Right.REGISTER, _("Add the first machine"), "maintenance:add_machine"),
    (Right.IMPORT, _("Bring in machines from a file"), "plant:add_import"),
    (Right.CHECK, _("Practise on a machine of your own"), "maintenance:practice"),
    (Right.SEE, _("Read how it works"), "maintenance:help_page"),
)
# Lists that have nothing before there is a machine; others say themselves how they begin.
_WAIT_FOR_MACHINES = frozenset(
    {
        "reports:today", "reports:batch_list", "maintenance:machine_list", "maintenance:held",
        "maintenance:out_in", "maintenance:job_list", "maintenance:day", "maintenance:due_list",
        "maintenance:back_again", "maintenance:belts",
        "maintenance:running_out", "maintenance:shopping", "maintenance:test_list",
        "maintenance:worth_a_look",
    }
)  # fmt: skip


@register.simple_tag
def not_begun() -> bool:
    return is_wanted()


@register.inclusion_tag("_way_on.html", takes_context=True)
def way_on(context: RequestContext) -> dict[str, Any]:
    """{% way_on %} where a list is empty: the one next step while no machine of the person's
    depots is entered, else nothing. Once a page, however many lists of it are empty."""
    request: Any = context["request"]
    place = request.resolver_match
    if place is None or place.view_name not in _WAIT_FOR_MACHINES:
        return {}
    if getattr(request, "way_on_told", False):
        return {}
    request.way_on_told = True
    if Machine.objects.visible_to(request.user).exists():
        return {}
    for right, word, name in _WAYS:
        if depots_where(request.user, right):
            try:
                return {"word": word, "address": reverse(name)}
            except NoReverseMatch:  # a page of a higher app that is not installed
                continue
    return {}
