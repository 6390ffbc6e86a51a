"""The owner's own pages and the link of the invitation: who gets what."""

import hashlib
from datetime import date
from typing import Any

from onboarding.models import ConsentEntry, InvitationLink
from tests.access_table import Row, anybody
from tests.world import World

TOKEN = "a-token-of-the-tests-own-that-nobody-guesses"


def owners_object(status: int = 200, **more: Any) -> Row:
    """A page about one site of ours, for its owner: everybody else gets 404, strangers the sign-in."""
    others = dict.fromkeys(
        ("administrator", "office", "field", "unassigned", "other_owner", "outsider", "foreign"), 404
    )
    return Row(owner=status, anonymous=302, **({"reader": "owner"} | others | more))


def _site(world: World) -> dict[str, Any]:
    return {"code": world.site.written_code}


def _entry(world: World) -> dict[str, Any]:
    entry = ConsentEntry.objects.filter(site=world.site, owner=world.owner).order_by("position")[0]
    return {"code": world.site.written_code, "entry_id": entry.entry_id}


def _link(world: World) -> dict[str, Any]:
    InvitationLink.objects.create(
        company=world.ours,
        invitation=world.invitation,
        send_number=1,
        token_hash=hashlib.sha256(TOKEN.encode()).hexdigest(),
    )
    return {"token": TOKEN}


def _second(_world: World) -> dict[str, Any]:
    return {"name": "Rui Exemplo", "email": "rui@example.net", "agreed": "on", "language": "en"}


OWNER_ROWS: dict[str, Row | list[Row]] = {
    "onboarding:welcome": [
        anybody(path=_link, shared=True, reader="anonymous"),
        anybody(302, path=_link, shared=True, method="post", data=lambda _w: {"act": "continue"}),
    ],
    "onboarding:letter": [
        anybody(reader="anonymous"),
        anybody(422, method="post", data=lambda _w: {"code": "0000"}),
    ],
    # our people are led to the site; everybody else reads the one page that says nothing of it
    "onboarding:plate_link": anybody(
        200,
        path=_site,
        shared=True,
        reader="anonymous",
        **dict.fromkeys(("administrator", "office", "field", "owner"), 302),
    ),
    "onboarding:mine": Row(
        administrator=404,
        office=404,
        field=404,
        unassigned=404,
        owner=302,
        other_owner=302,
        outsider=200,
        foreign=404,
        anonymous=302,
        reader="owner",
    ),
    "onboarding:my_site": owners_object(path=_site),
    "onboarding:answer": owners_object(
        302, path=_site, method="post", data=lambda _w: {"purpose": "contact", "answer": "allow"}
    ),
    "onboarding:about_me": [
        owners_object(path=_site),
        owners_object(302, path=_site, method="post", data=lambda _w: {"phone": "1", "language": "en"}),
    ],
    "onboarding:second_owner": [
        owners_object(path=_site),
        owners_object(302, path=_site, method="post", data=_second),
    ],
    "onboarding:sold": [
        owners_object(path=_site),
        owners_object(
            302, path=_site, method="post", data=lambda _w: {"sold_on": date.today().isoformat(), "act": "send"}
        ),
    ],
    "onboarding:take_back_sale": owners_object(302, path=_site, method="post"),
    "onboarding:receipts": owners_object(path=_site),
    "onboarding:receipt": owners_object(path=_entry),
    "onboarding:receipt_file": owners_object(path=_entry),
    "onboarding:my_data": owners_object(path=_site),
}
