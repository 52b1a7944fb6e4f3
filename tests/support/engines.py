"""WebKit and Gecko for tests: the systems' own builds, driven by W3C WebDriver's commands.

Playwright drives only builds of its own of these two, which come from no package of a Linux system.
WebKit: WebKitWebDriver with its MiniBrowser (Debian: webkit2gtk-driver), on a display (xvfb). Gecko: Firefox,
by the port on which it takes the same commands itself (Marionette; Debian: firefox-esr).
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import signal
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any

from tests.support.server import LAN_NAME

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
START_S = 60
STARTS = 3
ANSWER_S = 25
WAIT_S = 30
MINI_BROWSERS = "/usr/lib/*/webkit*gtk-4.*/MiniBrowser"
OVER_HTTP = {
    "Navigate": ("POST", "url"),
    "ExecuteScript": ("POST", "execute/sync"),
    "FindElement": ("POST", "element"),
    "ElementClick": ("POST", "element/{id}/click"),
    "ElementSendKeys": ("POST", "element/{id}/value"),
    "AddCookie": ("POST", "cookie"),
    "SetWindowRect": ("POST", "window/rect"),
    "TakeScreenshot": ("GET", "screenshot"),
}

Do = Callable[[str, dict[str, Any]], Any]
"""Carries out one of WebDriver's commands and returns its value."""


class Window:
    """One window of a browser."""

    def __init__(self, do: Do, version: str) -> None:
        self.do = do
        self.version = version

    def open(self, url: str) -> None:
        """Go to an address and wait until it is loaded."""
        self.do("Navigate", {"url": url})

    def add_cookie(self, name: str, value: str) -> None:
        """Give the page's own site a cookie."""
        self.do("AddCookie", {"cookie": {"name": name, "value": value, "path": "/"}})

    def run(self, script: str, *arguments: Any) -> Any:
        """Run a script's body in the page and return what it returns."""
        return self.do("ExecuteScript", {"script": script, "args": list(arguments)})

    def wait_for(self, said: str, script: str, *arguments: Any) -> Any:
        """Wait until a script returns something true, and return it; `said` is what was waited for."""
        end = time.monotonic() + WAIT_S
        while True:
            try:
                if found := self.run(script, *arguments):
                    return found
            except CommandError:
                pass  # a page that is just moving on
            if time.monotonic() > end:
                raise AssertionError(f"{said}: {self.run('return location.href + document.body.innerText')}")
            time.sleep(0.05)

    def wait_for_words(self, words: str, selector: str = "body") -> None:
        """Wait until an element shows these words."""
        script = "return document.querySelector(arguments[0])?.innerText.includes(arguments[1])"
        self.wait_for(f"no {words!r} in {selector}", script, selector, words)

    def click(self, selector: str) -> None:
        """Click an element in its middle, as a pointer does."""
        self.do("ElementClick", {"id": self._find(selector)})

    def press(self, words: str) -> None:
        """Click the button, link or label that says these words."""
        script = """
            const shown = [...document.querySelectorAll("main button, main a, main label, main summary")];
            document.querySelectorAll("[data-test-pressed]").forEach((one) => delete one.dataset.testPressed);
            const one = shown.find((one) => one.innerText.trim().includes(arguments[0]) && one.offsetParent);
            if (one) one.dataset.testPressed = "yes";
            return Boolean(one);"""
        self.wait_for(f"no {words!r} to press", script, words)
        self.click("[data-test-pressed]")

    def type(self, selector: str, text: str) -> None:
        """Type into a field, key by key."""
        self.do("ElementSendKeys", {"id": self._find(selector), "text": text})

    def resize(self, width: int, height: int) -> None:
        """Give the page's own area this size in CSS pixels."""
        for _turn in range(2):
            inner = self.run("return [innerWidth, innerHeight, outerWidth, outerHeight]")
            size = {"width": width + inner[2] - inner[0], "height": height + inner[3] - inner[1]}
            self.do("SetWindowRect", size)
            time.sleep(0.2)

    def picture(self, path: Path) -> None:
        """Save what the window shows as a PNG."""
        path.write_bytes(base64.b64decode(self.do("TakeScreenshot", {})))

    def _find(self, selector: str) -> str:
        script = "return document.querySelector(arguments[0])"
        self.wait_for(f"no {selector}", script, selector)
        found = self.do("FindElement", {"using": "css selector", "value": selector})
        return str(found[ELEMENT])


class CommandError(Exception):
    """A command that the browser refused."""


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def missing_for(engine: str) -> str:
    """Return what this machine lacks for an engine: "" where nothing is."""
    if engine == "gecko":
        return "" if _firefox() else "no Firefox (Debian: firefox-esr)"
    if not shutil.which("WebKitWebDriver") or not _mini_browser():
        return "no WebKitWebDriver with its MiniBrowser (Debian: webkit2gtk-driver)"
    return "" if shutil.which("Xvfb") else "no Xvfb, which gives WebKit a display (Debian: xvfb)"


def _firefox() -> str | None:
    return shutil.which("firefox-esr") or shutil.which("firefox")


def _mini_browser() -> str | None:
    found = sorted(Path("/").glob(MINI_BROWSERS.lstrip("/")))
    return str(found[0]) if found else None


@contextmanager
def window_of(engine: str, folder: Path, server_port: int) -> Iterator[Window]:
    """Start a browser with a profile in `folder`; it finds the served site by `LAN_NAME`, too."""
    with _webkit(folder, server_port) if engine == "webkit" else _gecko(folder) as window:
        yield window


# --- WebKit -------------------------------------------------------------------------------------------------


