"""How often a password may be tried: counted for the account, and never to the harm of whose account it is."""

import pytest
from django.test import Client, override_settings

from tests.factories import PASSWORD, make_user

pytestmark = pytest.mark.django_db
ANA, WRONG = "ana@example.org", "not the password at all"


@pytest.fixture(autouse=True)
def _ana() -> None:
    make_user(ANA, password=PASSWORD)


def _try(client: Client, password: str, address: str = ANA, **more: str) -> str:
    """What comes of one try: ``in``, ``wrong`` or ``told to wait``."""
    answer = client.post("/accounts/login/", {"login": address, "password": password}, **more)  # type: ignore[arg-type]
    if answer.status_code == 302:
        return "in"
    codes = {error.code for errors in answer.context["form"].errors.as_data().values() for error in errors}
    return "told to wait" if "too_many_login_attempts" in codes else "wrong"


def _strangers(tries: int, **more: str) -> list[str]:
    """So many tries, each from another address."""
    return [_try(Client(REMOTE_ADDR=f"203.0.113.{number}"), WRONG, **more) for number in range(tries)]


def test_another_port_or_name_of_this_host_is_no_other_count():
    hosts = ["127.0.0.1", "localhost", "[::1]"]
    came = [
        _try(Client(REMOTE_ADDR=f"203.0.113.{number}"), WRONG, HTTP_HOST=f"{hosts[number % 3]}:{8000 + number}")
        for number in range(9)
    ]
    assert came == ["wrong"] * 5 + ["told to wait"] * 4


@pytest.mark.parametrize("written", [ANA.upper(), f"  {ANA} ", "Ana@Example.ORG"])
def test_an_address_written_otherwise_is_no_other_count(written: str):
    _strangers(5)
    assert _try(Client(REMOTE_ADDR="203.0.113.99"), PASSWORD, written) == "told to wait"


def test_a_known_device_gets_in_whatever_strangers_try():
    device = Client()
    assert _try(device, PASSWORD) == "in"
    device.post("/accounts/logout/")
    assert _strangers(8)[-1] == "told to wait"
    assert _try(device, PASSWORD) == "in"


def test_a_known_device_gets_in_from_the_address_that_strangers_use():
    device = Client()
    assert _try(device, PASSWORD) == "in"
    device.post("/accounts/logout/")
    for number in range(40):
        _try(Client(), WRONG, f"somebody{number}@example.org")
    assert _try(Client(), PASSWORD) == "told to wait"
    assert _try(device, PASSWORD) == "in"


def test_who_is_signed_in_proves_it_again_whatever_strangers_try():
    signed_in = Client()
    assert _try(signed_in, PASSWORD) == "in"
    del signed_in.cookies["rooftally_device"]
    assert _strangers(8)[-1] == "told to wait"
    assert signed_in.post("/accounts/reauthenticate/", {"password": PASSWORD}).status_code == 302


def test_a_known_device_has_an_end_to_its_own_tries():
    device = Client()
    _try(device, PASSWORD)
    device.post("/accounts/logout/")
    assert [_try(device, WRONG) for _ in range(11)] == ["wrong"] * 10 + ["told to wait"]
    assert _try(device, PASSWORD) == "told to wait"


def test_a_device_is_known_for_its_own_account_and_a_made_up_mark_is_none():
    make_user("rui@example.org", password=PASSWORD)
    others = Client()
    assert _try(others, PASSWORD, "rui@example.org") == "in"
    others.post("/accounts/logout/")
    assert _strangers(6)[-1] == "told to wait"
    assert _try(others, PASSWORD) == "told to wait"
    forged = Client()
    forged.cookies["rooftally_device"] = others.cookies["rooftally_device"].value[:-1] + "x"
    assert _try(forged, PASSWORD) == "told to wait"


def test_without_a_proxy_nobody_takes_another_address_by_a_header():
    came = [
        _try(Client(), WRONG, f"somebody{number}@example.org", HTTP_X_FORWARDED_FOR=f"198.51.100.{number}")
        for number in range(12)
    ]
    assert came == ["wrong"] * 10 + ["told to wait"] * 2


@override_settings(BEHIND_PROXY=True)
def test_behind_a_proxy_what_the_client_wrote_before_it_counts_for_nothing():
    came = [
        _try(Client(), WRONG, f"x{number}@example.org", HTTP_X_FORWARDED_FOR=f"198.51.100.{number}, 192.0.2.7")
        for number in range(12)
    ]
    assert came[-1] == "told to wait"


def test_a_right_password_uses_nothing_up():
    for _ in range(8):
        client = Client()
        assert _try(client, PASSWORD) == "in"
