"""Drawings beside the texts of the help, by the code that draws real drives; what figures mean."""

from functools import cache

from django.utils.translation import get_language

from plant.contents.workout import told
from plant.contents.workout_pictures import Picture, pictures
from plant.drives.workout import work_out
from plant.help_texts import BELT_DRAWINGS, Why, help_texts
from plant.length_words import length_unit

# Figures that mean the same thing as another.
_ALIKE = {"centres_needed": "centres", "centres_new": "centres", "deflection": "force"}


def drawing(name: str) -> Picture | None:
    """The belt in its groove, the drive, or the tension band of the drive in the texts.

    None for the name of a drawing of a check, and for "".
    """
    return _drawn(length_unit(), get_language()).get(name)


@cache
def _drawn(unit: str, language: str | None) -> dict[str, Picture]:
    """Drawn once for each unit in which lengths are told and each language; called under both."""
    said = told(work_out(help_texts().drive))
    groove, *_, layout, band = pictures(said)
    return dict(zip(BELT_DRAWINGS, (groove, layout, band), strict=True))


def of_figure(key: str) -> Why | None:
    """What a figure of a work-out means, by the key of its ``ToldResult``."""
    name = key.removeprefix("driver_").removeprefix("driven_")
    return help_texts().whys.get(f"belt.{_ALIKE.get(name, name)}")
