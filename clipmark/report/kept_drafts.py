"""Drafts kept between runs: the proposals of a film that are still open, by the film's fingerprint.

A proposal that was taken or taken off is not kept. What is kept can always be drafted afresh.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from clipmark import settings
from clipmark.atomic_files import atomic_file
from clipmark.draft.values import ACTS, Proposal, SignSeen
from clipmark.errors import ClipmarkError
from clipmark.media.clip import Clip
from clipmark.report.draft_file import draft_document

VERSION = 1  # raised when a draft is kept differently


def keep_draft(clip: Clip, proposals: Sequence[Proposal]) -> None:
    """Keep what is open of a film's draft; a folder that cannot be written costs the next start only."""
    place = _place(clip.fingerprint)
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with atomic_file(place) as file:
            json.dump(draft_document(clip, proposals), file)
    except (OSError, ClipmarkError):
        return


def kept_draft(fingerprint: str) -> list[Proposal] | None:
    """What was kept of a film's draft, in order of time; None where nothing usable is."""
    try:
        document = json.loads(_place(fingerprint).read_text(encoding="utf-8"))
        if document["clip"]["fingerprint"] != fingerprint:
            return None
        return [_proposal(one) for one in document["proposals"] if one["act"] in ACTS]
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return None


def _proposal(told: dict[str, Any]) -> Proposal:
    end = told["end_s"]
    signs = tuple(_sign(one) for one in told.get("signs", ()))
    return Proposal(
        str(told["act"]), str(told["actor"]), float(told["start_s"]), None if end is None else float(end),
        float(told["probability"]), str(told["because"]), signs,
    )  # fmt: skip


def _sign(told: dict[str, Any]) -> SignSeen:
    seen, figure = told["seen"], told["figure"]
    return SignSeen(
        str(told["sign"]), None if seen is None else bool(seen), None if figure is None else float(figure),
        str(told["unit"]), str(told["because"]),
    )  # fmt: skip


def _place(fingerprint: str) -> Path:
    return settings.cache_dir() / "draft" / f"{fingerprint}-{VERSION}.json"
