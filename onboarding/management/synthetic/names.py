"""Invented people, streets and towns, put together from syllables so that they are nobody's and nowhere's.

Given names are common ones; surnames, streets and towns are made up, addresses stand in reserved example domains
(RFC 2606), telephone numbers in a range that no operator uses.
"""

import unicodedata
from random import Random
from typing import NamedTuple

GIVEN = (
    "Ana Beatriz Carla Catarina Célia Clara Diana Elsa Filipa Graça Helena Inês Joana Júlia Laura Leonor Luísa "
    "Madalena Marta Mónica Natália Olga Paula Rita Rosa Sara Sílvia Sofia Teresa Vera Abel André António Artur "
    "Bruno Carlos Daniel David Duarte Eduardo Fernando Filipe Gil Hugo Ivo Jaime João Jorge José Lino Luís "
    "Manuel Mário Miguel Nuno Óscar Paulo Pedro Raul Rui Simão Tiago Tomás Vasco"
).split()
STEMS = (
    "Alver Ambro Arcel Bandor Barvel Brital Cabrel Calvor Candar Carvel Cedran Cordel Dalvor Ebran Escar Falqu Fandor "
    "Galvar Gondar Lanver Lobrel Maldor Mavier Mondel Nabral Olvar Palmer Pedral Quelvor Ramval Sandrel Serval Talvor "
    "Tordel Urval Valdor Vendral Xavrel Zambor"
).split()
ENDINGS = "eda eira eiro ela inho inha ana ano ato ita oso osa ães ão al".split()
GROUNDS = (
    "Amoreira Azinheira Bica Calçadinha Carvalha Cegonha Eira Figueirinha Fonte Giesta Ladeira Levada Nora Nogueira "
    "Oliveirinha Pedreira Pereirinha Pomba Portela Ribeirinha Roseira Seara Sobreira Tília Várzea Vinha"
).split()
QUALITIES = "Velha Nova Alta Baixa Clara Longa Redonda Branca Verde Seca Fria Mansa Funda Dourada Serena".split()
WAYS = ("Rua da", "Rua da", "Rua da", "Travessa da", "Largo da", "Avenida da", "Caminho da")
STREET_ENDINGS = "ais ares edo eiral enha iço oal uval".split()
TOWN_FIRST = "Vila Monte Ribeira Aldeia Outeiro Porto Campo Ponte Casal Quinta".split()
TOWN_SECOND = (
    "Alvor Serena Clarim Dourel Fundal Galvão Lumiar Merel Novais Parral Quelha Serral Tordo Valdez Zimbro".split()
)
REGIONS = ("Norte", "Centro", "Oeste", "Sul", "Interior")
ORGANISATIONS = ("Condomínio", "Adega", "Padaria", "Escola", "Oficina", "Quinta", "Lar", "Clube")
TOWNS = [f"{first} {second}" for first in TOWN_FIRST for second in TOWN_SECOND]
SURNAMES = [stem + ending for stem in STEMS for ending in ENDINGS]
STREETS = [stem + ending for stem in STEMS for ending in STREET_ENDINGS]


class Person(NamedTuple):
    """An owner, an organisation every twentieth time."""

    name: str
    email: str
    phone: str
    organisation: bool


class Place(NamedTuple):
    """An address with coordinates on the Portuguese mainland (degrees, as text with six decimals)."""

    street: str
    number: str
    postcode: str
    town: str
    region: str
    latitude: str
    longitude: str


def a_person(random: Random, number: int) -> Person:
    """Person number ``number``; the number makes the address unlike any other."""
    surnames = f"{random.choice(SURNAMES)} {random.choice(SURNAMES)}"
    organisation = random.random() < 0.05
    given = random.choice(GIVEN)
    name = f"{random.choice(ORGANISATIONS)} {surnames}" if organisation else f"{given} {surnames}"
    local = f"{_plain(given)}.{_plain(surnames.split()[-1])}{number}"
    return Person(name, f"{local}@example.com", f"+351 9{number % 100_000_000:08d}", organisation)


def a_place(random: Random) -> Place:
    """Some address."""
    town = int(random.random() * len(TOWNS))
    region = town % len(REGIONS)
    return Place(
        street=_a_street(random),
        number=str(1 + int(random.random() ** 2 * 180)),
        postcode=f"{1000 + town * 53 % 8999:04d}-{int(random.random() * 900) + 100:03d}",
        town=TOWNS[town],
        region=REGIONS[region],
        latitude=f"{41.6 - region * 0.9 - random.random() * 0.5:.6f}",
        longitude=f"{-8.4 + random.random() * 0.9:.6f}",
    )


def _a_street(random: Random) -> str:
    """One of some seven hundred; a third of them are called after something that every town has."""
    way = random.choice(WAYS)
    if random.random() < 1 / 3:
        return f"{way} {random.choice(GROUNDS)} {random.choice(QUALITIES)}"
    return f"{way.removesuffix(' da')} {random.choice(STREETS)}"


def _plain(word: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFKD", word.lower()) if c.isascii() and c.isalpha())
