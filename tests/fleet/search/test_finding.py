"""What the office types, and the site it means. Runs on both databases."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.labels.decode import decode
from fleet.labels.reading import Reading
from fleet.models import LabelForm, LinkDomain, Member, Site, SiteReference
from fleet.queries.decoding import decode_options
from tests.factories import make_company, make_member
from tests.fleet.search.samples import SINCE, found, indexed, looked_for, model_of, owned, placed, site_at, tagged

pytestmark = pytest.mark.django_db


@pytest.fixture
def office() -> Member:
    return make_member(make_company())


@pytest.fixture
def site(office: Member) -> Site:
    """The site that every scrap below means, among others that it does not."""
    company = office.company
    site = site_at(
        company, "Rua de São João", house_number="12-A", postcode="8800-317", town="Olhão", region="Algarve",
        name="Casa d'Água",
    )  # fmt: skip
    owned(site, "Guðrún Sørensen-Łukasz", email="gudrun.soren@solmail.example.com", phone="+351 289 123 456")
    placed(site, "SO1L-7788-XQ42", model=model_of(company, "Helionave", "HX-5000 K"))
    tagged(site, "Ásperos telhados")
    SiteReference.objects.create(company=company, site=site, kind="order", value="PED/2024-00731")
    others = [site_at(company, f"Travessa do Moinho {number}") for number in range(5)]
    for number, other in enumerate(others):
        owned(other, f"Amélia Ruiva {number}")
        placed(other, f"ZZ-100{number}-9")
    indexed(site, *others)
    return site


@pytest.mark.parametrize(
    "text",
    [
        "SO1L-7788-XQ42",  # the serial, as it stands
        "so1l7788xq42",
        "S0IL 7788 XQ42",  # with look-alikes, and spaces for dashes
        "s o 1 l 7 7 8 8 x q 4 2",
        "SO1L-77",
        "soil77",
        "XQ42",  # its last four to eight
        "8xq42",
        "88-XQ42",
        "7788XQ42",
        "L-7788-XQ42",  # and more than eight
        "s",  # the surname, from its first letter
        "sø",
        "sorensen",
        "Sörensen",
        "SØRENSEN-ŁUKASZ",
        "lukasz",
        "gudrun",
        "guðrún",
        "rua de são joão 12",
        "sao joao 12a",
        "joao 12-a",
        "12 a joao",
        "olhao joao rua",
        "8800-317",
        "8800317 olhao",
        "algarve joao",
        "casa d'agua",
        "dagua",
        "gudrun.soren@solmail.example.com",
        "gudrun.sor",
        "soren@sol",
        "@solmail.example",
        "gudrunsoren",
        "289123456",
        "289 123 456",
        "289-123-456",
        "+351 289 123 456",
        "00351289123456",
        "(351) 289/123.456",
        "0289 123456",
        "123 456",
        "helionave",
        "hx-5000",
        "HX5000K",
        "helionave hx 5000",
        "asperos",
        "telhados asperos",
        "PED/2024-00731",
        "2024-00731",
        "ped 202400731",
        "00731",
        "sorensen xq42",
        "sorensen 289 123 456 olhao",
    ],
)  # fmt: skip
def test_a_scrap_finds_its_site_first(office: Member, site: Site, text: str) -> None:
    assert found(office, text)[:1] == [site.pk]


def test_the_site_code_is_found_written_in_any_way(office: Member, site: Site) -> None:
    spoken = site.code.replace("0", "O").replace("1", "l").lower()
    for text in (site.code, site.written_code, spoken, f"{spoken[:4]} {spoken[4:]}", site.code[:5], site.code[-4:]):
        assert site.pk in found(office, text), text


@pytest.mark.parametrize(
    ("text", "corrected"),
    [
        ("sorenson", "Sørensen"),  # wrong
        ("sorensn", "Sørensen"),  # missing
        ("sorrensen", "Sørensen"),  # too many
        ("sorenesn", "Sørensen"),  # swapped
        ("orensen", "Sørensen"),
        ("guthrun", "Guðrún"),
        ("olhoa joao", "Olhão"),
        ("helionvae hx-5000", "Helionave"),
        ("helyonabe", "Helionave"),  # two slips in a long word
    ],
)
def test_one_slip_is_corrected_and_said(office: Member, site: Site, text: str, corrected: str) -> None:
    results = looked_for(office, text)
    assert [row.site_id for row in results.rows][:1] == [site.pk]
    assert results.corrected_to == corrected


def test_all_that_a_slip_may_mean_is_on_the_first_page_and_pages_follow_each_other(office: Member) -> None:
    meant: dict[str, set[int]] = {"Servaloso": set(), "Servalano": set()}
    for number in range(40):
        for name, ids in meant.items():
            site = site_at(office.company)
            owned(site, f"Ana {name}", email=f"{name.lower()}.{50 - number}@example.org")
            indexed(site)
            ids.add(site.pk)
    results = looked_for(office, "servalaso")
    assert set(results.corrected_to.split(", ")) == set(meant)
    assert all(ids & {row.site_id for row in results.rows} for ids in meant.values())
    for text in ("servalaso", "servaloso", "serval"):
        seen = [site_id for at in range(0, 100, 25) for site_id in found(office, text, offset=at)]
        assert seen == found(office, text, limit=100), text
        assert sorted(seen) == sorted(meant["Servaloso"] | (set() if text == "servaloso" else meant["Servalano"]))


@pytest.mark.parametrize("text", ["nowhere", "xq43", "sorensen 99999", "joao 12 zz-1001", "---", "\x00", "%", "_", "'"])
def test_what_is_not_there_is_not_found(office: Member, site: Site, text: str) -> None:
    results = looked_for(office, text)
    assert (results.rows, results.total, results.corrected_to) == ([], 0, "")


def test_an_empty_text_lists_everything_newest_first(office: Member, site: Site) -> None:
    results = looked_for(office, "  ")
    assert [row.site_id for row in results.rows] == list(Site.objects.order_by("-pk").values_list("pk", flat=True))
    assert (results.total, results.total_capped) == (6, False)


def test_exact_comes_before_beginning_before_ending(office: Member) -> None:
    ending, beginning, exact = (site_at(office.company) for _ in range(3))
    placed(ending, "ZZ-90210")
    placed(beginning, "90210-7")
    placed(exact, "90210")
    indexed(ending, beginning, exact)
    assert found(office, "90210") == [exact.pk, beginning.pk, ending.pk]


def test_a_site_that_a_device_left_is_listed_as_past(office: Member) -> None:
    before, now = site_at(office.company), site_at(office.company)
    placed(before, "MOVED-2001", until=SINCE)
    placed(now, "MOVED-2001")
    indexed(before, now)
    rows = looked_for(office, "moved2001").rows
    assert [(row.site_id, row.past) for row in rows] == [(now.pk, False), (before.pk, True)]
    assert [match.past for match in rows[1].matched] == [True]
    assert [(row.site_id, row.past) for row in looked_for(office, "moved2001 tavira").rows] == [
        (now.pk, False),
        (before.pk, True),
    ]


@pytest.mark.parametrize(
    ("text", "field", "marked"),
    [
        ("xq42", "serial", ["XQ42"]),
        ("so1l77", "serial", ["SO1L-77"]),
        ("soren", "owner", ["Søren"]),
        ("joao 12a", "address", ["João", "12-A"]),
        ("soren@sol", "email", ["soren@sol"]),
        ("289123", "phone", ["289 123"]),
        ("hx5000", "model", ["HX-5000"]),
        ("asperos", "tag", ["Ásperos"]),
        ("00731", "reference", ["00731"]),
    ],
)
def test_the_answer_shows_why(office: Member, site: Site, text: str, field: str, marked: list[str]) -> None:
    [row] = [row for row in looked_for(office, text).rows if row.site_id == site.pk]
    [match] = [match for match in row.matched if match.field == field]
    assert [part for part, is_marked in match.parts if is_marked] == marked
    assert "".join(part for part, _marked in match.parts) == match.text


def test_pages_follow_each_other_without_gaps_or_repeats(office: Member) -> None:
    sites = [site_at(office.company, "Rua Comprida", house_number=str(number)) for number in range(60)]
    for number, site in enumerate(sites):
        placed(site, f"CCC-{number}A")
        placed(site, f"CCC-D{number:03d}")
        placed(site, f"CCC-E{number:03d}")
    indexed(*sites)
    for text in ("comprida", "c", "comprida rua", "ccc"):
        pages = [looked_for(office, text, limit=25, offset=offset) for offset in (0, 25, 50)]
        ids = [row.site_id for page in pages for row in page.rows]
        assert sorted(ids) == sorted(site.pk for site in sites), text
        assert not pages[0].total_capped or pages[0].total >= 25


def test_pages_of_two_common_words_follow_each_other(office: Member) -> None:
    Site.objects.bulk_create(
        Site(
            company=office.company, code=f"{n:08d}", street="Rua Larga" if n % 3 else "Rua", house_number=str(n),
            town="Faro" if n % 2 else "Faroeste", time_zone="Europe/Lisbon",
        )
        for n in range(1300)
    )  # fmt: skip
    indexed(*Site.objects.filter(company=office.company))
    wanted = set(Site.objects.filter(company=office.company, street="Rua Larga").values_list("pk", flat=True))
    pages = [looked_for(office, "larga far", limit=100, offset=offset) for offset in range(0, 1000, 100)]
    ids = [row.site_id for page in pages for row in page.rows]
    assert len(ids) == len(set(ids))
    assert set(ids) == wanted
    assert pages[-1].total == len(wanted)
    assert len(looked_for(office, "larga faro").rows) == 25


def test_counts_are_exact_up_to_the_cap_and_capped_beyond(office: Member) -> None:
    company = office.company
    Site.objects.bulk_create(
        Site(company=company, code=f"{n:08d}", street="Rua Larga", town="Faro", time_zone="Europe/Lisbon")
        for n in range(1010)
    )
    indexed(*Site.objects.filter(company=company))
    results = looked_for(office, "larga")
    assert (results.total, results.total_capped) == (1000, True)
    Site.objects.filter(pk__in=Site.objects.filter(company=company).values("pk")[:30]).update(street="Rua Curta")
    indexed(*Site.objects.filter(company=company))
    results = looked_for(office, "larga")
    assert (results.total, results.total_capped) == (980, False)
    both = looked_for(office, "larga faro")
    assert len(both.rows) == 25
    assert both.total <= 980


@pytest.mark.parametrize(
    "label",
    [
        "(01)09521234543213(21)SO1L-7788-XQ42",
        "]d2010952123454321321SO1L-7788-XQ42",
        "https://id.example.com/01/09521234543213/21/SO1L-7788-XQ42",
        "[)>\x1e06\x1dSSO1L-7788-XQ42\x1d1PHX5000\x1e\x04",
        '{"sn": "SO1L-7788-XQ42"}',
    ],
)
def test_a_label_pasted_whole_finds_its_site(office: Member, site: Site, label: str) -> None:
    results = looked_for(office, label)
    assert [row.site_id for row in results.rows] == [site.pk]
    assert results.read_as == "SO1L-7788-XQ42"


def test_a_company_is_asked_for_its_forms_and_domains_once_and_only_where_no_standard_reads_a_label(office: Member):
    LabelForm.objects.create(company=office.company, name="round", pattern=r"NR (?P<serial>[0-9]{6})/C")
    LinkDomain.objects.create(company=office.company, domain="id.maker.example")
    for label, asked in {"(01)09521234543213(21)X1": 0, "NR 654321/C": 1, "https://id.maker.example/X1": 1}.items():
        with CaptureQueriesContext(connection) as captured:
            reading = decode(label, options=decode_options(office.company))
        assert isinstance(reading, Reading)
        assert (reading.serial, len(captured)) == ("654321" if "NR" in label else "X1", asked)


def test_a_plate_pasted_whole_finds_its_site(office: Member, site: Site) -> None:
    results = looked_for(office, f"http://127.0.0.1:8000/s/{site.code}")
    assert [row.site_id for row in results.rows] == [site.pk]
    assert results.read_as == site.written_code
