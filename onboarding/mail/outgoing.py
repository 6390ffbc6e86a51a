"""The transport that ``ROOFTALLY_MAIL_URL`` names."""

from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings

from onboarding.mail.mailbox import MailboxTransport
from onboarding.mail.provider import provider_transport
from onboarding.mail.smtp import smtp_transport
from onboarding.mail.transport import Transport, read_mail_url


def mailbox_folder() -> Path:
    """Where the demo's letters are kept."""
    return Path(settings.DATA_DIR) / "mailbox"


def configured_transport() -> Transport | None:
    """The transport of the settings; None where no mail server is set. Raises ValueError for a URL it cannot use."""
    if not settings.MAIL_URL:
        return None
    url = read_mail_url(settings.MAIL_URL)
    if url.scheme == "mailbox":
        return MailboxTransport(mailbox_folder())
    if url.scheme == "anymail":
        return provider_transport(url, timeout=settings.MAIL_TIMEOUT)
    hello = urlsplit(settings.BASE_URL).hostname or "localhost"
    return smtp_transport(url, timeout=settings.MAIL_TIMEOUT, hello=hello)
