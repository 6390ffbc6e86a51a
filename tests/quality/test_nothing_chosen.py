"""Nothing is ticked or chosen in advance on any form where a person states something."""

from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import reverse

from fleet.search import reindex
from tests import rows
from tests.access_table import Row, all_rows
from tests.world import World

STORED = "shows what is stored, which the person changes"
USUAL = "a fact about a thing, not what somebody said; the usual one stands first"
CHOSEN_AND_WHY = {
    ("onboarding:new_site", "use"): USUAL,
    ("onboarding:new_site", "country"): "the company's own; most of its sites are there",
    ("onboarding:new_site", "owner-kind"): USUAL,
    ("onboarding:new_site", "owner-language"): "the first of the languages offered; the owner changes it",
    ("fleet:edit_site", "country"): STORED,
    ("fleet:edit_site", "use"): STORED,
    ("fleet:sites", "column"): STORED,
    ("fleet:catalogue_model", "kind"): STORED,
    ("fleet:device", "kind"): STORED,
    ("fleet:device", "model"): STORED,
    ("fleet:site", "finding"): STORED,
    ("fleet:member", "role"): STORED,
    ("fleet:policy", "field_sight"): STORED,
    ("fleet:policy", "country"): STORED,
    ("onboarding:new_owner", "kind"): USUAL,
    ("onboarding:new_owner", "language"): "the first of the languages offered; the owner changes it",
    ("onboarding:change_owner", "kind"): STORED,
    ("onboarding:change_owner", "language"): STORED,
    ("onboarding:about_me", "language"): STORED,
    ("onboarding:second_owner", "language"): "the language of the owner who names another",
}


class Forms(HTMLParser):
    """The fields of forms sent by POST that a browser shows as chosen: ``chosen`` holds their names."""

    def __init__(self) -> None:
        super().__init__()
        self.chosen: set[str] = set()
        self.fields: set[str] = set()
        self._posts = False
        self._select = ""
        self._options: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._posts = given.get("method", "").lower() == "post"
        elif not self._posts:
            return
        elif tag == "input" and given.get("type") in ("checkbox", "radio"):
            self.fields.add(given.get("name", ""))
            if "checked" in given:
                self.chosen.add(given.get("name", ""))
        elif tag == "select":
            self._select, self._options = given.get("name", ""), []
            self.fields.add(self._select)
        elif tag == "option" and self._select:
            self._options.append((given.get("value", ""), "selected" in given))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._posts = False
        if tag == "select" and self._select:
            shown = next((value for value, selected in self._options if selected), None)
            if shown is None and self._options:
                shown = self._options[0][0]  # what a browser shows where nothing is selected
            if shown:
                self.chosen.add(self._select)
            self._select = ""


def read_forms(text: str) -> Forms:
    """The forms of a page."""
    forms = Forms()
    forms.feed(text)
    return forms


def _pages() -> Iterator[tuple[str, Row]]:
    for name, its_rows in all_rows().items():
        for row in its_rows:
            if row.method == "get" and not name.startswith(("api:", "(no name)")):
                yield name, row


def _asked(name: str, row: Row, world: World, role: str) -> str:
    cache.clear()  # no limit of an earlier request counts
    with transaction.atomic():
        client: Client = world.client_of(role)
        answer = client.get(reverse(name, kwargs=row.path(world)), query_params=row.query(world))
        html = answer.status_code == 200 and "html" in answer.get("Content-Type", "") and not answer.streaming
        text = answer.content.decode() if html else ""
        transaction.set_rollback(True)
    return text


@pytest.mark.django_db
def test_no_form_opens_with_an_answer_chosen_for_the_person():
    world = World()
    ready = rows.make_owner(world.ours)
    new_site = rows.make_site(world.ours)
    rows.own(ready, new_site)
    rows.make_consent(new_site, ready)
    reindex([new_site.pk])
    chosen: dict[tuple[str, str], Any] = {}
    walked: set[str] = set()
    for name, row in _pages():
        for role in {role for role in ("administrator", "owner", "anonymous") if row.expected()[role] == 200}:
            forms = read_forms(_asked(name, row, world, role))
            walked |= {name} if forms.fields else set()
            chosen |= {(name, field): role for field in forms.chosen}
    assert {"onboarding:record_consent", "onboarding:ready", "fleet:place_by_hand", "fleet:members"} <= walked
    assert sorted(set(chosen) - set(CHOSEN_AND_WHY)) == []
    assert sorted(set(CHOSEN_AND_WHY) - set(chosen)) == [], "exceptions that are needed no more"


def test_the_walk_sees_a_tick_a_radio_and_a_first_option():
    page = (
        '<form method="post"><input type="checkbox" name="a" checked><input type="radio" name="b" value="1" checked>'
        '<select name="c"><option value="x">X</option></select><select name="d"><option value="">choose</option>'
        '<option value="x">X</option></select></form><form><input type="checkbox" name="e" checked></form>'
    )
    assert read_forms(page).chosen == {"a", "b", "c"}
