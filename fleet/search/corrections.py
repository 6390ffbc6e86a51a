"""What a mistyped word may have meant: words of the company's own vocabulary that are one slip away, or nearly alike.

Nothing here is shown as it is: a correction is only told where a site that the member may see was found by it.
"""

from __future__ import annotations

from fleet.search.backend import backend
from fleet.search.statements import Statement
from fleet.search.tables import VARIANTS, VOCABULARY
from fleet.search.tokens import variants_of

MOST_CANDIDATES = 12
LONG_WORD = 6
_ALIKE = 30


def one_slip_away(company_id: int, word: str) -> list[str]:
    """Words from which ``word`` differs by one letter missing, too many, wrong, or swapped with its neighbour."""
    variants = sorted(variants_of(word))
    near = Statement(
        # CROSS JOIN keeps SQLite from going through the whole vocabulary instead.
        f"SELECT DISTINCT near.word FROM {VARIANTS} AS near CROSS JOIN {VOCABULARY} AS own "
        "WHERE own.company_id = %s AND own.word = near.word "
        f"AND near.variant IN ({', '.join(['%s'] * len(variants))})",
        [company_id, *variants],
    )
    found = {row[0] for row in near.run()} - {word}
    return sorted((near for near in found if slips(word, near) == 1), key=lambda near: (near[0] != word[0], near))


def nearly_alike(company_id: int, word: str) -> list[str]:
    """Words at most two slips from a longer ``word``, or beginning like it with one slip; the most alike first."""
    if len(word) < LONG_WORD:
        return []
    alike = backend().similar_words(company_id, word, _ALIKE)
    near = [other for other in alike if other != word and (slips(word, other) <= 2 or _begins_alike(word, other))]
    return near[:MOST_CANDIDATES]


def slips(one: str, other: str) -> int:
    """How many letters are missing, too many, wrong or swapped between two words; 3 stands for more than two."""
    if abs(len(one) - len(other)) > 2:
        return 3
    before: list[int] = []
    row = list(range(len(other) + 1))
    for at, letter in enumerate(one, 1):
        further, before, row = before, row, [at]
        for there, its in enumerate(other, 1):
            cost = min(before[there] + 1, row[there - 1] + 1, before[there - 1] + (letter != its))
            if at > 1 and there > 1 and letter == other[there - 2] and one[at - 2] == its:
                cost = min(cost, further[there - 2] + 1)
            row.append(cost)
    return min(row[-1], 3)


def _begins_alike(word: str, other: str) -> bool:
    return len(other) > len(word) and any(slips(word, other[: len(word) + more]) <= 1 for more in (-1, 0, 1))
