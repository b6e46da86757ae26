"""The one stamp of a workbook: when it was written."""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import UTC, datetime


def written() -> datetime:
    """Now, or the time that ``SOURCE_DATE_EPOCH`` fixes, in seconds since 1970 (reproducible-builds.org)."""
    at = datetime.now(UTC)
    with suppress(KeyError, ValueError, OverflowError, OSError):  # not fixed, or at no time of the calendar
        at = datetime.fromtimestamp(int(os.environ["SOURCE_DATE_EPOCH"]), UTC)
    return at.replace(tzinfo=None)
