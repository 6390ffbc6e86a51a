"""A phone with WebKit, the engine of every browser on iOS, driven by Debian's WebKitWebDriver over HTTP.

The W3C WebDriver protocol needs ten commands here; the library for it would bring 27 MB and a program that fetches
browsers. https://www.w3.org/TR/webdriver2/
"""

import http.client
import json
import os
import re
import signal
from pathlib import Path
from typing import Any

from tests.browser.field.phone import ALL_RECORDS, wait_for
from tests.servers.process import Server, answers, free_port

DRIVER = "WebKitWebDriver"
PYTHON = "/usr/bin/python3"  # Debian's, which alone has Debian's bindings of WebKit
WINDOW = Path(__file__).with_name("webkit_window.py")
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # the key that WebDriver names elements by
ENTER = "\ue007"
EVALUATED = """const done = arguments[arguments.length - 1];
(async () => (%s))().then((found) => done({ found }), (error) => done({ error: String(error) }));"""


class WebKitPhone:
    """One profile on disk and a display of its own. ``open`` starts driver and window; ``kill`` ends them at once."""

    def __init__(self, folder: Path, url: str) -> None:
        self.url = url
        self._folder = folder
        self._driver: Server | None = None
        self._session = ""
        self._display = Server(
            ["Xvfb", "-displayfd", "1", "-screen", "0", "800x1000x24", "-nolisten", "tcp"], log=folder / "display.log"
        )
        self._display.wait_until(lambda: self._display_number() is not None)

    def open(self) -> None:
        """Start the driver and a window, and open the field page."""
        self.start()
        self.load()

    def start(self) -> None:
        """Start the driver and a window."""
        port = free_port()
        environment = os.environ | {"DISPLAY": f":{self._display_number()}", "HOME": str(self._folder)}
        self._driver = Server([DRIVER, f"--port={port}"], log=self._folder / "driver.log", environment=environment)
        self._driver.wait_until(lambda: answers(port))
        self._port = port
        options = {"binary": PYTHON, "args": [str(WINDOW), str(self._folder)]}
        asked = {"capabilities": {"alwaysMatch": {"webkitgtk:browserOptions": options}}}
        self._session = f"/session/{self._ask('POST', '/session', asked)['sessionId']}"

    def load(self) -> None:
        """Open the field page and wait until it is ready."""
        self.go("/field/")
        self.until_ready()

    def until_ready(self) -> None:
        wait_for(lambda: self.run("document.body && document.body.dataset.ready === 'yes'"), "the page to be ready")

    def kill(self) -> None:
        """SIGKILL the window with everything that it started, and the driver."""
        if self._driver is None:
            return
        for process in _descendants(self._driver.process.pid):
            os.kill(process, signal.SIGKILL)
        self._driver.stop(signal.SIGKILL)
        self._driver = None

    def throw_away(self) -> None:
        """Kill what runs, and the display."""
        self.kill()
        self._display.stop()

    def go(self, path: str) -> None:
        """Open an address of the page's own server."""
        self._ask("POST", f"{self._session}/url", {"url": f"{self.url}{path}"})

    def run(self, source: str) -> Any:
        """What this JavaScript expression comes to, or the promise that it makes."""
        answer = self._ask("POST", f"{self._session}/execute/async", {"script": EVALUATED % source, "args": []})
        assert "error" not in answer, answer["error"]
        return answer.get("found")

    def click(self, selector: str) -> None:
        """Click it once it can be clicked."""
        wait_for(lambda: self.run(f"document.querySelector({json.dumps(selector)})?.offsetParent != null"), selector)
        self._ask("POST", f"{self._element(selector)}/click", {})

    def write(self, selector: str, text: str) -> None:
        """Type this; into a file field, choose the file of this path."""
        self._ask("POST", f"{self._element(selector)}/value", {"text": text})

    def text(self, selector: str) -> str:
        return str(self._ask("GET", f"{self._element(selector)}/text"))

    def draw_on(self, selector: str) -> None:
        """Draw a line across it, with the button held."""
        self.run(f"document.querySelector({json.dumps(selector)}).scrollIntoView({{ block: 'center' }})")
        origin = {ELEMENT: self._element(selector).rsplit("/", 1)[1]}
        moves = [{"type": "pointerMove", "duration": 30, "origin": origin, "x": x, "y": y}
                 for x, y in ((-100, -30), (-40, 30), (20, -30), (100, 20))]  # fmt: skip
        steps = [moves[0], {"type": "pointerDown", "button": 0}, *moves[1:], {"type": "pointerUp", "button": 0}]
        self._ask("POST", f"{self._session}/actions", {"actions": [{"type": "pointer", "id": "pen", "actions": steps}]})

    def new_window(self) -> str:
        """Open a second window of the same profile; answers its name for ``turn_to``."""
        return str(self._ask("POST", f"{self._session}/window/new", {"type": "window"})["handle"])

    def windows(self) -> list[str]:
        return [str(name) for name in self._ask("GET", f"{self._session}/window/handles")]

    def turn_to(self, window: str) -> None:
        self._ask("POST", f"{self._session}/window", {"handle": window})

    def choose_site(self) -> None:
        """Choose the first of the day's sites."""
        self.click(".place")
        wait_for(lambda: self.run("location.hash") == "#scan", "the scan screen")

    def records(self) -> list[dict[str, Any]]:
        """The records of whoever holds the phone, in their order."""
        found: list[dict[str, Any]] = self.run(ALL_RECORDS)
        return found

    def all_answered(self) -> bool:
        """Whether no record waits; if one does, says that the network is back, so that the sender tries at once."""
        if all(record["state"] != "waiting" for record in self.records()):
            return True
        self.run("void window.dispatchEvent(new Event('online'))")
        return False

    def _display_number(self) -> str | None:
        found = re.search(r"^\d+$", self._display.log.read_text(), re.MULTILINE)
        return found.group() if found else None

    def _element(self, selector: str) -> str:
        found = self._ask("POST", f"{self._session}/element", {"using": "css selector", "value": selector})
        return f"{self._session}/element/{found[ELEMENT]}"

    def _ask(self, method: str, path: str, body: dict[str, Any] | None = None) -> Any:
        connection = http.client.HTTPConnection("127.0.0.1", self._port, timeout=60)
        try:
            connection.request(method, path, None if body is None else json.dumps(body))
            answer = connection.getresponse()
            value = json.loads(answer.read())["value"]
        finally:
            connection.close()
        assert answer.status == 200, f"{method} {path}: {value['error']}, {value['message']}"
        return value


def _descendants(process: int) -> list[int]:
    """The processes that this one started, and those that these started."""
    found = [int(word) for task in Path(f"/proc/{process}/task").iterdir()
             for word in (task / "children").read_text().split()]  # fmt: skip
    return [*found, *(each for child in found for each in _descendants(child))]
