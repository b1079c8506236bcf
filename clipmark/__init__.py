"""clipmark: review a filmed tarantula pairing frame by frame and keep what was really seen.

Imports run one way: ground (errors, timebase, progress, settings, resources) -> media -> motion -> book
-> reading -> report -> window, cli. `window` and `cli` do not know each other.
"""

__version__ = "0.1.0"
