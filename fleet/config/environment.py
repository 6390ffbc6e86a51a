"""Typed reading of ``ROOFTALLY_…`` environment variables.

Every variable is declared by the call that reads it, so that ``DECLARED`` is the whole list with defaults; the table in
DEVELOPERS.md is compared with it by a test. A bad value stops the start with a sentence that names the variable.
A variable may also be given as a file: ``ROOFTALLY_X_FILE`` holds the path of a file with the value (for secrets).
"""

import os
import re
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

PREFIX = "ROOFTALLY_"


class BadSetting(Exception):
    """A ``ROOFTALLY_…`` variable has a value that cannot be used; the message names it and what it takes."""


@dataclass(frozen=True)
class Declared:
    """One variable of the environment as it is documented."""

    name: str
    kind: str
    default: str
    meaning: str


DECLARED: dict[str, Declared] = {}


def _declare(name: str, kind: str, default: str, meaning: str) -> str | None:
    full = PREFIX + name
    DECLARED[full] = Declared(full, kind, default, meaning)
    value, path = os.environ.get(full), os.environ.get(f"{full}_FILE")
    if value is not None and path is not None:
        raise BadSetting(f"{full} and {full}_FILE are both set; keep one of them.")
    if path is None:
        return value
    try:
        return Path(path).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise BadSetting(f"{full}_FILE names a file that cannot be read: {error}") from error


def text(name: str, default: str, meaning: str) -> str:
    """A plain text value."""
    value = _declare(name, "text", default, meaning)
    return default if value is None else value


def flag(name: str, default: bool, meaning: str) -> bool:
    """``yes`` or ``no`` (also true/false, on/off, 1/0)."""
    value = _declare(name, "yes or no", "yes" if default else "no", meaning)
    if value is None:
        return default
    folded = value.strip().lower()
    if folded in {"yes", "true", "on", "1"}:
        return True
    if folded in {"no", "false", "off", "0"}:
        return False
    raise BadSetting(f"{PREFIX}{name} takes yes or no, not “{value}”.")


def whole_number(name: str, default: int, meaning: str, *, least: int = 0, most: int | None = None) -> int:
    """A whole number within ``least`` and ``most``."""
    value = _declare(name, "whole number", str(default), meaning)
    if value is None:
        return default
    if not re.fullmatch(r"-?\d{1,18}", value.strip()):
        raise BadSetting(f"{PREFIX}{name} takes a whole number, not “{value}”.")
    number = int(value)
    if number < least or (most is not None and number > most):
        upper = "" if most is None else f" and at most {most}"
        raise BadSetting(f"{PREFIX}{name} takes a number of at least {least}{upper}, not {number}.")
    return number


def words(name: str, default: tuple[str, ...], meaning: str) -> list[str]:
    """A list, separated by commas."""
    value = _declare(name, "list, comma between", ",".join(default), meaning)
    if value is None:
        return list(default)
    return [word.strip() for word in value.split(",") if word.strip()]


def url(name: str, default: str, meaning: str, *, schemes: tuple[str, ...]) -> str:
    """An absolute URL of one of ``schemes``; empty only where the default is empty."""
    value = _declare(name, f"URL ({', '.join(schemes)})", default, meaning)
    if value is None or (value == "" and default == ""):
        return default
    if urlsplit(value).scheme not in schemes:
        raise BadSetting(f"{PREFIX}{name} takes a URL that begins with one of {', '.join(schemes)}.")
    return value


def folder(name: str, default: Path, shown_default: str, meaning: str) -> Path:
    """A folder's path; relative ones count from the current folder."""
    value = _declare(name, "folder", shown_default, meaning)
    return default if not value else Path(value).resolve()


MADE = "made at first start, kept in the data folder"
SHORTEST_SECRET = 32


def secret(name: str, kept_in: Path, meaning: str) -> str:
    """A secret of at least 32 characters, from the environment or kept in a file made at first start (mode 0600).

    There is no default value: two installations never share one.
    """
    value = _declare(name, "secret", MADE, meaning)
    return _long_enough(name, [kept_secret(kept_in) if value is None else value])[0]


def given_secrets(name: str, kept_in: Path, meaning: str, *, several: bool = False) -> list[str]:
    """One secret, or several with white space or commas between, from the environment or a file; empty where there is
    neither. It is not for settings to make one: what rests on the one that is lost would be lost too.
    """
    value = _declare(name, "secrets, comma between" if several else "secret", MADE, meaning)
    found = read_secrets(kept_in) if value is None else _secrets_in(value) if several else [value]
    return _long_enough(name, found)


def read_secrets(path: Path) -> list[str]:
    """The secrets in a file, none where it is not there."""
    try:
        return _secrets_in(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return []


def _secrets_in(text: str) -> list[str]:
    return text.replace(",", " ").split()


def _long_enough(name: str, found: list[str]) -> list[str]:
    if any(len(value) < SHORTEST_SECRET for value in found):
        raise BadSetting(f"{PREFIX}{name} takes at least {SHORTEST_SECRET} characters.")
    return found


def kept_secret(path: Path, value: str = "") -> str:
    """The secret in a file, which is made (mode 0600, with ``value`` or by chance) where it is not there."""
    import secrets

    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f".{path.name}.{os.getpid()}.{secrets.token_hex(4)}")
    if not path.exists():
        descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
            stream.write(value or secrets.token_urlsafe(48))
            stream.flush()
            os.fsync(stream.fileno())
        try:
            os.link(fresh, path)  # refuses to replace: two first starts at once agree on one secret
        except FileExistsError:
            pass
        finally:
            fresh.unlink()
    return path.read_text(encoding="utf-8").strip()


def refuse_unknown() -> None:
    """Raise BadSetting when the environment holds a ``ROOFTALLY_…`` variable that nothing reads (a typing mistake)."""
    known = set(DECLARED) | {f"{name}_FILE" for name in DECLARED}
    unknown = sorted(name for name in os.environ if name.startswith(PREFIX) and name not in known)
    if unknown:
        raise BadSetting(f"No such setting: {', '.join(unknown)}. DEVELOPERS.md lists them all.")
