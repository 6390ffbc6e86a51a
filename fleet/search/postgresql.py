"""What the index says otherwise on PostgreSQL."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fleet.search import ranges
from fleet.search.statements import Statement
from fleet.search.tables import TOKENS, VARIANTS, VOCABULARY, WORDS_OF_DOCUMENT

ROWS_PER_LOOK_UP = 12
NARROW = 1000
HAS_INDEX_OF_WORDS = True
LEAST_SIMILARITY = "0.2"
"""Two wrong letters in nine leave as little as this in common; what is found is then compared letter by letter."""


def one_of(column: str, keys: Sequence[int]) -> tuple[str, Any]:
    """The condition that ``column`` is one of ``keys``, and its one parameter."""
    if len(keys) == 1:  # a plan for any one key is kept; one for any number of keys seems dear, and is made every time
        return f"{column} = %s", keys[0]
    return f"{column} = ANY(%s)", list(keys)


def one_found(column: str, sql: str) -> str:
    """The condition that ``column`` is one of the keys that ``sql`` finds, which is not joined but run first."""
    return f"{column} = ANY(ARRAY({sql}))"


def count_distinct(scanned: int, cap: int, most: int) -> str:
    """(how many sites, how many rows) the first ``most`` rows of each range have: it gathers them before it counts."""
    return f"SELECT count(DISTINCT site_id), count(*) FROM ({ranges.sites(scanned, most)}) AS hit"


def with_words(company_id: int, words: Sequence[Sequence[str]]) -> Statement:
    """The sites whose documents have a word of each of ``words``."""
    has = [f"{WORDS_OF_DOCUMENT} && %s::text[]"] * len(words)
    params = [[f"{company_id}{word}" for word in each] for each in words]
    return Statement(f"SELECT site_id FROM fleet_searchdocument WHERE {' AND '.join(has)}", params)


def contains_token(column: str, token: str) -> str:
    """The condition that ``column`` holds the token of another column."""
    return f"strpos({column}, chr(10) || {token} || chr(10)) > 0"


def together(statements: Sequence[Statement]) -> list[tuple[Any, ...]]:
    """Run statements that do not depend on each other as one; answers the rows of the last."""
    *others, last = statements
    if not others:
        return last.run()
    parts = ", ".join(f"part_{number} AS ({each.sql})" for number, each in enumerate(others))
    return Statement(f"WITH {parts} {last.sql}", [given for each in statements for given in each.params]).run()


def lock_sites(site_ids: Sequence[int]) -> Statement:
    """(site, company) of each site that is there, its row locked, so that the later of two writers reads what the
    earlier one wrote.
    """
    these, given = one_of("id", sorted(site_ids))
    return Statement(f"SELECT id, company_id FROM fleet_site WHERE {these} ORDER BY id FOR NO KEY UPDATE", [given])


def add_tokens(rows: Sequence[tuple[int, str, int]]) -> Statement:
    """Write (company, token, site) rows; those already there stay."""
    return _insert(TOKENS, "company_id, token, site_id", ("bigint", "text", "bigint"), rows)


def remove_tokens(rows: Sequence[tuple[int, str, int]]) -> Statement:
    """Remove (company, token, site) rows."""
    return Statement(
        f"DELETE FROM {TOKENS} AS kept USING {_unnested('bigint', 'text', 'bigint')} AS gone (c, t, s) "
        "WHERE kept.company_id = gone.c AND kept.token = gone.t AND kept.site_id = gone.s",
        _columns(rows),
    )


def add_words(rows: Sequence[tuple[int, str]]) -> Statement:
    """Write (company, word) rows of vocabularies; answers the words of those that were not there."""
    sql, params = _insert(VOCABULARY, "company_id, word", ("bigint", "text"), rows)
    return Statement(f"{sql} RETURNING word", params)


def add_variants(rows: Sequence[tuple[str, str]]) -> None:
    """Write (variant, word) rows; those already there stay."""
    if rows:
        _insert(VARIANTS, "variant, word", ("text", "text"), rows).run()


def forget_words(words: Sequence[str]) -> None:
    """Remove words that no company uses any more from the variants."""
    from fleet.search.tokens import variants_of

    rows = [(variant, word) for word in words for variant in variants_of(word)]
    if rows:
        Statement(
            f"DELETE FROM {VARIANTS} AS kept USING {_unnested('text', 'text')} AS gone (v, w) "
            "WHERE kept.variant = gone.v AND kept.word = gone.w",
            _columns(rows),
        ).run()


def similar_words(company_id: int, word: str, most: int) -> list[str]:
    """Words of the company's vocabulary that share trigrams with ``word``, the most alike first."""
    Statement("SELECT set_config('pg_trgm.similarity_threshold', %s, false)", [LEAST_SIMILARITY]).run()
    alike = Statement(
        f"SELECT word FROM {VOCABULARY} WHERE company_id = %s AND word %% %s "
        "ORDER BY similarity(word, %s) DESC, word LIMIT %s",
        [company_id, word, word, most],
    )
    return [row[0] for row in alike.run()]


def _insert(table: str, columns: str, types: tuple[str, ...], rows: Sequence[tuple[object, ...]]) -> Statement:
    sql = f"INSERT INTO {table} ({columns}) SELECT * FROM {_unnested(*types)} ON CONFLICT DO NOTHING"
    return Statement(sql, _columns(rows))


def _unnested(*types: str) -> str:
    """Rows of arrays. The SELECTs hide their length, so that a plan for ten is kept; one for fewer seems cheaper, and
    would be made anew every time.
    """
    return f"unnest({', '.join(f'(SELECT %s::{kind}[])' for kind in types)})"


def _columns(rows: Sequence[tuple[object, ...]]) -> list[list[object]]:
    return [list(column) for column in zip(*rows, strict=True)]
