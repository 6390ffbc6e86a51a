"""Everybody's walks in every language, and what they amount to."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.conf import settings

from tests.access_table import known_urls
from tests.walk.crawl import Found, Limits, Walk, name_of
from tests.walk.unreached import UNREACHED
from tests.walk.visitor import Visitor

ANYBODY = "anonymous"
WORD = "Vila"  # of every town's name in the demo


@dataclass(frozen=True)
class Account:
    """How somebody signs in."""

    email: str
    password: str


def visitor_of(base: str, who: str, account: Account | None, language: str) -> Visitor:
    """A visitor, signed in where there is an account."""
    visitor = Visitor(base, who, language)
    if account is not None:
        visitor.sign_in(account.email, account.password)
    return visitor


def walk_all(
    base: str, accounts: Mapping[str, Account], limits: Limits, tell: Callable[[str], None] = lambda _line: None
) -> Found:
    """Walk as each of ``accounts`` and as nobody, in every language offered."""
    found = Found()
    for language, _name in settings.LANGUAGES:
        for who, account in [*accounts.items(), (ANYBODY, None)]:
            visitor, known = visitor_of(base, who, account, language), len(found.faults)
            Walk(visitor, found, limits, WORD).everywhere()
            visitor.leave()
            tell(f"{who} ({language}): {found.asked} addresses asked, {len(found.faults)} faults so far")
            for fault in found.faults[known:]:
                tell(f"  {fault}")
    return found


def never_reached(found: Found) -> list[str]:
    """URL names that no page led to or loaded and no form offered, and that the committed list does not explain."""
    return sorted({url.name for url in known_urls()} - _reached(found) - set(UNREACHED))


def stale(found: Found) -> list[str]:
    """Entries of the committed list that the walk reached after all, or that are no URL names any more."""
    names = {url.name for url in known_urls()}
    return sorted(name for name in UNREACHED if name not in names or name in _reached(found))


def _reached(found: Found) -> set[str]:
    return set(found.opened) | found.offered | {name_of(address) for address in found.loaded}
