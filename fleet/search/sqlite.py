"""What the index says otherwise on SQLite."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from fleet.search import ranges
from fleet.search.statements import ForEachRow, Statement
from fleet.search.tables import TOKENS, TRIGRAMS, VARIANTS, VOCABULARY

ROWS_PER_LOOK_UP = 4
NARROW = 2000
HAS_INDEX_OF_WORDS = False
MOST_SIMILAR = 200


def one_of(column: str, keys: Sequence[int]) -> tuple[str, Any]:
    """The condition that ``column`` is one of ``keys``, and its one parameter."""
    if len(keys) == 1:
        return f"{column} = %s", keys[0]
    return f"{column} IN (SELECT value FROM json_each(%s))", json.dumps(list(keys))


def one_found(column: str, sql: str) -> str:
    """The condition that ``column`` is one of the keys that ``sql`` finds."""
    return f"{column} IN ({sql})"


def count_distinct(scanned: int, cap: int, most: int) -> str:
    """(how many sites so many ranges have, up to one more than ``cap``; 0): stops at the first site beyond the cap."""
    return f"SELECT count(*), 0 FROM (SELECT DISTINCT site_id FROM ({ranges.sites(scanned)}) LIMIT {cap + 1})"


def with_words(company_id: int, words: Sequence[Sequence[str]]) -> Statement:
    """Not asked: looking words up in the token table is quick here."""
    raise NotImplementedError


def contains_token(column: str, token: str) -> str:
    """The condition that ``column`` holds the token of another column."""
    return f"instr({column}, char(10) || {token} || char(10)) > 0"


def together(statements: Sequence[Statement]) -> list[tuple[Any, ...]]:
    """Run statements that do not depend on each other; answers the rows of the last."""
    return [statement.run() for statement in statements][-1]


def lock_sites(site_ids: Sequence[int]) -> Statement:
    """(site, company) of each site that is there; writers are in line anyway."""
    these, given = one_of("id", site_ids)
    return Statement(f"SELECT id, company_id FROM fleet_site WHERE {these}", [given])


def add_tokens(rows: Sequence[tuple[int, str, int]]) -> Statement:
    """Write (company, token, site) rows; those already there stay."""
    return _insert(TOKENS, "company_id, token, site_id", rows)


def remove_tokens(rows: Sequence[tuple[int, str, int]]) -> Statement:
    """Remove (company, token, site) rows."""
    # One statement for all of them is planned by the first column alone: as going through the company.
    return ForEachRow(f"DELETE FROM {TOKENS} WHERE company_id = %s AND token = %s AND site_id = %s", rows)


def add_words(rows: Sequence[tuple[int, str]]) -> Statement:
    """Write (company, word) rows of vocabularies; answers the words of those that were not there."""
    sql, params = _insert(VOCABULARY, "company_id, word", rows)
    return Statement(f"{sql} RETURNING word", params)


def add_variants(rows: Sequence[tuple[str, str]]) -> None:
    """Write (variant, word) rows; those already there stay. A word new to the house goes into the trigram index too."""
    if not rows:
        return
    own = sorted({word for _variant, word in rows})
    sql, params = _insert(VARIANTS, "variant, word", [(word, word) for word in own])
    unheard = {row[0] for row in Statement(f"{sql} RETURNING word", params).run()}
    if unheard:
        _insert(VARIANTS, "variant, word", [row for row in rows if row[1] in unheard]).run()
        # Full-text tables know no conflict clause; these words were seen to be new.
        words = json.dumps(sorted(unheard))
        Statement(f"INSERT INTO {TRIGRAMS} (word) SELECT value FROM json_each(%s)", [words]).run()


def forget_words(words: Sequence[str]) -> None:
    """Remove words that no company uses any more from the variants and the trigram index."""
    from fleet.search.tokens import variants_of

    for word in words:
        rows = [(variant, word) for variant in variants_of(word)]
        ForEachRow(f"DELETE FROM {VARIANTS} WHERE variant = %s AND word = %s", rows).run()
        Statement(
            f"DELETE FROM {TRIGRAMS} WHERE rowid IN (SELECT rowid FROM {TRIGRAMS} WHERE {TRIGRAMS} MATCH %s "
            "AND word = %s)",
            [_any_trigram(word), word],
        ).run()


def similar_words(company_id: int, word: str, most: int) -> list[str]:
    """Words of the company's vocabulary that share trigrams with ``word``, the most alike first."""
    alike = Statement(
        f"SELECT found.word FROM {TRIGRAMS} AS found "
        f"JOIN {VOCABULARY} AS own ON own.company_id = %s AND own.word = found.word "
        f"WHERE {TRIGRAMS} MATCH %s ORDER BY found.rank LIMIT {MOST_SIMILAR}",
        [company_id, _any_trigram(word)],
    )
    return [row[0] for row in alike.run()][:most]


def _any_trigram(word: str) -> str:
    """A full-text query for any trigram of a word of letters; each is quoted, none is syntax."""
    return " OR ".join(f'"{word[at : at + 3]}"' for at in range(max(1, len(word) - 2)))


def _insert(table: str, columns: str, rows: Sequence[tuple[int | str, ...]]) -> Statement:
    values = _values(len(rows[0]))
    # Without a WHERE, ON would belong to a join.
    sql = f"INSERT INTO {table} ({columns}) SELECT {values} FROM json_each(%s) WHERE TRUE ON CONFLICT DO NOTHING"
    return Statement(sql, [json.dumps(rows)])


def _values(columns: int) -> str:
    return ", ".join(f"value ->> {column}" for column in range(columns))
