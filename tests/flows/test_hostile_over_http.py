"""Harm tried over HTTP against a real ``manage.py serve``: what a test client cannot show, sockets and threads do."""

import http.client
import json
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import quote, urlencode, urlsplit

import pytest

from tests.fleet.management.test_serve import Serving, environment

pytestmark = [pytest.mark.slow, pytest.mark.once, pytest.mark.timeout(400)]
SECRET = "ochre gate seven quails"
SEED = f"""
import json
from django.conf import settings
from onboarding.mail.return_path import leave_opaque
from onboarding.models import Delivery
from tests.factories import make_invitation, make_member, make_owner, make_site, make_user
member = make_member()
sites = [make_site(member) for _ in range(6)]
tokens = [make_invitation(member, site, make_owner(member, site, name="{{{{7*7}}}} <b>x</b>"))[1] for site in sites]
make_user("rui@example.net", password="{SECRET}")
leave = leave_opaque(Delivery.objects.order_by("id")[5].public_id, settings.SECRET_KEY)
print("SEED " + json.dumps({{"tokens": tokens, "leave": leave}}))
"""


class Browser:
    """A client with cookies, which sends what it is told and follows nothing."""

    def __init__(self, port: int) -> None:
        self.port, self.cookies = port, SimpleCookie()

    def ask(self, method: str, path: str, form: dict[str, str] | None = None, **headers: str) -> "Answer":
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if self.cookies:
            sent["Cookie"] = "; ".join(f"{name}={each.value}" for name, each in self.cookies.items())
        if form is not None:
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request(method, path, urlencode(form) if form is not None else None, sent)
        answer = Answer(connection.getresponse())
        connection.close()
        for value in answer.all("Set-Cookie"):
            self.cookies.load(value)
        return answer

    def post(self, path: str, form: dict[str, str], page: str = "") -> "Answer":
        return self.ask("POST", path, form | {"csrfmiddlewaretoken": self.form_token(page or path)}, Origin=self.here)

    def form_token(self, page: str) -> str:
        found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', self.ask("GET", page).text)
        return found.group(1) if found else ""

    @property
    def here(self) -> str:
        return f"http://127.0.0.1:{self.port}"


class Answer:
    def __init__(self, response: http.client.HTTPResponse) -> None:
        self.status, self._headers = response.status, response.getheaders()
        self.text = response.read().decode("utf-8", "replace")

    def all(self, name: str) -> list[str]:
        return [value for header, value in self._headers if header.lower() == name.lower()]

    def one(self, name: str) -> str:
        return next(iter(self.all(name)), "")


class Place:
    """A server with six sent invitations, and what a thief might hold."""

    def __init__(self, data: Path) -> None:
        self.serving = Serving(data)
        ran = subprocess.run(
            [sys.executable, "manage.py", "shell", "-v", "0", "-c", SEED],
            env=environment(data), capture_output=True, text=True, timeout=300,
        )  # fmt: skip
        told = [line for line in ran.stdout.splitlines() if line.startswith("SEED ")]
        assert told, ran.stderr
        seeded = json.loads(told[0].removeprefix("SEED "))
        self.tokens: list[str] = seeded["tokens"]
        self.leave: str = seeded["leave"]

    def browser(self) -> Browser:
        return Browser(self.serving.port)

    def welcome(self, number: int) -> str:
        return f"/welcome/{self.tokens[number]}"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Place]:
    made = Place(tmp_path_factory.mktemp("hostile"))
    yield made
    made.serving.server.stop()
    log = made.serving.server.tail()
    assert "example.net" not in log
    assert not [token for token in made.tokens if token in log]


