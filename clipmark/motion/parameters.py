"""What the motion pass can be told, as one frozen value with a version; the numbers live in `models/pulls/`."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from clipmark.atomic_files import atomic_file
from clipmark.errors import ClipmarkError
from clipmark.resources import resource

DEFAULT = "pulls-2"


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
    except (OSError, ValueError, RecursionError) as error:
        raise ParametersUnreadable(path, "missing or no JSON") from error
    known = {item.name for item in fields(MotionParameters)}
    try:
        told = {key: value for key, value in document["parameters"].items() if key in known}
    except (KeyError, TypeError, AttributeError) as error:
        raise ParametersUnreadable(path, "keys are missing") from error
    for key, value in told.items():
        if not _will_do(key, value):
            raise ParametersUnreadable(path, f"“{key}” is not what it should be")
    return MotionParameters(**told)


# what each number lies between, in the units of MotionParameters: wide, only nonsense falls outside
_BOUNDS = {"least_pull": (0.0, 100.0), "least_ratio": (0.0, 1e6), "window_s": (0.01, 60.0), "flag_at": (0.0, 1.0)}


def _will_do(key: str, value: Any) -> bool:
    if key == "version":
        return isinstance(value, str)
    if key == "weights":
        return isinstance(value, dict) and all(_is_number(weight, -1e9, 1e9) for weight in value.values())
    return _is_number(value, *_BOUNDS[key])


def _is_number(value: Any, low: float, high: float) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high


def write(parameters: MotionParameters, path: Path) -> None:
    """Keep parameters as a file that `load` reads.

    Raises:
        CannotWrite: the folder is missing, read-only or full.
    """
    with atomic_file(path) as file:
        json.dump({"parameters": asdict(parameters)}, file, indent=1)
        file.write("\n")
