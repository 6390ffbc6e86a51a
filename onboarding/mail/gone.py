"""Whether a refusal says that an address takes mail from nobody, ever: only then is it written to no more.

Three things must say so alike: the enhanced status code, the three-digit reply code and the words beside them. Servers
give addressing codes for what is about the sender, the text or the moment too (a blocked network, a full mailbox), so
that one of the three alone proves nothing. In doubt the mail has failed and the address stays.

Reply codes: RFC 5321 section 4.2.3 and, for 556, RFC 7504; enhanced codes: RFC 3463 sections 3.2 and 3.7, and RFC 7505
for 5.1.10. The words are what servers were seen to write (common practice, no source).
"""

import re

GONE = frozenset({"5.1.1", "5.1.2", "5.1.3", "5.1.6", "5.1.10"})
ABOUT_ADDRESSES = frozenset({"550", "551", "553", "556"})

_ENHANCED = re.compile(r"(?<![\d.])[245]\.\d{1,3}\.\d{1,3}(?![\d.]*\d)")
_CODE = re.compile(r"(?<![\w.-])[245]\d\d(?![\w.]|-\w)|(?<![\w.-])[245]\d\d(?=-\d\.)")
_ADDRESS = re.compile(r"<[^<>]*>|\S+@\S+")
_THING = (
    r"(?:users?|mailbox(?:es)?|recipients?|(?:e-?mail )?address(?:ee)?|(?:e-?mail )?accounts?|person|inbox|alias|"
    r"domains?|hosts?|destination|name)"
)
_NOT_THERE = re.compile(
    rf"\bno such (?:\w+ )?{_THING}\b|\bno {_THING} (?:here )?(?:by|with|of) (?:that|this) name\b"
    rf"|\b(?:unknown|invalid|non-?existent|unrouteable|undeliverable) (?:\w+ )?{_THING}\b"
    rf"|\b{_THING}\b[^.;]{{0,40}}\b(?:unknown|not known|not found|invalid|non-?existent|unrouteable|not exist)\b"
    rf"|\b{_THING}\b[^.;]{{0,60}}\b(?:does ?n[o']t|do not|did not) exist\b"
    rf"|\b{_THING}\b[^.;]{{0,40}}\bno longer exists\b"
    r"|\bnull mx\b|\bdoes not accept (?:any )?e?-?mail\b"
    r"|\b(?:utilizador|usuário|destinatário|usuario|destinatario) (?:desconhecido|desconocido|inexistente)\b"
    r"|\b(?:caixa de correio|endereço|dirección|buzón)[^.;]{0,20} n[ãa]?o existe\b"
    r"|\b(?:empfänger|benutzer|adresse) unbekannt\b|\bunbekannte[rs]? (?:empfänger|benutzer|adresse)\b"
    r"|\b(?:destinataire|utilisateur|adresse) inconnue?\b",
    re.IGNORECASE,
)
_OTHERWISE = re.compile(
    r"\bips?\b|\b\w*(?:black|block|grey|gray|deny|safe)-?list\w*|\bblock(?:ed|ing|s)?\b|\bdenied\b|\bdns[bw]l\b"
    r"|\brbl\b|\bspam\w*|\bjunk\b|\breputation\b|\bpolic(?:y|ies)\b|\bquota\b|\bfull\b"
    r"|\bstorage\b|\btoo (?:large|big|many|busy|long)\b|\bsize\b|\bcontent\b|\bvirus\w*|\bmalware\b|\brate\b|\blimit\w*"
    r"|\bthrottl\w*|\btempora\w*|\btry again\b|\blater\b|\brelaying\b|\brelay access\b|\bauth\w*|\bspf\b|\bdkim\b"
    r"|\bdmarc\b|\bsenders?\b|\bsuspend\w*|\bdisabled\b|\binactive\b|\brestrict\w*|\bpermission\b|\bnot allowed\b"
    r"|\bunsolicited\b",
    re.IGNORECASE,
)


def says_gone(*, status: str, text: str, code: int | None = None) -> bool:
    """Whether enhanced ``status``, reply code and ``text`` agree that the address is gone.

    ``code`` is None where the reply code stands in the text, as in a report.
    """
    words = _ADDRESS.sub(" ", text)
    enhanced = {status, *_ENHANCED.findall(words)}
    codes = set(_CODE.findall(_ENHANCED.sub(" ", words))) | ({str(code)} if code is not None else set())
    return (
        enhanced <= GONE
        and bool(codes)
        and codes <= ABOUT_ADDRESSES
        and _NOT_THERE.search(words) is not None
        and _OTHERWISE.search(words) is None
    )
