"""Sites' pages: forms that keep what was typed, plates, lists by cursor, the timeline, and hostile addresses."""

import io
import re
from datetime import timedelta
from random import Random

import pytest
import zxingcpp
from django.test import Client
from django.utils import timezone
from PIL import Image, ImageDraw

from fleet.labels.sitecode import new_site_code
from fleet.models import AuditEntry, Device, Member, PrintedPlate, Role, Stage
from fleet.queries.site_years import years_of
from fleet.search import SiteFilters, counting, reindex, several
from fleet.search.backend import backend
from fleet.search.listing import PAGE, list_sites
from fleet.views.plate import QUIET_ZONE, plate_address, plate_modules, plate_svg
from tests import rows

pytestmark = pytest.mark.django_db


def _member(role: str = Role.OFFICE) -> Member:
    return rows.make_member(role, rows.make_company())


def _client(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


def test_a_stale_form_keeps_the_typed_text_and_shows_what_is_stored():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    typed = {"street": "Rua Nova", "town": "Vila Serena", "country": "PT", "use": "home"}
    assert client.post(f"/sites/{site.written_code}/edit", typed | {"version": site.version}).status_code == 302
    answer = client.post(f"/sites/{site.written_code}/edit", typed | {"street": "Rua Minha", "version": site.version})
    assert answer.status_code == 409
    page = answer.content.decode()
    assert 'value="Rua Minha"' in page
    assert "Rua Nova" in page
    again = re.search(r'name="version" value="(\d+)"', page)
    assert again
    answer = client.post(f"/sites/{site.written_code}/edit", typed | {"street": "Rua Minha", "version": again.group(1)})
    site.refresh_from_db()
    assert (answer.status_code, site.street) == (302, "Rua Minha")


def test_a_plate_reads_back_as_its_address():
    member = _member()
    site = rows.make_site(member.company)
    modules = plate_modules(site.code)
    side = (len(modules) + 2 * QUIET_ZONE) * 8
    picture = Image.new("L", (side, side), 255)
    draw = ImageDraw.Draw(picture)
    for runs in re.findall(r"M(\d+) (\d+)h(\d+)v1", plate_svg(site.code)):
        x, y, width = (int(number) * 8 for number in runs)
        draw.rectangle((x, y, x + width - 1, y + 7), fill=0)
    content = io.BytesIO()
    picture.save(content, "PNG")
    found = zxingcpp.read_barcodes(Image.open(content))
    assert [code.text for code in found] == [plate_address(site.code)]
    assert found[0].ec_level == "Q"


@pytest.mark.parametrize("written", ["{code}", "{small}", "{spoken}"])
def test_a_plate_leads_to_its_site_however_it_is_typed(written: str):
    member = _member()
    site = rows.make_site(member.company, code=_code_with_lookalikes())
    typed = written.format(
        code=site.written_code, small=site.written_code.lower(), spoken=site.code.replace("0", "O").replace("1", "l")
    )
    answer = _client(member).get(f"/s/{typed}")
    assert answer.headers["Location"] == f"/sites/{site.written_code}/"


def test_a_plate_is_shown_once_somebody_said_that_it_goes_to_print_and_recorded_once():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    page = f"/sites/{site.written_code}/plate"
    assert '<svg class="qr"' not in client.get(page).content.decode()
    for _twice in range(2):
        assert client.post(page).headers["Location"] == page
    assert '<svg class="qr"' in client.get(page).content.decode()
    assert list(PrintedPlate.objects.values_list("code", "printed_by")) == [(site.code, member.pk)]
    assert AuditEntry.objects.filter(act="print_plate", site=site).count() == 1
    assert "Plate printed" in client.get(f"/sites/{site.written_code}/").content.decode()


def test_a_retired_site_gets_no_plate():
    member = _member()
    site = rows.make_site(member.company, stage=Stage.RETIRED)
    answer = _client(member).post(f"/sites/{site.written_code}/plate", follow=True)
    assert "This site is retired and takes nothing new" in answer.content.decode()
    assert not PrintedPlate.objects.exists()


def test_the_list_turns_pages_without_losing_or_doubling_a_site():
    member = _member()
    sites = [rows.make_site(member.company) for _ in range(2 * PAGE + 3)]
    reindex([site.pk for site in sites])
    seen, older = [], ""
    for _turn in range(4):
        page = list_sites(member=member, older_than=older)
        seen += [row.site_id for row in page.rows]
        if not page.older:
            break
        older = page.older
        rows.make_site(member.company)  # a newcomer in between shifts nothing
    assert seen == [site.pk for site in reversed(sites)]
    back = list_sites(member=member, newer_than=page.newer)
    assert [row.site_id for row in back.rows] == seen[PAGE : 2 * PAGE]


def test_common_words_have_a_next_page_though_what_they_find_is_not_counted(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(several, "RARE", 1)
    monkeypatch.setattr(backend(), "NARROW", 1)
    member = _member()
    client = _client(member)
    sites = [rows.make_site(member.company, street="Rua Clara") for _ in range(PAGE + 3)]
    reindex([site.pk for site in sites])
    first = client.get("/sites/", {"q": "rua clara"})
    second = client.get(first.context["older_url"])
    shown = [row.site_id for page in (first, second) for row in page.context["rows"]]
    assert sorted(shown) == sorted(site.pk for site in sites)
    assert second.context["older_url"] == ""
    assert "Enter shows the list." in client.get("/search", {"q": "rua clara"}).content.decode()
    assert f"At least {PAGE + 1} sites." in " ".join(first.content.decode().split())


def test_a_list_is_counted_exactly_up_to_a_bound_that_it_then_tells(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(counting, "COUNTED_EXACTLY", 3)
    member = _member()
    client = _client(member)
    sites = [rows.make_site(member.company, region="Sul" if number else "Norte") for number in range(6)]
    reindex([site.pk for site in sites])
    counted = list_sites(member=member, filters=SiteFilters(region=("Sul",)))
    assert (counted.total, counted.total_capped, len(counted.rows)) == (3, True, 5)
    assert "More than 3 sites." in " ".join(client.get("/sites/", {"region": "Sul"}).content.decode().split())
    assert "More than 3 sites." in " ".join(client.get("/sites/").content.decode().split())
    few = list_sites(member=member, filters=SiteFilters(region=("Norte",)))
    assert (few.total, few.total_capped) == (1, False)


def test_the_timeline_loses_nothing_between_its_pages():
    member = _member()
    site = rows.make_site(member.company)
    began = timezone.now() - timedelta(days=400)
    for number in range(90):
        device = rows.make_device(member.company)
        rows.place(device, site, since=began + timedelta(days=number // 3))
    told, before = [], None
    for _turn in range(5):
        years = years_of(site, before=before)
        told += [moment.device.pk for moment in years.moments if moment.device]
        before = years.earlier
        if before is None:
            break
    assert sorted(told) == sorted(Device.objects.values_list("pk", flat=True))


@pytest.mark.parametrize(
    "address",
    [
        "/sites/?older=%01&newer=zzz&page=-1",
        "/sites/?q=%01",
        "/sites/?q=" + "%F0%9F%8F%A0" * 300,
        "/sites/?q=a&page=99999999999",
        "/sites/?stage=%27%3B--&model=x&installed_from=yesterday",
        "/today/labels?after=no-uuid",
        "/search?q=%3Cscript%3Ealert(1)%3C/script%3E",
    ],
)
def test_hostile_addresses_are_answered(address: str):
    member = _member()
    answer = _client(member).get(address)
    assert answer.status_code == 200
    assert "<script>alert" not in answer.content.decode()


def test_a_character_that_no_database_keeps_is_refused_with_a_page():
    answer = _client(_member()).get("/sites/?q=%00")
    assert answer.status_code == 400
    assert "text/html" in answer.headers["Content-Type"]


def test_markup_in_names_is_shown_as_text():
    member = _member()
    site = rows.make_site(member.company, name="<b>bold</b>", note="<img src=x>")
    reindex([site.pk])
    for address in ("/sites/", f"/sites/{site.written_code}/", "/search?q=bold"):
        page = _client(member).get(address).content.decode()
        assert "<b>bold" not in page
        assert "<img" not in page


def test_acts_answer_only_to_their_verb():
    member = _member(Role.ADMINISTRATOR)
    site = rows.make_site(member.company)
    for act in ("retire", "hand-over/take-back", "checks", "assignments", "files", "tags"):
        assert _client(member).get(f"/sites/{site.written_code}/{act}").status_code == 405
    assert _client(member).delete(f"/sites/{site.written_code}/").status_code == 405


def _code_with_lookalikes() -> str:
    return next(code for code in (new_site_code(Random(seed)) for seed in range(1000)) if "0" in code and "1" in code)
