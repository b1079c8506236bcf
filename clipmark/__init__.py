"""clipmark: review a filmed tarantula pairing frame by frame and keep what was really seen.

Imports run one way: ground (errors, timebase, progress, settings, resources) -> media -> motion -> book
-> reading -> report -> window, cli. `window` and `cli` do not know each other.

For notebooks and scripts: `open_film`, `scan`, `survey`, `read_book` (docs/library.md). They are loaded when they are
asked for; the rest of the package is private.
"""

from typing import TYPE_CHECKING

__version__ = "0.3.0"

if TYPE_CHECKING:
    from clipmark.library import Film, open_film, read_book, scan, survey

__all__ = ["Film", "__version__", "open_film", "read_book", "scan", "survey"]


def __getattr__(name: str) -> object:
    if name in ("Film", "open_film", "read_book", "scan", "survey"):
        from clipmark import library

        return getattr(library, name)
    raise AttributeError(f"module 'clipmark' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
