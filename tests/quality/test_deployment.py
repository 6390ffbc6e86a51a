"""docker-compose.yml and Dockerfile as text: no container engine is at hand where the tests run."""

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from fleet.config.environment import DECLARED

ROOT = Path(__file__).resolve().parent.parent.parent
ONE_OFF = {"migrate"}


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    loaded: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
    return loaded


def validated(path: Path) -> subprocess.CompletedProcess[str]:
    program = str(Path(sys.executable).parent / "check-jsonschema")
    return subprocess.run(
        [program, "--builtin-schema", "vendor.compose-spec", str(path)], capture_output=True, text=True, check=False
    )


def test_it_follows_the_compose_specification(tmp_path: Path):
    ended = validated(ROOT / "docker-compose.yml")
    assert ended.returncode == 0, ended.stdout


def test_the_specification_would_notice(tmp_path: Path):
    wrong = tmp_path / "compose.yml"
    wrong.write_text("services:\n  web:\n    imagee: x\n")
    assert validated(wrong).returncode == 1


def test_everything_that_the_design_names_is_there(compose: dict[str, Any]):
    assert set(compose["services"]) == {"proxy", "web", "worker", "beat", "postgres", "redis", "cache", "migrate"}


def test_every_lasting_service_is_watched_and_comes_back(compose: dict[str, Any]):
    for name in set(compose["services"]) - ONE_OFF:
        service = compose["services"][name]
        assert service["healthcheck"]["test"], name
        assert service["restart"] == "unless-stopped", name


def test_every_setting_exists(compose: dict[str, Any]):
    known = set(DECLARED) | {f"{name}_FILE" for name in DECLARED}
    for name, service in compose["services"].items():
        given = {key for key in service.get("environment", {}) if key.startswith("ROOFTALLY_")}
        assert given <= known, name


def test_secrets_come_from_files_alone(compose: dict[str, Any]):
    assert {secret["file"] for secret in compose["secrets"].values()} == {
        f"./secrets/{name}" for name in compose["secrets"]
    }
    assert "secrets/" in (ROOT / ".gitignore").read_text().splitlines()
    for name, service in compose["services"].items():
        for key in service.get("environment", {}):
            assert not re.search(r"(PASSWORD|_KEY|DATABASE_URL)$", key), f"{name}: {key} as plain text"
        assert set(service.get("secrets", [])) <= set(compose["secrets"]), name


def test_images_are_named_with_a_version(compose: dict[str, Any]):
    images = [service["image"] for service in compose["services"].values()]
    images += re.findall(r"^FROM (\S+)", (ROOT / "Dockerfile").read_text(), re.MULTILINE)
    assert [image for image in images if ":" not in image or image.endswith(":latest")] == []


def test_what_the_image_copies_is_there_and_reaches_the_build():
    copied = re.findall(r"^COPY (?!--from)(.+) \S+$", (ROOT / "Dockerfile").read_text(), re.MULTILINE)
    let_through = {line[1:] for line in (ROOT / ".dockerignore").read_text().splitlines() if line.startswith("!")}
    sources = {source for line in copied for source in line.split()}
    assert sources
    assert all((ROOT / source).exists() for source in sources)
    assert sources <= let_through


def test_the_image_installs_from_the_locked_hashes_and_is_not_root():
    text = (ROOT / "Dockerfile").read_text()
    assert "--require-hashes -r requirements.lock" in text
    assert re.search(r"^USER rooftally$", text, re.MULTILINE)
