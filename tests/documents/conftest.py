"""The browser, started once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.documents.browser import browser


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    with browser() as made:
        yield made
