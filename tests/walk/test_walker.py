"""The walk itself, over invented pages: what it must notice, and what it must not take for a fault."""

from collections.abc import Mapping
from typing import cast

import pytest

from tests.walk.crawl import Found, Limits, Walk
from tests.walk.visitor import Answer, Visitor

BASE = "http://house.example"
SITE = "<title>7ZZZ-0001</title><main><h1>Rua Nova 1</h1></main>"


class Paper:
    """A visitor of pages that stand in a table; what is not there answers 404."""

    base, who, language = BASE, "somebody", "en"

    def __init__(self, pages: Mapping[str, str]) -> None:
        self._pages = pages

    def is_ours(self, url: str) -> bool:
        """As a visitor says it."""
        return url.startswith(f"{BASE}/")

    def get(self, path: str, *, htmx: bool = False) -> Answer:
        """The page from the table."""
        path = path.removeprefix(BASE)
        text = self._pages.get(path)
        whole = text if text is None or htmx else f'<html lang="en"><body>{text}</body></html>'
        return Answer(404 if text is None else 200, BASE + path, {"content-type": "text/html"}, (whole or "").encode())


def faults(front: str, **others: str) -> list[str]:
    """What is wrong with a house whose front page holds ``front``; other pages are named by their path's word."""
    found = Found()
    pages = {"/": f"<main>{front}</main>"} | {f"/{name}/": page for name, page in others.items()}
    Walk(cast(Visitor, Paper(pages)), found, Limits(), "Vila").everywhere()
    return found.faults


@pytest.mark.parametrize(
    "front",
    [
        '<a href="/gone/">Gone</a>',
        '<form action="/gone/" method="get"><input name="q"><button>Find</button></form>',
        '<p hx-get="/gone/" hx-trigger="load"></p>',
        '<img src="/static/gone.png">',
        '<script src="/static/gone.js"></script>',
        '<a href="/sites/#nowhere">Sites</a>',
        '<img src="http://elsewhere.example/a.png">',
    ],
)
def test_what_leads_nowhere_is_a_fault(front: str):
    assert len(faults(front, sites="<main>Sites</main>")) == 1


def test_rows_that_lead_to_one_place_are_a_fault():
    rows = '<li><a href="/one/">Rua Nova 1</a></li><li><a href="/one/">Rua Velha 2</a></li>'
    said = faults(f'<ul class="rows">{rows}</ul>', one="<main>Rua Nova 1 Rua Velha 2</main>")
    assert said == ["somebody /: all 2 rows lead to /one/"]


def test_a_row_whose_target_does_not_show_what_it_names_is_a_fault():
    row = '<ul class="rows"><li><a href="/one/">Rua Nova 1</a> <span>7ZZZ-0001</span></li></ul>'
    assert faults(row, one=SITE) == []
    assert len(faults(row, one="<title>7ZZZ-0001</title><main>Rua Velha 2</main>")) == 1
    assert len(faults(row, one="<title>7ZZZ-0002</title><main>Rua Nova 1</main>")) == 1


def test_a_count_must_equal_its_list_over_all_pages():
    first = '<main><ul class="rows"><li>a</li><li>b</li></ul><a rel="next" href="/second/">Further</a></main>'
    pages = {"first": first, "second": '<main><ul class="rows"><li>c</li></ul></main>'}
    assert faults('<a href="/first/">3 in all</a>', **pages) == []
    for number in (2, 4):
        assert len(faults(f'<a href="/first/">Waiting <b>{number}</b></a>', **pages)) == 1
    assert faults('<a href="/first/">Waiting <b>2+</b></a>', **pages) == []
    assert faults('<a href="/first/">2 Rua Nova</a>', **pages) == []


def test_a_heading_must_equal_the_rows_below_it():
    page = '<main><h1>Sites</h1><h2>4 sites.</h2><ul class="rows"><li>a</li></ul></main>'
    assert len(faults('<a href="/one/">1 in all</a>', one=page)) == 1


def test_hidden_doors_are_no_doors():
    assert faults('<div hidden><a href="/gone/">Gone</a></div><template><a href="/gone/">Gone</a></template>') == []


def test_a_count_that_leads_into_a_page_must_be_said_there():
    page = '<title>7ZZZ-0001</title><main><section id="standing"><p>11 devices</p></section></main>'
    assert faults('<a href="/one/#standing">11 devices</a>', one=page) == []
    assert len(faults('<a href="/one/#standing">1 device</a>', one=page)) == 1


def test_a_select_is_sent_as_a_person_would():
    options = '<option value="" selected>choose</option><option value="a">A</option>'
    form = f'<form action="/one/" method="get"><select name="c">{options}</select><button>Show</button></form>'
    found = Found()
    pages = {"/": f"<main>{form}</main>", "/one/?c=a": "<main>A</main>"}
    Walk(cast(Visitor, Paper(pages)), found, Limits(), "Vila").everywhere()
    assert found.faults == []
