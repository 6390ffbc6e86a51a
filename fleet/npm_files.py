"""Serves an exact list of files of npm packages as static files; nothing else of node_modules is reachable."""

from collections.abc import Iterable, Iterator
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

NPM_FILES = {
    "npm/htmx.min.js": "htmx.org/dist/htmx.min.js",
    "npm/idb.js": "idb/build/umd.js",
    "npm/zxing_reader.js": "zxing-wasm/dist/iife/reader/index.js",
    "npm/zxing_reader.wasm": "zxing-wasm/dist/reader/zxing_reader.wasm",
    "npm/source-sans-3.woff2": "@fontsource-variable/source-sans-3/files/source-sans-3-latin-wght-normal.woff2",
    "npm/source-sans-3-ext.woff2": "@fontsource-variable/source-sans-3/files/source-sans-3-latin-ext-wght-normal.woff2",
    "npm/literata.woff2": "@fontsource-variable/literata/files/literata-latin-wght-normal.woff2",
    "npm/literata-ext.woff2": "@fontsource-variable/literata/files/literata-latin-ext-wght-normal.woff2",
}


class NpmStorage(FileSystemStorage):
    """Looks up our names for npm files inside node_modules."""

    def __init__(self) -> None:
        super().__init__(location=settings.PROJECT_DIR / "node_modules")

    def path(self, name: str) -> str:
        """The path of the npm file that we serve as ``name``."""
        return super().path(NPM_FILES[name])


class NpmFilesFinder(BaseFinder):
    """Finds exactly NPM_FILES."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.storage = NpmStorage()

    def check(self, **kwargs: Any) -> list[Any]:
        """Nothing to configure."""
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        """The absolute path of ``path`` where it is one of ours."""
        found = path in NPM_FILES and self.storage.exists(path)
        if find_all:
            return [self.storage.path(path)] if found else []
        return self.storage.path(path) if found else None

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, NpmStorage]]:
        """Every file we serve, with its storage."""
        for name in NPM_FILES:
            yield name, self.storage
