"""A real browser without a screen or a network, for pages as a person meets them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

SERIOUS = ("serious", "critical")


@contextmanager
def browser() -> Iterator[Browser]:
    """Chromium: the system's, or the one that Playwright has installed."""
    with sync_playwright() as engines:
        made = engines.chromium.launch(executable_path=shutil.which("chromium"))
        yield made
        made.close()


@contextmanager
def opened(of: Browser, path: Path, *, width: int = 1280, script: bool = True) -> Iterator[Page]:
    """The page opened offline; it may ask for nothing but itself, and must not complain."""
    context = of.new_context(
        offline=True, viewport={"width": width, "height": 800}, java_script_enabled=script
    )
    page = context.new_page()
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("dialog", lambda dialog: complaints.append(dialog.message))
    page.goto(path.as_uri())
    yield page
    assert asked == [path.as_uri()]
    assert complaints == []
    context.close()


def faults(page: Page) -> list[tuple[str, str, str]]:
    """Serious and critical faults that axe-core finds: rule, what it asks for, the first place."""
    found = Axe().run(page).response
    assert len(found["passes"]) > 20
    return [
        (fault["id"], fault["help"], fault["nodes"][0]["html"])
        for fault in found["violations"]
        if fault["impact"] in SERIOUS
    ]
