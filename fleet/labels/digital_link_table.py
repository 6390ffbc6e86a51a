"""Which identifiers a GS1 Digital Link may hold where.

Facts from the GS1 Barcode Syntax Dictionary (its ``dlpkey`` attributes and question marks, release 2026-01).
"""

from __future__ import annotations

from typing import Final

DIGITAL_LINK_KEYS: Final[dict[str, tuple[tuple[str, ...], ...]]] = {
    "00": ((),),
    "01": (("22", "10", "21"), ("235",)),
    "253": ((),),
    "255": ((),),
    "401": ((),),
    "402": ((),),
    "414": (("254",), ("7040",)),
    "415": (("8020",),),
    "417": (("7040",),),
    "8003": ((),),
    "8004": (("7040",),),
    "8006": (("22", "10", "21"),),
    "8010": (("8011",),),
    "8013": ((),),
    "8017": (("8019",),),
    "8018": (("8019",),),
}
"""Primary keys of the GS1 Digital Link URI syntax, each with its sequences of path qualifiers, in order."""

NOT_LINK_ATTRIBUTES: Final = frozenset(
    [
        "03",
        "21",
        "22",
        "235",
        "254",
        "7040",
        "7041",
        "8011",
        "8014",
        "8019",
        "8020",
        "8040",
        "8041",
        "8042",
        "8043",
        "8200",
    ]
)
"""Identifiers that may not stand in the query of a GS1 Digital Link (the dictionary's missing question mark)."""
