"""What was heard and seen of rhythm in a session's film, on the session clock, for the reading of a male's rhythm.

Heard: strikes in the sound, kept in the cache folder once a film was listened to. Seen: what the last motion pass
found in the picture. Nothing is said here of who made it; that a drumming of his was marked at that moment says so.
"""

from __future__ import annotations

from collections.abc import Iterable

from clipmark.book.model import ClipRecord, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.motion.rhythm.heard import sound_bouts
from clipmark.motion.rhythm.values import Bout
from clipmark.progress import SILENT, Progress
from clipmark.reading.cycles.his_rhythm import Beat
from clipmark.report.films.listening import kept_sound, listen
from clipmark.report.films.opened import Films
from clipmark.report.films.seeing import kept_seen


def beats(record: SessionRecord, films: Films | None = None, progress: Progress = SILENT) -> tuple[Beat, ...]:
    """Every rhythm of a session whose rate could be resolved.

    Args:
        films: listen to films that were not listened to yet; None: only what is kept already. A film that is missing
            adds nothing.
    """
    return tuple(beat for clip in record.clips for beat in _of_clip(clip, films, progress))


def _of_clip(clip: ClipRecord, films: Films | None, progress: Progress) -> Iterable[Beat]:
    offset = float(clip.offset)
    for bout in _heard(clip, films, progress):
        if bout.rate_hz is not None:
            yield Beat(bout.start_s + offset, bout.end_s + offset, bout.rate_hz, bout.regularity, "heard")
    for bout in kept_seen(clip.fingerprint) or ():
        if bout.rate_hz is not None:
            yield Beat(bout.start_s + offset, bout.end_s + offset, bout.rate_hz, bout.regularity, "seen")


def _heard(clip: ClipRecord, films: Films | None, progress: Progress) -> tuple[Bout, ...]:
    heard = kept_sound(clip.fingerprint)
    if heard is None and films is not None:
        try:
            film = films.reader(clip).clip
            heard = listen(film, progress) if film.sound is not None else None
        except ClipmarkError:  # a film that is missing or has no sound says nothing of his rhythm
            return ()
    return () if heard is None else tuple(sound_bouts(heard.onsets))
