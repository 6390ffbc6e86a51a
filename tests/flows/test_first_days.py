"""From the operator's shell to the first owner on their own page, each step checked on another page than the act's."""

import pytest
from pytest_django import Settings

from tests.flows.outside import ADMINISTRATOR, SECRET, accepts, new_company, post_office, signs_in
from tests.walk.person import Person

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

LABEL, SERIAL = "(01)09520001000027(21)RB10-C7731", "RB10-C7731"
OWNER, ADDRESS = "Graça Mondeleira", "graca@example.net"
HOUSE = "Rua da Nora Fria 7"


def test_a_new_company_up_to_its_first_accepted_owner(settings: Settings):
    password = new_company()
    with post_office(settings) as post:
        leonor = signs_in(ADMINISTRATOR, password)
        leonor.follow("Members").send(
            "Send the invitation", {"E-mail address": "ines@example.org", "Name": "Inês", "Role": "Field"}
        )
        ines = Person().open(post.link("ines@example.org", "join"))
        ines.sees_all("Telhado Claro", "ines@example.org")
        ines.send("Join", {"Your name": "Inês Cordelato", "Choose a password": SECRET})
        leonor.open("/").follow("Members").sees_all("Inês Cordelato", "Field")

        ines.open("/").follow("Sites").follow("Register a site")
        ines.send(
            "Register",
            {
                "Street": "Rua da Nora Fria",
                "Number": "7",
                "Town": "Vila Serena",
                "Order number": "A-2026-114",
                "Name": OWNER,
                "Telephone": "+351 900000777",
                "E-mail address": ADDRESS,
            },
        )
        ines.find("A-2026-114").follow(HOUSE)
        assert HOUSE in ines.title
        ines.sees_all(OWNER, ADDRESS, "Not invited")
        ines.follow("Scan a label").send("Read it", {"Or what the label says": LABEL}).sees_all("Linked", SERIAL)

        leonor.find("C7731").follow(HOUSE).sees_all(HOUSE, SERIAL)
        ines.find("mondeleira").follow(HOUSE).follow(f"Record what {OWNER} said")
        ines.send("Record", {"What for": "Writing to the owner", "They said": "Yes", "How": "Spoken"})
        ines.find("mondeleira").follow(HOUSE).press("Invite", within=OWNER)
        leonor.open("/").follow("Invitations").follow("On the way").sees_all(OWNER)

        graca = Person().open(post.link(ADDRESS, "welcome"))
        accepts(graca.sees_all("Telhado Claro", "Rua da Nora Fria"))
        graca.sees_all(HOUSE, SERIAL)
        signs_in(ADDRESS, SECRET).open("/").sees_all(HOUSE, SERIAL)
        leonor.find(OWNER).follow(HOUSE).sees_all(OWNER, "Accepted")
