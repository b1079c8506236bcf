"""The validation films of the scorer: candidates of films that nothing is fitted on, with their truth.

A keeper's own calls are few and leaning: mostly strong pulls, one female, one light. New weights that follow them
must not do worse on what the keeper has not filmed yet, so they are held against this table before they are taken.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from clipmark.errors import ClipmarkError
from clipmark.motion.parameters import MotionParameters
from clipmark.motion.pulls import FEATURES, NAMES, score
from clipmark.resources import resource

MORE_MISSED = 0.02  # share of the pulls that may be missed more, where at least as many false flags less come
MORE_LOSS = 0.01  # so much more log loss (natural logarithm, mean over the table) is taken as no worse


class ValidationUnreadable(ClipmarkError):
    def __init__(self, path: Path, reason: str):
        super().__init__(
            f"“{path}” does not hold the validation films that go with this version of the motion pass ({reason}), "
            "so the scorer is not fitted again. Install clipmark anew."
        )
        self.path = path


@dataclass(frozen=True, slots=True)
class Validation:
    """Candidates of the validation films, unshaped as `Flag.features` holds them, and whether each was a pull."""

    features: tuple[dict[str, float], ...]
    pulled: tuple[bool, ...]

    def stand(self, parameters: MotionParameters) -> Stand:
        """How parameters do on the table, at their own `flag_at`."""
        p = np.array([score(item, parameters) for item in self.features])
        y = np.array(self.pulled, bool)
        sure = np.clip(np.where(y, p, 1 - p), 1e-6, 1.0)
        flagged = p >= parameters.flag_at
        return Stand(int(y.sum()), int((y & flagged).sum()), int((~y & flagged).sum()), float(-np.log(sure).mean()))


@dataclass(frozen=True, slots=True)
class Stand:
    """Of `pulls` pulls `found` would be flagged, and `false` others; `loss` is the mean log loss of the truth."""

    pulls: int
    found: int
    false: int
    loss: float

    def worse_than(self, old: Stand) -> str:
        """What is worse, a short phrase; empty where nothing is. Wrong flags and missed pulls together never grow; a
        pull or two may be paid for by as many false flags less (MORE_MISSED), and log loss may grow by MORE_LOSS."""
        missed = old.found - self.found
        if missed > min(MORE_MISSED * self.pulls, old.false - self.false) and missed > 0:
            return f"{missed} more of {self.pulls} pulls would be missed"
        if self.false > old.false:
            return f"{self.false - old.false} more false flags would come"
        if self.loss > old.loss + MORE_LOSS:
            return f"the scores would mean less (log loss {self.loss:.3f} instead of {old.loss:.3f})"
        return ""


def load_validation(path: Path | None = None) -> Validation:
    """The validation table that comes with clipmark, or one from a path.

    Raises:
        ValidationUnreadable: no such file, or it was made for other measures.
    """
    path = path or resource("models/pulls") / "validation.json"
    if not path.exists() and path.with_name("guard.json").exists():
        path = path.with_name("guard.json")  # its former name
    try:
        document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        made_for, names, rows = document["features"], document["names"], document["rows"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ValidationUnreadable(path, "missing or no table") from error
    if made_for != FEATURES or tuple(names) != NAMES:
        raise ValidationUnreadable(path, f"made for measures {made_for}, these are {FEATURES}")
    features = tuple(dict(zip(names, row[2:], strict=True)) for row in rows)
    return Validation(features, tuple(bool(row[1]) for row in rows))


def validation_document(
    films: Sequence[str], features: Sequence[Mapping[str, float]], pulled: Sequence[bool], made_from: str
) -> str:
    """The table as text that `load_validation` reads, one candidate a line; `made_from`: digest of the sources."""
    rows = [
        json.dumps([film, int(yes), *(float(f"{item.get(name, 0.0):.5g}") for name in NAMES)])
        for film, item, yes in zip(films, features, pulled, strict=True)
    ]
    head = {"format": "clipmark-guard/1", "features": FEATURES, "made_from": made_from}
    head_text = json.dumps(head)[:-1]
    return f'{head_text}, "names": {json.dumps(NAMES)},\n"rows": [\n' + ",\n".join(rows) + "\n]}\n"
