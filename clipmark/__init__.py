"""clipmark: review a filmed tarantula pairing frame by frame and keep what was really seen.

Imports run one way: ground (errors, timebase, progress, settings, resources) -> media -> motion -> book
-> reading -> report -> window, cli. `window` and `cli` do not know each other.
"""

__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    # for notebooks: `clipmark.read_book(path)`; pandas is only loaded when it is asked for
    if name == "read_book":
        from clipmark.report.exports.tables import read_book

        return read_book
    raise AttributeError(f"module 'clipmark' has no attribute {name!r}")
