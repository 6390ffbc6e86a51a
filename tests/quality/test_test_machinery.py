"""The test machinery does what it says: the second run is really on PostgreSQL and Redis."""

import os
import smtplib
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection

from tests.servers.smtp import SmtpServer


@pytest.mark.django_db
def test_the_database_is_the_one_asked_for():
    assert connection.vendor == os.environ["TEST_DATABASE"]
    assert str(settings.DATA_DIR).startswith(os.environ["TEST_FOLDER"])


@pytest.mark.django_db
def test_the_cache_is_redis_beside_postgresql():
    on_redis = str(settings.CACHES["default"].get("LOCATION", "")).startswith("redis:")
    assert on_redis == (os.environ["TEST_DATABASE"] == "postgresql")
    cache.set("colour", "ochre")
    assert cache.get("colour") == "ochre"


def test_the_sink_keeps_what_it_accepts():
    server = SmtpServer()
    try:
        server.sink.answer_rcpt = lambda address: "550 no such person" if "nobody" in address else "250 OK"
        with smtplib.SMTP("127.0.0.1", server.port) as client:
            client.sendmail("from@example.org", ["ana@example.org"], b"Subject: hello\r\n\r\ntext\r\n")
            with pytest.raises(smtplib.SMTPRecipientsRefused):
                client.sendmail("from@example.org", ["nobody@example.org"], b"Subject: no\r\n\r\n")
    finally:
        server.stop()
    [mail] = server.sink.wait_for("ana@example.org", seconds=1)
    assert mail.message["Subject"] == "hello"
    assert server.sink.to("nobody@example.org") == []


def test_only_what_uses_the_database_runs_twice(tmp_path: Path):
    module = tmp_path / "test_sample.py"
    module.write_text(
        "import pytest\n"
        "def test_pure(): pass\n"
        "def test_fixture(db): pass\n"
        "@pytest.mark.django_db\ndef test_marked(): pass\n"
        "@pytest.mark.django_db\n@pytest.mark.once\ndef test_once(): pass\n"
    )
    ran = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "--collect-only",
            "--only-database",
            "-c",
            "pyproject.toml",
            str(module),
        ],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTEST_XDIST_WORKER": "gw9"},
    )
    collected = [line.rsplit("::", 1)[1] for line in ran.stdout.splitlines() if "::" in line]
    assert collected == ["test_fixture", "test_marked"], ran.stdout + ran.stderr
