"""The main job from the roof to the owner, done over HTTP by the people of the demo and told step by step."""

import re
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from onboarding.management.demo.browser import Browser, Page
from onboarding.management.demo.label import label_picture
from onboarding.management.demo.people import SignIn

GTIN, MODEL = "09520001000010", "Brisalume Ribeira 5"
PATIENCE = 60  # seconds for the background job to deliver
Say = Callable[[str], None]


class StepFailed(Exception):
    """A step did not come out as it should; the message says what came instead."""


@dataclass
class Job:
    """One site's way from its registration to its owner's own page. ``number`` makes serial and address new.

    ``find_link`` answers the link in the mail to an address, or an empty text; without it the demo's mailbox is read.
    """

    base: str
    staff: SignIn
    number: int
    say: Say
    find_link: Callable[[str], str] | None = None
    code: str = ""
    link: str = ""
    facts: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.worker, self.owner = Browser(self.base), Browser(self.base)
        self.serial = f"DEMO{self.number:06d}"
        self.address = f"luisa.talvoreira{self.number}@example.com"

    def run(self) -> bool:
        """Every step in order; False as soon as one fails."""
        for step in (
            self.sign_in, self.register_site, self.scan_label, self.see_device, self.register_owner,
            self.record_permission, self.invite, self.await_mail, self.open_link, self.press_continue,
            self.accept, self.see_my_site, self.check_ledger_says_so,
        ):  # fmt: skip
            try:
                outcome = step()
            except (StepFailed, LookupError, OSError, ValueError, KeyError, AttributeError) as error:
                self.say(f"  ✗ {_words(step)}: {error}")
                return False
            self.say(f"  ✓ {outcome}")
        return True

    def sign_in(self) -> str:
        """A member signs in."""
        page = self.worker.get("/accounts/login/")
        page = self.worker.submit(
            page.form_with("login", "password"), login=self.staff.email, password=self.staff.password
        )
        _expect(page, 200, "/")
        if "/accounts/login" in page.url:
            raise StepFailed("the sign-in page came back")
        return f"{self.staff.who} signs in."

    def register_site(self) -> str:
        """A new site gets its code."""
        form = self.worker.get("/sites/new").form_with("street", "town")
        page = self.worker.submit(
            form, street="Rua da Amoreira Serena", house_number=str(self.number), postcode="7005-210",
            town="Vila Alvor", country="PT", place="38.571400, -7.913500", installed_kwp="6.5",
        )  # fmt: skip
        found = re.search(r"/sites/([0-9A-Z]{4}-?[0-9A-Z]{4})/", page.url)
        if found is None:
            raise StepFailed(f"no new site, but {page.url} ({page.status})")
        self.code = found.group(1).replace("-", "")
        return f"A site is registered: {self.code[:4]}-{self.code[4:]}, Rua da Amoreira Serena {self.number}."

    def scan_label(self) -> str:
        """The picture of a label is handed in and decoded; the device is linked."""
        picture = label_picture(gtin=GTIN, serial=self.serial, model=MODEL)
        form = self.worker.get(f"/sites/{self.code}/scan").form_with("photo")
        page = self.worker.submit(form, files={"photo": ("label.png", "image/png", picture)})
        _expect(page, 200, "/scan/")
        return f"A label picture ({len(picture):,} bytes) is handed in and read: serial {self.serial}."

    def see_device(self) -> str:
        """The API shows the device standing at the site."""
        found = self.worker.get(f"/api/v1/devices?serial={self.serial}&site={self.code}").document["results"]
        if [device["serial"] for device in found] != [self.serial]:
            raise StepFailed(f"{self.serial} is not linked to {self.code}")
        return f"The device is linked: {found[0]['maker']} {found[0]['model']}, {found[0]['kind']}."

    def register_owner(self) -> str:
        """The owner is entered at the site."""
        page = self.worker.get(f"/sites/{self.code}/owners/new")
        page = self.worker.submit(
            page.form_with("name", "email"), name="Luísa Talvoreira", email=self.address, language="en"
        )
        _expect(page, 200, "/sites/")
        card = self.worker.get(f"/api/v1/sites/{self.code}").document
        self.facts["owner"] = card["owners"][0]["id"]
        return f"The owner is entered: Luísa Talvoreira, {self.address}."

    def record_permission(self) -> str:
        """What the owner said is recorded, as a report of staff."""
        sent = {"owner": self.facts["owner"], "purpose": "contact", "state": "given", "how": "staff_statement"}
        page = self.worker.send_json(f"/api/v1/sites/{self.code}/consents", sent)
        _expect(page, 201)
        return (
            f"Her spoken yes to being written to is recorded (ledger line {page.document['position']}, staff report)."
        )

    def invite(self) -> str:
        """The invitation is queued."""
        page = self.worker.send_json(f"/api/v1/sites/{self.code}/invitations", {"owner": self.facts["owner"]})
        _expect(page, 201)
        self.facts["invitation"] = page.document["id"]
        if page.document["state"] not in ("queued", "sent"):
            raise StepFailed(f"the invitation is {page.document['state']} {page.document['held_reason']}")
        return f"The invitation is {page.document['state']}; a background job takes it from here."

    def await_mail(self) -> str:
        """The background job delivers into the local mailbox."""
        find_link = self.find_link or self.link_in_mailbox
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            if link := find_link(self.address):
                self.link = link
                self._await_state("sent", end)
                return "The mail is delivered by the background job."
            time.sleep(0.5)
        raise StepFailed(f"no mail for {self.address} within {PATIENCE} s")

    def open_link(self) -> str:
        """GET shows who invites and changes nothing."""
        page = self.owner.get(self.link)
        _expect(page, 200, "/welcome/")
        self._expect_state("sent")
        return "The owner opens the link: the page says who invites her; nothing has changed."

    def press_continue(self) -> str:
        """The first POST marks the invitation as opened."""
        page = self.owner.get(self.link)
        form = next(form for form in page.forms if ("act", "continue") in form.buttons)
        page = self.owner.submit(form, act="continue")
        _expect(page, 200, "/welcome/")
        self._expect_state("opened")
        self.facts["accept_page"] = page.url
        return "She presses Continue: the invitation counts as opened."

    def accept(self) -> str:
        """She answers each purpose and sets her own password."""
        form = self.owner.get(self.link).form_with("password", "contact")
        password = secrets.token_urlsafe(15)
        page = self.owner.submit(
            form, password=password, act="accept", contact="yes", monitoring="yes", home_network="no"
        )
        _expect(page, 200, "/mine/")
        self._expect_state("accepted")
        return "She allows two of three purposes, sets a password of her own and accepts."

    def see_my_site(self) -> str:
        """My site shows what stands on her roof."""
        page = self.owner.get(f"/mine/{self.code}/")
        _expect(page, 200)
        if self.serial not in page.text:
            raise StepFailed("her page does not show the device")
        return f"My site shows her what stands there, serial {self.serial} included."

    def check_ledger_says_so(self) -> str:
        """Her own answers stand in the ledger as strong entries."""
        lines = self.worker.get(f"/api/v1/sites/{self.code}/consents").document["results"]
        own = {line["purpose"]: line["state"] for line in lines if line["evidence"] == "owner_online"}
        if own != {"contact": "given", "monitoring": "given", "home_network": "refused"}:
            raise StepFailed(f"the ledger says {own}")
        return f"The consent ledger holds her own answers: {len(lines)} lines for this site."

    def link_in_mailbox(self, address: str) -> str:
        """The invitation's link in the demo's mailbox, or an empty text."""
        for letter in self.worker.get("/mailbox/").links:
            if re.search(r"/mailbox/[0-9a-f]{32}/$", letter):
                text = self.worker.get(letter).text
                if address in text and (link := link_in(text)):
                    return link
        return ""

    def _await_state(self, state: str, end: float) -> None:
        while self._state() != state and time.monotonic() < end:
            time.sleep(0.2)  # the server's 250 comes before the row says so
        self._expect_state(state)

    def _expect_state(self, state: str) -> None:
        if (found := self._state()) != state:
            raise StepFailed(f"the invitation is {found}, not {state}")

    def _state(self) -> str:
        return str(self.worker.get(f"/api/v1/invitations/{self.facts['invitation']}").document["state"])


def link_in(text: str) -> str:
    """The invitation's link in a mail's text, or an empty text."""
    found = re.search(r"https?://[^\s\"<>]+/welcome/[\w-]+", text)
    return found.group(0) if found else ""


def _expect(page: Page, status: int, path: str = "") -> None:
    if page.status != status or path not in page.url:
        shown = " ".join(re.sub(r"<[^>]+>", " ", page.text).split())[:300]
        raise StepFailed(f"{page.url} answered {page.status}: {shown}")


def _words(step: Callable[[], str]) -> str:
    return step.__name__.replace("_", " ")
