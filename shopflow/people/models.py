"""Who works here, on which days, from which tablet."""

from __future__ import annotations

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from shopflow.common import clock


class Role(models.TextChoices):
    OWNER = "owner", "owner"
    MANAGER = "manager", "manager"
    HAND = "hand", "bench hand"
    STRANGER = "stranger", "stranger (sees nothing)"


OFFICE = frozenset({Role.OWNER, Role.MANAGER})


class PersonManager(BaseUserManager["Person"]):
    def create_person(
        self, *, sign_in_name: str, name: str, role: str, password: str | None = None, **more: object
    ) -> Person:
        person = self.model(sign_in_name=sign_in_name.lower(), name=name, role=role, **more)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def working(self) -> models.QuerySet[Person]:
        return self.filter(is_active=True).exclude(role=Role.STRANGER)


class Person(AbstractBaseUser):
    sign_in_name = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=60)
    role = models.CharField(max_length=8, choices=Role.choices, default=Role.HAND)
    email = models.EmailField(blank=True)
    home = models.ForeignKey(
        "catalogue.Department", on_delete=models.PROTECT, null=True, blank=True, related_name="home_of"
    )
    benches = models.ManyToManyField("catalogue.Department", related_name="hands", blank=True)
    pin_hash = models.CharField(max_length=160, blank=True, editable=False)
    is_active = models.BooleanField(default=True)
    # Somebody else has seen this password: its person is asked for another before anything else.
    password_handed_out = models.BooleanField(default=False, editable=False)

    # Set for one request by the middleware when the session was opened with a PIN on a shared tablet.
    by_pin = False

    USERNAME_FIELD = "sign_in_name"
    REQUIRED_FIELDS = ["name"]

    objects = PersonManager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def works_here(self) -> bool:
        return self.is_active and self.role != Role.STRANGER

    @property
    def is_office(self) -> bool:
        """By role, whatever way this person came in."""
        return self.role in OFFICE

    @property
    def acting_role(self) -> str:
        """The role that counts now: manager's rights are never given by a PIN alone."""
        if not self.is_active:
            return Role.STRANGER
        if self.by_pin and self.is_office:
            return Role.HAND
        return self.role


class WorkingDay(models.Model):
    """Paid hours of one person on one weekday (0 = Monday)."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="working_days")
    weekday = models.PositiveSmallIntegerField(validators=[MaxValueValidator(6)])
    hours = models.DecimalField(
        max_digits=4, decimal_places=2, validators=[MinValueValidator(0), MaxValueValidator(16)]
    )

    class Meta:
        ordering = ["weekday"]
        constraints = [
            models.UniqueConstraint(fields=["person", "weekday"], name="weekday_once_per_person"),
            models.CheckConstraint(
                condition=Q(hours__gte=0, hours__lte=16), name="working_day_has_0_to_16_hours"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.hours} h on day {self.weekday}"


class Tablet(models.Model):
    """A device enrolled by a manager; only on such a device does a PIN open anything."""

    name = models.CharField(max_length=40, unique=True)
    department = models.ForeignKey(
        "catalogue.Department", on_delete=models.PROTECT, null=True, blank=True, related_name="tablets"
    )
    token_hash = models.CharField(max_length=64, unique=True, null=True, blank=True, editable=False)
    pixels_per_mm = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        default="5.20",
        validators=[MinValueValidator(2), MaxValueValidator(20)],
        help_text="CSS pixels in a millimetre of its glass: 5.20 for 132 to the inch",
    )
    enrolled_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    enrolled_at = models.DateTimeField(null=True, blank=True, editable=False)
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)
    seen_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class TabletCode(models.Model):
    """A short-lived code that turns the device on which it is typed into this tablet."""

    tablet = models.ForeignKey(Tablet, on_delete=models.CASCADE, related_name="codes")
    code_hash = models.CharField(max_length=64, unique=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"code for {self.tablet}"


class LeftBehind(models.Model):
    """One entry that waited on a tablet when its person left there; it may still be sent from it."""

    tablet = models.ForeignKey(Tablet, on_delete=models.CASCADE, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    digest = models.CharField(max_length=64)
    person_keys = models.CharField(max_length=64)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["tablet", "person", "digest"], name="left_behind_once"),
        ]

    def __str__(self) -> str:
        return f"left by {self.person} on {self.tablet}"


class SignInTry(models.Model):
    """One attempt to sign in; wrong ones are counted per person and per device together."""

    person_name = models.CharField(max_length=60)
    device = models.CharField(max_length=80)
    at = models.DateTimeField(default=clock.now)
    went_well = models.BooleanField()

    class Meta:
        indexes = [models.Index(fields=["person_name", "device", "at"], name="try_by_who_and_where")]

    def __str__(self) -> str:
        return f"{self.person_name} from {self.device}: {'in' if self.went_well else 'refused'}"
