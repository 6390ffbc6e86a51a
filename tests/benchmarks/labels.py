"""How fast and how surely labels are read: text, made-up photos, and 100,000 damaged labels.

Run with ``python -m tests.benchmarks.labels [--photos N] [--mutations N]``. It reports; it asserts nothing but that no
wrong payload and no wrong acceptance came out. Times of photos are of this thread alone, without waiting.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

from fleet.labels.decode import decode
from fleet.labels.optical import read_image
from tests.fleet.labels.mutations import OPTIONS, run
from tests.fleet.labels.photos import make_photo

CASES = Path(__file__).parents[1] / "fleet" / "labels" / "cases"
TEXT_LIMIT_MS, PHOTO_LIMIT_MS, RESCUE_LIMIT_MS = 0.3, 100.0, 250.0


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--photos", type=int, default=300)
    options.add_argument("--mutations", type=int, default=100_000)
    chosen = options.parse_args()
    _texts()
    _mutations(chosen.mutations)
    return 1 if _photos(chosen.photos) else 0


def _texts() -> None:
    cases = [
        json.loads(line)
        for path in sorted(CASES.glob("*.jsonl"))
        for line in path.read_text().splitlines()
        if '"payload"' in line and '"codes"' not in line
    ]
    times: list[float] = []
    for _ in range(20):
        for case in cases:
            started = time.perf_counter()
            decode(case["payload"], case.get("symbology"), options=OPTIONS)
            times.append((time.perf_counter() - started) * 1000)
    _report(f"text, {len(cases)} recorded labels, 20 times", times, TEXT_LIMIT_MS)


def _mutations(count: int) -> None:
    started = time.thread_time()
    accepted = run(count, seed=2026)
    seconds = time.thread_time() - started
    print(f"{count} damaged labels: {accepted} still sound and read rightly, none wrong, {seconds:.1f} s")


def _photos(count: int) -> list[object]:
    there = read = 0
    wrong: list[object] = []
    plain_times: list[float] = []
    rescue_times: list[float] = []
    for seed in range(count):
        photo = make_photo(seed)
        started = time.thread_time()
        found = read_image(photo.jpeg)
        spent = (time.thread_time() - started) * 1000
        payloads = {code.payload for code in found}
        there += len(photo.payloads)
        read += len(payloads & photo.payloads)
        wrong += [(seed, payload) for payload in payloads - photo.payloads]
        rescued = not found or any(code.rescued for code in found)
        (rescue_times if rescued else plain_times).append(spent)
    print(f"{count} photos of 3 megapixels: {read} of {there} codes read ({read / there:.1%}), wrong payloads: {wrong}")
    _report("photos read without rescue", plain_times, PHOTO_LIMIT_MS)
    _report("photos with rescue passes", rescue_times, RESCUE_LIMIT_MS)
    return wrong


def _report(what: str, times: list[float], limit: float) -> None:
    if not times:
        print(f"{what}: none")
        return
    times.sort()
    middle, high = times[len(times) // 2], times[int(len(times) * 0.95)]
    print(f"{what} ({len(times)}): p50 {middle:.3f} ms, p95 {high:.3f} ms (aim: at most {limit} ms)")


if __name__ == "__main__":
    raise SystemExit(main())
