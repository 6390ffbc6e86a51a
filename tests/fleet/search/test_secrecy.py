"""Nothing of another company or of a hidden site is ever told: not by rows, counts, corrections or choices."""

from random import Random
from string import punctuation, whitespace

import pytest

from fleet.models import Assignment, Company, Member, Role, Site
from fleet.models.company import FieldSight
from fleet.search import SiteFilters
from fleet.search.choices import count_choices
from fleet.search.lookup import find
from fleet.search.reading import Reading
from fleet.search.terms import Range, Term
from tests.factories import make_company, make_member
from tests.fleet.search.samples import found, indexed, looked_for, model_of, owned, placed, site_at, tagged

pytestmark = pytest.mark.django_db

SECRET = "Xylander Quobart"  # stands in the other company alone


@pytest.fixture
def companies() -> tuple[Company, Company]:
    """Two companies; the other one's ids and words stand beside ours in every table."""
    ours, other = make_company("Telhado Claro"), make_company("Outra Casa")
    for company, name in ((ours, "Inês Amoreira"), (other, SECRET)):
        for number in range(6):
            site = site_at(company, "Rua da Alfazema", house_number=str(number), region="Norte")
            owned(
                site,
                f"{name} {number}",
                email=f"{name.split()[0].lower()}{number}@example.org",
                phone=f"+35121000{number}",
            )
            placed(
                site,
                f"{'SEC' if company == other else 'OUR'}-77{number}01",
                model=model_of(company, f"Maker{number}", "M"),
            )
            tagged(site, "Comum", "Segredo" if company == other else "Nosso")
            indexed(site)
    return ours, other


def hostile(other: Company, words: list[str]) -> list[str]:
    """Texts that try to step over the fence: keys of the tables, separators, wildcards, syntax, fuzzy ways in."""
    keys = [f"{other.pk}", f"{other.pk}w", f"w{other.pk}", f"{other.pk}\x00w", f"{other.pk}|", f"{other.pk}!", "!", "~"]
    texts = [*words, *keys]
    for word in words:
        for cut in (1, 3, 5):
            texts += [word[:cut], word[-cut:], word[1:], word[:-1]]
        texts += [f"{key}{word}" for key in keys]
        texts += [
            f"{word}{mark}" for mark in ("*", "%", "_", "~", "~1", "!", "\n", "\x00", "\U0010ffff", "'--", '"', "\\")
        ]
        texts += [
            f"{mark}{word}" for mark in ("*", "%", "^", "-", "NOT ", 'word:"', "\nw", "\ns", ") OR (", "' OR 1=1 --")
        ]
        texts += [f"{word[:at]}{word[at + 1 :]}" for at in range(len(word))]
        texts += [
            f"{word[:at]}{word[at + 1 : at + 2]}{word[at : at + 1]}{word[at + 2 :]}" for at in range(len(word) - 1)
        ]
        texts += [f"{word[:at]}x{word[at + 1 :]}" for at in range(len(word))]
    return texts


def test_no_text_finds_a_row_of_another_company(companies: tuple[Company, Company]) -> None:
    ours, other = companies
    member = make_member(ours)
    own = set(Site.objects.filter(company=ours).values_list("pk", flat=True))
    theirs = Site.objects.filter(company=other)
    words = ["xylander", "quobart", "sec77001", "segredo", "xylander0@example.org", theirs[0].code]
    for text in hostile(other, words):
        results = looked_for(member, text, limit=100)
        assert {row.site_id for row in results.rows} <= own, text
        assert results.total <= len(own), text
        assert "xylander" not in results.corrected_to.lower(), text
        assert "quobart" not in results.corrected_to.lower(), text


def test_random_texts_find_only_what_the_company_has(companies: tuple[Company, Company]) -> None:
    random = Random(14)
    members = {company.pk: make_member(company) for company in companies}
    letters = "axylnderquobtseco0127" + punctuation + whitespace + "\x00\x1d\u200bé"
    for _ in range(150):
        text = "".join(random.choices(letters, k=random.randrange(1, 14)))
        for company in companies:
            rows = looked_for(members[company.pk], text, limit=100).rows
            ids = {row.site_id for row in rows}
            assert ids <= set(Site.objects.filter(company=company).values_list("pk", flat=True)), text


def test_hostile_ranges_stay_in_the_company_below_the_parser(companies: tuple[Company, Company]) -> None:
    """Even terms that no text can give do not leave it: the company is a column of the key, not part of a token."""
    ours, _other = companies
    own = set(Site.objects.filter(company=ours).values_list("pk", flat=True))
    everything = [Term("", (Range(""),)), Term("", (Range("w"), Range("s"), Range("r"))), Term("", (Range("\x01"),))]
    for term in everything:
        for terms in ([term], [term, term]):
            hits = find(Reading(ours.pk), terms, 100)
            assert {hit.site_id for hit in hits.found} <= own
            assert hits.total <= len(own)