def test_of_six_acceptances_at_once_one_wins_and_a_replay_is_told_so(place: Place):
    browsers = [place.browser() for _ in range(6)]
    forms = [each.form_token(place.welcome(0)) for each in browsers]
    statuses: list[int] = []
    gate = threading.Barrier(6)

    def go(number: int) -> None:
        gate.wait()
        form = {"act": "accept", "password": f"{SECRET} {number}", "csrfmiddlewaretoken": forms[number]}
        statuses.append(browsers[number].ask("POST", place.welcome(0), form, Origin=browsers[number].here).status)

    threads = [threading.Thread(target=go, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert len(statuses) == 6
    assert statuses.count(302) == 1
    assert set(statuses) <= {302, 409, 410}
    assert place.browser().ask("GET", place.welcome(0)).status == 410


def test_a_planted_session_is_worth_nothing_after_accepting(place: Place):
    browser = place.browser()
    browser.cookies["rooftally_session"] = "chosen0by0the0thief0000000000000"
    browser.post(place.welcome(1), {"act": "continue"})
    planted = browser.cookies["rooftally_session"].value
    assert planted != "chosen0by0the0thief0000000000000"
    answer = browser.post(place.welcome(1), {"act": "accept", "password": SECRET})
    assert answer.status == 302
    assert browser.cookies["rooftally_session"].value != planted
    page = browser.ask("GET", answer.one("Location"))
    assert page.status == 200
    assert "<b>x</b>" not in page.text
    thief = place.browser()
    thief.cookies["rooftally_session"] = planted
    assert "login" in thief.ask("GET", "/mine/").one("Location")


def test_scanners_change_nothing_and_other_methods_are_refused(place: Place):
    for method in ("GET", "HEAD", "GET"):
        answer = place.browser().ask(method, place.welcome(2))
        assert (answer.status, answer.one("Cache-Control")) == (200, "no-store")
    for method in ("OPTIONS", "PUT", "DELETE", "PATCH", "TRACE"):
        assert place.browser().ask(method, place.welcome(2)).status in (403, 405)
    assert place.browser().ask("POST", place.welcome(2), {"act": "not_me"}).status == 403
    first = place.browser().ask("GET", place.welcome(2))
    assert "continue" in first.text


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "127.0.0.1@evil.example"])
def test_another_hosts_name_is_refused(place: Place, host: str):
    assert place.browser().ask("GET", place.welcome(2), Host=host).status == 400


@pytest.mark.parametrize(
    "path", ["/welcome/%0d%0aSet-Cookie:%20thief=1", "/welcome/..%2f..%2fmine", "//evil.example/", "/\\evil.example/"]
)
def test_no_path_sets_headers_or_leads_elsewhere(place: Place, path: str):
    answer = place.browser().ask("GET", path)
    assert answer.status == 404
    assert "thief" not in str(answer.all("Set-Cookie"))
    assert not answer.one("Location")


@pytest.mark.parametrize("target", ["//evil.example", "/\\evil.example", "%2f%2fevil.example", "javascript:alert(1)"])
def test_signing_in_leads_to_our_own_pages_only(place: Place, target: str):
    answer = place.browser().post(
        f"/accounts/login/?next={quote(target)}", {"login": "rui@example.net", "password": SECRET, "next": target}
    )
    assert answer.status == 302
    assert urlsplit(answer.one("Location")).netloc == ""
    assert answer.one("Location").startswith("/")
    assert "evil" not in answer.one("Location")


def test_one_click_needs_no_cookie_sets_none_and_cannot_be_forged(place: Place):
    one_click = {"List-Unsubscribe": "One-Click"}
    for forged in (place.leave[:-1], place.leave + "A", "A" * 43):
        assert place.browser().ask("POST", f"/leave/{forged}", one_click).status == 404
    assert place.browser().ask("POST", f"/leave/{place.leave}", {"other": "1"}).status == 400
    for _ in range(2):
        answer = place.browser().ask("POST", f"/leave/{place.leave}", one_click, Origin="https://webmail.example")
        assert (answer.status, answer.all("Set-Cookie"), answer.one("Location")) == (200, [], "")
    assert place.browser().ask("POST", "/mail/hooks/mailgun", {}).status == 404


def test_a_flood_of_guesses_from_several_sides_is_told_to_wait(place: Place):
    statuses = [
        place.browser().ask("GET", f"/welcome/guess-number-{number}", X_Forwarded_For=f"203.0.113.{number}").status
        for number in range(40)
    ]
    assert statuses[0] == 404
    assert statuses[-1] == 429
    assert place.browser().ask("GET", place.welcome(3)).status == 200
