"""Every page as people see it: both widths, light and dark. A page the table forgot fails."""

from typing import Any

import pytest
from django.urls import URLResolver, get_resolver, reverse

from browser.addresses import NO_PAGE, PAGES, Seen
from browser.look import looked_at
from browser.seen import Depot, Opener
from plant.pages import GROUPS

pytestmark = pytest.mark.browser

# Pages of the table of all pages stand on their own; these do so too: why.
STAND_ALONE = {page.name for _, pages in GROUPS for page in pages} | {
    "plant:pages",  # in every menu
    "plant:set_up_ready",  # the end of setting up
    "maintenance:sent",  # its only button is the way back
    "maintenance:find",  # the box on every page
}
LOOKS = [
    pytest.param(name, page, id=f"{name}{' ' + page.again if page.again else ''}")
    for name, pages in PAGES.items()
    for page in pages
]


def named(resolver: URLResolver, space: str = "") -> set[str]:
    """The names of all addresses of the site."""
    found = set()
    for each in resolver.url_patterns:
        if isinstance(each, URLResolver):
            found |= named(each, each.namespace or space)
        elif each.name:
            found.add(f"{space}:{each.name}")
    return found


def address_of(name: str, page: Seen, found: dict[str, Any]) -> str:
    fills = {"pk": page.fills} if isinstance(page.fills, str) and page.fills else page.fills or {}
    address = reverse(name, kwargs={part: found[thing] for part, thing in dict(fills).items()})
    return f"{address}?{page.query}" if page.query else address


def test_the_table_knows_every_address_of_the_site() -> None:
    assert named(get_resolver("plant.config.urls")) == set(PAGES) | set(NO_PAGE)
    assert not set(PAGES) & set(NO_PAGE)


@pytest.mark.parametrize("phone", [True, False], ids=["phone", "desk"])
@pytest.mark.parametrize(("name", "page"), LOOKS)
def test_page(
    name: str, page: Seen, phone: bool, open_page: Opener, first_visit: Opener, depot: Depot
) -> None:
    # A shared phone has a cookie of its own, which nobody else's page may meet.
    opened = (open_page if page.shared_phone else first_visit)(phone=phone, name=page.who)
    if page.shared_phone:
        secret = {"name": "phone", "value": depot.found["phone_secret"], "url": depot.address}
        opened.context.add_cookies([secret])
    address = address_of(name, page, depot.found)
    found = looked_at(opened, address, phone=phone, check_screen=page.check_screen)
    assert found.status == 200
    if page.who and name not in STAND_ALONE:
        assert opened.locator(".crumbs a").count(), "no way back to the page above"
    assert found.problems == []