def test_filters_and_choices_tell_nothing_of_another_company(companies: tuple[Company, Company]) -> None:
    ours, other = companies
    member, stranger = make_member(ours), make_member(other)
    model = model_of(other, "Fremd", "F-1")
    site = Site.objects.filter(company=other)[0]
    placed(site, "SEC-99999", model=model)
    Assignment.objects.create(company=other, member=stranger, site=site)
    indexed(site)
    for filters in (
        SiteFilters(tag=("Segredo",)), SiteFilters(maker=("Fremd",)), SiteFilters(model=(str(model.public_id),)),
        SiteFilters(assigned=(str(stranger.public_id),)),
    ):  # fmt: skip
        assert looked_for(member, "", filters=filters).total == 0
        assert looked_for(member, "rua", filters=filters).total == 0
    counted = count_choices(member=member)
    assert [(choice.value, choice.count) for choice in counted["tag"]] == [("Comum", 6), ("Nosso", 6)]
    assert {choice.value for choice in counted["maker"]} == {f"Maker{number}" for number in range(6)}
    assert counted["assigned"] == []


@pytest.fixture
def hidden(companies: tuple[Company, Company]) -> tuple[Member, Site, Site]:
    """A field member, the one site that they see, and one that they do not."""
    ours, _other = companies
    member = make_member(ours, Role.FIELD)
    visible, secret = site_at(ours, "Rua Visível"), site_at(ours, "Rua Oculta", region="Sul")
    owned(visible, "Tomás Serrador")
    owned(secret, "Tobias Sarrador")
    owned(secret, "Vanda Krümmel")
    placed(secret, "HID-41001")
    tagged(secret, "Discreto")
    indexed(visible, secret)
    Assignment.objects.create(company=ours, member=member, site=visible)
    return member, visible, secret


def test_a_field_member_finds_only_visible_sites(hidden: tuple[Member, Site, Site]) -> None:
    member, visible, secret = hidden
    assert member.company.policy.field_sight == FieldSight.ASSIGNED
    assert found(member, "") == [visible.pk]
    assert found(member, "rua") == [visible.pk]
    assert found(member, "serrador tomas") == [visible.pk]
    for text in hostile(member.company, ["krummel", "oculta", "hid41001", "discreto", secret.code, "amoreira"]):
        results = looked_for(member, text, limit=100)
        assert {row.site_id for row in results.rows} <= {visible.pk}, text
        assert results.total <= 1, text
        assert not results.total_capped, text
        assert results.corrected_to.lower() in ("", "visível", "tomás", "serrador", "tavira", "rua"), text


def test_a_correction_is_never_a_word_of_a_hidden_site(hidden: tuple[Member, Site, Site]) -> None:
    member, visible, _secret = hidden
    office = make_member(member.company)
    assert looked_for(office, "serradro").corrected_to == "Serrador"
    assert looked_for(office, "sbrrador").corrected_to == "Sarrador, Serrador"
    assert looked_for(office, "s3rrador").corrected_to == ""
    results = looked_for(member, "sxrrador")  # one slip from a visible word and from a hidden one
    assert (results.corrected_to, [row.site_id for row in results.rows]) == ("Serrador", [visible.pk])
    assert looked_for(office, "krumel").corrected_to == "Krümmel"
    hidden_word = looked_for(member, "krumel")
    assert (hidden_word.corrected_to, hidden_word.rows, hidden_word.total) == ("", [], 0)


def test_choices_and_counts_are_of_visible_sites(hidden: tuple[Member, Site, Site]) -> None:
    member, _visible, _secret = hidden
    counted = count_choices(member=member)
    assert {choice.value: choice.count for choice in counted["stage"]} == {"planned": 1}
    assert counted["tag"] == []
    assert counted["region"] == [choice for choice in counted["region"] if choice.value == "none"]
    assert not any(choice.capped for choices in counted.values() for choice in choices)


def test_what_a_hidden_site_holds_changes_no_answer(hidden: tuple[Member, Site, Site]) -> None:
    """The same texts before and after more hidden sites: every answer stays the same."""
    member, _visible, _secret = hidden
    texts = ["s", "serrador", "serador", "serrado", "tomaz", "vizivel", "rua visivel", "tavira", "5", "zzz", "sarrador"]
    before = [looked_for(member, text) for text in texts]
    for number in range(30):
        site = site_at(member.company, f"Rua Serrado {number}")
        owned(site, f"Serrador Tomaz Seradar {number}")
        indexed(site)
    assert [looked_for(member, text) for text in texts] == before


def test_a_policy_of_all_sites_opens_them(hidden: tuple[Member, Site, Site]) -> None:
    member, _visible, secret = hidden
    member.company.policy.field_sight = FieldSight.ALL
    member.company.policy.save()
    assert found(member, "krummel") == [secret.pk]
