"""Depots, the people who work in them, and which role each has where."""

from collections.abc import Collection
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, ClassVar, Self
from zoneinfo import ZoneInfo

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext

from plant.lazy_text import gettext_lazy as _

if TYPE_CHECKING:
    from plant.models.phone import Phone


class Role(models.TextChoices):
    OPERATOR = "operator", _("Operator")
    DESK = "desk", _("Desk")
    FITTER = "fitter", _("Fitter")
    FOREMAN = "foreman", _("Foreman")
    MANAGER = "manager", _("Manager")
    ADMINISTRATOR = "administrator", _("Administrator")


class Lengths(models.TextChoices):
    """The unit in which a person reads lengths, and types plain numbers."""

    MM = "mm", _("Millimetres")
    IN = "in", _("Inches")


def is_time_zone(name: str) -> None:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError) as wrong:
        raise ValidationError(
            gettext("{name} is not a time zone; write for example Europe/London.").format(name=name)
        ) from wrong


class DepotQuerySet(models.QuerySet["Depot"]):
    def real(self) -> Self:
        """Without those that people practise in."""
        return self.filter(practice_of=None)

    def at_work(self) -> Self:
        """Without practice depots that are done with."""
        return self.filter(practice_ended_at=None)


class Depot(models.Model):
    """A yard with its own people, machines, clock and chain of sealed records."""

    class LengthSystem(models.TextChoices):
        ISO_DIN = "ISO/DIN", "ISO/DIN (A: datum = inside + 30 mm)"
        RMA = "RMA", "RMA (A: datum = inside + 1.3 in)"

    code = models.SlugField(max_length=12, unique=True)
    name = models.CharField(max_length=80)
    address = models.CharField(max_length=200, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    time_zone = models.CharField(max_length=64, default="Europe/London", validators=[is_time_zone])
    checks_by_label = models.BooleanField(
        default=True, help_text="Anybody holding a machine's label may check it and report a fault."
    )
    one_person = models.BooleanField(
        default=False,
        help_text="One person may act where two are asked for; the record says why in writing.",
    )
    length_system = models.CharField(
        max_length=8, choices=LengthSystem, default=LengthSystem.ISO_DIN
    )
    # Where the part does not say it. Common practice, no source.
    belt_lead_days = models.PositiveSmallIntegerField("days to get a belt", default=14)
    # Who practises in it; nobody is a member there: see plant/rights.py.
    practice_of = models.ForeignKey(
        "User", on_delete=models.PROTECT, related_name="practice_depots", null=True, blank=True
    )
    practice_ended_at = models.DateTimeField(null=True, blank=True)

    objects = DepotQuerySet.as_manager()

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(
                fields=("practice_of",),
                condition=models.Q(practice_ended_at=None),
                name="one_practice_depot_a_person",
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def is_practice(self) -> bool:
        """Whether nothing in it counts."""
        return self.practice_of_id is not None

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    def day_of(self, at: datetime) -> date:
        """The calendar day at the depot at that moment."""
        return at.astimezone(self.zone).date()


class Firm(models.Model):
    """What the firm asks of all its depots alike; one row, made when it is first changed."""

    codes_asked = models.BooleanField(
        "managers and administrators sign in with a one-time code",
        default=False,
        help_text=_(
            "With it a stolen password opens nothing. Who has none yet sets it up at the "
            "next sign-in, before anything else."
        ),
    )
    depots_seen = models.BooleanField(
        "depots see what stands at each other's",
        default=False,
        help_text="Number, kind, place, can it go out; how many of a belt lie there.",
    )

    class Meta:
        constraints = (models.CheckConstraint(condition=models.Q(pk=1), name="firm_is_one"),)

    def __str__(self) -> str:
        return "The firm"

    @classmethod
    def now(cls) -> "Firm":
        return cls.objects.filter(pk=1).first() or cls(pk=1)


class UserManager(BaseUserManager["User"]):
    def create_user(
        self, *, sign_in: str, name: str, password: str | None = None, **more: Any
    ) -> "User":
        user = self.model(sign_in=sign_in, name=name, **more)
        user.set_password(password)
        user.full_clean(exclude=["password"])
        user.save()
        return user

    def of_depots(self, depots: Collection[int]) -> "models.QuerySet[User]":
        """Accounts with a role in one of these depots, also those that were ended."""
        held = Membership.objects.filter(depot__in=depots).values("user")
        return self.filter(pk__in=held)

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(sign_in__iexact=username)


class User(AbstractBaseUser):
    """A person with an account. Rights come from memberships alone; see plant/rights.py."""

    sign_in = models.CharField("sign-in name", max_length=40, unique=True)
    name = models.CharField(max_length=80)
    email = models.EmailField(blank=True)
    is_active = models.BooleanField(default=True)
    # Tells lengths on the pages of this person; records and paper are in millimetres.
    lengths = models.CharField(max_length=2, choices=Lengths, default=Lengths.MM)
    # Since when nobody signs in by it: the day on which the person left.
    ended_at = models.DateTimeField(null=True, blank=True)
    password_set_at = models.DateTimeField(null=True, blank=True)

    # The shared phone that this request's session was begun on; set by plant.http, not kept.
    on_phone: "Phone | None" = None
    # The practice depot that this request's session is in; set by plant.http, not kept.
    practising: Depot | None = None

    objects: ClassVar[UserManager] = UserManager()
    USERNAME_FIELD = "sign_in"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(Lower("sign_in"), name="sign_in_name_once_in_any_case"),
        )

    def __str__(self) -> str:
        return self.name


class MembershipQuerySet(models.QuerySet["Membership"]):
    def of(self, user: User) -> Self:
        return self.filter(user=user)


class Membership(models.Model):
    """One role of one person in one depot; several add up."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    depot = models.ForeignKey(Depot, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=16, choices=Role)
    learner = models.BooleanField(
        default=False, help_text="Works under somebody's eye; never releases a machine alone."
    )

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("user", "depot", "role"), name="role_once_a_depot"),
        )

    def __str__(self) -> str:
        return f"{self.user}: {self.get_role_display()} in {self.depot}"
