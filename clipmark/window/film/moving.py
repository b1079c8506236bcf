"""Where in the session's film anything moves: surveyed beside the window, from packet sizes, then from pictures.

It rests while the keeper steps.
"""

from __future__ import annotations

import time
from fractions import Fraction
from functools import partial

from PySide6.QtCore import QObject, Signal

from clipmark.media.clip import Clip
from clipmark.progress import Progress
from clipmark.report.kept_surveys import KeptSurvey, rough_survey, whole_survey
from clipmark.review.moving_lanes import MovingLane
from clipmark.window.workspace import Workspace

RESTS_S = 0.4  # so long after the keeper moved in the film the survey waits
_PATIENCE_S = 0.05  # between two looks whether it may go on
_AT_MOST_S = 20.0  # it waits no longer than that in all: a film that plays is no reason to wait for ever
BRIDGE = 1.0  # seconds of stillness that skipping does not skip


class Moving(QObject):
    """The surveys of the session's clips. Signals: changed()."""

    changed = Signal()

    def __init__(self, workspace: Workspace, parent: QObject | None = None):
        super().__init__(parent)
        self.workspace = workspace
        self._known: dict[str, KeptSurvey | None] = {}
        self._turn = _Turn()
        workspace.sessionChanged.connect(self.changed)

    def frame_shown(self, clip_id: int, number: int, exact: bool) -> None:
        """The keeper moved in the film: the survey lets that go before."""
        self._turn.taken()

    def look(self, clip_id: int) -> None:
        """Survey a clip whose film is open, unless that was begun before."""
        film = self.workspace.film(clip_id)
        if film is None or film.fingerprint in self._known:
            return
        self._known[film.fingerprint] = None
        self.workspace.tasks.run(
            self.tr("Reading packet sizes of {0}").format(film.path.name),
            partial(_rough, film),
            partial(self._take, film.fingerprint),
            lambda error: None,
        )
        self.workspace.tasks.run(
            self.tr("Looking where anything moves in {0}").format(film.path.name),
            partial(_whole, film, self._turn),
            partial(self._take, film.fingerprint),
            lambda error: self.workspace.say(str(error), "note"),
        )

    def _take(self, fingerprint: str, found: KeptSurvey) -> None:
        before = self._known.get(fingerprint)
        if before is None or before.rests_on == "packets":
            self._known[fingerprint] = found
            self.changed.emit()

    def survey(self, clip_id: int) -> KeptSurvey | None:
        """What is known of a clip now."""
        film = self.workspace.film(clip_id)
        return self._known.get(film.fingerprint) if film else None

    def lanes(self) -> tuple[MovingLane, ...]:
        """How much moves, for each clip of which that is known."""
        record = self.workspace.record
        found = []
        for clip in record.clips if record else ():
            known = self.survey(clip.id)
            if known is not None:
                rough = known.rests_on == "packets"
                found.append(MovingLane(clip.id, float(clip.offset), known.lane, rough, known.notes))
        return tuple(found)

    def stretches(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """(start, end) on the session clock of all that moves, in order, overlapping ones of two cameras joined."""
        record = self.workspace.record
        spans: list[tuple[Fraction, Fraction]] = []
        for clip in record.clips if record else ():
            known = self.survey(clip.id)
            for start, end in known.moving if known is not None else ():
                spans.append((clip.offset + _exact(start), clip.offset + _exact(end)))
        joined: list[tuple[Fraction, Fraction]] = []
        for begins, ends in sorted(spans):
            if joined and begins <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(joined[-1][1], ends))
            else:
                joined.append((begins, ends))
        return tuple(joined)

    def neighbour(self, place: Fraction, way: int) -> Fraction | None:
        """Where the next stretch begins (way +1), or the one before (-1)."""
        starts = [start for start, _ in self.stretches()]
        near = Fraction(1, 10)  # the frame that a stretch begins with is on the screen a little before or after it
        if way > 0:
            return next((start for start in starts if start > place + near), None)
        return next((start for start in reversed(starts) if start < place - near), None)

    def skipped_to(self, place: Fraction) -> Fraction | None:
        """Where a film that skips what is still goes on from a place; None: it runs on here. Before anything is
        surveyed, and after the last stretch, nothing is skipped."""
        clip = self.workspace.clip
        known = self.survey(clip.id) if clip else None
        if known is None or not known.tells:
            return None
        bridge = _exact(BRIDGE)
        for start, end in self.stretches():
            if place < start - bridge:
                return start - bridge / 2
            if place <= end + bridge / 2:
                return None
        return None


def _rough(film: Clip, progress: Progress) -> KeptSurvey:
    """For a background task."""
    return rough_survey(film)


def _whole(film: Clip, turn: _Turn, progress: Progress) -> KeptSurvey:
    """For a background task; one thread, so that stepping stays quick."""
    return whole_survey(film, _Patient(progress, turn), threads=1)


class _Turn:
    """When the keeper last moved in the film; read by another thread."""

    def __init__(self) -> None:
        self._last = 0.0

    def taken(self) -> None:
        self._last = time.monotonic()

    @property
    def is_taken(self) -> bool:
        return time.monotonic() - self._last < RESTS_S


class _Patient:
    """A Progress that waits while it is the keeper's turn."""

    def __init__(self, progress: Progress, turn: _Turn):
        self._progress, self._turn = progress, turn
        self._left = _AT_MOST_S

    def advance(self, done: int, total: int) -> None:
        """Report, after waiting. Raises Cancelled as the other does."""
        while self._turn.is_taken and self._left > 0:
            self._progress.advance(done, total)
            time.sleep(_PATIENCE_S)
            self._left -= _PATIENCE_S
        self._progress.advance(done, total)


def _exact(seconds: float) -> Fraction:
    return Fraction(round(seconds * 1000), 1000)
