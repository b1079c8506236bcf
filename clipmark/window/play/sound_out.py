"""Sound to the loudspeaker, and how far it was heard: the master clock while the film runs at 1x.

A thread decodes ahead into a short queue; a timer pushes what the device takes. What was heard is what was given to
the device less what still waits in its buffer. If the window is held up the device runs dry, and the clock stands.
"""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from fractions import Fraction
from typing import TYPE_CHECKING, Protocol

from PySide6.QtCore import QIODevice, QObject, QTimer, Signal

from clipmark.errors import ClipmarkError

if TYPE_CHECKING:
    from clipmark.media.clip import Clip

BUFFER_S = 0.12
_PUSH_MS = 8
_AHEAD = 40  # pieces decoded ahead, some 20 ms each
_RATE = 48_000


class Device(Protocol):
    """What is needed of an audio sink: 16-bit mono at `rate`."""

    rate: int

    def free(self) -> int:
        """Bytes that it takes now."""

    def size(self) -> int:
        """Bytes of its buffer."""

    def write(self, data: bytes) -> None: ...

    def close(self) -> None: ...


class QtDevice:
    """The default output of this machine."""

    def __init__(self, parent: QObject):
        from PySide6.QtMultimedia import QAudioFormat, QAudioSink, QMediaDevices

        shape = QAudioFormat()
        shape.setSampleRate(_RATE)
        shape.setChannelCount(1)
        shape.setSampleFormat(QAudioFormat.SampleFormat.Int16)
        self.rate = _RATE
        self._sink = QAudioSink(QMediaDevices.defaultAudioOutput(), shape, parent)
        self._sink.setBufferSize(int(BUFFER_S * _RATE) * 2)
        self._line: QIODevice = self._sink.start()

    def free(self) -> int:
        return int(self._sink.bytesFree())

    def size(self) -> int:
        return int(self._sink.bufferSize())

    def write(self, data: bytes) -> None:
        self._line.write(data)

    def close(self) -> None:
        self._sink.stop()
        self._sink.deleteLater()


def can_sound() -> bool:
    """Whether this machine has a sound output that Qt can use."""
    try:
        from PySide6.QtMultimedia import QMediaDevices
    except ImportError:
        return False
    return not QMediaDevices.defaultAudioOutput().isNull()


class SoundOut(QObject):
    """Signals: failed(str): the sound cannot be decoded; the film runs on without it."""

    failed = Signal(str)

    def __init__(self, parent: QObject | None = None):
        super().__init__(parent)
        self._device: Device | None = None
        self._pieces: queue.Queue[bytes | None] = queue.Queue(_AHEAD)
        self._stop = threading.Event()
        self._waiting = b""
        self._given = 0
        self._last: tuple[int, float] = (0, 0.0)
        self._timer = QTimer(self)
        self._timer.setInterval(_PUSH_MS)
        self._timer.timeout.connect(self.push)

    def start(self, clip: Clip, at: Fraction, device: Device) -> None:
        """Begin with the sound of `at`, seconds from the clip's first frame."""
        self.stop()
        self._device, self._waiting, self._given, self._last = device, b"", 0, (0, 0.0)
        self._stop, self._pieces = threading.Event(), queue.Queue(_AHEAD)
        thread = threading.Thread(
            target=_decode, args=(clip, at, device.rate, self._pieces, self._stop, self.failed), daemon=True
        )
        thread.start()
        self._timer.start()

    def stop(self) -> None:
        self._timer.stop()
        self._stop.set()
        if self._device is not None:
            self._device.close()
            self._device = None

    def push(self) -> None:
        """Give the device what it takes."""
        device = self._device
        if device is None:
            return
        room = device.free() & ~1
        while room > 0:
            if not self._waiting:
                try:
                    piece = self._pieces.get_nowait()
                except queue.Empty:
                    return
                if piece is None:
                    return
                self._waiting = piece
            part, self._waiting = self._waiting[:room], self._waiting[room:]
            device.write(part)
            self._given += len(part)
            room -= len(part)

    def seconds(self) -> float | None:
        """Seconds heard since the start; None while nothing runs.

        Devices tell of what they took in steps; between two the time since the last is added, at most 20 ms."""
        device = self._device
        if device is None:
            return None
        now, heard = time.perf_counter(), max(self._given - (device.size() - device.free()), 0)
        if heard != self._last[0]:
            self._last = (heard, now)
        since = min(now - self._last[1], 0.02) if heard and self._given > heard else 0.0
        return min(heard / 2 / device.rate + since, self._given / 2 / device.rate)


def _decode(
    clip: Clip, at: Fraction, rate: int, pieces: queue.Queue[bytes | None], stop: threading.Event, failed: object
) -> None:
    from clipmark.media.sound.stream import sound_from

    def put(piece: bytes | None) -> None:
        while not stop.is_set():
            with contextlib.suppress(queue.Full):
                pieces.put(piece, timeout=0.1)
                return

    try:
        for samples in sound_from(clip, at, rate):
            put(samples.tobytes())
            if stop.is_set():
                return
    except ClipmarkError as error:
        failed.emit(str(error))  # type: ignore[attr-defined]
    put(None)
