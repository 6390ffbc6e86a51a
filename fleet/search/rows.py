"""The rows of a page: what each found site shows, and why it was found."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from fleet.search.backend import backend
from fleet.search.document import shown_words
from fleet.search.highlight import matches_of
from fleet.search.hits import Hit
from fleet.search.results import SiteRow
from fleet.search.sources import moment_of
from fleet.search.statements import Statement
from fleet.search.terms import Term

_PAGE = """
SELECT site.id, site.code, site.name, site.street, site.house_number, site.postcode, site.town, site.stage,
       COALESCE(sum.owner_names, ''), COALESCE(sum.invitation_state, ''), COALESCE(sum.missing_permissions, ''),
       COALESCE(sum.device_count, 0), COALESCE(sum.next_move, ''), COALESCE(sum.pv_watts, -1),
       COALESCE(sum.storage_wh, -1), COALESCE(CAST(sum.stage_since AS text), ''), COALESCE(doc.shown, '')
  FROM fleet_site AS site
  LEFT JOIN fleet_sitesummary AS sum ON sum.site_id = site.id
  LEFT JOIN fleet_searchdocument AS doc ON doc.site_id = site.id
 WHERE site.company_id = %s AND {these}
"""


def site_rows(company_id: int, hits: Sequence[Hit], terms: Sequence[Term]) -> list[SiteRow]:
    """One row for each hit, in order; sites that vanished meanwhile are left out."""
    if not hits:
        return []
    these, given = backend().one_of("site.id", [hit.site_id for hit in hits])
    facts = {row[0]: row for row in Statement(_PAGE.format(these=these), [company_id, given]).run()}
    return [_row(facts[hit.site_id], hit, terms) for hit in hits if hit.site_id in facts]


def _row(facts: tuple[object, ...], hit: Hit, terms: Sequence[Term]) -> SiteRow:
    site_id, code, name, street, number, postcode, town, stage, *summary, shown = facts
    owners, invitation, missing, devices, move, watts, storage, since = summary
    matched, past = matches_of(shown_words(str(shown)), terms) if terms else ([], False)
    address = (f"{street} {number}".strip(), f"{postcode} {town}".strip())
    return SiteRow(
        site_id=site_id,  # type: ignore[arg-type]  # columns come untyped
        code=str(code),
        name=str(name),
        address_line=", ".join(filter(None, address)),
        town=str(town),
        stage=str(stage),
        owner_names=str(owners),
        invitation_state=str(invitation),
        missing_permissions=str(missing),
        device_count=devices,  # type: ignore[arg-type]  # as above
        next_move=str(move),
        street_line=address[0],
        postcode=str(postcode),
        kwp=_thousands(watts),
        storage_kwh=_thousands(storage),
        stage_since=moment_of(str(since)),
        matched=matched,
        past=hit.past or past,
    )


def _thousands(number: object) -> Decimal | None:
    """What stands as thousandths; -1 is what nobody said."""
    return None if number == -1 else Decimal(str(number)) / 1000
