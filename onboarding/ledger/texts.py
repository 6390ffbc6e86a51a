"""The wordings a new company starts with, in English and Portuguese, and what a notice has to tell besides.

The fields of ``particulars`` follow what ISO/IEC TS 27560 asks a consent record to hold, by way of the W3C Data Privacy
Vocabulary's guide to it (read from memory): controller and contact, recipients, kinds of data, processing, storage
place, retention, jurisdiction, and how to withdraw. ``valid_months`` 0 means: until withdrawn.
"""

import hashlib
from typing import Any, TypedDict

from onboarding.ledger.chain import canonical_json


class Particulars(TypedDict):
    """What a wording tells besides its text."""

    controller: str
    contact: str
    recipients: list[str]
    data: list[str]
    processing: list[str]
    storage: str
    retention: str
    jurisdiction: str
    withdrawal: str
    valid_months: int


def wording_digest(*, purpose: str, language: str, version: int, text: str, particulars: dict[str, Any]) -> str:
    """SHA-256 over the canonical form of everything that one wording says, in hexadecimal."""
    document = {
        "purpose": purpose,
        "language": language,
        "version": version,
        "text": text,
        "particulars": particulars,
    }
    return hashlib.sha256(canonical_json(document).encode()).hexdigest()


SEED_TEXTS: dict[tuple[str, str], str] = {
    ("monitoring", "en"): (
        "{company} may receive the measurements of my solar system: what it produces, stores and uses, and its fault "
        "messages. {company} looks at them to find faults and to tell me about them. The system also works without "
        "this; nobody then watches it for me."
    ),
    ("home_network", "en"): (
        "{company} may join my solar system to my home network, so that it sends its measurements over my internet "
        "connection. {company} looks at no other device in my home and keeps no copy of my network's password."
    ),
    ("contact", "en"): (
        "{company} may write to me about this site: the invitation to open an account, and later messages about its "
        "care. Safety notices reach me in any case."
    ),
    ("monitoring", "pt"): (
        "A {company} pode receber as medições do meu sistema solar: o que produz, armazena e consome, e os seus avisos "
        "de avaria. A {company} consulta-as para encontrar avarias e me avisar. O sistema também funciona sem isto; "
        "nesse caso, ninguém o acompanha por mim."
    ),
    ("home_network", "pt"): (
        "A {company} pode ligar o meu sistema solar à minha rede doméstica, para que envie as suas medições através da "
        "minha ligação à Internet. A {company} não consulta nenhum outro aparelho da minha casa e não guarda a "
        "palavra-passe da minha rede."
    ),
    ("contact", "pt"): (
        "A {company} pode escrever-me sobre esta instalação: o convite para abrir uma conta e, mais tarde, mensagens "
        "sobre os cuidados a ter com ela. Os avisos de segurança chegam-me em qualquer caso."
    ),
}

_SHARED_EN = {
    "storage": "On the company's own server in the European Union",
    "retention": "While the permission stands, and the record of it for ten years after the site is retired",
    "withdrawal": "On My site, next to each permission, or by a message to the company",
}
_SHARED_PT = {
    "storage": "No servidor da própria empresa, na União Europeia",
    "retention": "Enquanto a autorização durar; o seu registo, dez anos depois de a instalação ser retirada",
    "withdrawal": "Em A minha instalação, ao lado de cada autorização, ou por mensagem à empresa",
}
_OWN: dict[tuple[str, str], dict[str, list[str]]] = {
    ("monitoring", "en"): {
        "data": ["Power and energy measured", "Battery charge", "Fault messages"],
        "processing": ["Collecting", "Storing", "Looking for faults"],
    },
    ("home_network", "en"): {"data": ["Name of the network", "Addresses of the devices"], "processing": ["Connecting"]},
    ("contact", "en"): {"data": ["Name", "E-mail address", "Address of the site"], "processing": ["Writing to you"]},
    ("monitoring", "pt"): {
        "data": ["Potência e energia medidas", "Carga da bateria", "Avisos de avaria"],
        "processing": ["Recolher", "Guardar", "Procurar avarias"],
    },
    ("home_network", "pt"): {"data": ["Nome da rede", "Endereços dos aparelhos"], "processing": ["Ligar"]},
    ("contact", "pt"): {
        "data": ["Nome", "Endereço de e-mail", "Morada da instalação"],
        "processing": ["Escrever-lhe"],
    },
}


def seed_text(purpose: str, language: str, company: str) -> str:
    """The first wording of a purpose, with the company's name in it."""
    return SEED_TEXTS[purpose, language].replace("{company}", company)


def seed_particulars(purpose: str, language: str, *, company: str, contact: str, jurisdiction: str) -> Particulars:
    """What the first wording of a purpose tells besides its text."""
    shared = _SHARED_PT if language == "pt" else _SHARED_EN
    own = _OWN[purpose, language]
    return Particulars(
        controller=company,
        contact=contact,
        recipients=[],
        data=own["data"],
        processing=own["processing"],
        storage=shared["storage"],
        retention=shared["retention"],
        jurisdiction=jurisdiction,
        withdrawal=shared["withdrawal"],
        valid_months=0,
    )
