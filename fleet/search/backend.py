"""Which of the two database modules speaks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from django.db import connection

from fleet.search import postgresql, sqlite
from fleet.search.statements import Statement


class Backend(Protocol):
    """What either module offers."""

    ROWS_PER_LOOK_UP: int
    """So many rows of a range are gone through in the time of looking one site's token up."""
    NARROW: int
    """So many rows of a range are soon gone through; it is not counted further."""

    def one_of(self, column: str, keys: Sequence[int]) -> tuple[str, Any]:
        """The condition that ``column`` is one of ``keys``, and its one parameter."""

    def one_found(self, column: str, sql: str) -> str:
        """The condition that ``column`` is one of the keys that ``sql`` finds: looked up by these keys, whatever a
        planner thinks of their number.
        """

    def count_distinct(self, scanned: int, cap: int, most: int) -> str:
        """(how many sites so many ranges have, up to one more than ``cap``; how many rows were looked at, 0 for all).

        Of no range more than ``most`` rows need be looked at.
        """

    HAS_INDEX_OF_WORDS: bool
    """Whether there is an index of the documents' words, for :meth:`with_words`."""

    def with_words(self, company_id: int, words: Sequence[Sequence[str]]) -> Statement:
        """The sites whose documents have one of each of ``words``, which are tokens of class ``w``, of now."""

    def contains_token(self, column: str, token: str) -> str:
        """The condition that ``column`` holds the token of another column."""

    def together(self, statements: Sequence[Statement]) -> list[tuple[Any, ...]]:
        """Run statements, none of which touches rows that another reads or writes; answers the rows of the last."""

    def lock_sites(self, site_ids: Sequence[int]) -> Statement:
        """Puts those who index the same sites at the same time in line; (site, company) of each that is there."""

    def add_tokens(self, rows: Sequence[tuple[int, str, int]]) -> Statement:
        """Writes (company, token, site) rows, at least one; those already there stay."""

    def remove_tokens(self, rows: Sequence[tuple[int, str, int]]) -> Statement:
        """Removes (company, token, site) rows, at least one."""

    def add_words(self, rows: Sequence[tuple[int, str]]) -> Statement:
        """Writes (company, word) rows of vocabularies, at least one; gives the words of those that were not there."""

    def add_variants(self, rows: Sequence[tuple[str, str]]) -> None:
        """Write (variant, word) rows; those already there stay."""

    def forget_words(self, words: Sequence[str]) -> None:
        """Remove words that no company uses any more from what corrections are drawn from."""

    def similar_words(self, company_id: int, word: str, most: int) -> list[str]:
        """Words of the company's vocabulary that share trigrams with ``word``, the most alike first."""


_MODULES = {"sqlite": sqlite, "postgresql": postgresql}


def backend() -> Backend:
    """The module for the database in use."""
    return _MODULES[connection.vendor]
