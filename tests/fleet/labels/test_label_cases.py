"""Every recorded label, with its source, is read or refused exactly as expected: no fact more, no fact less."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest

from fleet.labels.jsonlines import answer
from fleet.labels.reading import REASONS, DecodeOptions

CASES = Path(__file__).parent / "cases"
OPTIONS = DecodeOptions(
    today=dt.date(2026, 11, 25),
    link_domains=frozenset({"id.maker.example"}),
    base_urls=("https://roofs.example",),
)


def _cases():
    for path in sorted(CASES.glob("*.jsonl")):
        for line in path.read_text().splitlines():
            case = json.loads(line)
            yield pytest.param(case, id=f"{path.stem}-{case['id']}")


@pytest.mark.parametrize("case", list(_cases()))
def test_case(case):
    assert case["source"]
    got = answer(json.dumps(case), OPTIONS)
    assert got.pop("id") == case["id"]
    got.pop("position", None)
    if "refuse" in got:
        assert got.pop("reason") == REASONS[got["refuse"]]
    assert got == case["expect"]
