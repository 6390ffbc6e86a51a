"""Statements over ranges of the token table, the same on both databases. Pure: no database.

Nothing but the number of ranges and the limits is written into them, so that a connection plans each once. Those that
stand alone take :func:`named`: Django turns names into what SQLite wants in a third of the time. Those that become a
part of others take :func:`bounds`.
"""

from __future__ import annotations

from collections.abc import Sequence

from fleet.search.tables import TOKENS
from fleet.search.terms import Range
from fleet.search.tokens import PAST

_IN_RANGE = f"{TOKENS} WHERE company_id = %s AND token BETWEEN %s AND %s"
_IN_NAMED_RANGE = f"{TOKENS} WHERE company_id = %(company)s AND token BETWEEN %(from_{{0}})s AND %(to_{{0}})s"
_IN_ORDER = "ORDER BY token, site_id"
_AFTER_ALL = "\U0010ffff"


def bounds(company_id: int, ranges: Sequence[Range]) -> list[int | str]:
    """The company, the first and the last token of each range, one after the other."""
    return [each for one in ranges for each in (company_id, *_ends(one))]


def named(company_id: int, ranges: Sequence[Range]) -> dict[str, int | str]:
    """The company, and the first and the last token of each range by its number."""
    ends: dict[str, int | str] = {"company": company_id}
    for part, one in enumerate(ranges):
        ends[f"from_{part}"], ends[f"to_{part}"] = _ends(one)
    return ends


def _ends(one: Range) -> tuple[str, str]:
    return one.start + PAST * one.longer, one.start + (PAST if one.exact else _AFTER_ALL)


def first_rows(ranges: int, limit: int, *, beyond: int | None = None) -> str:
    """(number of the range, token, site) of the first ``limit`` rows of each range, in no order.

    ``beyond``: of the last range only the row after so many, to tell whether it has more of them.
    """
    limits = [f"LIMIT {limit}"] * ranges
    if beyond is not None:
        limits[-1] = f"LIMIT 1 OFFSET {beyond}"
    return " UNION ALL ".join(
        f"SELECT * FROM (SELECT {part} AS part, token, site_id FROM {_IN_NAMED_RANGE.format(part)} {_IN_ORDER} {each}) "
        f"AS range_{part}"
        for part, each in enumerate(limits)
    )


def sites(ranges: int, rows: int | None = None) -> str:
    """The sites of all ranges, some more than once; of every range the first so many ``rows``, or all."""
    limit = "" if rows is None else f" {_IN_ORDER} LIMIT {rows}"
    return " UNION ALL ".join(
        f"SELECT * FROM (SELECT site_id FROM {_IN_RANGE}{limit}) AS range_{part}" for part in range(ranges)
    )


def has_token(site: str, words: int = 1) -> str:
    """The condition that a ``site`` has a token, or one of so many ``words``, which are looked up.

    Takes (company, token, …).
    ``OFFSET`` keeps PostgreSQL from gathering all sites with the token instead.
    """
    return (
        f"EXISTS (SELECT 1 FROM {TOKENS} AS other WHERE other.company_id = %s AND other.token {_is_one_of(words)} "
        f"AND other.site_id = {site} LIMIT 1 OFFSET 0)"
    )


def together(words: Sequence[int], rows: int, among: str = "") -> str:
    """The sites that have a token of each term, in their order. ``words``: how many tokens each term has; of each of
    the first term's only the first so many ``rows`` are gone through.

    ``among``: a further condition on ``first.site_id``. Common words are found together soon. Takes (company, token)
    for each token of the first term, (company, token, …) for each of the others, and how many sites to give.
    """
    first, *others = words
    in_order = f"SELECT site_id FROM {TOKENS} WHERE company_id = %s AND token = %s ORDER BY site_id LIMIT {rows}"
    if first > 1:
        in_order = " UNION ".join(f"SELECT * FROM ({in_order}) AS word_{word}" for word in range(first))
    # Not ordered once more at the end: all would be looked up before the first is given.
    return f"SELECT first.site_id FROM ({in_order}) AS first WHERE TRUE{_and_each(others)}{among} LIMIT %s"


def merged(words: Sequence[int], among: str = "") -> str:
    """The same sites as :func:`together` gives of all rows, but the first two terms, each one token, are gone through
    side by side: sooner where most sites of the one would be looked up in the other in vain.
    """
    in_order = f"SELECT site_id FROM {TOKENS} WHERE company_id = %s AND token = %s"
    return (
        f"SELECT first.site_id FROM ({in_order} INTERSECT {in_order} ORDER BY site_id) AS first "
        f"WHERE TRUE{_and_each(words[2:])}{among} LIMIT %s"
    )


def _and_each(words: Sequence[int]) -> str:
    return "".join(f" AND {has_token('first.site_id', each)}" for each in words)


def _is_one_of(words: int) -> str:
    return "= %s" if words == 1 else f"IN ({', '.join(['%s'] * words)})"


def counts(ranges: int, cap: int) -> str:
    """(number of the range, how many rows it has up to ``cap``)."""
    return " UNION ALL ".join(
        f"SELECT {part}, count(*) FROM (SELECT 1 FROM {_IN_NAMED_RANGE.format(part)} LIMIT {cap}) AS range_{part}"
        for part in range(ranges)
    )


def distinct(ranges: int, most: int) -> str:
    """(number of the range, token), the first ``most`` of the different tokens of each range: by leaps, however many
    sites have each.
    """
    following = (
        f"SELECT min(token) FROM {TOKENS} WHERE company_id = %(company)s AND token {{0}} AND token <= %(to_{{1}})s"
    )
    return " UNION ALL ".join(
        f"SELECT {part}, token FROM (WITH RECURSIVE leap (token) AS ({following.format(f'>= %(from_{part})s', part)} "
        f"UNION ALL SELECT ({following.format('> leap.token', part)}) FROM leap WHERE token IS NOT NULL) "
        f"SELECT token FROM leap WHERE token IS NOT NULL LIMIT {most}) AS range_{part}"
        for part in range(ranges)
    )


def spreads(ranges: int, rows: int) -> str:
    """(number of the range, how far its first site and the one after so many ``rows`` are apart); of the company, whose
    number is -1, its first site and its last.
    """
    # The last and the first by themselves: one statement for both would go through all.
    last, first = (f"(SELECT {end}(id) FROM fleet_site WHERE company_id = %(company)s)" for end in ("max", "min"))
    company = f"SELECT -1, COALESCE({last} - {first}, 0)"
    site = f"(SELECT site_id FROM {_IN_NAMED_RANGE} {_IN_ORDER} LIMIT 1 OFFSET {{1}})"
    return " UNION ALL ".join(
        [company, *(f"SELECT {part}, {site.format(part, rows)} - {site.format(part, 0)}" for part in range(ranges))]
    )
