"""What is found in the help: its own texts, never anything of a depot."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from maintenance.contents.worked import worked
from plant.help_texts import help_texts

MOST_FOUND = 40


@dataclass(frozen=True, slots=True)
class Found:
    """One place of the help that fits: its name, what it says, and where it stands."""

    name: str
    words: str
    address: str


def look_up(asked: str) -> tuple[Found, ...]:
    """The places in which every word that was asked stands; those with it in their name first."""
    wanted = asked.casefold().split()
    if not wanted:
        return ()
    fits = [
        (any(word not in each.name.casefold() for word in wanted), n, each)
        for n, each in enumerate(_places())
        if all(word in f"{each.name} {each.words}".casefold() for word in wanted)
    ]
    return tuple(each for *_, each in sorted(fits, key=lambda fit: fit[:2]))[:MOST_FOUND]


def _places() -> Iterable[Found]:
    texts = help_texts()
    words, whys = reverse("maintenance:help_words"), reverse("maintenance:help_why")
    for word in texts.words:
        yield Found(word.word, word.means, f"{words}#{word.anchor}")
    for guide in texts.guides.values():
        page = reverse("maintenance:help_guide", args=[guide.key])
        for n, step in enumerate(guide.steps, 1):
            yield Found(f"{guide.title}: {step.head}", step.words, f"{page}#step-{n}")
    for why in texts.whys.values():
        yield Found(_("Why? {title}").format(title=why.title), why.words, f"{whys}#{why.key}")
    for example in worked():
        page = reverse("maintenance:help_worked")
        yield Found(
            _("Worked: {title}").format(title=example.title),
            f"{example.asks} {example.answer}",
            f"{page}#{example.key}",
        )
