"""However common its words are, a question of several words finds the sites that hold them all, and no other."""

from itertools import product
from random import Random

import pytest

from fleet.models import Member, SearchDocument, Site
from fleet.search import by_words, ranges, several
from fleet.search.allowed import Allowed
from fleet.search.backend import backend
from fleet.search.hits import Hits
from fleet.search.holding import held
from fleet.search.reading import Reading
from fleet.search.statements import Statement
from fleet.search.terms import Term, exact_term, words_of
from tests.factories import make_company, make_member
from tests.fleet.search.samples import SINCE, counts_steps, indexed, owned, site_at, steps_of

pytestmark = pytest.mark.django_db

STREETS = ("Rua da Eira", "Rua Clara", "Largo da Eirinha", "Largo Claro", "Rua da Fonte Clara", "Beco")
TOWNS = ("Faro", "Faroeste", "Porto Claro", "Tavira")
NAMES = ("Clara Rua", "Rui Faro", "Eira Fonte", "Ana Largo", "Tavira Beco")
WORDS = (
    "rua",
    "eir",
    "eira",
    "clar",
    "clara",
    "claro",
    "largo",
    "far",
    "faro",
    "rui",
    "porto",
    "fon",
    "an",
    "beco",
    "1",
)
LIMITS: dict[str, dict[str, int]] = {
    "as they are": {},
    "nothing is rare": {"RARE": 1, "FEW": 0},
    "nothing is narrow": {"RARE": 1, "FEW": 0, "NARROW": 1},
    "few are narrow": {"RARE": 2, "FEW": 1, "NARROW": 12, "_GONE_THROUGH": 40, "_TRIED": 3},
    "some are narrow": {"RARE": 4, "FEW": 2, "NARROW": 25, "_GONE_THROUGH": 60, "_TRIED": 5},
    "words are looked up": {"RARE": 1, "FEW": 0, "NARROW": 30, "_GONE_THROUGH": 24, "ROWS_PER_LOOK_UP": 1},
    "words are gone through": {"RARE": 1, "FEW": 0, "NARROW": 8, "_GONE_THROUGH": 99, "ROWS_PER_LOOK_UP": 99},
    "no word is longer": {"RARE": 1, "FEW": 0, "NARROW": 3, "_GONE_THROUGH": 4, "_MOST_LONGER": 0},
    "no longer word is looked up": {"RARE": 1, "FEW": 0, "NARROW": 3, "_GONE_THROUGH": 4, "_LONGER_LOOKED_UP": 0},
    "codes are told apart": {"RARE": 1, "FEW": 0, "NARROW": 3, "_GONE_THROUGH": 4, "FEW_CODES": 0},
    "codes are many": {"RARE": 1, "FEW": 0, "NARROW": 3, "_GONE_THROUGH": 4, "FEW_CODES": 0, "MOST_WITH_A_WORD": 20},
    "nothing is near": {"RARE": 1, "FEW": 0, "NARROW": 1, "_GONE_THROUGH": 4, "_FAR": 1, "_TRIED": 2, "_NOT_FEW": 999},
    "some are near": {"RARE": 1, "FEW": 0, "NARROW": 3, "_GONE_THROUGH": 4, "_FAR": 20, "_TRIED": 2, "_NOT_FEW": 999},
    "more follow soon": {"RARE": 1, "FEW": 0, "NARROW": 1, "_GONE_THROUGH": 12, "_NOT_FEW": 1, "_FURTHER": 2},
    "words are looked up at last": {"RARE": 1, "FEW": 0, "NARROW": 1, "_GONE_THROUGH": 4, "_SIDE_BY_SIDE": 0},
    "documents are read in turns": {"RARE": 1, "FEW": 0, "NARROW": 1, "_GONE_THROUGH": 4, "_READ_AT_ONCE": 2},
}


@pytest.fixture
def office() -> Member:
    return make_member(make_company())


@pytest.fixture
def sites(office: Member) -> list[Site]:
    """Eighty sites that share their words, so that none is rare."""
    random = Random(7)
    made = []
    for number in range(80):
        site = site_at(
            office.company, random.choice(STREETS), house_number=str(random.randint(1, 20)), town=random.choice(TOWNS)
        )
        owned(site, random.choice(NAMES), email=f"{random.choice(WORDS)}.{number}@example.org")
        if number % 3 == 0:
            owned(site, random.choice(NAMES), until=SINCE)
        made.append(site)
    indexed(*made)
    return made


Documents = list[SearchDocument]


@pytest.fixture
def documents(office: Member, sites: list[Site]) -> Documents:
    """What the index holds of them."""
    return list(SearchDocument.objects.filter(company_id=office.company_id))


