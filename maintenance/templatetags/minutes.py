"""Template filter that shows minutes of work as hours with their unit."""

from django import template

register = template.Library()


@register.filter
def hours_of(minutes: int) -> str:
    """Minutes as hours with one decimal: 90 is 1.5 h."""
    return f"{minutes / 60:.1f} h"
