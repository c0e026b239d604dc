"""The commonest tasks, each within its taps, on a phone and at a desk."""

import pytest
from playwright.sync_api import Browser

from browser.seen import Depot
from browser.tasks import TASKS, Task, walked

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("phone", [True, False], ids=["phone", "desk"])
@pytest.mark.parametrize("task", TASKS, ids=[task.words for task in TASKS])
def test_a_task_is_within_its_taps(task: Task, phone: bool, browser: Browser, depot: Depot) -> None:
    person = walked(browser, depot, task, phone=phone)

    assert person.taps <= task.most_taps
    # A person's seconds are an estimate; how long a page takes is reported, not asserted.
    assert person.estimated_s <= task.most_s
    print(f"{person.taps} taps, {person.keys} keys: {person.estimated_s:.0f} s, an estimate")
