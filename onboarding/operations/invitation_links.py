"""The ways into an invitation: links in mails and codes in letters. Only their SHA-256 is kept."""

import hashlib
import re
import secrets
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, Stage
from fleet.operations.refusals import Conflicting, NotThere
from onboarding.models import Invitation, InvitationLink, InvitationState

TOKEN_BYTES = 32
CODE_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # Crockford's Base32: no I, L, O, U
CODE_LENGTH = 16
_CODE = re.compile(f"[{CODE_ALPHABET}]{{{CODE_LENGTH}}}")


class LinkUnknown(NotThere):
    """No such link."""

    code = "link_unknown"
    sentence = _("This link leads nowhere. Look whether it was cut off in the mail, or ask the company for another.")


class LinkReplaced(Conflicting):
    """A newer link was sent."""

    code = "link_replaced"
    sentence = _("This link was replaced by a newer one. Look for the latest mail from the company.")


class LinkExpired(Conflicting):
    """The invitation ran out."""

    code = "link_expired"
    sentence = _("This invitation has run out. Nothing was lost; you can have a new link sent.")


class LinkUsed(Conflicting):
    """The invitation was accepted before."""

    code = "link_used"
    sentence = _("This invitation was accepted already. Sign in to see your site.")


class LinkEnded(Conflicting):
    """The invitation was called off."""

    code = "link_ended"
    sentence = _("This invitation was called off. Nothing is asked of you.")


@dataclass(frozen=True)
class FoundLink:
    """A link with its invitation (company, site and owner loaded)."""

    link: InvitationLink
    invitation: Invitation


def mint_link(*, invitation: Invitation, send_number: int) -> str:
    """A fresh token for one mail of ``invitation``; it is returned once and kept nowhere."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    _keep(invitation, send_number, InvitationLink.Kind.MAIL, token)
    return token


def mint_letter_code(*, invitation: Invitation, send_number: int, printed_by: Member) -> str:
    """A fresh code of 16 symbols (80 bits) for one printed letter, without dashes; returned once and kept nowhere."""
    code = "".join(secrets.choice(CODE_ALPHABET) for _ in range(CODE_LENGTH))
    _keep(invitation, send_number, InvitationLink.Kind.LETTER, code, printed_by)
    return code


def written_code(code: str) -> str:
    """The code as it is printed: four groups of four."""
    return "-".join(code[start : start + 4] for start in range(0, CODE_LENGTH, 4))


def typed_code(text: str) -> str | None:
    """A letter's code as somebody typed it (small letters, spaces, O for 0, I or L for 1); None when it is none."""
    folded = re.sub(r"[\s-]", "", text[:100]).upper().translate(str.maketrans("OIL", "011"))
    return folded if _CODE.fullmatch(folded) else None


def find_link(token: str) -> FoundLink | None:
    """The link that ``token`` opens or once opened; None when there never was one."""
    if not 8 <= len(token) <= 100 or not token.isascii():
        return None
    link = (
        InvitationLink.objects.filter(token_hash=_digest(token))
        .select_related(
            "invitation__company__policy", "invitation__site__company", "invitation__owner", "invitation__owner__user"
        )
        .first()
    )
    return FoundLink(link, link.invitation) if link else None


def good_link(token: str) -> FoundLink:
    """The link that ``token`` opens now. Raises LinkUnknown, LinkReplaced, LinkExpired, LinkUsed or LinkEnded."""
    found = find_link(token)
    if found is None:
        raise LinkUnknown
    refuse_closed(found)
    return found


def refuse_closed(found: FoundLink) -> None:
    """Raise the reason for which a known link does not open any more; ``facts["language"]`` is its owner's."""
    reason = _closed_by(found)
    if reason is not None:
        raise reason(language=found.invitation.owner.language)


def _closed_by(found: FoundLink) -> type[Conflicting] | None:
    invitation = found.invitation
    if invitation.state == InvitationState.ACCEPTED:
        return LinkUsed
    if invitation.site.stage == Stage.RETIRED:
        return LinkEnded
    if invitation.state == InvitationState.EXPIRED or _past_its_time(invitation):
        return LinkExpired
    if invitation.state == InvitationState.REPLACED:
        return LinkReplaced
    if invitation.state in (InvitationState.CANCELLED, InvitationState.COMPLAINED):
        return LinkEnded
    return LinkReplaced if found.link.ended_at is not None else None


def _past_its_time(invitation: Invitation) -> bool:
    return invitation.expires_at is not None and invitation.expires_at <= timezone.now()


def _keep(invitation: Invitation, send_number: int, kind: str, token: str, made_by: Member | None = None) -> None:
    InvitationLink.objects.create(
        company_id=invitation.company_id,
        invitation=invitation,
        kind=kind,
        send_number=send_number,
        token_hash=_digest(token),
        made_by=made_by,
    )


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
