"""What differs between two texts, word by word, for the eye."""

import difflib
import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Piece:
    """A run of text: ``kept``, ``gone`` or ``new``."""

    kind: str
    text: str


def word_changes(before: str, after: str) -> list[Piece]:
    """``before`` and ``after`` laid over each other; spaces belong to the word before them."""
    old, new = _words(before), _words(after)
    pieces: list[Piece] = []
    for tag, start, end, new_start, new_end in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            pieces.append(Piece("kept", "".join(old[start:end])))
            continue
        if end > start:
            pieces.append(Piece("gone", "".join(old[start:end])))
        if new_end > new_start:
            pieces.append(Piece("new", "".join(new[new_start:new_end])))
    return pieces


def _words(text: str) -> list[str]:
    return re.findall(r"\S+\s*|\s+", text)
