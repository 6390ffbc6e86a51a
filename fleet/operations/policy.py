"""What a company's administrators decide for everybody, and the company's own particulars."""

from typing import Any
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import CompanyPolicy, Member
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput
from fleet.operations.rollback import unchanged_if_refused

PARTICULARS = ("name", "reply_email", "phone", "phone_hours", "address", "country")
DECISIONS = (
    "field_sight", "ready_before_invite", "retention_months", "quiet_from", "quiet_until", "daily_mail_limit",
    "invitation_days", "first_reminder_days", "second_reminder_days", "default_time_zone",
)  # fmt: skip


class BadPolicy(BadInput):
    """A decision cannot be used; ``facts["errors"]`` maps names to messages."""

    code = "bad_policy"


@unchanged_if_refused
def decide_policy(*, actor: Member, particulars: dict[str, Any], decisions: dict[str, Any]) -> CompanyPolicy:
    """Save the company's PARTICULARS and DECISIONS, as far as they are given. Raises BadPolicy, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    company, policy = actor.company, actor.company.policy
    before = _shown(company, PARTICULARS) | _shown(policy, DECISIONS)
    for row, names, given in ((company, PARTICULARS, particulars), (policy, DECISIONS, decisions)):
        for name in names:
            if name in given:
                setattr(row, name, given[name])
        try:
            row.full_clean(validate_unique=False)
        except ValidationError as error:
            raise BadPolicy(errors=error.message_dict) from error
    if policy.default_time_zone not in available_timezones():
        raise BadPolicy(
            _("There is no such time zone. Write it as in Europe/Lisbon; nothing was saved."), field="default_time_zone"
        )
    with transaction.atomic():
        company.save(update_fields=PARTICULARS)
        policy.save(update_fields=DECISIONS)
        after = _shown(company, PARTICULARS) | _shown(policy, DECISIONS)
        changed = [name for name in after if after[name] != before[name]]
        record_act(
            act="decide_policy", company=company, about=company, actor=actor,
            before={name: before[name] for name in changed}, after={name: after[name] for name in changed},
        )  # fmt: skip
    return policy


def _shown(row: Any, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: _plain(getattr(row, name)) for name in names}


def _plain(value: Any) -> Any:
    return value if value is None or isinstance(value, str | int | bool) else str(value)
