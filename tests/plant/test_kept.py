"""A query put together once: each time it runs it finds what is so then, for who asks."""

from datetime import UTC, datetime, timedelta

from django.db.models import DateTimeField, QuerySet

from make import make_machine
from plant.kept import Given, GivenKeys, Kept, KeptRows
from plant.models import Depot, Machine, Membership, Role, User

MONDAY = datetime(2026, 11, 23, 7, tzinfo=UTC)


def test_it_is_built_once_and_finds_what_is_told_and_true_each_time(
    depot: Depot, manager: User
) -> None:
    built: list[User] = []

    def added_since(user: User) -> QuerySet[Machine]:
        built.append(user)
        moment: object = Given("moment", DateTimeField())
        return Machine.objects.visible_to(user).filter(added_at__gte=moment).order_by("number_key")

    kept = Kept(added_since)
    first = make_machine(depot, "MX-301")
    Machine.objects.filter(pk=first.pk).update(added_at=MONDAY)
    assert kept.rows(manager, moment=MONDAY) == [first]
    assert kept.rows(manager, moment=MONDAY + timedelta(seconds=1)) == []

    second = make_machine(depot, "MX-302")
    Machine.objects.filter(pk=second.pk).update(added_at=MONDAY)
    assert kept.rows(manager, moment=MONDAY) == [first, second]
    assert kept.rows(manager, moment=MONDAY)[1].number == "MX-302"
    assert len(built) == 1


def test_other_rights_see_other_rows(
    depot: Depot, other_depot: Depot, manager: User, outsider: User
) -> None:
    kept = Kept(lambda user: Machine.objects.visible_to(user).order_by("number_key"))
    ours, theirs = make_machine(depot, "MX-301"), make_machine(other_depot, "MX-302")

    assert kept.rows(manager) == [ours]
    assert kept.rows(outsider) == [theirs]

    Membership.objects.create(user=manager, depot=other_depot, role=Role.OPERATOR)
    assert kept.rows(User.objects.get(pk=manager.pk)) == [ours, theirs]
    Membership.objects.filter(user=manager).delete()
    assert kept.rows(User.objects.get(pk=manager.pk)) == []


def test_rows_by_keys_are_those_of_the_query_each_time(depot: Depot) -> None:
    machines = [make_machine(depot, f"MX-30{number}") for number in range(1, 4)]
    keys = [each.pk for each in machines]
    numbers = KeptRows(
        lambda: (
            Machine.objects.filter(pk__in=GivenKeys()).order_by("pk").values_list("pk", "number")
        )
    )
    whole = KeptRows(lambda: Machine.objects.filter(pk__in=GivenKeys()).order_by("-pk"))

    assert numbers(keys[:2]) == [(keys[0], "MX-301"), (keys[1], "MX-302")]
    assert numbers([]) == []
    assert whole.objects(keys[1:]) == [machines[2], machines[1]]

    Machine.objects.filter(pk=keys[2]).update(number="MX-400")
    assert numbers([keys[2]]) == [(keys[2], "MX-400")]
    assert [each.number for each in whole.objects([keys[2]])] == ["MX-400"]
