"""Onboarding's pages: who gets what."""

from django.conf import settings

from onboarding.mail.return_path import leave_opaque
from tests import rows
from tests.access_table import Row, anybody, signed_in
from tests.onboarding.owner_rows import OWNER_ROWS
from tests.onboarding.staff_rows import STAFF_ROWS
from tests.world import World


def _leave(world: World) -> dict[str, str]:
    delivery = world.invitation.deliveries.first() or rows.make_delivery(world.invitation)
    return {"opaque": leave_opaque(delivery.public_id, settings.SECRET_KEY)}


def _letter(_world: World) -> dict[str, str]:
    return {"name": "0" * 32}


def _provider(_world: World) -> dict[str, str]:
    return {"provider": "mailgun"}


def _link(_world: World) -> dict[str, str]:
    return {"token": "no-such-link"}


def _passkey(_world: World) -> dict[str, int]:
    return {"pk": 1}


MAIL_ROWS: dict[str, Row | list[Row]] = {
    "onboarding:objection": [
        anybody(404, path=_letter, shared=True),
        anybody(404, path=_letter, shared=True, method="post"),
    ],
    "onboarding:leave": [
        anybody(path=_leave, shared=True, reader=None, why="reads one delivery"),
        anybody(400, path=_leave, shared=True, reader=None, method="post", why="not the POST of RFC 8058"),
    ],
    # without a provider in the settings there are no hooks
    "onboarding:mail_hook": anybody(404, path=_provider, reader=None, method="post", why="reads no rows"),
    # outside the demo there is no mailbox
    "onboarding:mailbox": anybody(404, reader=None, why="reads no rows"),
    "onboarding:mailbox_letter": anybody(404, path=_letter, reader=None, why="reads no rows"),
    "onboarding:mailbox_html": anybody(404, path=_letter, reader=None, why="reads no rows"),
}
ACCOUNT_ROWS: dict[str, Row | list[Row]] = {
    # one's own address: another is asked for once the password or second factor was given again
    "onboarding:address": [signed_in(), signed_in(302, method="post", data=lambda _w: {"address": "new@example.net"})],
    "onboarding:confirm_address": [
        anybody(404, path=_link, shared=True),
        anybody(404, path=_link, shared=True, method="post"),
    ],
    "onboarding:stop_address": [
        anybody(404, path=_link, shared=True),
        anybody(404, path=_link, shared=True, method="post"),
    ],
    # about the person who is signed in and nothing else, who is asked for the password before
    "onboarding:remove_passkey": [
        signed_in(302, path=_passkey, shared=True, method=method) for method in ("get", "post", "delete")
    ],
}
ROWS = OWNER_ROWS | STAFF_ROWS | MAIL_ROWS | ACCOUNT_ROWS
