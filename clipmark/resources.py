"""Where the data that comes with clipmark lies: `models/` and `sample_media/`, in a checkout or installed."""

from __future__ import annotations

from pathlib import Path

from clipmark.errors import ClipmarkError

_INSTALLED = Path(__file__).parent / "_data"
_CHECKOUT = Path(__file__).parent.parent


class ResourceMissing(ClipmarkError):
    def __init__(self, name: str):
        super().__init__(f"clipmark's own file “{name}” is missing. Install clipmark again.")
        self.name = name


def resource(name: str) -> Path:
    """Path of a file or folder that comes with clipmark, such as `models/species`.

    Raises:
        ResourceMissing: it is in neither place.
    """
    for root in (_INSTALLED, _CHECKOUT):
        path = root / name
        if path.exists():
            return path
    raise ResourceMissing(name)
