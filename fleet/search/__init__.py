"""Finding any site from any scrap.

:func:`find_sites` answers a member's text; :func:`reindex` is called in the transaction of every change. Inside:
``sources`` read what there is of a site, ``fold`` and ``tokens`` say what it is found by, ``tables`` hold it, ``query``
looks.
"""

from fleet.search.filters import SiteFilters
from fleet.search.query import find_sites
from fleet.search.reindex import reindex
from fleet.search.results import Match, SiteResults, SiteRow
from fleet.search.words import Field, Shape, Word

__all__ = ["Field", "Match", "Shape", "SiteFilters", "SiteResults", "SiteRow", "Word", "find_sites", "reindex"]
