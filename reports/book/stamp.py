"""The one stamp of a workbook: when it was written."""

from __future__ import annotations

import os
from datetime import UTC, datetime


def written() -> datetime:
    """Now, or the time that ``SOURCE_DATE_EPOCH`` fixes, in seconds since 1970 (reproducible-builds.org)."""
    fixed = os.environ.get("SOURCE_DATE_EPOCH", "")
    at = datetime.fromtimestamp(int(fixed), UTC) if fixed.isdecimal() else datetime.now(UTC)
    return at.replace(tzinfo=None)
