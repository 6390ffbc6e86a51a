"""``make prove``: breaks the program in a scratch copy, one committed break at a time, and expects its test to go red.

``make prove ARGS="plate swap"`` takes the breaks whose promise, file or test holds one of these words.
"""

import argparse
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BREAKS = Path(__file__).with_name("breaks.toml")
LINKED = (".venv", "node_modules")
GREEN, RED = 0, 1  # pytest's exit codes: all passed, some failed; anything else is a run that did not happen
PATIENCE = 900
TEMPLATE = Path("var") / "prove"


@dataclass(frozen=True)
class Break:
    """One way to break a promise: ``old`` becomes ``new`` in ``file``, and ``test`` must fail."""

    promise: str
    file: str
    old: str
    new: str
    test: str

    def fits(self, words: list[str]) -> bool:
        """Whether it is one of those asked for."""
        return not words or any(word in f"{self.promise} {self.file} {self.test}" for word in words)

    def applied(self, text: str) -> str:
        """The file's text, broken. Raises LookupError where ``old`` is not there exactly once, or changes nothing."""
        if text.count(self.old) != 1:
            raise LookupError(f"“{self.old.splitlines()[0].strip()}” is {text.count(self.old)} times in {self.file}")
        if self.old == self.new:
            raise LookupError("old and new are the same")
        return text.replace(self.old, self.new)


def breaks() -> list[Break]:
    """The committed list."""
    return [Break(**each) for each in tomllib.loads(BREAKS.read_text(encoding="utf-8"))["break"]]


@contextmanager
def scratch_copy() -> Iterator[Path]:
    """A copy of everything that git knows or would take, with the installed packages linked in."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT, capture_output=True, check=True,
    ).stdout.decode()  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        for name in filter(None, listed.split("\0")):
            if (ROOT / name).is_file() and not (ROOT / name).is_symlink():
                (Path(folder) / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(ROOT / name, Path(folder) / name)
        for name in LINKED:
            (Path(folder) / name).symlink_to((ROOT / name).resolve())
        yield Path(folder)


def run_tests(copy: Path, *tests: str) -> tuple[int, str]:
    """pytest's exit code for these tests in the copy, and what it said last."""
    command = [sys.executable, "-m", "pytest", "-q", "-x", "--tb=line", "-p", "no:randomly", *tests]
    environment = os.environ | {"PYTHONDONTWRITEBYTECODE": "1", "TEST_TEMPLATE": str(copy / TEMPLATE)}
    done = subprocess.run(
        command, cwd=copy, env=environment, capture_output=True, text=True, timeout=PATIENCE, check=False
    )
    return done.returncode, "\n".join(done.stdout.splitlines()[-8:])


def _migrate_once(copy: Path) -> None:
    """A migrated database that every run of the tests starts from: most of a short run's time otherwise."""
    data = copy / TEMPLATE
    data.mkdir(parents=True)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("ROOFTALLY_")}
    environment = kept | {"ROOFTALLY_DATA_DIR": str(data)}
    migrate = [sys.executable, "manage.py", "migrate", "--verbosity", "0"]
    subprocess.run(migrate, cwd=copy, env=environment, check=True)
    with closing(sqlite3.connect(data / "rooftally.sqlite3")) as connection:
        connection.execute("DELETE FROM onboarding_keyfingerprint")  # each run of the tests brings keys of its own
        connection.commit()
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def prove(copy: Path, each: Break) -> str:
    """What is wrong with a break, or nothing where its test went red."""
    path = copy / each.file
    whole = path.read_text(encoding="utf-8")
    try:
        path.write_text(each.applied(whole), encoding="utf-8")
    except LookupError as error:
        return str(error)
    try:
        code, said = run_tests(copy, each.test)
    finally:
        path.write_text(whole, encoding="utf-8")
    if code == GREEN:
        return f"{each.test} stays green"
    return "" if code == RED and "failed" in said else f"{each.test} did not run (exit {code}): {said}"


def main() -> int:
    """Everything is green first; then each break turns its test red."""
    parser = argparse.ArgumentParser(prog="make prove", description=__doc__)
    parser.add_argument("words", nargs="*")
    chosen = [each for each in breaks() if each.fits(parser.parse_args().words)]
    wrong = 0
    with scratch_copy() as copy:
        _migrate_once(copy)
        code, said = run_tests(copy, *sorted({each.test for each in chosen}))
        if code != GREEN:
            print(f"prove: the tests are not green to begin with:\n{said}")
            return 1
        for each in chosen:
            fault = prove(copy, each)
            wrong += bool(fault)
            print(f"prove: {'NOT PROVEN' if fault else 'red as it must be'}: {each.promise}", flush=True)
            if fault:
                print(f"       {fault}", flush=True)
    print(f"prove: {len(chosen) - wrong} of {len(chosen)} breaks were noticed")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
