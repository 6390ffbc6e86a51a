"""The browser of the browser tests, for the walk's pass in Chromium."""

from tests.browser.conftest import chromium, collected, playwright_driver

__all__ = ["chromium", "collected", "playwright_driver"]
