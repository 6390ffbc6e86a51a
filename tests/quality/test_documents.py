"""README.md and DEVELOPERS.md say what is so."""

import re
from pathlib import Path

import pytest
from django.core.management import get_commands

from tests.quality.settings_table import PAGE, table, table_in

ROOT = PAGE.parent
PAGES = ("README.md", "DEVELOPERS.md")


def test_the_settings_table_is_what_settings_declare():
    assert table_in(PAGE.read_text()) == table(), "run: python -m tests.quality.settings_table"


@pytest.mark.parametrize("page", PAGES)
def test_every_file_that_a_page_names_is_there(page: str):
    named = set(re.findall(r"`((?:fleet|onboarding|api|tests|templates|\.ci)/[\w./-]*)`", (ROOT / page).read_text()))
    assert named
    assert sorted(name for name in named if not (ROOT / name).exists()) == []


@pytest.mark.parametrize("page", PAGES)
def test_every_make_target_that_a_page_names_exists(page: str):
    targets = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE))
    named = set(re.findall(r"`make ([a-z-]+)", (ROOT / page).read_text()))
    assert named
    assert named <= targets


@pytest.mark.parametrize("page", PAGES)
def test_every_management_command_that_a_page_names_exists(page: str):
    named = set(re.findall(r"manage\.py ([a-z_]+)", (ROOT / page).read_text()))
    assert named <= set(get_commands())


def test_links_between_the_pages_lead_somewhere():
    for page in PAGES:
        for target in re.findall(r"\]\(([^)#:]+)\)", (ROOT / page).read_text()):
            assert (ROOT / Path(target)).exists(), f"{page}: {target}"
