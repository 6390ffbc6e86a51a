"""Every form that a page shows can be sent: it carries the token against forged requests."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.world import World

FORM = re.compile(r"<form\b[^>]*method=\"post\".*?</form>", re.DOTALL)
PAGES = {
    "administrator": ("fleet:site", "onboarding:invitation", "onboarding:record_consent", "onboarding:ready"),
    "owner": ("onboarding:my_site", "onboarding:about_me", "onboarding:second_owner"),
}


def _address(name: str, world: World) -> str:
    owner = world.site.ownerships.filter(owner__user__isnull=True)[0].owner
    given: dict[str, dict[str, Any]] = {
        "onboarding:invitation": {"public_id": world.invitation.public_id},
        "onboarding:record_consent": {"code": world.site.code, "owner_id": owner.public_id},
        "onboarding:ready": {},
    }
    return reverse(name, kwargs=given.get(name, {"code": world.site.code}))


@pytest.mark.django_db
@pytest.mark.parametrize("role", PAGES)
def test_forms_carry_their_token(role: str):
    world = World()
    client: Client = world.client_of(role)
    bare = []
    for name in PAGES[role]:
        text = client.get(_address(name, world)).content.decode()
        bare += [f"{name}: {form[:90]}" for form in FORM.findall(text) if "csrfmiddlewaretoken" not in form]
    assert bare == []
