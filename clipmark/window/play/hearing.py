"""The sound of a running film: whether it is heard, and how much of it has been."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from clipmark.window.play.sound_out import Device, QtDevice, SoundOut, can_sound

if TYPE_CHECKING:
    from clipmark.media.clip import Clip


class Hearing(QObject):
    """Signals:
    failed(text): the sound output broke off; it is muted from now on.
    """

    failed = Signal(str)

    def __init__(self, parent: QObject | None = None):
        super().__init__(parent)
        self.muted = False
        self.sounding = False
        self.sound: SoundOut | None = None
        self.make_device: Callable[[], Device] | None = None  # another output than the machine's, for tests

    @property
    def possible(self) -> bool:
        """Whether this machine has a sound output that can be used."""
        return self.make_device is not None or can_sound()

    def start(self, film: Clip, at: Fraction) -> None:
        """Let the film's sound run from `at` (seconds from its first frame), where it has any that can be heard."""
        if self.muted or film.sound is None or not self.possible:
            return
        if self.sound is None:
            self.sound = SoundOut(self)
            self.sound.failed.connect(self._failed)
        self.sound.start(film, at, self.make_device() if self.make_device is not None else QtDevice(self))
        self.sounding = True

    def stop(self) -> None:
        if self.sound is not None:
            self.sound.stop()
        self.sounding = False

    def played_s(self) -> float | None:
        """Seconds heard since the start; None: the sound is no clock (yet)."""
        return self.sound.seconds() if self.sounding and self.sound is not None else None

    def _failed(self, text: str) -> None:
        self.muted = True
        self.failed.emit(text)
