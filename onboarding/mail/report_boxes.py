"""Where reports lie until somebody fetches them: an IMAP folder or a maildir. Nothing is deleted, only marked seen."""

import imaplib
import mailbox
from collections.abc import Callable, Iterator
from urllib.parse import unquote, urlsplit

TIMEOUT = 30.0
Take = Callable[[bytes], None]


def fetch_reports(url: str, take: Take, *, most: int = 500) -> int:
    """Hand up to ``most`` unseen messages to ``take`` and mark each as seen once it returned; answers how many.

    Raises OSError or imaplib.IMAP4.error when the box cannot be reached.
    """
    done = 0
    reader = _maildir(url, take) if urlsplit(url).scheme == "maildir" else _imap(url, take)
    for _taken in reader:
        done += 1
        if done >= most:
            break
    return done


def _maildir(url: str, take: Take) -> Iterator[None]:
    box = mailbox.Maildir(unquote(urlsplit(url).path), create=False)
    for key in sorted(box.iterkeys()):
        message = box.get_message(key)
        if "S" in message.get_flags():
            continue
        take(box.get_bytes(key))
        message.set_subdir("cur")
        message.add_flag("S")
        box[key] = message
        yield


def _imap(url: str, take: Take) -> Iterator[None]:
    parts = urlsplit(url)
    connect = imaplib.IMAP4_SSL if parts.scheme == "imaps" else imaplib.IMAP4
    with connect(parts.hostname or "", parts.port or (993 if parts.scheme == "imaps" else 143), timeout=TIMEOUT) as box:
        box.login(unquote(parts.username or ""), unquote(parts.password or ""))
        box.select(f'"{unquote(parts.path.lstrip("/")) or "INBOX"}"')
        _kind, found = box.uid("SEARCH", "UNSEEN")
        for uid in (found[0] or b"").split():
            _kind, answer = box.uid("FETCH", uid.decode(), "(BODY.PEEK[])")
            raw = next((part[1] for part in answer if isinstance(part, tuple)), None)
            if raw is not None:
                take(raw)
            box.uid("STORE", uid.decode(), "+FLAGS", "(\\Seen)")
            yield
