"""Which tests may be skipped, and why: whatever setup can install is installed, so nothing else may be missing.

With `CLIPMARK_NO_SKIPS=1` (CI) a run lists what it skipped with the reason, and fails where the reason is not here.
"""

from __future__ import annotations

import os
import re
import sys

# what the skip says -> whether that can be true of this machine
MAY_BE: dict[str, bool] = {
    r"Windows lacks": not hasattr(os, "fork"),
    r"could not import 'lifelines": sys.version_info >= (3, 12),  # it asks for pandas 2; pandas 3 is run there
    r"small disk cannot be mounted": True,  # needs rights that a container may not have
    r"SQLite cannot be reached from outside": True,  # a Python may have its SQLite built in
}


def unexcused(reasons: list[str]) -> list[str]:
    """Those reasons for a skip that should not arise here, each once."""
    possible = [text for text, able in MAY_BE.items() if able]
    return sorted({reason for reason in reasons if not any(re.search(text, reason) for text in possible)})
