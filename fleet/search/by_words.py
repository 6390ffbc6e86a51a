"""What an index of the documents' words tells of several words at once, on a database that has one.

It knows the sites that have words; of what begins or ends codes, and of what was so once, it knows nothing: sites that
have a term only so are read of the token table.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from fleet.search.backend import backend
from fleet.search.reading import Reading
from fleet.search.statements import Statement
from fleet.search.terms import Range, Term
from fleet.search.tokens import PAST

if TYPE_CHECKING:
    from fleet.search.several import Counted

FEW_CODES = 60  # rows, whose documents are soon read
MOST_WITH_A_WORD = 20_000  # sites that have the rarest of the words
_MOST_LONGER = 24  # words that begin with another


def sites_with_words(reading: Reading, terms: Sequence[Term], most: int) -> list[int] | None:
    """Keys of the sites that have all ``terms`` as the very words now; None for more than ``most``, or if unknown."""
    if not backend().HAS_INDEX_OF_WORDS or not all(map(_is_word, terms)):
        return None
    return _keys(backend().with_words(reading.company_id, [term.whole for term in terms]), most)


def sites_by_words(reading: Reading, counted: Sequence[Counted], most: int) -> list[int] | None:
    """Keys of all sites that may hold the terms, and of some that do not; None for more than ``most``, or where that is
    not told soon.
    """
    sure = [each for each in counted if _is_sure(each)] if backend().HAS_INDEX_OF_WORDS else []
    if len(sure) < 2:
        return None
    longer = reading.distinct([each.term.parts[1] for each in sure], _MOST_LONGER + 1)
    words = {each: tokens for each, tokens in zip(sure, longer, strict=True) if len(tokens) <= _MOST_LONGER}
    if min((each.likely for each in words), default=MOST_WITH_A_WORD + 1) > MOST_WITH_A_WORD:
        return None
    wanted = [[each.term.whole[0], *tokens] for each, tokens in words.items()]
    sql, params = backend().with_words(reading.company_id, wanted)
    for each, tokens in words.items():
        for more in _otherwise(reading, each, tokens):
            sql, params = f"{sql} UNION ALL {more.sql}", [*params, *more.params]
    return _keys(Statement(sql, params), most)


def _is_sure(counted: Counted) -> bool:
    """Whether it is a word, and who has it as a code are few, or are soon told from those who have it as a word."""
    return _is_word(counted.term) and (counted.codes <= FEW_CODES or counted.likely <= MOST_WITH_A_WORD)


def _is_word(term: Term) -> bool:
    return term.ranges[0].start.startswith("w")


def _otherwise(reading: Reading, counted: Counted, longer: Sequence[str]) -> list[Statement]:
    """The sites that have a term, but not as a word of now."""
    word, *codes = counted.term.ranges
    once = [Range(token.rstrip(PAST), exact=True, longer=True) for token in longer if token.endswith(PAST)]
    found = [reading.sites_of(once)] if once else []
    if counted.codes:
        sql, params = reading.sites_of(codes)
        if counted.codes > FEW_CODES:
            same = reading.sites_of([word])
            sql, params = f"{sql} WHERE site_id NOT IN ({same.sql})", [*params, *same.params]
        found.append(Statement(sql, params))
    return found


def _keys(sites: Statement, most: int) -> list[int] | None:
    # A limit within what finds them would make a planner think that reading all documents finds so many sooner.
    sql = f"WITH found AS MATERIALIZED ({sites.sql}) SELECT site_id FROM found LIMIT {most + 1}"
    rows = Statement(sql, sites.params).run()
    return None if len(rows) > most else sorted({site_id for (site_id,) in rows})
