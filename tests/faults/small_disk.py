"""A disk that is soon full: a file system of its own in memory, or where that is not allowed a limit on file sizes."""

import resource
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def small_file_system(folder: Path, megabytes: int) -> Iterator[Path]:
    """``folder`` as a file system of ``megabytes``; skips the test where this user may not mount one."""
    folder.mkdir(parents=True, exist_ok=True)
    mounting = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(folder)]
    if subprocess.run(mounting, capture_output=True, check=False).returncode:
        pytest.skip("this user may not mount a small file system")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


@contextmanager
def largest_file(size: int) -> Iterator[None]:
    """No file of this process grows beyond ``size`` bytes: a write across the limit is cut off, the next one fails."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