@contextmanager
def _webkit(folder: Path, server_port: int) -> Iterator[Window]:
    wanted = {
        "browserName": "MiniBrowser",
        "webkitgtk:browserOptions": {"binary": _mini_browser(), "args": ["--automation"]},
        # By way of this "proxy" a name leads to the served site that no name server knows.
        "proxy": {"proxyType": "manual", "httpProxy": f"127.0.0.1:{server_port}", "noProxy": ["127.0.0.1"]},
    }
    for attempt in range(1, STARTS + 1):
        with ExitStack() as stack:
            base = stack.enter_context(_webkit_driver(folder))
            try:
                made = _when_up(
                    lambda base=base: _http("POST", base, {"capabilities": {"alwaysMatch": wanted}})
                )
            except TimeoutError:
                # Now and then the browser hangs before its first window; another start does not.
                if attempt == STARTS:
                    raise
                continue
            session = f"{base}/{made['sessionId']}"

            def do(command: str, given: dict[str, Any], session: str = session) -> Any:
                method, path = OVER_HTTP[command]
                return _http(method, f"{session}/{path.format(**given)}", given)

            yield Window(do, f"WebKit {made['capabilities']['browserVersion']}")
            return


@contextmanager
def _webkit_driver(folder: Path) -> Iterator[str]:
    port = _free_port()
    with _display() as display:
        environ = os.environ | {
            "DISPLAY": display,
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "LIBGL_ALWAYS_SOFTWARE": "1",
            "NO_AT_BRIDGE": "1",
        }
        driver = subprocess.Popen(
            ["WebKitWebDriver", f"--port={port}"],
            env=environ,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        try:
            yield f"http://127.0.0.1:{port}/session"
        finally:
            _end(driver)


@contextmanager
def _display() -> Iterator[str]:
    reads, writes = os.pipe()
    screen = ["-screen", "0", "1400x1400x24", "-nolisten", "tcp"]
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writes), *screen], pass_fds=[writes], stderr=subprocess.DEVNULL
    )
    os.close(writes)
    try:
        with os.fdopen(reads) as told:
            yield f":{told.readline().strip()}"
    finally:
        _end(server)


def _http(method: str, url: str, given: dict[str, Any]) -> Any:
    body = json.dumps(given).encode() if method == "POST" else None
    request = urllib.request.Request(url, body, {"Content-Type": "application/json"}, method=method)  # noqa: S310
    try:
        with urllib.request.urlopen(request, timeout=ANSWER_S) as answer:  # noqa: S310
            return json.load(answer)["value"]
    except urllib.error.HTTPError as error:
        raise CommandError(error.read().decode("utf-8", "replace")[:500]) from None


# --- Gecko --------------------------------------------------------------------------------------------------


@contextmanager
def _gecko(folder: Path) -> Iterator[Window]:
    port = _free_port()
    preferences = {
        "marionette.port": port,
        "network.dns.localDomains": LAN_NAME,
        "browser.shell.checkDefaultBrowser": False,
        "datareporting.policy.dataSubmissionEnabled": False,
        "app.update.enabled": False,
        "network.captive-portal-service.enabled": False,
        "network.connectivity-service.enabled": False,
        "browser.newtabpage.enabled": False,
        "browser.safebrowsing.downloads.remote.enabled": False,
        "services.settings.server": "http://127.0.0.1:9",
        "media.gmp-manager.url": "http://127.0.0.1:9",
        "extensions.systemAddon.update.enabled": False,
    }
    lines = (f"user_pref({json.dumps(name)}, {json.dumps(value)});\n" for name, value in preferences.items())
    (folder / "user.js").write_text("".join(lines))
    command = [str(_firefox()), "--headless", "--marionette", "--no-remote", "--profile", str(folder)]
    browser = subprocess.Popen(
        command,
        env=os.environ | {"HOME": str(folder), "MOZ_CRASHREPORTER_DISABLE": "1"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        wire = _when_up(lambda: _Marionette(port))
        made = wire.ask("WebDriver:NewSession", {"capabilities": {"alwaysMatch": {}}})

        def do(command: str, given: dict[str, Any]) -> Any:
            value = wire.ask(f"WebDriver:{command}", given)
            return value["value"] if set(value or ()) == {"value"} else value

        yield Window(do, f"Firefox {made['capabilities']['browserVersion']}")
    finally:
        _end(browser)


class _Marionette:
    """The wire: each message is its length, a colon, a JSON list (kind, number, name or error, values)."""

    def __init__(self, port: int) -> None:
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=60)
        self.file = self.socket.makefile("rb")
        self.number = 0
        self._read()

    def ask(self, name: str, values: dict[str, Any]) -> Any:
        self.number += 1
        message = json.dumps([0, self.number, name, values]).encode()
        self.socket.sendall(f"{len(message)}:".encode() + message)
        _kind, _number, error, value = self._read()
        if error:
            raise CommandError(f"{name}: {error['message']}")
        return value

    def _read(self) -> Any:
        length = b""
        while (one := self.file.read(1)) != b":":
            if not one:
                raise ConnectionError("Firefox went away.")
            length += one
        return json.loads(self.file.read(int(length)))


# --- both ---------------------------------------------------------------------------------------------------


def _when_up(reach: Callable[[], Any]) -> Any:
    """Return what `reach` gives as soon as somebody answers there."""
    end = time.monotonic() + START_S
    while True:
        try:
            return reach()
        except (ConnectionError, urllib.error.URLError):
            if time.monotonic() > end:
                raise
            time.sleep(0.1)


def _end(process: subprocess.Popen[Any]) -> None:
    """End a program and, where it leads a group of its own, whatever it started."""
    process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(10)
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
