"""Doing an act once for one key of one member, however often it is asked for.

The claim commits first, so that a second request at the same time is told to wait. The act and its answer commit
together, so an answer is there exactly when the act was done; a claim without an answer, left by a process that died,
is taken over after a while.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import IdempotencyRecord, Member
from fleet.operations.refusals import BadInput, Conflicting
from fleet.operations.rollback import unchanged_if_refused

KEPT = timedelta(hours=24)
CLAIM_LASTS = timedelta(seconds=60)


class KeyReused(BadInput):
    """The key was used for other content."""

    code = "idempotency_key_reused"
    sentence = _("This Idempotency-Key was used for other content. Nothing was changed. Use a fresh key.")


class KeyInUse(Conflicting):
    """The first request with this key has not been answered yet."""

    code = "idempotency_key_in_use"
    sentence = _("The first request with this Idempotency-Key is still being worked on. Send it again in a moment.")


@dataclass(frozen=True)
class Answer:
    """An answer in JSON and its HTTP status."""

    status: int
    body: Any


@unchanged_if_refused
def answer_once(*, actor: Member, key: str, fingerprint: str, act: Callable[[], Answer]) -> Answer:
    """The stored answer for ``key``, or else the answer of ``act``, done now. A refusal is not stored.

    Raises KeyReused, KeyInUse, and whatever ``act`` raises.
    """
    forget_old_answers(actor=actor)
    record, mine = IdempotencyRecord.objects.get_or_create(
        member=actor, key=key, defaults={"company": actor.company, "fingerprint": fingerprint}
    )
    if record.fingerprint != fingerprint:
        raise KeyReused
    if record.status is not None:
        return Answer(record.status, record.body)
    since = record.created_at if mine else _take_over(record)
    return _do(record, since, act)


@unchanged_if_refused
def forget_old_answers(*, actor: Member) -> None:
    """Delete the member's answers that are older than a day."""
    old = IdempotencyRecord.objects.filter(member=actor, created_at__lt=timezone.now() - KEPT)
    if old.exists():
        old.delete()


def _take_over(record: IdempotencyRecord) -> datetime:
    now = timezone.now()
    won = IdempotencyRecord.objects.filter(
        pk=record.pk, status__isnull=True, created_at=record.created_at, created_at__lt=now - CLAIM_LASTS
    ).update(created_at=now)
    if not won:
        raise KeyInUse
    return now


def _do(record: IdempotencyRecord, since: datetime, act: Callable[[], Answer]) -> Answer:
    mine = IdempotencyRecord.objects.filter(pk=record.pk, status__isnull=True, created_at=since)
    try:
        with transaction.atomic():
            answer = act()
            body = json.loads(json.dumps(answer.body, cls=DjangoJSONEncoder))
            if not mine.update(status=answer.status, body=body):
                raise KeyInUse
    except Exception:
        mine.delete()
        raise
    return Answer(answer.status, body)
