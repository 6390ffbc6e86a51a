"""Who may do what: the table of design section 15, in one place."""

from enum import Enum

from fleet.models import Member, Role
from fleet.operations.refusals import NotAllowed

EVERYONE = frozenset({Role.ADMINISTRATOR, Role.OFFICE, Role.FIELD})
DESK = frozenset({Role.ADMINISTRATOR, Role.OFFICE})
ADMINISTRATORS = frozenset({Role.ADMINISTRATOR})


class Act(Enum):
    """An act with the roles that may do it, each within the sites that the member may see."""

    EDIT_SITE = ("edit_site", EVERYONE)
    SCAN = ("scan", EVERYONE)
    RECORD_CHECK = ("record_check", EVERYONE)
    RECORD_CONSENT = ("record_consent", EVERYONE)
    INVITE_OWNER = ("invite_owner", EVERYONE)
    RETIRE = ("retire", DESK)
    CHANGE_OWNER = ("change_owner", DESK)
    PRINT_LETTER = ("print_letter", DESK)
    ATTACH_OWNER = ("attach_owner", DESK)
    READDRESS_OWNER = ("readdress_owner", DESK)  # one who owns other sites too
    ASSIGN = ("assign", DESK)
    IMPORT = ("import", DESK)
    WAIVE_CHECK = ("waive_check", ADMINISTRATORS)
    ERASE_OWNER = ("erase_owner", ADMINISTRATORS)
    SETTLE_DELIVERY = ("settle_delivery", ADMINISTRATORS)
    LIFT_SUPPRESSION = ("lift_suppression", ADMINISTRATORS)
    UNDO_LATE = ("undo_late", ADMINISTRATORS)
    MANAGE_COMPANY = ("manage_company", ADMINISTRATORS)

    @property
    def roles(self) -> frozenset[str]:
        """The roles that may do it."""
        return self.value[1]


def may(member: Member, act: Act) -> bool:
    """Whether this member's role includes the act."""
    return member.active and member.role in act.roles


def require(member: Member, act: Act) -> None:
    """Raise NotAllowed unless this member's role includes the act."""
    if not may(member, act):
        raise NotAllowed
