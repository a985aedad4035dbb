"""Headless Chromium, opened on a report and listened to."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from report.sample import picture_bytes

from reviewbot.report.page import to_html
from reviewbot.report.report import Report

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-angle=swiftshader",  # WebGL without a graphics card
    "--enable-unsafe-swiftshader",
]


@contextmanager
def launched() -> Iterator[Browser]:
    """A running browser; skips the test where there is none."""
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("chromium is not on this machine, so the page is not opened")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=FLAGS)
        yield browser
        browser.close()


def write_page(report: Report, path: Path) -> Path:
    path.write_text(to_html(report, picture_bytes(report)), encoding="utf-8")
    return path


class Opened:
    """A page that keeps what went wrong: messages, errors, dialogs, requests to anywhere."""

    def __init__(self, browser: Browser, path: Path, **context: object) -> None:
        self.context = browser.new_context(**context)
        self.page: Page = self.context.new_page()
        self.troubles: list[str] = []
        self.page.on("console", lambda message: self.troubles.append(message.text))
        self.page.on("pageerror", lambda error: self.troubles.append(str(error)))
        self.page.on("request", self._request)
        self.page.on("dialog", self._dialog)
        self.page.goto(path.as_uri())

    def _request(self, request) -> None:
        if not request.url.startswith(("file:", "data:")):
            self.troubles.append(request.url)

    def _dialog(self, dialog) -> None:
        self.troubles.append(dialog.message)
        dialog.dismiss()


def unfold(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach((node) => (node.open = true))")
