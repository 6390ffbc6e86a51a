"""What the index says otherwise on PostgreSQL."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import connection

from fleet.search.tables import TOKENS, VARIANTS, VOCABULARY

LEAST_SIMILARITY = "0.2"
"""Two wrong letters in nine leave as little as this in common; what is found is then compared letter by letter."""


def first_rows(company_id: int, ranges: int, limit: int) -> str:
    """(number of the range, token, site) of the first ``limit`` rows of each range of tokens."""
    inner = f"SELECT token, site_id FROM {_in_range(company_id)} ORDER BY token, site_id LIMIT {int(limit)}"
    return f"SELECT part, token, site_id FROM {_spans(ranges)} CROSS JOIN LATERAL ({inner}) AS hit"


def sites(company_id: int, ranges: int, rows: int | None = None) -> str:
    """The sites of all ranges, some more than once; of every range the first so many ``rows``, or all."""
    inner = f"SELECT site_id FROM {_in_range(company_id)}"
    if rows is not None:
        inner = f"{inner} ORDER BY token, site_id LIMIT {int(rows)}"
    return f"SELECT site_id FROM {_spans(ranges)} CROSS JOIN LATERAL ({inner}) AS hit"


def counts(company_id: int, ranges: int, cap: int) -> str:
    """(``part``: the range in order, ``rows``: how many it has up to ``cap``)."""
    inner = f"SELECT 1 FROM {_in_range(company_id)} LIMIT {int(cap)}"
    return f"SELECT part, (SELECT count(*) FROM ({inner}) AS hit) AS rows FROM {_spans(ranges)}"


# One lateral scan for all ranges: planning a branch for each costs more than running it.
def _spans(ranges: int) -> str:
    spans = ", ".join(f"({number}, %s, %s)" for number in range(ranges))
    return f"(VALUES {spans}) AS span (part, low, high)"


def _in_range(company_id: int) -> str:
    return f"{TOKENS} AS t WHERE t.company_id = {int(company_id)} AND t.token BETWEEN span.low AND span.high"


def one_of(column: str, keys: Sequence[int]) -> tuple[str, Any]:
    """The condition that ``column`` is one of ``keys``, and its one parameter."""
    return f"{column} = ANY(%s)", list(keys)


def contains_token(column: str, token: str) -> str:
    """The condition that ``column`` holds the token of another column."""
    return f"strpos({column}, chr(10) || {token} || chr(10)) > 0"


def lock_sites(site_ids: Sequence[int]) -> dict[int, int]:
    """The company of each site that is there, its row locked, so that the later of two writers reads what the earlier
    one wrote.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT id, company_id FROM fleet_site WHERE id = ANY(%s) ORDER BY id FOR NO KEY UPDATE", [sorted(site_ids)]
        )
        return dict(cursor.fetchall())


def add_tokens(rows: Sequence[tuple[int, str, int]]) -> None:
    """Write (company, token, site) rows; those already there stay."""
    _insert(TOKENS, "company_id, token, site_id", ("bigint", "text", "bigint"), rows)


def remove_tokens(rows: Sequence[tuple[int, str, int]]) -> None:
    """Remove (company, token, site) rows."""
    companies, tokens, sites = map(list, zip(*rows, strict=True))
    with connection.cursor() as cursor:
        cursor.execute(
            f"DELETE FROM {TOKENS} AS kept USING unnest(%s::bigint[], %s::text[], %s::bigint[]) AS gone (c, t, s) "
            "WHERE kept.company_id = gone.c AND kept.token = gone.t AND kept.site_id = gone.s",
            [companies, tokens, sites],
        )


def add_words(company_id: int, words: Sequence[str]) -> list[str]:
    """Write words into a company's vocabulary; answers those that were not in it."""
    if not words:
        return []
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {VOCABULARY} (company_id, word) SELECT %s, unnest(%s::text[]) "
            "ON CONFLICT DO NOTHING RETURNING word",
            [company_id, sorted(words)],
        )
        return [row[0] for row in cursor.fetchall()]


def add_variants(rows: Sequence[tuple[str, str]]) -> None:
    """Write (variant, word) rows; those already there stay."""
    _insert(VARIANTS, "variant, word", ("text", "text"), sorted(rows))


def forget_words(words: Sequence[str]) -> None:
    """Remove words that no company uses any more from the variants."""
    from fleet.search.tokens import variants_of

    rows = [(variant, word) for word in words for variant in variants_of(word)]
    if rows:
        variants, targets = map(list, zip(*rows, strict=True))
        with connection.cursor() as cursor:
            cursor.execute(
                f"DELETE FROM {VARIANTS} AS kept USING unnest(%s::text[], %s::text[]) AS gone (v, w) "
                "WHERE kept.variant = gone.v AND kept.word = gone.w",
                [variants, targets],
            )


def similar_words(company_id: int, word: str, most: int) -> list[str]:
    """Words of the company's vocabulary that share trigrams with ``word``, the most alike first."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('pg_trgm.similarity_threshold', %s, false)", [LEAST_SIMILARITY])
        cursor.execute(
            f"SELECT word FROM {VOCABULARY} WHERE company_id = %s AND word %% %s "
            "ORDER BY similarity(word, %s) DESC, word LIMIT %s",
            [company_id, word, word, most],
        )
        return [row[0] for row in cursor.fetchall()]


def _insert(table: str, columns: str, types: tuple[str, ...], rows: Sequence[tuple[object, ...]]) -> None:
    if not rows:
        return
    arrays = ", ".join(f"%s::{kind}[]" for kind in types)
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {table} ({columns}) SELECT * FROM unnest({arrays}) ON CONFLICT DO NOTHING",
            [list(column) for column in zip(*rows, strict=True)],
        )
