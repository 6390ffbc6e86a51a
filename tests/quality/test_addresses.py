"""No address is written by hand: pages, scripts and the API take theirs from the URL configuration."""

import re
from pathlib import Path

from django.urls import URLPattern, URLResolver, get_resolver

PROJECT = Path(__file__).resolve().parents[2]
SOURCES = [
    *(path for package in ("fleet", "onboarding", "api") for path in (PROJECT / package).rglob("*.py")),
    *(PROJECT / "fleet" / "static" / "fleet").rglob("*.js"),
    *(PROJECT / "templates").rglob("*.html"),
    *(PROJECT / "templates").rglob("*.js"),
]
ALLOWED = {
    "fleet/labels/links.py": "the decoder is pure; it recognises what a plate holds",
    "fleet/static/fleet/field/labels.js": "the phone recognises what a plate holds, also without a network",
    "onboarding/management/demo/story.py": "a person from outside, who types addresses",
    "onboarding/management/commands/demo.py": "tells the operator what to open",
    "onboarding/mail/reports.py": "recognises the address that a returned mail quotes",
    "fleet/config/settings.py": "read before there is a URL configuration",
    "fleet/views/admission.py": "looks at addresses before the URL configuration does",
    "api/openapi.py": "compares the version that the document describes",
}


def _first_parts() -> set[str]:
    found = set()
    for entry in get_resolver().url_patterns:
        rows = entry.url_patterns if isinstance(entry, URLResolver) and not str(entry.pattern) else [entry]
        for row in rows:
            assert isinstance(row, URLPattern | URLResolver)
            part = str(row.pattern).split("/")[0].split("<")[0]
            if part:
                found.add(part)
    return found


def _by_hand(text: str, parts: set[str]) -> list[str]:
    """Pieces that are, or begin in the middle of a text with, the start of one of our addresses."""
    text = re.sub(r"``[^`\n]*``", "", text)  # what docstrings quote
    words = "|".join(sorted(map(re.escape, parts)))
    inside = rf"""(?:["'`]|\}})(/(?:{words})(?:/[^"'`\n]*)?)["'`]"""
    linked = r"""(?:href|action|src|hx-get|hx-post)=["'](/[^"'{]*)"""
    return [found.group(1) for pattern in (inside, linked) for found in re.finditer(pattern, text)]


def test_the_search_for_addresses_knows_them_when_it_sees_them():
    parts = _first_parts()
    assert {"sites", "s", "api", "accounts", "mine", "field", "search"} <= parts
    for text in ('f"{settings.BASE_URL}/s/{code}"', 'fetch("/api/v1/sites")', "`/sites/${code}/`", '<a href="/">'):
        assert _by_hand(text, parts), text
    assert not _by_hand('"fleet/sites.html" "Rua / Sitio" "/" "/documents/x"', parts)


def test_no_address_is_written_by_hand():
    parts = _first_parts()
    found = {
        str(path.relative_to(PROJECT)): pieces
        for path in SOURCES
        if path.name != "urls.py" and (pieces := _by_hand(path.read_text(encoding="utf-8"), parts))
    }
    assert {name: pieces for name, pieces in found.items() if name not in ALLOWED} == {}
    assert set(ALLOWED) == set(found), "an exception that nothing needs any more"
