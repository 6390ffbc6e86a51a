"""Telling answers that a machine gave by itself: absence notes, acknowledgements, challenges. They change nothing."""

import re
from email.message import Message

_SUBJECT = re.compile(
    r"^\s*(re:\s*)?(automatic reply|auto(matic)?[- ]?(reply|response)|autoreply|auto:|out of( the)? office|away from|"
    r"(i am|i.m) away|vacation|on (annual )?leave|on (vacation|holiday)|abwesen|urlaub|"
    r"automatische (antwort|reactie)|automatisch antwoord|afwezig|frav[aæ]r|resposta autom|ausência|férias|"
    r"fora do escrit|"
    r"respuesta autom|fuera de la oficina|ausente|réponse automatique|absence|absent|risposta automatica|fuori ufficio|"
    r"autosvar|automatisk svar|automatiskt svar|poissa|automaattinen)",
    re.IGNORECASE,
)  # common practice, no source
_HEADERS = (
    "X-Autoreply",
    "X-Autorespond",
    "X-Autoresponder",
    "X-Auto-Reply",
    "X-Autoreply-From",
    "X-Mail-Autoreply",
    "X-Vacation",
    "X-Facebook-Notify",
)  # common practice, no source
_WORDS_IN = {"X-POST-MessageClass": "autoresponder", "Delivered-To": "autoresponder"}  # common practice, no source
_PRECEDENCE = frozenset({"auto_reply", "auto-reply", "autoreply"})  # common practice, no source


def is_auto_reply(message: Message, subject: str) -> bool:
    """Whether ``message`` was sent by a machine in answer (RFC 3834 section 5), or looks so."""
    submitted = _first_word(message, "Auto-Submitted")
    if submitted and submitted != "no":
        return True
    if any(message.get(name) is not None for name in _HEADERS):
        return True
    if _first_word(message, "Precedence") in _PRECEDENCE:
        return True
    if any(word in str(message.get(name, "")).lower() for name, word in _WORDS_IN.items()):
        return True
    if "ipm.note.rules.oof" in str(message.get("X-MS-Exchange-Message-Class", "")).lower():
        return True
    return bool(_SUBJECT.match(subject))


def _first_word(message: Message, name: str) -> str:
    return re.split(r"[;\s(]", str(message.get(name, "")).strip().lower(), maxsplit=1)[0]
