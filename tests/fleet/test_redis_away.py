"""Redis is away, or takes a connection and says nothing: what a person does goes on, and is not waited for."""

from __future__ import annotations

import logging
import socket
import threading
from collections.abc import Iterator

import pytest

from fleet import wake
from fleet.config.celery import app
from fleet.shared_cache import SharedCache, SharedCacheClient

SWEEP = "onboarding.tasks.sweep_deliveries"


class SilentRedis:
    """Takes connections, answers nothing, and counts who came and who gave up."""

    def __init__(self) -> None:
        self.came, self.gave_up = 0, threading.Event()
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.url = f"redis://127.0.0.1:{self._listening.getsockname()[1]}/0"
        threading.Thread(target=self._take, daemon=True).start()

    def stop(self) -> None:
        self._listening.close()

    def _take(self) -> None:
        while True:
            try:
                line, _address = self._listening.accept()
            except OSError:
                return
            self.came += 1
            threading.Thread(target=self._listen, args=(line,), daemon=True).start()

    def _listen(self, line: socket.socket) -> None:
        with line:
            while line.recv(4096):
                continue
        self.gave_up.set()


@pytest.fixture
def silent() -> Iterator[SilentRedis]:
    redis = SilentRedis()
    yield redis
    redis.stop()


@pytest.fixture
def closed() -> str:
    """The URL of a port that nothing listens on."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return f"redis://127.0.0.1:{probe.getsockname()[1]}/0"


@pytest.fixture(autouse=True)
def _asked_anew() -> Iterator[None]:
    SharedCacheClient.away_until = 0.0
    yield
    SharedCacheClient.away_until = 0.0


@pytest.fixture
def said(caplog: pytest.LogCaptureFixture) -> pytest.LogCaptureFixture:
    caplog.set_level(logging.WARNING, logger="fleet")
    return caplog


@pytest.mark.django_db
def test_a_wake_up_is_tried_once_and_given_up(silent, said, monkeypatch, django_capture_on_commit_callbacks):
    monkeypatch.setattr(app.conf, "broker_write_url", silent.url)
    with django_capture_on_commit_callbacks(execute=True):
        wake.wake(SWEEP)
    assert silent.gave_up.wait(20)
    assert silent.came == 1
    assert f"{SWEEP} was not woken" in said.text


@pytest.mark.django_db
def test_a_wake_up_that_nobody_takes_harms_nothing(closed, said, monkeypatch, django_capture_on_commit_callbacks):
    monkeypatch.setattr(app.conf, "broker_write_url", closed)
    with django_capture_on_commit_callbacks(execute=True):
        wake.wake(SWEEP)
        wake.wake(SWEEP)
    assert said.text.count("was not woken") == 2
    assert "Traceback" not in said.text


def test_wake_ups_wait_less_long_than_workers_do(silent, monkeypatch):
    monkeypatch.setattr(app.conf, "broker_write_url", silent.url)
    asked = wake._line().transport_options or {}
    assert asked["socket_timeout"] == asked["socket_connect_timeout"] == wake.PATIENCE <= 1
    assert asked["max_retries"] == 0


@pytest.mark.parametrize("how", ["silent", "closed"])
def test_without_redis_the_cache_is_an_empty_one(how, request):
    redis = request.getfixturevalue(how)
    cache = SharedCache(redis.url if how == "silent" else redis, {})
    assert cache.add("a", 1) is True
    SharedCacheClient.away_until = 0.0
    assert cache.get("a", "nothing") == "nothing"
    assert cache.get_many(["a"]) == {}
    cache.set("a", 1)
    cache.set_many({"a": 1})
    cache.delete_many(["a"])
    assert not cache.touch("a")
    assert not cache.delete("a")
    assert not cache.has_key("a")
    cache.clear()
    with pytest.raises(ValueError, match="not found"):
        cache.incr("a")


def test_a_redis_that_was_away_is_left_alone_for_a_while(silent):
    cache = SharedCache(silent.url, {})
    for _ in range(5):
        cache.get("a")
    assert silent.came == 1


def test_limits_forgive_while_redis_is_away(closed, monkeypatch):
    from onboarding import limits

    monkeypatch.setattr(limits, "cache", SharedCache(closed, {}))
    assert all(limits.within("accept", "somebody", most=1, seconds=60) for _ in range(3))
