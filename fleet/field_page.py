"""The files that the field page is made of, and its version: what a phone keeps to open without internet."""

import hashlib
import re
from datetime import timedelta
from functools import lru_cache
from pathlib import Path

from django.contrib.staticfiles import finders
from django.templatetags.static import static

SCHEMA = 1
"""The form of the records that this page makes."""
OLDEST_SCHEMA = 1
"""The oldest form that the server still takes; an older page keeps its records and fetches a newer page."""

NOTICED_SKEW = timedelta(minutes=2)
"""From here on phone and register say that a phone's clock is wrong."""

STYLES = ("fleet/tokens.css", "fleet/field/field.css", "fleet/field/parts.css")
LIBRARIES = ("npm/idb.js",)
SCRIPTS = (
    "fleet/field/start.js",
    "fleet/field/store.js",
    "fleet/field/seal.js",
    "fleet/field/labels.js",
    "fleet/field/network.js",
    "fleet/field/work.js",
    "fleet/field/sender.js",
    "fleet/field/sound.js",
    "fleet/field/camera.js",
    "fleet/field/capture.js",
    "fleet/field/signature.js",
    "fleet/field/places.js",
    "fleet/field/scanning.js",
    "fleet/field/checks.js",
    "fleet/field/permissions.js",
    "fleet/field/fates.js",
    "fleet/field/post.js",
    "fleet/field/setup.js",
    "fleet/field/page.js",
)
"""Joined in this order and served as one."""
FOR_READERS = re.compile(rb"^ *//.*\n|^ +", re.MULTILINE)
"""Comments and indentation are for whoever reads the source; a phone need not keep them."""
DECODER = "fleet/field/decoder.js"
WASM = "npm/zxing_reader.wasm"
DECODER_PARTS = ("npm/zxing_reader.js", WASM)
PICTURES = ("fleet/mark.svg",)
WASM_SHA256 = "85d46f55d7c86a4d09bb04273367408b19c324f582d040d018aecb25a9a82942"
"""Of zxing-wasm 2.2.4's reader, as npm delivered it; a test compares."""


def kept_files() -> list[str]:
    """The static names of every file that a phone keeps."""
    return [*STYLES, *LIBRARIES, *DECODER_PARTS, *PICTURES]


def kept_addresses() -> list[str]:
    """The addresses of those files, with the hash of their content in production."""
    return [static(name) for name in kept_files()]


@lru_cache(maxsize=1)
def page_version() -> str:
    """A short name of this page's files: it changes when one of them does."""
    digest = hashlib.sha256()
    for name in kept_files():
        digest.update(static(name).encode())
        digest.update(file_content(name))
    for name in (*SCRIPTS, DECODER):
        digest.update(file_content(name))
    return digest.hexdigest()[:12]


def script_content() -> bytes:
    """The page's own scripts, one after the other: one request, and a quarter less to keep than one by one."""
    return FOR_READERS.sub(b"", b"\n".join(file_content(name) for name in SCRIPTS))


def file_content(name: str) -> bytes:
    """The content of a static file; empty where only its collected copy is there, whose address holds its hash."""
    found = finders.find(name)
    return Path(found).read_bytes() if isinstance(found, str) else b""
