"""Sheets asked for and printed."""

from reports.models.sheet import Batch, Sheet

__all__ = ["Batch", "Sheet"]
