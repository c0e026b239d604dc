"""The menu of each role and the page of all pages: short, complete, and every link opens."""

import re
from pathlib import Path

import pytest
from django.test import Client

from addresses import ADDRESSES, Page
from make import make_user
from plant.models import Depot, Phone, Role, User
from plant.pages import GROUPS, groups_of, menu_of

MENUS = {
    Role.OPERATOR: ["Scan", "Today", "Machines", "Held", "Help"],
    Role.DESK: ["Out and in", "Today", "Machines", "Paper"],
    Role.FITTER: ["Today", "Scan", "Jobs", "Belts", "Rack"],
    Role.FOREMAN: ["Today", "Jobs", "Due", "Held", "Belts"],
    Role.MANAGER: ["Today", "Machines", "Jobs", "Due", "Paper"],
    Role.ADMINISTRATOR: ["Health", "Office", "Files", "Machines", "Today"],
}
# Pages that one comes to from another page alone: why.
FROM_ANOTHER: dict[str, str] = {
    "plant:sign_in": "for who is not signed in",
    "plant:code_sign_in": "for who is not signed in",
    "plant:enrol_phone": "by the code that a phone is given",
    "plant:pages": "it is the page",
    "plant:one_time_code": "for whose password was right",
    "plant:own_password": "from Your account",
    "plant:own_codes": "from Your account",
    "plant:invite": "from Office and from People",
    "plant:firm_settings": "from Office",
    "maintenance:new_depot": "from Depots",
    "maintenance:elsewhere": "from Machines, Out and in, and what was found",
    "plant:set_up_ready": "from the last step of setting up a firm",
    "maintenance:find": "the box on every page",
    "reports:prove_address": "by the mail that was sent, and from Messages",
}
# Nothing to look at: a file, a part of a page, or for programs.
NO_PAGE = {
    "plant:health_json", "plant:alive", "plant:ready", "reports:take_out_progress",
    "reports:take_out_file", "plant:service_worker", "plant:script_words",
    "maintenance:phone_pack", "reports:prints", "reports:rights_list",
    "reports:own_data_file", "maintenance:readings_example",
}  # fmt: skip


def looked_at(user: User, address: str) -> tuple[int, str]:
    client = Client()
    client.force_login(user)
    response = client.get(address)
    return response.status_code, response.content.decode()


def links(part: str) -> list[str]:
    return re.findall(r'<a (?:class="what" )?href="([^"]+)"', part)


@pytest.mark.parametrize("role", list(Role))
def test_the_menu_is_short_and_every_page_offered_opens(depot: Depot, role: Role) -> None:
    user = make_user("Somebody", (depot, role))
    assert [page.word for page in menu_of(user)] == MENUS[role]
    status, page = looked_at(user, "/pages")
    assert status == 200
    menu = page.split('aria-label="Pages"')[1].split("</nav>")[0]
    assert len(links(menu)) == len(MENUS[role]) + 1
    assert 'href="/pages" aria-current="page">More<' in menu
    offered = links(page.split("<main")[1].split("</main>")[0])
    assert set(links(menu)) - {"/pages"} <= set(offered)
    for address in offered:
        assert looked_at(user, address)[0] == 200, address


def test_every_page_of_its_own_stands_on_the_page_of_all_pages(depot: Depot) -> None:
    """Whoever adds a page says where it is found: there, or on which other page."""

    def stands_alone(name: str, page: Page) -> bool:
        return page.get and not page.fills and name not in NO_PAGE

    new = {name for name in ADDRESSES if ":add_" in name or ":ask_" in name}
    new |= {"maintenance:hold_records"}
    alone = {name for name, page in ADDRESSES.items() if stands_alone(name, page)}
    told = {page.name for _, pages in GROUPS for page in pages}
    assert alone - new - set(FROM_ANOTHER) == told


def test_a_page_lies_in_the_nearest_part_of_the_menu(depot: Depot, fitter: User) -> None:
    for address, word, how in (
        ("/belts", "Belts", "page"), ("/belts/rack", "Rack", "page"),
        ("/belts/rack/parts/new", "Rack", "true"), ("/belts/running-out", "Belts", "true"),
        ("/jobs/day", "Jobs", "true"), ("/", "Today", "page"), ("/held", "More", "true"),
    ):  # fmt: skip
        status, page = looked_at(fitter, address)
        assert status == 200, address
        menu = page.split('aria-label="Pages"')[1].split("</nav>")[0]
        assert re.findall(r'aria-current="(\w+)">([^<]+)<', menu) == [(how, word)], address


def test_a_shared_phone_offers_nothing_that_asks_for_a_password(depot: Depot, fitter: User) -> None:
    def offered() -> set[str]:
        return {page.name for _, pages in groups_of(fitter) for page in pages}

    assert "reports:messages" in offered()
    fitter.on_phone = Phone(depot=depot)
    assert "reports:messages" not in offered()
    assert "plant:own_code" in offered()


def test_where_a_page_lies_is_said_in_one_way() -> None:
    """The frame of the links above a deep page stands in one place; pages give the links alone."""
    root = Path(__file__).parent.parent.parent
    told = {path: path.read_text("utf-8") for path in root.glob("*/templates/**/*.html")}
    framed = [path.name for path, text in told.items() if 'class="crumbs"' in text]
    assert framed == ["base.html"]
    blocks = [
        found
        for path, text in told.items()
        if path.name != "base.html"
        for found in re.findall(r"{% block crumbs %}(.*?){% endblock", text)
    ]
    assert len(blocks) > 50
    for block in blocks:
        assert "<a href=" in block or "include" in block, block
        assert not re.search(r"<(?!/?a\b)", block), block
