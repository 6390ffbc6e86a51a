"""``make bench``: every benchmark of this folder, one after another; ``make bench ARGS="labels mail"`` for some."""

import subprocess
import sys
from pathlib import Path


def main() -> int:
    """Run them as processes of their own; answers 1 when one of them failed."""
    known = sorted(path.stem for path in Path(__file__).parent.glob("*.py") if not path.stem.startswith("_"))
    asked = sys.argv[1:] or known
    if unknown := set(asked) - set(known):
        print(f"No such benchmark: {', '.join(sorted(unknown))}. There are: {', '.join(known)}.")
        return 1
    failed = []
    for name in asked:
        print(f"== {name}", flush=True)
        if subprocess.run([sys.executable, "-m", f"tests.benchmarks.{name}"], check=False).returncode:
            failed.append(name)
    print(*[f"{name} failed." for name in failed], sep="\n", end="" if not failed else "\n")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
