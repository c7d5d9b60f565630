"""JupyterLab for tests: a server of its own in a folder of its own, and a browser that opens notebooks in it."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

BROWSERS = ("chromium", "chromium-browser")
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage")
START_SECONDS = 60.0

SETTINGS = {
    "@jupyterlab/apputils-extension/notification": '{"fetchNews": "false", "checkForUpdates": false}',
    "@jupyterlab/notebook-extension/tracker": '{"windowingMode": "none"}',
}
"""No question about news over the page, and all cells there, also those that are scrolled away."""


@dataclass(frozen=True)
class Lab:
    """A running server."""

    address: str
    token: str
    folder: Path

    def url(self, notebook: str) -> str:
        return f"{self.address}/lab/tree/{notebook}?token={self.token}"


@contextlib.contextmanager
def running_lab(folder: Path, home: Path) -> Iterator[Lab]:
    """Start JupyterLab in a folder; what it remembers goes into a home that is thrown away."""
    for name, text in SETTINGS.items():
        place = home / "settings" / f"{name}.jupyterlab-settings"
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text, encoding="utf-8")
    port, token = _free_port(), secrets.token_hex(16)
    options = [
        "--no-browser", "--ip=127.0.0.1", f"--port={port}", "--ServerApp.port_retries=0",
        f"--IdentityProvider.token={token}", f"--ServerApp.root_dir={folder}", "--LabApp.news_url=None",
        *(["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
    ]  # fmt: skip
    places = {"CONFIG_DIR": "config", "RUNTIME_DIR": "runtime", "DATA_DIR": "data"}
    environment = os.environ | {f"JUPYTER_{name}": str(home / part) for name, part in places.items()}
    environment |= {
        "JUPYTERLAB_SETTINGS_DIR": str(home / "settings"),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "ws"),
    }
    with (home / "server.txt").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", *options],
            stdout=log, stderr=subprocess.STDOUT, env=environment, cwd=folder,
        )  # fmt: skip
        try:
            lab = Lab(f"http://127.0.0.1:{port}", token, folder)
            _wait_for(lab, server, home / "server.txt")
            yield lab
        finally:
            server.terminate()
            try:
                server.wait(timeout=15.0)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


@contextlib.contextmanager
def browser() -> Iterator[Any]:
    """Start the distribution's Chromium."""
    from playwright.sync_api import sync_playwright

    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        pytest.fail("These tests need Chromium: install it with  apt-get install chromium")
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=found, args=list(FLAGS))
        try:
            yield chromium
        finally:
            chromium.close()


def run_all(page: Any) -> None:
    """Run all cells of the notebook that is open, and wait until the kernel has nothing left to do."""
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=60_000)
    page.locator("#jp-main-statusbar").get_by_text("| Idle").wait_for(timeout=60_000)
    page.locator(".lm-MenuBar-item", has_text="Run").first.click()
    page.locator('.lm-Menu-item[data-command="runmenu:run-all"]').click()
    # asked when the notebook does not know its kernel yet
    choice = page.locator(".jp-Dialog-button", has_text="Select")
    with contextlib.suppress(_timeout()):
        choice.first.click(timeout=2_000)
    last = page.locator(".jp-CodeCell").last.locator(".jp-OutputArea-output")
    wrong = page.locator('.jp-OutputArea-output[data-mime-type="application/vnd.jupyter.error"]')
    last.or_(wrong).first.wait_for(timeout=240_000)
    if wrong.count():
        pytest.fail(f"A cell went wrong: {wrong.first.inner_text()}")
    page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]', timeout=60_000)


def _timeout() -> type[Exception]:
    """Tell what playwright raises when something does not come up."""
    from playwright.sync_api import TimeoutError as NotThere

    return NotThere


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_for(lab: Lab, server: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end:
        if server.poll() is not None:
            pytest.fail(f"JupyterLab stopped: {log.read_text()[-2000:]}")
        with contextlib.suppress(urllib.error.URLError, ConnectionError, TimeoutError):
            urllib.request.urlopen(f"{lab.address}/api/status?token={lab.token}", timeout=2.0).close()
            return
        time.sleep(0.2)
    pytest.fail(f"JupyterLab did not start: {log.read_text()[-2000:]}")
