"""What is said of a print of any kind."""

import pytest

from reports.contents import paper_words
from reports.models import Batch


@pytest.mark.parametrize("kind", Batch.Kind)
def test_each_kind_of_paper_has_words_for_one_and_for_several(kind: Batch.Kind) -> None:
    batch = Batch(kind=kind)
    thing = batch.thing

    assert paper_words.take_this(batch) == f"Take this {thing}"
    assert paper_words.in_one_file_again(batch) == f"The {thing}s are put into one file again."
    assert paper_words.printed_again(batch, 1) == f"1 {thing} is printed again."
    assert paper_words.stopped(batch, 2) == f"Stopped: 2 {thing}s were not printed."
    assert paper_words.not_printed(batch, missing=1, of=3) == f"1 of 3 {thing}s not printed."
