"""The notebooks as pages without code: the same screens, on this machine only, and with nothing from a network."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest
from playwright.sync_api import expect

import fibrebook


@pytest.fixture
def pages(demo: Path, tmp_path: Path) -> Iterator[str]:
    """`fibrebook open --pages`, running; give its address, token and all."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    words = ["-r", str(demo), "open", "--pages", "--no-browser", f"--port={port}", "--folder", str(tmp_path / "pages")]
    command = "import sys; from fibrebook.cli import main; sys.exit(main())"
    process = subprocess.Popen(
        [sys.executable, "-c", command, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        env={**os.environ, "FIBREBOOK_DRAFTS": str(tmp_path / "drafts")},
    )
    try:
        assert process.stdout is not None
        lines: list[str] = []
        for line in process.stdout:
            lines.append(line)
            found = re.search(r"http://[^/\s]+/\S*token=\S+", line)
            if found:
                yield found[0].replace("localhost", "127.0.0.1")
                break
        else:
            raise AssertionError("no address was told:\n" + "".join(lines))
    finally:
        for child in [*psutil.Process(process.pid).children(recursive=True), process]:
            child.kill()
        process.wait()


def test_a_visit_is_recorded_on_a_page_without_code(lab: Any, pages: str, demo: Path) -> None:
    """No code is to be seen, nobody without the token comes in, no other machine is asked, and the save is a commit."""
    base, token = pages.split("/?token=")
    with urllib.request.urlopen(f"{base}/voila/render/record_visit.ipynb") as answer:
        assert "/login" in answer.url
    page = lab.page.context.browser.new_page(viewport={"width": 1280, "height": 720}, locale="en-GB")
    try:
        page.route(lambda url: not url.startswith((base, "data:", "blob:", "ws")), lambda r: r.abort())
        page.goto(f"{base}/voila/render/record_visit.ipynb?token={token}")
        box = page.locator(".fb-site input").first
        box.click(timeout=90_000)
        box.press_sequentially("marina")
        page.locator(".fb-site .fb-picker-option").first.wait_for()
        box.press("Enter")
        page.locator(".fb-by input").fill("CD")
        expect(page.locator(".fb-tray-grid caption")).to_contain_text("joined already", timeout=15_000)
        before = fibrebook.open(demo).commit
        page.locator(".fb-tray-grid .fb-cell-made").first.click()
        expect(page.locator(".fb-summary")).to_contain_text("1 splice new", timeout=15_000)
        page.locator(".fb-save").first.click()
        expect(page.locator(".fb-message.fb-done").first).to_contain_text(f"commit {before + 1}", timeout=15_000)
        assert fibrebook.open(demo).log()["by"].iloc[-1] == "CD"
        assert page.locator(".jp-CodeCell .jp-InputArea-editor:visible").count() == 0
    finally:
        page.close()
