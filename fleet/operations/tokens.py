"""Issuing and revoking API tokens."""

import secrets
from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import ApiToken, Member, Scope
from fleet.operations.audit import record_act
from fleet.operations.members import token_hash
from fleet.operations.permissions import Act, may
from fleet.operations.refusals import BadInput, NotThere
from fleet.operations.rollback import unchanged_if_refused

PREFIX = "rt_"


class BadToken(BadInput):
    """The name, the scopes or the end cannot be used."""

    code = "bad_token"


class UnknownToken(NotThere):
    """No such token for this member."""

    code = "unknown_token"


@unchanged_if_refused
def issue_token(
    *, actor: Member, name: str, scopes: list[str], expires_at: datetime | None = None
) -> tuple[ApiToken, str]:
    """A token that acts as ``actor``, and its secret, which is shown this once. Raises BadToken."""
    if not name.strip() or len(name) > 80:
        raise BadToken(_("Say in 1 to 80 characters what the token is for."), field="name")
    if not scopes or not set(scopes) <= set(Scope.values):
        raise BadToken(_("Choose at least one of the scopes."), field="scopes")
    if expires_at is not None and expires_at <= timezone.now():
        raise BadToken(_("The end lies in the past."), field="expires_at")
    secret = PREFIX + secrets.token_urlsafe(32)
    with transaction.atomic():
        token = ApiToken.objects.create(
            company=actor.company, member=actor, name=name.strip(), token_hash=token_hash(secret),
            scopes=sorted(set(scopes)), expires_at=expires_at,
        )  # fmt: skip
        record_act(act="issue_token", company=actor.company, about=token, actor=actor, after={"scopes": token.scopes})
    return token, secret


@unchanged_if_refused
def revoke_token(*, actor: Member, token: ApiToken) -> ApiToken:
    """End a token at once: one's own, or as administrator anybody's in the company. Raises UnknownToken."""
    if token.company_id != actor.company_id or (token.member_id != actor.pk and not may(actor, Act.MANAGE_COMPANY)):
        raise UnknownToken
    with transaction.atomic():
        if ApiToken.objects.filter(pk=token.pk, revoked_at__isnull=True).update(revoked_at=timezone.now()):
            record_act(act="revoke_token", company=actor.company, about=token, actor=actor)
    token.refresh_from_db()
    return token


@unchanged_if_refused
def note_use(*, token: ApiToken) -> None:
    """Remember the day of a token's last use; at most one write a day."""
    today = timezone.localdate()
    if token.last_used_on != today:
        ApiToken.objects.filter(pk=token.pk).update(last_used_on=today)
