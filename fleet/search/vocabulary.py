"""Forgetting: words of erased people leave what corrections are drawn from, once no token holds them."""

from __future__ import annotations

from django.db import transaction

from fleet.search.backend import backend
from fleet.search.statements import ForEachRow, Statement
from fleet.search.tables import TOKENS, VOCABULARY


def forget_unused_words(company_id: int) -> int:
    """Remove the words of a company's vocabulary that none of its sites holds any more; answers how many."""
    with transaction.atomic():
        unused = _unused(company_id)
        ForEachRow(
            f"DELETE FROM {VOCABULARY} WHERE company_id = %s AND word = %s", [(company_id, word) for word in unused]
        ).run()
        backend().forget_words([word for word in unused if not _is_used(word)])
    return len(unused)


def _unused(company_id: int) -> list[str]:
    unused = Statement(
        f"SELECT word FROM {VOCABULARY} AS known WHERE company_id = %s AND NOT EXISTS (SELECT 1 FROM {TOKENS} AS t "
        "WHERE t.company_id = known.company_id AND t.token IN ('w' || known.word, 'w' || known.word || '!'))",
        [company_id],
    )
    return [row[0] for row in unused.run()]


def _is_used(word: str) -> bool:
    """Whether any company has the word. Asked company by company, as the vocabulary is keyed."""
    use = Statement(
        f"SELECT 1 FROM fleet_company AS c JOIN {VOCABULARY} AS known ON known.company_id = c.id "
        "WHERE known.word = %s LIMIT 1",
        [word],
    )
    return bool(use.run())
