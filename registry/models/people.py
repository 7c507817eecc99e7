"""Who signs in, and what they may be where."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q

from registry.access.roles import CLINIC_ROLES, NETWORK_ROLES, ROLES
from registry.models.clinic import Clinic
from registry.models.fields import CodeField, one_of
from registry.models.network import Network


class UserManager(BaseUserManager["User"]):
    def create_user(self, username: str, password: str) -> User:
        user = self.model(username=username)
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """A person who signs in. What they may do is said by their memberships, never here."""

    username = CodeField(max_length=80, unique=True)
    is_active = models.BooleanField(default=True)

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects: ClassVar[UserManager] = UserManager()

    def __str__(self) -> str:
        return self.username


class MembershipQuerySet(models.QuerySet["Membership"]):
    def in_force(self) -> MembershipQuerySet:
        """Not revoked, of a person who may still sign in."""
        return self.filter(revoked_at=None, user__is_active=True)


class Membership(models.Model):
    """One role of one person at one clinic, or in one network, or over the service."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = CodeField()
    clinic = models.ForeignKey(
        Clinic, on_delete=models.PROTECT, null=True, related_name="memberships"
    )
    network = models.ForeignKey(
        Network, on_delete=models.PROTECT, null=True, related_name="memberships"
    )
    # The tester of the clinic that a ``tester`` membership stands for.
    tester_id = models.UUIDField(null=True)
    granted_at = models.DateTimeField()
    granted_by = models.TextField()
    revoked_at = models.DateTimeField(null=True)
    revoked_by = models.TextField(null=True)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = [
            one_of("role", ROLES, name="membership_role_known"),
            models.CheckConstraint(
                condition=Q(role__in=CLINIC_ROLES, clinic__isnull=False, network=None)
                | Q(role__in=NETWORK_ROLES, clinic=None, network__isnull=False)
                | Q(role="operator", clinic=None, network=None),
                name="membership_place_fits_role",
            ),
            models.CheckConstraint(
                condition=Q(role="tester", tester_id__isnull=False)
                | (~Q(role="tester") & Q(tester_id=None)),
                name="membership_tester_names_its_code",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at=None, revoked_by=None)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="membership_revoked_has_time_and_person",
            ),
            models.UniqueConstraint(
                fields=["user", "role", "clinic", "network"],
                condition=Q(revoked_at=None),
                name="membership_once_in_force",
                nulls_distinct=False,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user_id} {self.role}"


class ApiToken(models.Model):
    """A token for programs: a public id to find it, and a keyed digest of its secret."""

    public_id = CodeField(unique=True)
    membership = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="tokens")
    digest = models.BinaryField()
    key_number = models.PositiveSmallIntegerField()
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=models.F("created_at")),
                name="api_token_expires_after_creation",
            ),
        ]

    def __str__(self) -> str:
        return self.public_id
