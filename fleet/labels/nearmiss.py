"""Serials that people mix up, folded to one form for "did you mean"; never for deciding that two are the same."""

_LOOK_ALIKES = str.maketrans({"O": "0", "Q": "0", "I": "1", "L": "1", "S": "5", "B": "8", "Z": "2"})


def folded(serial: str) -> str:
    """The serial without case, punctuation and leading zeros, look-alike letters turned into digits."""
    letters = "".join(character for character in serial.upper() if character.isalnum())
    return letters.translate(_LOOK_ALIKES).lstrip("0") or "0"
