"""How fast and how surely sites are found, side by side with what Django's admin does, tantivy, and an empty request.

``python -m tests.benchmarks.search`` measures 3,000 and 100,000 sites over 20 companies on both databases;
``--sites 3000,100000,1000000 --one-company 1000000`` adds the large ones, which take over an hour. It loads each fleet
into a database of its own, prints a table and writes ``var/benchmarks/search.json``. Everything runs on this machine.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Collection, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any

from tests.benchmarks.searching.awake import cores_kept_awake
from tests.benchmarks.searching.kinds import CLASSES, LISTED
from tests.servers.postgres import Postgres

HOUSE = Path(__file__).parents[2]
ON_DISK = ("max_connections=20", "shared_buffers=1GB", "max_wal_size=8GB")
NOT_MEASURED = float("nan")
MOST_FOR_NAIVE = 200_000
"""Sites in a company beyond which a naive search takes minutes, and is left out."""
Report = dict[str, Any]


@dataclass(frozen=True)
class Fleet:
    """What is loaded."""

    sites: int
    companies: int

    def __str__(self) -> str:
        return f"{self.sites:,} sites in {self.companies} companies"


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--sites", default="3000,100000", help="sizes over 20 companies, commas between")
    options.add_argument("--one-company", default="", help="sizes in one company, commas between")
    options.add_argument("--databases", default="sqlite,postgresql")
    options.add_argument("--each", type=int, default=30, help="questions of each class")
    options.add_argument("--out", type=Path, default=HOUSE / "var" / "benchmarks" / "search.json")
    options.add_argument("--no-tantivy", action="store_true")
    chosen = options.parse_args()
    fleets = [Fleet(int(size), 20) for size in chosen.sites.split(",") if size]
    fleets += [Fleet(int(size), 1) for size in chosen.one_company.split(",") if size]
    reports = []
    for fleet in fleets:
        with ExitStack() as stack:
            databases = [stack.enter_context(_database(vendor)) for vendor in chosen.databases.split(",")]
            with ThreadPoolExecutor() as threads:  # each waits for a process of its own
                loaded = list(threads.map(partial(_load, fleet=fleet), databases))
            for database, seconds in zip(databases, loaded, strict=True):
                tantivy = database.vendor == "sqlite" and not chosen.no_tantivy
                report = _measure(database, fleet, chosen.each, tantivy=tantivy)
                told = {"fleet": str(fleet), "vendor": database.vendor, "loaded_in_seconds": round(seconds, 1)}
                reports.append(report | told | {"load": os.getloadavg()[0]})
                _print(reports[-1])
                _write(chosen.out, reports)
    print(f"written to {chosen.out}")


@dataclass(frozen=True)
class Database:
    """An empty database of one kind, and the environment in which the house uses it."""

    vendor: str
    folder: Path
    environment: dict[str, str]


@contextmanager
def _database(vendor: str) -> Iterator[Database]:
    """One that is thrown away."""
    folder = Path(tempfile.mkdtemp(prefix="rooftally-bench-"))
    server = Postgres(on_disk=True, settings=ON_DISK) if vendor == "postgresql" else None
    environment = {name: value for name, value in os.environ.items() if not name.startswith("ROOFTALLY_")}
    environment |= {"ROOFTALLY_DATA_DIR": str(folder), "ROOFTALLY_DATABASE_POOL": "0", "ROOFTALLY_LOG_LEVEL": "ERROR"}
    environment["DJANGO_SETTINGS_MODULE"] = "fleet.config.settings"
    if server is not None:
        environment["ROOFTALLY_DATABASE_URL"] = server.url
    try:
        _manage(environment, "migrate", "-v0")
        _manage(environment, "collectstatic", "-v0", "--no-input")
        yield Database(vendor, folder, environment)
    finally:
        if server is not None:
            server.stop()
        shutil.rmtree(folder, ignore_errors=True)


def _load(database: Database, fleet: Fleet) -> float:
    """Load a fleet; answers how many seconds it took."""
    started = time.monotonic()
    _manage(database.environment, "load_fleet", f"--sites={fleet.sites}", f"--companies={fleet.companies}")
    return time.monotonic() - started


def _measure(database: Database, fleet: Fleet, each: int, *, tantivy: bool) -> Report:
    naive_each = 8 if fleet.sites <= 10_000 else 4 if fleet.sites <= 200_000 else 2
    if fleet.sites // fleet.companies > MOST_FOR_NAIVE:
        naive_each = 0
    out = database.folder / "report.json"
    command = [sys.executable, "-m", "tests.benchmarks.searching.measure", str(out)]
    command += [f"--each={each}", f"--naive-each={naive_each}"]
    if tantivy:
        command.append(f"--tantivy={database.folder / 'tantivy'}")
    with cores_kept_awake():
        subprocess.run(command, env=database.environment, cwd=HOUSE, check=True)
    report: Report = json.loads(out.read_text())
    return report


def _manage(environment: dict[str, str], *arguments: str) -> None:
    subprocess.run(
        [sys.executable, "manage.py", *arguments], env=environment, cwd=HOUSE, check=True, stdout=subprocess.DEVNULL
    )


def _print(report: Report) -> None:
    """A Markdown table: milliseconds of database calls, and how often the site meant was found."""
    print(f"\n### {report['vendor']}, {report['fleet']} (loaded in {report['loaded_in_seconds']} s)\n")
    print("| question | ids p50 | ids p95 | page p50 | naive p50 | its page alone | found | tantivy p50 |")
    print("|---|---|---|---|---|---|---|---|")
    others = report.get("tantivy", {}).get("times", {})
    for kind, times in report["ids"].items():
        recall = report["recall"].get(kind)
        cells = [median(times), _p95(times), median(report["ours"][kind])]
        cells += [median(report[name].get(kind, [NOT_MEASURED])) for name in ("naive", "naive_page")]
        tantivy = f"{median(others[kind]):.3f}" if others else ""
        found = "" if recall is None else f"{recall:.0%}"
        print(f"| {kind} | {' | '.join(f'{cell:.3f}' for cell in cells)} | {found} | {tantivy} |")
    print("\n" + "\n".join(_summary(report)))


def _summary(report: Report) -> list[str]:
    ids, page, naive, alone = (_pooled(report[name]) for name in ("ids", "ours", "naive", "naive_page"))
    listed, naive_listed = (_pooled(report[name], LISTED) for name in ("ids", "naive"))
    slowest = max((max(times), kind) for kind, times in report["ids"].items())
    empty = median(report["requests"]["empty"])
    search = _pooled(report["requests"]["search"])
    worst = max(report["ids"], key=lambda kind: _p95(report["ids"][kind]))
    return [
        f"All questions, p50: ids {ids:.3f} ms, with the page's rows {page:.3f} ms; naive {naive:.1f} ms, its page "
        f"alone {alone:.1f} ms. Naive against ids: {naive / ids:,.0f} times, its page alone {alone / ids:,.0f} times.",
        f"The classes that the search promises alone: ids {listed:.3f} ms, naive {naive_listed:.1f} ms, "
        f"{naive_listed / listed:,.0f} times. The slowest question of all: {slowest[1]}, {slowest[0]:.1f} ms.",
        f"The slowest class is {worst}, p95 {_p95(report['ids'][worst]):.2f} ms; as a field member "
        f"{_pooled(report['field']):.3f} ms. A statement that asks nothing: {_pooled(report['nothing']):.3f} ms.",
        f"Whole request {search:.2f} ms, an empty one {empty:.2f} ms: {search / empty:.2f} times. One site's update "
        f"{median(report['update']):.2f} ms. Rows of other companies: {report['foreign_rows']}. "
        f"Load of the machine at the end: {report['load']:.1f}.",
    ]


def _pooled(times: dict[str, list[float]], kinds: Collection[str] = CLASSES) -> float:
    return median([value for kind, each in times.items() if kind in kinds for value in each] or [NOT_MEASURED])


def _p95(times: list[float]) -> float:
    return sorted(times)[min(len(times) - 1, int(len(times) * 0.95))]


def _write(path: Path, reports: list[Report]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    machine: Report = {"processor": _processor(), "cores": os.cpu_count(), "system": platform.platform(terse=True)}
    machine |= {"python": platform.python_version(), "load": os.getloadavg()[0]}
    path.write_text(json.dumps({"machine": machine, "reports": reports}, indent=1))


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text().splitlines()
    except OSError:
        return platform.processor()
    return next((line.partition(":")[2].strip() for line in lines if line.startswith("model name")), "unknown")


if __name__ == "__main__":
    main()
