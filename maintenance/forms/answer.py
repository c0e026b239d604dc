"""Words to the one who told a fault."""

from typing import Any

from django import forms

from maintenance.actions.answer import LONGEST_ANSWER, SHORTEST_ANSWER
from maintenance.forms.entry import EntryForm, words_field
from plant.lazy_text import filled
from plant.lazy_text import gettext_lazy as _


def answer_field(**given: Any) -> forms.CharField:
    """The answer to the one who told it, in the words that he reads."""
    given.setdefault("help_text", _("Who told this reads it as you write it: 10 letters or more."))
    given["min_length"] = SHORTEST_ANSWER
    given["error_messages"] = {
        "min_length": filled(_("Write {shortest} letters or more."), shortest=SHORTEST_ANSWER)
    }
    return words_field(_("Answer to the one who told it"), high=LONGEST_ANSWER, rows=2, **given)


class AnswerForm(EntryForm):
    answer = answer_field()
