"""The list of sites as a table: its columns, its order, and what an empty company is shown instead."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from fleet.models import Assignment, Member, Role, Site, SiteSummary
from fleet.search.listing import COLUMNS, PAGE, list_sites, order_named
from tests import rows
from tests.factories import make_company, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def office() -> Member:
    return make_member(make_company())


@pytest.fixture
def client(office: Member) -> Client:
    client = Client()
    client.force_login(office.user)
    return client


@pytest.fixture
def three(office: Member) -> list[Site]:
    """Registered in this order; by street, power and age in others."""
    facts = [("Rua B", 9, 5), ("Rua Á", 10, None), ("Rua C", None, 0)]
    sites = [
        make_site(
            office, street=street, house_number="2", postcode="7005-210", town="Vila Alvor",
            installed_kwp=None if kwp is None else Decimal(kwp), storage_kwh=None if kwh is None else Decimal(kwh),
        )
        for street, kwp, kwh in facts
    ]  # fmt: skip
    for site, days in zip(sites, (10, 30, 20), strict=True):
        SiteSummary.objects.filter(site=site).update(stage_since=timezone.now() - timedelta(days=days))
    return sites


def streets(page: str) -> list[str]:
    return re.findall(r'<a class="strong" href="/sites/[0-9A-Z-]+/">(Rua [^<]+)</a>', page)


def shown(client: Client, address: str) -> str:
    return " ".join(client.get(address).content.decode().split())


@pytest.mark.parametrize(
    ("sort", "order", "words"),
    [
        ("", "CÁB", "newest registered first"),
        ("address", "ÁBC", "by street, A to Z"),
        ("-address", "CBÁ", "by street, Z to A"),
        ("-kwp", "ÁBC", "largest PV first"),
        ("kwp", "CBÁ", "smallest PV first"),
        ("stage", "ÁCB", "longest in their stage first"),
        ("nonsense", "CÁB", "newest registered first"),
    ],
)
def test_the_list_goes_by_the_column_that_is_asked(
    client: Client, three: list[Site], sort: str, order: str, words: str
):
    page = shown(client, f"/sites/?sort={sort}")
    assert streets(page) == [f"Rua {letter} 2" for letter in order]
    assert words in page
    assert page.count("aria-sort=") == (0 if words.startswith("newest reg") else 1)


def test_a_row_says_what_is_registered(client: Client, office: Member, three: list[Site]):
    make_owner(office, three[0], name="Rita Carvalhal")
    page = shown(client, "/sites/?sort=address")
    row = page.split("<tr")[3]
    for text in (three[0].written_code, "Rita Carvalhal", "9.00", "5.0", "Planned", "7005-210", "Vila Alvor"):
        assert text in row, text
    assert "10.00" in page.split("<tr")[2]
    assert "none" in page.split("<tr")[4]
    assert "Not yet known" in page.split("<tr")[4]


@pytest.mark.parametrize("name", ["", *COLUMNS, *(f"-{name}" for name in COLUMNS)])
def test_pages_of_any_order_follow_each_other_forwards_and_back(office: Member, name: str):
    sites = [rows.make_site(office.company, street=f"Rua {number % 4}") for number in range(2 * PAGE + 7)]
    from fleet.search import reindex

    reindex([site.pk for site in sites])
    order = order_named(name)
    pages = [list_sites(member=office, order=order)]
    while pages[-1].older:
        pages.append(list_sites(member=office, order=order, older_than=pages[-1].older))
    ids = [row.site_id for page in pages for row in page.rows]
    assert (len(ids), set(ids)) == (len(sites), {site.pk for site in sites})
    back = list_sites(member=office, order=order, newer_than=pages[2].newer)
    assert [row.site_id for row in back.rows] == [row.site_id for row in pages[1].rows]
    first = list_sites(member=office, order=order, newer_than=back.newer)
    assert ([row.site_id for row in first.rows], first.newer) == ([row.site_id for row in pages[0].rows], "")


def test_columns_are_chosen_and_remembered_for_one_member(client: Client, office: Member, three: list[Site]):
    answer = client.post("/sites/columns", {"column": ["kwp", "code", "nonsense"], "next": "/sites/?sort=kwp"})
    assert answer["Location"] == "/sites/?sort=kwp"
    page = shown(client, "/sites/")
    assert re.findall(r'<th scope="col" role="columnheader" class="col-(\w+)', page) == ["code", "address", "kwp"]
    colleague = Client()
    colleague.force_login(make_member(office.company).user)
    assert "col-owner" in shown(colleague, "/sites/")
    assert client.post("/sites/columns", {"next": "https://example.com/"})["Location"] == "/sites/"
    assert re.findall(r'<th scope="col" role="columnheader" class="col-(\w+)', shown(client, "/sites/")) == ["address"]


def test_filters_and_pages_keep_the_order(client: Client, three: list[Site]):
    page = shown(client, "/sites/?sort=stage&counts=shown")
    assert "/sites/?sort=stage&amp;stage=planned" in page
    found = shown(client, "/sites/?q=rua&sort=stage")
    assert "what fits best first" in found
    assert "aria-sort" not in found


def test_an_empty_company_is_told_three_steps_until_a_site_stands_there(client: Client, office: Member):
    for address in ("/", "/sites/"):
        page = shown(client, address)
        assert "Three steps to begin with" in page
        for path in ("/company/catalogue", "/members/", "/sites/new"):
            assert f'class="button" href="{path}"' in page or f'class="button button-main" href="{path}"' in page
    assert "Three steps" not in shown(client, "/sites/?stage=planned")
    make_site(office)
    for address in ("/", "/sites/"):
        assert "Three steps" not in shown(client, address)


def test_field_staffs_today_begins_with_their_own_sites(office: Member):
    field = make_member(office.company, Role.FIELD)
    sites = [make_site(office, street=f"Rua {number}") for number in range(4)]
    today = timezone.localdate()
    for site, until in zip(sites, (None, today + timedelta(days=9), today, None), strict=True):
        Assignment.objects.create(company=office.company, member=field, site=site, until=until)
    Site.objects.filter(pk=sites[3].pk).update(stage="handed_over")
    from fleet.search import reindex

    reindex([sites[3].pk])
    client = Client()
    client.force_login(field.user)
    page = shown(client, "/")
    own, rest = page.split("Your own work")[1].split("Our move", 1)
    assert re.findall(r"Rua \d", own) == ["Rua 2", "Rua 1", "Rua 0"]
    assert "3 in all" in own
    listed = re.search(r'href="(/sites/\?assigned=[^"]+)"', own)
    assert listed is not None
    assert "3 sites." in shown(client, listed.group(1).replace("&amp;", "&"))
    assert "Your own work" not in shown(_signed_in(office), "/")
    assert rest


def _signed_in(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


def test_codes_and_postcodes_in_sentences_stay_on_one_line():
    from fleet.templatetags.house import unbroken

    shown = unbroken("Rua <b> 4, 7005-210 Vila & ABCD-EFGH. SW1A 1AA, 12345-678")
    assert shown == (
        'Rua &lt;b&gt; 4, <span class="code">7005-210</span> Vila &amp; <span class="code">ABCD-EFGH</span>. '
        '<span class="code">SW1A 1AA</span>, <span class="code">12345-678</span>'
    )
