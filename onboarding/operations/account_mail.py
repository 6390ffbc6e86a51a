"""Mail about accounts: it rests on the contract with the user, and goes to users and invited members only."""

from typing import Any

from fleet.models import Company, User
from onboarding.models import Delivery, Stream
from onboarding.operations.deliveries import queue_delivery


def queue_account_mail(
    *,
    template: str,
    to_address: str,
    context: dict[str, Any],
    language: str = "en",
    company: Company | None = None,
    user: User | None = None,
) -> Delivery:
    """Queue one mail about an account. Raises UnusableAddress. Secrets in ``context`` go once the mail has ended."""
    return queue_delivery(
        stream=Stream.ACCOUNT,
        template=template,
        to_address=to_address,
        language=language or "en",
        company=company,
        context=context,
        user=user,
    )
