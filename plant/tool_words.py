"""What a tool is called where it is shown; its name in the table of tools is a key."""

from plant.translate import gettext


def tool_words(name: str) -> str:
    """The tool in the reader's language; one that somebody wrote himself stays as it is."""
    return gettext(name)
