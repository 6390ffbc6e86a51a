"""The user: one person who signs in, whatever they are a member or owner of."""

import uuid
from typing import Any

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy as _

LONG_ENOUGH_ALONE = (
    15  # characters of a password that is the only factor, NIST SP 800-63B-4 section 3.1.1 (from memory)
)


class UserManager(BaseUserManager["User"]):
    """Makes users; addresses are unique whatever their letter case."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "User":
        """A new user; without a password the account cannot sign in until one is set."""
        user = self.model(email=email.strip(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> "User":
        """The user with this address, whatever its letter case."""
        return self.get(email__iexact=username)


class User(AbstractBaseUser):
    """One person's sign-in. Personal data: ``email``, ``name``.

    Sessions bear ``session_generation``; raising it ends them all. ``short_password`` says that the password would be
    too short without a second factor, which therefore cannot be taken off.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    email = models.EmailField(_("e-mail address"), max_length=254, unique=True)
    name = models.CharField(_("name"), max_length=120, blank=True)
    language = models.CharField(_("language"), max_length=10, blank=True)
    is_active = models.BooleanField(default=True)
    date_joined = models.DateTimeField(default=timezone.now)
    short_password = models.BooleanField(default=False, db_default=False)
    session_generation = models.PositiveIntegerField(default=0, db_default=0)

    objects = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("email"), name="user_email_once"),
            models.CheckConstraint(condition=~models.Q(email=""), name="user_email_there"),
        ]

    def __str__(self) -> str:
        return str(self.id)

    def get_full_name(self) -> str:
        """The name to show, or the address where no name is known."""
        return self.name or self.email

    def set_password(self, raw_password: str | None) -> None:
        """Set a password, and note whether it is long enough to stand alone."""
        super().set_password(raw_password)
        self.short_password = raw_password is not None and len(raw_password) < LONG_ENOUGH_ALONE

    def get_session_auth_hash(self) -> str:
        """What every session of this person carries: it fits until the password or the generation changes."""
        if not self.session_generation:
            return str(super().get_session_auth_hash())
        text = f"{self.session_generation}:{self.password}"
        return salted_hmac("fleet.session_generation", text, algorithm="sha256").hexdigest()
