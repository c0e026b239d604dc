"""The cast of most tests, and what every test run needs of the database."""

import os
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.db import connection, transaction
from django.test import TransactionTestCase, override_settings
from hypothesis import HealthCheck, settings

from addresses import NOW, World, make_world
from maintenance.models import RuleSheet, Skill
from make import make_competence, make_depot, make_machine, make_reference, make_user
from plant import seals
from plant.models import Depot, Machine, Role, User

# How long one example takes says how busy the computer is, and nothing of the code.
# EXAMPLES says how many are tried where a test does not say it itself.
settings.register_profile(
    "any computer",
    deadline=None,
    max_examples=int(os.environ.get("EXAMPLES", "100")),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("any computer")

# Begun first, so that no worker is left alone with one of them at the end.
LONGEST = (
    "test_demo.py",
    "test_never_out_by_accident.py",
    "test_crash.py",
    "test_hostile.py",
    "test_faults.py",
)


# Who asks for one of these, or is marked as asking for one of them, has a database.
DATABASE = {"db", "transactional_db", "django_db_setup", "live_server"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        asks = DATABASE.intersection(getattr(item, "fixturenames", ()))
        if not asks and not any(map(item.get_closest_marker, ("django_db", "services", "browser"))):
            item.add_marker("no_database")
    items.sort(key=lambda item: item.path.name not in LONGEST)


@pytest.fixture(autouse=True, scope="session")
def _seals_lifted_while_emptying() -> Iterator[None]:
    """Tests with real transactions empty the tables afterwards, which the seals refuse."""
    empty = TransactionTestCase._fixture_teardown

    def lifted(self: TransactionTestCase) -> None:
        seals.lift(connection)
        try:
            empty(self)
        finally:
            seals.lay(connection)

    TransactionTestCase._fixture_teardown = lifted  # type: ignore[method-assign]
    yield
    TransactionTestCase._fixture_teardown = empty  # type: ignore[method-assign]


@pytest.fixture
def depot(db: None) -> Depot:
    return make_depot("north")


@pytest.fixture
def other_depot(db: None) -> Depot:
    return make_depot("south")


@pytest.fixture
def operator(depot: Depot) -> User:
    return make_user("Olwen Operator", (depot, Role.OPERATOR))


@pytest.fixture
def desk(depot: Depot) -> User:
    return make_user("Dara Desk", (depot, Role.DESK))


@pytest.fixture
def fitter(depot: Depot) -> User:
    return make_user("Finn Fitter", (depot, Role.FITTER))


@pytest.fixture
def foreman(depot: Depot) -> User:
    return make_user("Freya Foreman", (depot, Role.FOREMAN))


@pytest.fixture
def manager(depot: Depot) -> User:
    return make_user("Mara Manager", (depot, Role.MANAGER))


@pytest.fixture
def administrator(depot: Depot) -> User:
    return make_user("Ada Administrator", (depot, Role.ADMINISTRATOR))


@pytest.fixture
def competent(depot: Depot, fitter: User, foreman: User, manager: User) -> None:
    """Fitter, foreman and manager may sign for everything that asks for a competence."""
    for person in (fitter, foreman, manager):
        for skill in Skill:
            make_competence(person, depot, skill)


@pytest.fixture
def outsider(other_depot: Depot) -> User:
    """Every role, but in another depot."""
    return make_user("Otto Outsider", *((other_depot, role) for role in Role))


@pytest.fixture
def machine(depot: Depot) -> Machine:
    return make_machine(depot, "MX-203")


@pytest.fixture
def rule_sheet(db: None) -> RuleSheet:
    """The rule sheet, kinds and plans that come with the program."""
    return make_reference()


@pytest.fixture(scope="module")
def _ours_lived(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[World]:
    """Made once for a module that walks a whole depot many times, and rolled back after it."""
    media = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("media"))
    with django_db_blocker.unblock(), media, transaction.atomic():
        with time_machine.travel(NOW, tick=False):
            make_reference()
            world = make_world(code="ours", marker="quolm", at=NOW)
        yield world
        transaction.set_rollback(True)


@pytest.fixture
def ours(_ours_lived: World, db: None) -> Iterator[World]:
    """A depot with one of everything, at one moment; what a test does to it is rolled back."""
    with time_machine.travel(NOW, tick=False):
        yield _ours_lived
