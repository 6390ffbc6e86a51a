"""Addresses of published test sets: what goes out as what, what waits for SMTPUTF8, what is refused."""

import pytest

from onboarding.addresses import folded_address
from onboarding.mail.addresses import BadAddress, usable_address
from tests.onboarding.mail.published_addresses import NEEDS_SMTPUTF8, REFUSED, SENT


@pytest.mark.parametrize(("address", "ascii_form", "source"), SENT)
def test_goes_out_in_ascii(address: str, ascii_form: str, source: str):
    found = usable_address(address)
    assert (found.ascii, found.on_the_wire) == (ascii_form, ascii_form), source
    assert usable_address(found.written) == found, source
    assert folded_address(found.written) == folded_address(ascii_form), source


@pytest.mark.parametrize(("address", "domain", "source"), NEEDS_SMTPUTF8)
def test_goes_only_where_smtputf8_is_offered(address: str, domain: str, source: str):
    found = usable_address(address)
    assert (found.ascii, found.domain) == (None, domain), source
    assert found.on_the_wire.endswith(f"@{domain}"), source
    assert not found.on_the_wire.isascii(), source


@pytest.mark.parametrize(("address", "source"), REFUSED)
def test_is_refused(address: str, source: str):
    with pytest.raises(BadAddress):
        print(usable_address(address), source)
