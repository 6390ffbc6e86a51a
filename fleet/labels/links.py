"""Links on labels, in the order in which they are understood: our own plate, GS1 Digital Link, data identifiers
(ISO/IEC 18975, IEC 61406-2), the company's own forms, plain keys, and identification links on a listed domain
(IEC 61406-1). Links are never fetched."""

from __future__ import annotations

import re

from fleet.labels import data_identifiers, gs1
from fleet.labels.digital_link import split_digital_link
from fleet.labels.keyvalue import decode_query_keys
from fleet.labels.reading import DecodeOptions, Element, Reading, Refused
from fleet.labels.sitecode import parse_site_code
from fleet.labels.taught import read_taught
from fleet.labels.urls import Link, is_http, percent_decoded, query_pairs, split_link

LONGEST_IDENTIFICATION_LINK = 255
_WITHOUT_SCHEME = re.compile(
    r"(?:www\.[A-Za-z0-9.-]+|[A-Za-z0-9-]+(?:\.[A-Za-z0-9-]+)*\.[A-Za-z]{2,}(?::\d+)?/\S*\?\S*\.[0-9]{0,3}[A-Z]=)"
)


def is_link(text: str, options: DecodeOptions) -> bool:
    """Whether a text is a web link; without its scheme only where nothing else can be meant."""
    if is_http(text) or _WITHOUT_SCHEME.match(text):
        return True
    host = re.match(r"[A-Za-z0-9.-]+(?=[/?#:]|$)", text)
    return bool(host and host.group().lower() in options.link_domains)


def decode_link(text: str, options: DecodeOptions) -> Reading:
    """Read a link. Raises :class:`Refused`."""
    site_code = _site_code(text, options)
    if site_code:
        return _plate(site_code, text)
    link = split_link(text)
    if link.scheme:
        elements = split_digital_link(link, options.today)
        if elements is not None:
            return gs1.reading_of(elements, "gs1-digital-link", options.today)
    for read in (_data_identifiers, _taught, _query_keys, _listed_domain):
        reading = read(link, options)
        if reading is not None:
            return reading
    raise Refused("not_an_identifier", 0)


def _site_code(text: str, options: DecodeOptions) -> str | None:
    for base in options.base_urls:
        start = f"{base.rstrip('/')}/s/"
        if text[: len(start)].lower() == start.lower():
            code = parse_site_code(re.split("[?#/]", text[len(start) :], maxsplit=1)[0])
            if code is None:
                raise Refused("bad_check_digit", len(start))
            return code
    return None


def _plate(site_code: str, text: str) -> Reading:
    element = Element("", "Site code", site_code, text.rfind("/s/") + len("/s/"), "site_code")
    return Reading(standard="plate", site_code=site_code, elements=(element,))


def _data_identifiers(link: Link, options: DecodeOptions) -> Reading | None:
    elements: list[Element] = []
    for pair in query_pairs(link):
        if not pair.key.startswith("."):
            continue
        _refuse_too_long(link)
        value_position = pair.position + len(pair.key) + 1
        value = percent_decoded(pair.value, value_position, plus_is_space=True)
        element = data_identifiers.element_of(pair.key[1:], value, pair.position, value_position)
        if any(element.identifier == other.identifier for other in elements):
            raise Refused("duplicate", pair.position, element.identifier)
        elements.append(element)
    if not elements:
        return None
    return data_identifiers.reading_of(elements, "iso-18975", domain=link.hostname)


def _refuse_too_long(link: Link) -> None:
    if len(link.text) > LONGEST_IDENTIFICATION_LINK:
        raise Refused("too_long", LONGEST_IDENTIFICATION_LINK)


def _taught(link: Link, options: DecodeOptions) -> Reading | None:
    return read_taught(link.text, options)


def _query_keys(link: Link, options: DecodeOptions) -> Reading | None:
    return decode_query_keys(link)


def _listed_domain(link: Link, options: DecodeOptions) -> Reading | None:
    """The link as a whole is the identifier: its host names the issuer, all behind the host is the serial."""
    serial = link.rest.removeprefix("/")
    if link.hostname not in options.link_domains or not serial:
        return None
    _refuse_too_long(link)
    return Reading(
        standard="iec-61406",
        serial=serial,
        manufacturer_code=f"domain:{link.hostname}",
        elements=(Element("", "Identification link", serial, link.path_position, "serial"),),
        issuer_scheme="domain",
        issuer=link.hostname,
    )
