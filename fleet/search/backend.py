"""Which of the two database modules speaks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from django.db import connection

from fleet.search import postgresql, sqlite


class Backend(Protocol):
    """What either module offers."""

    def contains(self, column: str) -> str:
        """The condition that ``column`` holds a text, given as one parameter."""

    def contains_token(self, column: str, token: str) -> str:
        """The condition that ``column`` holds the token of another column."""

    def lock_sites(self, site_ids: Sequence[int]) -> dict[int, int]:
        """Put those who index the same sites at the same time in line; answers the company of each that is there."""

    def add_tokens(self, rows: Sequence[tuple[int, str, int]]) -> None:
        """Write (company, token, site) rows; those already there stay."""

    def remove_tokens(self, rows: Sequence[tuple[int, str, int]]) -> None:
        """Remove (company, token, site) rows."""

    def add_words(self, company_id: int, words: Iterable[str]) -> None:
        """Write words into a company's vocabulary."""

    def add_variants(self, rows: Sequence[tuple[str, str]]) -> None:
        """Write the (variant, word) rows of words that are new to the house."""

    def forget_words(self, words: Sequence[str]) -> None:
        """Remove words that no company uses any more from what corrections are drawn from."""

    def similar_words(self, company_id: int, word: str, most: int) -> list[str]:
        """Words of the company's vocabulary that share trigrams with ``word``, the most alike first."""


_MODULES = {"sqlite": sqlite, "postgresql": postgresql}


def backend() -> Backend:
    """The module for the database in use."""
    return _MODULES[connection.vendor]
