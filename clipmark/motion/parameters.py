"""What the motion pass can be told, as one frozen value with a version; the numbers live in `models/pulls/`."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from clipmark.errors import ClipmarkError
from clipmark.resources import resource
from clipmark.whole import whole_file

DEFAULT = "pulls-1"


class ParametersUnreadable(ClipmarkError):
    def __init__(self, path: Path, reason: str):
        super().__init__(f"“{path}” does not hold parameters of the motion pass ({reason}). Choose another file.")
        self.path = path


@dataclass(frozen=True, slots=True)
class MotionParameters:
    """Times in seconds, lengths in abdomen lengths, angles in degrees.

    Attributes:
        version: name that every flag carries.
        least_pull: smaller posture changes are not even weighed.
        least_ratio: smallest change against the noise of its surroundings that is weighed.
        window_s: how long before and after are compared.
        flag_at: score from which a candidate is flagged.
        weights: the scorer, by feature name; `bias` is the constant.
    """

    version: str = DEFAULT
    least_pull: float = 0.012
    least_ratio: float = 3.0
    window_s: float = 0.4
    flag_at: float = 0.5
    weights: dict[str, float] = field(default_factory=dict)


def load(name: str = "") -> MotionParameters:
    """The parameters called `name` in models/pulls (the current ones when empty), or read from a path.

    Raises:
        ParametersUnreadable: no such file, or it does not hold parameters.
    """
    path = Path(name) if name.endswith(".json") else resource("models/pulls") / f"{name or DEFAULT}.json"
    try:
        document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise ParametersUnreadable(path, "missing or no JSON") from error
    known = {item.name for item in fields(MotionParameters)}
    try:
        return MotionParameters(**{key: value for key, value in document["parameters"].items() if key in known})
    except (KeyError, TypeError, AttributeError) as error:
        raise ParametersUnreadable(path, "keys are missing") from error


def write(parameters: MotionParameters, path: Path) -> None:
    """Keep parameters as a file that `load` reads.

    Raises:
        CannotWrite: the folder is missing, read-only or full.
    """
    with whole_file(path) as file:
        json.dump({"parameters": asdict(parameters)}, file, indent=1)
        file.write("\n")
