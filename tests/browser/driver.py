"""A headless Chromium spoken to over plain HTTP (W3C WebDriver), nothing but the standard library."""

import contextlib
import json
import shutil
import socket
import subprocess
import tempfile
import time
import urllib.error
import urllib.request

ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-dev-shm-usage", "--hide-scrollbars",
]

NEEDED = {"chromium": "chromium", "chromedriver": "chromium-driver"}
"""Programs and the Debian packages that have them."""


def missing():
    """Return the Debian packages that have to be installed."""
    return [package for program, package in NEEDED.items() if shutil.which(program) is None]


class Browser:
    """One browser with one window."""

    def __init__(self, address, session):
        self._address, self._session = address, session

    def ask(self, method, path, body=None):
        """Return the value that the driver answers."""
        return _ask(self._address, method, f"/session/{self._session}{path}", body)

    def devtools(self, command, **parameters):
        """Return what a DevTools command answers."""
        return self.ask("POST", "/goog/cdp/execute", {"cmd": command, "params": parameters})

    def open(self, path, width):
        """Load a file at a window width in CSS pixels; wait until it is there."""
        self.devtools("Emulation.setDeviceMetricsOverride", width=width, height=900,
                      deviceScaleFactor=1, mobile=False)
        self.ask("POST", "/url", {"url": f"file://{path}"})

    def run(self, script, *arguments):
        """Return what a JavaScript function body returns."""
        return self.ask("POST", "/execute/sync", {"script": script, "args": list(arguments)})

    def console(self):
        """Return messages of the console since the last call."""
        return self.ask("POST", "/se/log", {"type": "browser"})

    def print(self):
        """Return the page as PDF, base64: on the paper that it asks for, else on A4."""
        return self.devtools("Page.printToPDF", paperWidth=21.0 / 2.54, paperHeight=29.7 / 2.54,
                             preferCSSPageSize=True, printBackground=True)["data"]


@contextlib.contextmanager
def browser():
    """Yield a Browser with an empty profile; its processes end with it."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    profile = tempfile.mkdtemp(prefix="chain-browser-")
    driver = subprocess.Popen(["chromedriver", f"--port={port}"], stdout=subprocess.DEVNULL,
                              stderr=subprocess.DEVNULL)
    try:
        _wait(address)
        session = _ask(address, "POST", "/session", {"capabilities": {"alwaysMatch": {
            "goog:chromeOptions": {"args": [*ARGUMENTS, f"--user-data-dir={profile}"]},
            "goog:loggingPrefs": {"browser": "ALL"},
        }}})["sessionId"]
        yield Browser(address, session)
        _ask(address, "DELETE", f"/session/{session}")
    finally:
        driver.terminate()
        driver.wait()
        shutil.rmtree(profile, ignore_errors=True)


def _wait(address, seconds=30):
    for _ in range(seconds * 10):
        with contextlib.suppress(urllib.error.URLError, OSError):
            if _ask(address, "GET", "/status")["ready"]:
                return
        time.sleep(0.1)
    raise RuntimeError("chromedriver does not answer")


def _ask(address, method, path, body=None):
    request = urllib.request.Request(
        address + path, method=method, headers={"Content-Type": "application/json"},
        data=None if body is None else json.dumps(body).encode(),
    )
    try:
        with urllib.request.urlopen(request, timeout=120) as answer:
            return json.load(answer)["value"]
    except urllib.error.HTTPError as error:
        raise RuntimeError(f"{path}: {error.read().decode(errors='replace')[:500]}") from error