@pytest.mark.parametrize("name", LIMITS)
def test_all_are_found_and_no_other(
    office: Member, documents: Documents, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    _set(monkeypatch, LIMITS[name])
    for terms in _questions():
        hits = several.find_all(Reading(office.company_id), terms, 1000)
        assert {hit.site_id for hit in hits.found} == _holding(documents, terms), [term.text for term in terms]
        assert len(hits.found) == len({hit.site_id for hit in hits.found}) == hits.total


@pytest.mark.parametrize("name", LIMITS)
def test_pages_follow_each_other(
    office: Member, documents: Documents, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    _set(monkeypatch, LIMITS[name])
    for terms in list(_questions())[::5]:
        seen: list[int] = []
        for need in (3, 6, 9, 1000):
            page = _ids(several.find_all(Reading(office.company_id), terms, need))
            assert page[: len(seen)] == seen, [term.text for term in terms]
            seen = page[:need]
        assert set(seen) == _holding(documents, terms)


@pytest.mark.parametrize("name", LIMITS)
def test_only_allowed_sites_are_found(
    office: Member, documents: Documents, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    _set(monkeypatch, {"RARE": 1, "FEW_ALLOWED": 1})
    _set(monkeypatch, LIMITS[name])
    allowed = {row.site_id for row in documents[::2]}
    some = Site.objects.filter(pk__in=allowed)
    for terms in list(_questions())[::3]:
        hits = several.find_all(Reading(office.company_id, Allowed(some)), terms, 1000)
        assert set(_ids(hits)) == _holding(documents, terms) & allowed
        assert hits.missing == ()


def test_what_stands_in_too_many_sites_is_read_up_to_a_limit(
    office: Member, documents: Documents, monkeypatch: pytest.MonkeyPatch
) -> None:
    _set(
        monkeypatch,
        {"RARE": 1, "FEW": 0, "NARROW": 1, "_GONE_THROUGH": 12, "_TRIED": 1, "_MOST_READ": 3, "_READ_AT_ONCE": 3},
    )
    terms = words_of("rua clara")
    hits = several.find_all(Reading(office.company_id), terms, 1000)
    whole = {row.site_id for row in documents if "\nwrua\n" in row.tokens and "\nwclara\n" in row.tokens}
    assert whole
    assert whole <= set(_ids(hits)) <= _holding(documents, terms)
    assert hits.capped


def test_what_stands_in_very_many_sites_is_found_in_enough_of_them(
    office: Member, documents: Documents, monkeypatch: pytest.MonkeyPatch
) -> None:
    _set(monkeypatch, {"RARE": 1, "FEW": 0, "NARROW": 1, "_FAR": 1, "_GONE_THROUGH": 4, "_TRIED": 1})
    _set(monkeypatch, {"_TRIED_FURTHER": 2, "_MOST_LONGER": 0})
    left_out = 0
    for terms in _questions():
        hits = several.find_all(Reading(office.company_id), terms, 1000)
        found, holding = set(_ids(hits)), _holding(documents, terms)
        whole = _holding(documents, [_as_whole(term) for term in terms])
        assert whole - _once(documents, terms) <= found <= holding
        assert len(found) >= min(len(holding), 1 if found & whole else 6)
        assert hits.capped or found == holding
        left_out += len(holding - found)
    assert left_out


@counts_steps
def test_how_far_a_companys_sites_are_apart_is_told_without_going_through_them(office: Member) -> None:
    site_at(office.company)
    spreads = Statement(ranges.spreads(0, 0), {"company": office.company_id})
    few = steps_of(spreads)
    for _ in range(300):
        site_at(office.company)
    assert 0 < steps_of(spreads) < few + 50


def _set(monkeypatch: pytest.MonkeyPatch, limits: dict[str, int]) -> None:
    for limit, value in limits.items():
        [module] = [each for each in (several, by_words, backend()) if hasattr(each, limit)]
        monkeypatch.setattr(module, limit, value)


def _questions() -> list[list[Term]]:
    pairs = [f"{one} {other}" for one, other in product(WORDS, repeat=2) if one < other]
    random = Random(11)
    longer = [" ".join(random.sample(WORDS, random.randint(3, 5))) for _ in range(60)]
    corrected = [
        [exact_term(["clara", "claro"]), exact_term(["rua"])],
        [*words_of("rua"), exact_term(["claro", "clara", "eira"])],
        [exact_term(["beco", "largo"]), *words_of("far an")],
        [exact_term(["eirinha", "faroeste"]), *words_of("rua porto")],
    ]
    return [*corrected, *(words_of(text) for text in [*pairs, *longer])]


def _holding(documents: Documents, terms: list[Term]) -> set[int]:
    return {row.site_id for row in documents if held(terms, row.tokens, row.past_tokens) is not None}


def _once(documents: Documents, terms: list[Term]) -> set[int]:
    """Those that have one of the words only in what was so once."""
    return {row.site_id for row in documents if held([_as_whole(term) for term in terms], row.tokens, "") is None}


def _as_whole(term: Term) -> Term:
    return term if len(term.whole) > 1 else exact_term([term.text])


def _ids(hits: Hits) -> list[int]:
    return [hit.site_id for hit in hits.found]
