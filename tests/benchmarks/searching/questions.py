"""What is asked: scraps of sites drawn at random, each with the site that it means."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from random import Random

from django.db import connection

from fleet.models import Company, Device, Site
from onboarding.models import Owner
from tests.benchmarks.searching.kinds import CLASSES


@dataclass(frozen=True, slots=True)
class Question:
    """One text, and the site that it was made from."""

    kind: str
    text: str
    site_id: int
    meant: str = ""
    """What a text with a slip was meant to be."""


def questions_for(company: Company, each: int, seed: int = 2026) -> list[Question]:
    """``each`` questions of every class, the same for the same fleet."""
    random = Random(seed)
    asked: list[Question] = []
    for _ in range(each):
        site = _random_site(company, random)
        owner = Owner.objects.get(ownerships__site=site)
        device = random.choice(list(Device.objects.filter(placements__site=site)))
        serial = device.serial
        model = (
            Device.objects.filter(placements__site=site, model__isnull=False).select_related("model__maker")[0].model
        )
        assert model is not None
        given, *_, surname = owner.name.split()
        words = [given, surname, *site.town.split()]
        random.shuffle(words)
        texts = {
            "exact": serial,
            "prefix": serial[:13],
            "suffix": serial[-random.randint(5, 8) :],
            "look-alikes": f"{serial[:5]} {serial[5:]}".replace("0", "O").replace("1", random.choice("Il")),
            "surname": surname,
            "beginning": surname[: random.randint(2, 4)],
            "punctuated": f"{serial[:3]}-{serial[3:7]} {serial[7:]}",
            "label": f"(01){device.gtin}(21){serial}",
            "street": f"{site.street} {site.house_number}",
            "words": " ".join(words),
            "diacritics": _bare(f"{surname} {site.street} {site.town}"),
            "typo": _with_a_slip(surname, random),
            "e-mail": owner.email.partition("@")[0][: -random.randint(0, 2) or None] + random.choice(("", "@"))
            if random.random() < 0.5
            else owner.email.partition("@")[0],
            "telephone": f"{owner.phone[-9:-6]} {owner.phone[-6:-3]}-{owner.phone[-3:]}",
            "code": site.written_code.lower().replace("0", "o"),
            "model": f"{model.maker.name} {model.name}",
            "letter": surname[0],
            "common": random.choice((f"rua {site.region}", f"{given} {site.region}", f"rua {site.town.split()[0]}")),
        }
        asked += [Question(kind, texts[kind], site.pk, surname if kind == "typo" else "") for kind in CLASSES]
    return sorted(asked, key=lambda question: CLASSES.index(question.kind))


def _random_site(company: Company, random: Random) -> Site:
    with connection.cursor() as cursor:
        cursor.execute("SELECT min(id), max(id) FROM fleet_site WHERE company_id = %s", [company.pk])
        first, last = cursor.fetchone()
    return Site.objects.filter(company=company, pk__gte=random.randint(first, last)).order_by("pk")[0]


def _bare(text: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


def _with_a_slip(word: str, random: Random) -> str:
    at = random.randrange(1, len(word) - 1)
    letter = random.choice("aeiorstlnm")
    slips = (
        word[:at] + word[at + 1 :],
        word[:at] + letter + word[at:],
        word[:at] + ("x" if word[at] == letter else letter) + word[at + 1 :],
        word[:at] + word[at + 1] + word[at] + word[at + 2 :],
    )
    return random.choice([slip for slip in slips if slip != word])
