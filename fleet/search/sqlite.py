"""What the index says otherwise on SQLite."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db import connection

from fleet.search.tables import TOKENS, TRIGRAMS, VARIANTS, VOCABULARY

MOST_SIMILAR = 200


def contains(column: str) -> str:
    """The condition that ``column`` holds a text, given as one parameter."""
    return f"instr({column}, %s) > 0"


def contains_token(column: str, token: str) -> str:
    """The condition that ``column`` holds the token of another column."""
    return f"instr({column}, char(10) || {token} || char(10)) > 0"


def lock_sites(site_ids: Sequence[int]) -> dict[int, int]:
    """The company of each site that is there; writers are in line anyway."""
    ids = ", ".join(str(int(site_id)) for site_id in site_ids) or "NULL"
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT id, company_id FROM fleet_site WHERE id IN ({ids})")
        return dict(cursor.fetchall())


def add_tokens(rows: Sequence[tuple[int, str, int]]) -> None:
    """Write (company, token, site) rows; those already there stay."""
    _insert(TOKENS, "company_id, token, site_id", rows)


def remove_tokens(rows: Sequence[tuple[int, str, int]]) -> None:
    """Remove (company, token, site) rows."""
    with connection.cursor() as cursor:
        cursor.executemany(f"DELETE FROM {TOKENS} WHERE company_id = %s AND token = %s AND site_id = %s", rows)


def add_words(company_id: int, words: Iterable[str]) -> None:
    """Write words into a company's vocabulary."""
    _insert(VOCABULARY, "company_id, word", [(company_id, word) for word in words])


def add_variants(rows: Sequence[tuple[str, str]]) -> None:
    """Write the (variant, word) rows of words that are new to the house, and the words into the trigram index."""
    _insert(VARIANTS, "variant, word", rows)
    _insert(TRIGRAMS, "word", [(word,) for word in sorted({word for _variant, word in rows})])


def forget_words(words: Sequence[str]) -> None:
    """Remove words that no company uses any more from the variants and the trigram index."""
    from fleet.search.tokens import variants_of

    with connection.cursor() as cursor:
        for word in words:
            rows = [(variant, word) for variant in variants_of(word)]
            cursor.executemany(f"DELETE FROM {VARIANTS} WHERE variant = %s AND word = %s", rows)
            cursor.execute(
                f"DELETE FROM {TRIGRAMS} WHERE rowid IN (SELECT rowid FROM {TRIGRAMS} WHERE {TRIGRAMS} MATCH %s "
                "AND word = %s)",
                [_any_trigram(word), word],
            )


def similar_words(company_id: int, word: str, most: int) -> list[str]:
    """Words of the company's vocabulary that share trigrams with ``word``, the most alike first."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT found.word FROM {TRIGRAMS} AS found "
            f"JOIN {VOCABULARY} AS own ON own.company_id = %s AND own.word = found.word "
            f"WHERE {TRIGRAMS} MATCH %s ORDER BY found.rank LIMIT {MOST_SIMILAR}",
            [company_id, _any_trigram(word)],
        )
        return [row[0] for row in cursor.fetchall()][:most]


def _any_trigram(word: str) -> str:
    """A full-text query for any trigram of a word of letters; each is quoted, none is syntax."""
    return " OR ".join(f'"{word[at : at + 3]}"' for at in range(max(1, len(word) - 2)))


def _insert(table: str, columns: str, rows: Sequence[tuple[int | str, ...]]) -> None:
    if not rows:
        return
    marks = ", ".join(["%s"] * len(rows[0]))
    # FTS5 tables know no conflict clause; their rows were seen to be new.
    conflict = "" if table == TRIGRAMS else " ON CONFLICT DO NOTHING"
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks}){conflict}", rows)
