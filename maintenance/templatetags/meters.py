"""The address of a page of one meter: of the hours, or of what a counter counts."""

from django import template
from django.urls import reverse

from plant.models import Machine, Measure

register = template.Library()


@register.simple_tag
def meter_url(name: str, machine: Machine, measure: str) -> str:
    """The address of that page of the machine's meter."""
    parts = [machine.pk] if measure == Measure.HOURS else [machine.pk, measure]
    return reverse(f"maintenance:{name}", args=parts)
