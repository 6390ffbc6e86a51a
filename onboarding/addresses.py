"""The keyed hash by which a company remembers an address it must not write to, also after erasure."""

import hashlib
import hmac
import unicodedata

import idna

from fleet.keys import ADDRESS, address_keys, key_id


def folded_address(address: str) -> str:
    """``address`` so that the same mailbox written in another letter case or domain form compares equal.

    Letter case of the local part is folded too: in practice no mailbox provider tells them apart, and a person who
    opted out is not to be written to over a capital letter (common practice, no source).
    """
    text = unicodedata.normalize("NFKC", address).strip()
    local, _at, domain = text.rpartition("@")
    return f"{unicodedata.normalize('NFKC', local.casefold())}@{_ascii_domain(domain.rstrip('.').lower())}"


def mailbox_of(address: str) -> str:
    """``address`` without what follows a plus sign in its local part (subaddressing, RFC 5233): the mailbox itself."""
    local, at, domain = address.rpartition("@")
    base = local.partition("+")[0]
    return f"{base}{at}{domain}" if base else address


def address_key(company_id: int, address: str, key: str = "") -> str:
    """The keyed hash of ``address`` for one company, 64 hexadecimal digits; another company's differs.

    With the key for new hashes unless another is given. Raises KeyMissing.
    """
    message = f"address:{company_id}:{folded_address(address)}".encode()
    return hmac.new((key or address_keys()[0]).encode(), message, hashlib.sha256).hexdigest()


def every_address_key(company_id: int, address: str) -> list[str]:
    """The hashes of ``address`` under every key that is held, the one for new hashes first. Raises KeyMissing."""
    return [address_key(company_id, address, key) for key in address_keys()]


def new_mac_key() -> str:
    """The id of the key for new hashes. Raises KeyMissing."""
    return key_id(ADDRESS, address_keys()[0])


def _ascii_domain(domain: str) -> str:
    try:
        return idna.encode(domain, uts46=True).decode("ascii")
    except idna.IDNAError:
        return domain  # not a domain that mail could reach; it still has to compare equal with itself
