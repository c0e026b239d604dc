"""Draws sheets: takes a frozen dataclass, gives bytes. No Django, no database."""
