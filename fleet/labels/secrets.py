"""Secrets that stand on labels: passwords and keys are withheld before anything is kept; the rest is read.

Secrecy is a property of keys and families wherever they stand: words for a password always; *key* and *code* where the
same text also names a network or a login. The phone uses the same patterns, so they hold only what Python's and
JavaScript's regular expressions share. The words are common practice in the trade's languages, no source; ``WIFI:`` is
the de-facto form of a network's code.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from fleet.labels.families import family_of

WITHHELD = "withheld"
"""What stands in a secret's place; a keyed hash of the secret may follow, after a hyphen."""

_LONG = (
    r"pass[ ._-]?(?:words?|wd|wort|phrase|key|code)|kennwort|senha|palavras?[ ._-]?(?:de[ ._-]?)?passe"
    r"|contrase(?:ñ|n)as?|mots?[ ._-]?de[ ._-]?passe"
)
_MARKED = r"passw|pwd|psw|psk|mdp"
_SHORT = r"pass|pw|pin|puk|secret|token"
_KEY = r"key|code|schl(?:ü|ue)ssel|chave|clave|cl(?:é|e)|c(?:ó|o)digo"
_GUARDED = (
    r"wi-?fi|wlan|wpa[23]?|wep|network|netzwerk|rede?|r(?:é|e)seau|security|sicherheits|seguran(?:ç|c)a|seguridad|access"
    r"|zugangs|acesso|acceso|api|auth|login|install(?:ation)?|activation|setup|pairing|registration|verification|pin|puk"
)
_NUMBERED = r"(?:[ ._-]?[(]?[0-9][0-9.]{0,3} ?(?:g(?:hz)?)?[)]?)?"
_IS = r"[\"']?\s*(?:[:=]\s*|\bis\s+)"
_KNOWN = (
    r"s[/ ]?nr?|ser(?:ial)?[ ._-]?(?:no|nr|num(?:ber)?|id)?|n(?:u|ú)m(?:ero)?[ ._-]?(?:de[ ._-]?)?s(?:é|e)rie"
    r"|seriennummer|p[/ ]?nr?|part[ ._-]?(?:no|nr|num(?:ber)?)?|mpn|art(?:icle)?[ ._-]?(?:no|nr|number)?|lot|batch"
    r"|mac(?:[ ._-]?addr(?:ess)?)?|gtin|ean|maker|manufacturer|mfr|vendor|brand|model|typ[eo]?|date|mfd|[fh]w|ip|url"
    r"|e?ssid|user(?:[ ._-]?name)?|login"
)

ALWAYS = (
    rf"(?:{_LONG}){_NUMBERED}(?:{_IS}|\s+)|(?:{_MARKED}){_NUMBERED}{_IS}|(?:^|[^a-z])(?:{_SHORT}){_NUMBERED}{_IS}"
    rf"|(?:{_GUARDED})[ ._-]?(?:{_KEY}){_NUMBERED}{_IS}"
)
"""What stands before a secret."""
BESIDE = rf"(?:^|[^a-z])(?:{_KEY}){_NUMBERED}{_IS}"
"""What stands before a secret where the text names a network or a login too."""
CONTEXT = r"(?:^|[^a-z])(?:e?ssid|wi-?fi|wlan|network|netzwerk|user|login|account|admin|benutzer|usuario|utilizador)"
NEXT = rf"[\s;,|&}}\])]+[\"']?(?:{_KNOWN}|{_LONG}|{_MARKED}|{_SHORT}){_NUMBERED}[\"']?\s*[:=]|[\x00-\x1f␝␞␄]"
"""Where a secret ends that is not quoted: before a key that we know. Rather a character too much than one too few."""
FAMILY = (
    r"(?:^|[^a-z])(?:wifi\s*:(?=\s*[a-z0-9]{1,3}:)|(?:dpp|otpauth|otpauth-migration|x-hm|fido|mecard)\s*:"
    r"|begin\s*:(?=\s*vcard))"
)
"""A family that is refused as a whole, in the middle of another text."""
ADDRESS = r"://[^\s/:@?#]*:(?=[^\s/@?#]+@)"
"""A link's user name, before the password."""

_ALWAYS, _WITH_BESIDE, _CONTEXT, _NEXT = (
    re.compile(pattern, re.IGNORECASE) for pattern in (ALWAYS, f"{ALWAYS}|{BESIDE}", CONTEXT, NEXT)
)
_FAMILY, _ADDRESS = re.compile(FAMILY, re.IGNORECASE), re.compile(ADDRESS)
_DONE = re.compile(rf"{WITHHELD}(?:-[0-9a-f]{{16}})?")
_QUOTED = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'(?:[^'\\]|\\.)*'", re.DOTALL)
_TAIL = re.compile(r"[\s}\]]*\Z")


def withhold(text: str, mark: Callable[[str], str] = lambda secret: WITHHELD) -> str:
    """``text`` with every secret replaced by ``mark`` of it; a text that was treated before stays as it is.

    A family that the whole text belongs to (see :mod:`fleet.labels.families`) is not this function's: of such a text
    nothing is kept.
    """
    if family_of(text):
        return text
    pieces: list[str] = []
    taken = 0
    for start, end in _spans(text):
        if start < taken or start == end or _DONE.fullmatch(text[start:end]):
            continue
        bare = text[:1] in "{[" and text[start - 1] not in "\"'"
        shown = mark(text[start:end])
        pieces += [text[taken:start], f'"{shown}"' if bare else shown]
        taken = end
    return "".join(pieces) + text[taken:] if pieces else text


def _spans(text: str) -> Iterator[tuple[int, int]]:
    """Where the secrets of a text stand, from left to right; spans may overlap."""
    keys = _WITH_BESIDE if _CONTEXT.search(text) else _ALWAYS
    found = [_value(text, key.end()) for key in keys.finditer(text)]
    found += [(name.end(), text.find("@", name.end())) for name in _ADDRESS.finditer(text)]
    for family in _FAMILY.finditer(text):
        end = text.find(";;", family.end())
        found.append((family.end(), end if end >= 0 else len(text)))
    return iter(sorted(found))


def _value(text: str, start: int) -> tuple[int, int]:
    quoted = _QUOTED.match(text, start)
    if quoted:
        return start + 1, quoted.end() - 1
    following = _NEXT.search(text, start)
    end = following.start() if following else len(text)
    if text[:1] in "{[" and not following and (tail := _TAIL.search(text, start)):
        end = tail.start()
    return start, end


def patterns() -> dict[str, str]:
    """The patterns by name, for the phone."""
    return {"always": ALWAYS, "beside": BESIDE, "context": CONTEXT, "next": NEXT, "family": FAMILY, "address": ADDRESS}


def lines_without_secrets(text: str) -> list[str]:
    """The lines of a text from which secrets were withheld, without those that only announced or held one."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    only = [_DONE.fullmatch(line) is not None for line in lines]
    after = [*only[1:], False]
    return [line for line, gone, announces in zip(lines, only, after, strict=True) if not gone and not announces]
