"""Sound to the loudspeaker, and where it is: the master clock at 1x. (First version: says that there is none.)"""

from __future__ import annotations


class SoundOut:
    def seconds(self) -> float | None:
        """Seconds heard since the start; None while nothing runs."""
        return None
