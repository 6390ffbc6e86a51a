"""What an owner answered, said to the owner."""

from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.models import Site
from fleet.templatetags.house import day_in_zone
from onboarding.ledger.standing import SAYS_NO
from onboarding.models import ConsentEntry, ConsentState, Evidence, Purpose
from onboarding.queries.consents import Permission
from onboarding.queries.mine import SHORT_WORDS

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

_NO: "dict[str, StrOrPromise]" = {
    ConsentState.REFUSED: gettext_lazy("you said no on %(day)s"),
    ConsentState.WITHDRAWN: gettext_lazy("you took it back on %(day)s"),
    ConsentState.REVOKED: gettext_lazy("it was ended by somebody else on %(day)s"),
    ConsentState.INVALIDATED: gettext_lazy("it ended on %(day)s"),
}
_YES: "dict[str, StrOrPromise]" = {
    Evidence.OWNER_ONLINE: gettext_lazy("you said yes on %(day)s"),
    Evidence.SIGNATURE: gettext_lazy("you signed for it on %(day)s"),
    Evidence.PAPER_REFERENCE: gettext_lazy("you said yes on paper on %(day)s"),
    Evidence.LETTER: gettext_lazy(
        "yes was said with a letter's code on %(day)s; it counts once your mailbox or a paper confirms it"
    ),
    Evidence.STAFF_STATEMENT: gettext_lazy("it was noted on %(day)s that you said yes; only your own answer counts"),
    Evidence.CO_OWNER: gettext_lazy("another owner said yes for you on %(day)s; only your own answer counts"),
}
_ANSWERS: "dict[str, StrOrPromise]" = {
    ConsentState.REQUESTED: gettext_lazy("you were asked"),
    ConsentState.GIVEN: gettext_lazy("yes"),
    ConsentState.REFUSED: gettext_lazy("no"),
    ConsentState.WITHDRAWN: gettext_lazy("no longer"),
    ConsentState.REVOKED: gettext_lazy("ended by somebody else"),
    ConsentState.EXPIRED: gettext_lazy("ended, its time was over"),
    ConsentState.INVALIDATED: gettext_lazy("ended, it no longer applies"),
    ConsentState.RENEWED: gettext_lazy("yes, again"),
}
_HOW: "dict[str, StrOrPromise]" = {
    Evidence.OWNER_ONLINE: gettext_lazy("by yourself"),
    Evidence.SIGNATURE: gettext_lazy("signed by you"),
    Evidence.PAPER_REFERENCE: gettext_lazy("on paper"),
    Evidence.LETTER: gettext_lazy("with the code of a printed letter"),
    Evidence.STAFF_STATEMENT: gettext_lazy("noted by the company"),
    Evidence.CO_OWNER: gettext_lazy("said by another owner"),
}
NOT_THE_OWNER = frozenset({ConsentState.EXPIRED, ConsentState.INVALIDATED})


def answer_now(permission: Permission) -> str:
    """What the owner's answer comes to today, in a word or two: a yes whose time is over is neither yes nor no."""
    if permission.strong:
        return _("yes")
    if permission.ran_out:
        return _("time is over, not answered anew")
    standing = permission.standing
    return _("no") if standing is not None and standing.state in SAYS_NO else _("not answered")


def you_said(permission: Permission, site: Site) -> str:
    """``you said yes on 12 May 2026``: the answer that stands, by whom and when."""
    standing = permission.standing
    if standing is None or standing.state == ConsentState.REQUESTED:
        return _("you have not answered yet")
    if permission.ran_out:
        told = (
            _("your yes ran out on %(day)s and counts no more; answer anew")
            if standing.strong
            else _("the yes that was noted for you ran out on %(day)s; answer for yourself")
        )
        return told % {"day": day_in_zone(standing.ends_at or standing.at, site)}
    noted = not permission.given and standing.entry.evidence == Evidence.STAFF_STATEMENT
    if permission.given:
        said = str(_YES[standing.entry.evidence])
    elif noted and standing.state in (ConsentState.REFUSED, ConsentState.WITHDRAWN):
        said = _("it was noted on %(day)s that you said no")
    else:
        said = str(_NO[standing.state])
    told = said % {"day": day_in_zone(standing.at, site)}
    if permission.given and standing.ends_at:
        told += _("; it runs out on %(day)s") % {"day": day_in_zone(standing.ends_at, site)}
    return told


def short_answer(entry: ConsentEntry) -> str:
    """``Measurements: yes``."""
    return f"{SHORT_WORDS[Purpose(entry.purpose)]}: {_ANSWERS[entry.state]}"


def how_answered(entry: ConsentEntry) -> str:
    """Where the answer came from, in the owner's words; what ended by itself came from nobody."""
    return _("by itself") if entry.state in NOT_THE_OWNER else str(_HOW[entry.evidence])
