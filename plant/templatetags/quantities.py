"""Template filters that show a figure with its unit."""

from django import template
from django.utils.translation import gettext as _

from plant.counted_words import count_text
from plant.length_words import both_text

register = template.Library()


@register.filter
def hours(tenths: int | None) -> str:
    """Tenths of an hour as ``168.0 h``; a dash in words when there are none."""
    return _("no figure") if tenths is None else f"{tenths / 10:.1f} h"


@register.filter
def counted(tenths: int | None, measure: str) -> str:
    """A meter's figure with what it counts: ``168.0 h``, ``420 starts``."""
    if measure == "hours" or tenths is None:
        return hours(tenths)
    return count_text(tenths // 10, measure.removesuffix("s"))


@register.filter
def belt_length(metres: float | None) -> str:
    """The length of a belt, which marks and standards name in millimetres; inches beside it."""
    return _("not known") if metres is None else both_text(metres, 1)


@register.filter
def newtons(value: float | None) -> str:
    return _("not known") if value is None else f"{value:.0f} N"


@register.filter
def watts(value: float | None) -> str:
    """Watts as kW with their unit."""
    return _("not known") if value is None else f"{value / 1000:g} kW"
