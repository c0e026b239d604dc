"""How a form is drawn: label, hint, error and entry belong together for every reader."""

from html.parser import HTMLParser

from django import forms


class LookForm(forms.Form):
    day = forms.DateField(label="Done on", help_text="Day, month, year.")
    tool = forms.ChoiceField(
        label="Measured with",
        help_text="The one in your hand.",
        choices=[("calliper", "Calliper"), ("rule", "Rule")],
        widget=forms.RadioSelect,
    )
    place = forms.ChoiceField(choices=[("yard", "In yard")])
    words = forms.CharField(required=False, max_length=5)
    sure = forms.BooleanField(label="The machine is unplugged")


class Tags(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))

    def with_id(self, key: str) -> tuple[str, dict[str, str | None]]:
        (found,) = [each for each in self.seen if each[1].get("id") == key]
        return found


WRONG = {"day": "31 Feb 2026", "tool": "", "place": "moon", "words": "too long"}


def test_entry_points_at_its_hint_and_its_error() -> None:
    tags = Tags(str(LookForm(WRONG)))

    tag, attrs = tags.with_id("id_day")
    assert (tag, attrs["value"], attrs["aria-invalid"]) == ("input", "31 Feb 2026", "true")
    assert attrs["aria-describedby"] == "id_day_helptext id_day_error"
    for key in ("id_day_helptext", "id_day_error"):
        tags.with_id(key)
    assert ("label", {"for": "id_day"}) in tags.seen


def test_radio_buttons_stand_in_a_group_with_its_words() -> None:
    tags = Tags(str(LookForm(WRONG)))

    groups = [attrs for tag, attrs in tags.seen if tag == "fieldset"]
    assert groups == [{"aria-describedby": "id_tool_helptext id_tool_error"}]
    tags.with_id("id_tool_helptext")
    tags.with_id("id_tool_error")
    assert "<legend>Measured with</legend>" in str(LookForm(WRONG))


def test_every_error_says_what_to_do() -> None:
    errors = LookForm(WRONG).errors

    assert errors == {
        "day": ["Write the day like this: 25 Nov 2026."],
        "tool": ["Choose one."],
        "place": ["Choose one of these."],
        "words": ["That is 8 letters. Keep it to 5."],
        "sure": ["Tick this first."],
    }


def test_what_may_be_left_out_says_so() -> None:
    assert str(LookForm()).count('class="optional"') == 1


def test_error_of_the_whole_form_is_announced() -> None:
    form = LookForm(WRONG)
    form.add_error(None, "Belt <b> was moved to another machine.")

    text = str(form)

    assert 'role="alert"' in text
    assert "Belt &lt;b&gt; was moved" in text
