"""Links without a password: only a code that we signed, for that kind of thing, opens anything."""

import re
import uuid

from hypothesis import given
from hypothesis import strategies as st
from pytest_django.fixtures import Settings

from plant.links import code_of, uid_of


@given(st.uuids())
def test_a_code_gives_its_number_back_and_nothing_to_another_kind(uid: uuid.UUID) -> None:
    code = code_of("feed", uid)

    assert re.fullmatch(r"[A-Za-z0-9_-]{44}", code)
    assert uid_of("feed", code) == uid
    assert uid_of("note", code) is None


@given(st.uuids(), st.integers(0, 43), st.sampled_from("ABCabc019_-=é "))
def test_a_code_with_one_letter_changed_opens_nothing(uid: uuid.UUID, at: int, to: str) -> None:
    code = code_of("feed", uid)
    changed = code[:at] + to + code[at + 1 :]

    assert (uid_of("feed", changed) is None) == (changed != code)


@given(st.text(max_size=60))
def test_nothing_made_up_opens_anything(code: str) -> None:
    assert uid_of("feed", code) is None


def test_another_key_signs_otherwise(settings: Settings) -> None:
    code = code_of("feed", uuid.UUID(int=7))
    settings.SECRET_KEY = "another"

    assert uid_of("feed", code) is None
