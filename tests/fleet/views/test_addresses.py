"""Rows lead to what they name: each test knows which site stands in which street, and opens the row of that street."""

import pytest
from django.test import Client

from fleet.models import Role, Site
from fleet.search import reindex
from tests import rows
from tests.walk.dom import parsed

pytestmark = pytest.mark.django_db

STREETS = ("Rua do Poço Fundo", "Rua da Eira Grande", "Travessa do Forno Velho")
LISTS = ("/sites/", "/sites/?q=Vila+Serena", "/search?q=Vila+Serena")


@pytest.fixture
def there() -> tuple[Client, dict[str, Site]]:
    """Somebody of the office, and the site in each street."""
    member = rows.make_member(Role.OFFICE)
    sites = {street: rows.make_site(member.company, street=street, house_number="") for street in STREETS}
    reindex([site.pk for site in sites.values()])
    client = Client()
    client.force_login(member.user)
    return client, sites


@pytest.mark.parametrize("address", LISTS)
def test_a_row_leads_to_the_site_in_the_street_that_it_names(address: str, there: tuple[Client, dict[str, Site]]):
    client, sites = there
    page = parsed(client.get(address).content.decode())
    for street, site in sites.items():
        (link,) = [link for link in page.walk("a") if street in link.text]
        answer = client.get(link.get("href"))
        assert answer.status_code == 200
        (title,) = parsed(answer.content.decode()).walk("title")
        assert site.written_code in title.text
        assert street in title.text


def test_enter_on_a_site_code_opens_that_site(there: tuple[Client, dict[str, Site]]):
    client, sites = there
    for street, site in sites.items():
        answer = client.get("/sites/", {"q": site.code.lower()}, follow=True)
        assert answer.redirect_chain == [(f"/sites/{site.code[:4]}-{site.code[4:]}/", 302)]
        assert street in answer.content.decode()
