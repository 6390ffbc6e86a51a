"""Every staff page in a real browser: accessible, no sideways scrolling at 320 px, nothing stopped by the CSP."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page

from fleet.models import Scan, SiteReference
from onboarding.models import ConsentStanding, EndNotice
from tests.browser.axe import overflow, violations
from tests.world import World

pytestmark = [pytest.mark.browser, pytest.mark.once, pytest.mark.django_db(transaction=True)]


def _pages(world: World) -> list[str]:
    at = {"code": world.site.code}
    placed = at | {"public_id": world.placements[0].public_id}
    scan = Scan.objects.filter(site=world.site).order_by("pk")[0]
    named: list[tuple[str, dict[str, Any]]] = [
        *((f"fleet:{name}", {}) for name in ("today", "labels_waiting", "problems", "sites")),
        ("onboarding:new_site", {}),
        *((f"fleet:{name}", at) for name in ("site", "edit_site", "plate", "scan", "place_by_hand")),
        ("fleet:scan_result", at | {"client_id": scan.client_id}),
        ("fleet:swap", placed),
        *((f"fleet:{name}", {"public_id": world.device.public_id}) for name in ("device", "move")),
        ("fleet:member", {"public_id": world.field.public_id}),
        *(
            (f"fleet:{name}", {})
            for name in ("members", "tokens", "policy", "catalogue", "link_domains", "label_forms", "new_label_form")
        ),
        *_of_owners(world),
    ]
    addresses = [reverse(name, kwargs=kwargs) for name, kwargs in named]
    return [*addresses, "/sites/?q=amoreira&counts=shown", "/sites/?q=nothing-like-it", "/s/AAAA-AAAA", "/no/such/page"]


def _of_owners(world: World) -> list[tuple[str, dict[str, Any]]]:
    """Onboarding's pages for staff, with something on each."""
    EndNotice.objects.create(
        company=world.ours, entry=ConsentStanding.objects.filter(site=world.site)[0].entry, reason="time"
    )
    ConsentStanding.objects.update(ends_at=timezone.now() + timedelta(days=3))
    owner = {"owner_id": world.invitation.owner.public_id}
    return [
        *((f"onboarding:{name}", {}) for name in ("invitations", "ready", "sending", "suppressions", "endings")),
        ("onboarding:invitation", {"public_id": world.invitation.public_id}),
        ("onboarding:wordings", {}),
        ("onboarding:wording", {"purpose": "contact", "language": "en"}),
        ("onboarding:new_owner", {"code": world.site.code}),
        *((f"onboarding:{name}", {"code": world.site.code} | owner) for name in ("change_owner", "record_consent")),
        ("onboarding:erase_owner", owner),
    ]


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_pages_are_accessible(page_of: Callable[..., Page], complaints: list[str], width: int, scheme: str):
    world = World()
    page = page_of(world.administrator.user, width=width, scheme=scheme)
    found = {}
    for address in _pages(world):
        page.goto(address)
        if faults := violations(page):
            found[address] = faults
    assert found == {}
    assert complaints == []


def test_pages_fit_the_narrowest_phone(page_of: Callable[..., Page]):
    world = World()
    SiteReference.objects.create(
        company=world.ours, site=world.site, kind="meter_point", value="PT0002" + "0123456789ABCDEF" * 4
    )
    page = page_of(world.administrator.user, width=320)
    too_wide = {}
    for address in _pages(world):
        page.goto(address)
        if wider := overflow(page):
            too_wide[address] = wider
    assert too_wide == {}


def test_an_open_search_is_accessible(page_of: Callable[..., Page]):
    world = World()
    page = page_of(world.administrator.user)
    page.goto("/")
    page.fill("#search-box", world.site.street[:6])
    page.wait_for_selector("#search-answers [role=option]")
    page.keyboard.press("ArrowDown")
    assert violations(page) == []


def test_a_refused_form_is_accessible(page_of: Callable[..., Page]):
    world = World()
    page = page_of(world.administrator.user)
    page.goto(reverse("onboarding:new_site"))
    page.get_by_role("button", name="Register").click()
    assert page.get_by_label("Street").get_attribute("aria-invalid") == "true"
    described = page.get_by_label("Street").get_attribute("aria-describedby") or ""
    assert page.locator(f"#{described.split()[0]}").inner_text().strip()
    assert page.evaluate("document.activeElement.name") == "street"
    assert violations(page) == []
