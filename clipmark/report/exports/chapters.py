"""Chapters and captions of one clip: WebVTT (W3C) and ffmpeg's metadata file. Times run from the clip's first frame,
as a player shows them.

Both formats have texts that could break them; what is written here holds on one line each, escaped, and no line that
could be taken for a time line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from clipmark.atomic_files import atomic_file
from clipmark.book.model import ClipRecord, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.report.called import numbered_flags
from clipmark.report.text import file_name, one_line

MOST = 300  # characters of a caption; a player shows two or three lines
SHORTEST = Fraction(2)  # s that a momentary act's caption stays


@dataclass(frozen=True, slots=True)
class Cue:
    """A text over [start, end) ticks of the clip."""

    start: int
    end: int
    text: str


def _label(record: SessionRecord, code: str) -> str:
    act = record.act(code)
    return act.label if act else code


def captions(record: SessionRecord, clip: ClipRecord) -> tuple[Cue, ...]:
    """What goes on, while it goes on: every mark and every flag with its call. They may overlap."""
    cues = []
    stay = int(SHORTEST / clip.time_base)
    for m in record.marks:
        if m.clip_id == clip.id:
            end = m.end_pts if m.end_pts is not None else clip.end_pts if m.open else m.start_pts + stay
            note = f": {m.note}" if m.note else ""
            cues.append(Cue(m.start_pts, end, f"{_label(record, m.act)}{note}"))
    for f in numbered_flags(record):
        if f.flag.clip_id == clip.id:
            end = max(f.flag.release_pts or 0, f.flag.onset_pts + stay)
            cues.append(Cue(f.flag.onset_pts, end, f"Pull {f.number}: {f.said}"))
    return tuple(sorted(_within(cues, clip), key=lambda c: (c.start, -c.end, c.text)))


def chapters(record: SessionRecord, clip: ClipRecord) -> tuple[Cue, ...]:
    """The film cut where something begins; each chapter runs to the next, none overlaps another."""
    begins: dict[int, list[str]] = {clip.first_pts: []}
    for cue in captions(record, clip):
        begins.setdefault(cue.start, []).append(cue.text)
    starts = sorted(begins)
    ends = [*starts[1:], clip.end_pts]
    return tuple(
        Cue(start, end, " · ".join(begins[start]) or "Before the first mark")
        for start, end in zip(starts, ends, strict=True)
        if end > start
    )


def _within(cues: Iterable[Cue], clip: ClipRecord) -> list[Cue]:
    placed = [Cue(max(c.start, clip.first_pts), min(c.end, clip.end_pts), c.text) for c in cues]
    return [c for c in placed if c.end > c.start]


def _ms(clip: ClipRecord, pts: int) -> int:
    return round((pts - clip.first_pts) * clip.time_base * 1000)


def _vtt_time(ms: int) -> str:
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"


def _vtt_text(text: str) -> str:
    """Cue text on one line. Escaped, no `-->` is left either."""
    line = one_line(text, MOST)
    return line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") or "–"


def vtt(clip: ClipRecord, cues: Sequence[Cue]) -> str:
    """A WebVTT file. Cues that begin or end within the same millisecond are kept a millisecond long."""
    blocks = ["WEBVTT"]
    taken = 0
    for number, cue in enumerate(cues, start=1):
        start = max(_ms(clip, cue.start), taken)  # the starts of cues may not step back
        end = max(_ms(clip, cue.end), start + 1)
        taken = start
        blocks.append(f"{number}\n{_vtt_time(start)} --> {_vtt_time(end)}\n{_vtt_text(cue.text)}")
    return "\n\n".join(blocks) + "\n"


def _meta_text(text: str) -> str:
    """A value of ffmpeg's metadata file: = ; # \\ and line breaks are escaped by a backslash."""
    return "".join(f"\\{c}" if c in "=;#\\" else c for c in one_line(text, MOST))


def ffmetadata(record: SessionRecord, clip: ClipRecord) -> str:
    """Chapters in ffmpeg's metadata format, in exact ticks of the clip."""
    base = clip.time_base
    lines = [";FFMETADATA1", f"title={_meta_text(record.session.title)}"]
    if record.session.date:
        lines.append(f"date={_meta_text(record.session.date)}")
    for cue in chapters(record, clip):
        lines += [
            "[CHAPTER]",
            f"TIMEBASE={base.numerator}/{base.denominator}",
            f"START={cue.start - clip.first_pts}",
            f"END={cue.end - clip.first_pts}",
            f"title={_meta_text(cue.text)}",
        ]
    return "\n".join(lines) + "\n"


class NoFilm(ClipmarkError):
    def __init__(self, title: str):
        super().__init__(f"“{title}” has no film yet, so there is nothing to cut into chapters. Add film first.")


def _for_each_clip(record: SessionRecord, path: Path) -> list[tuple[ClipRecord, Path]]:
    """One clip: the path as it is; more: a number before its ending, in the order of the session."""
    if not record.clips:
        raise NoFilm(one_line(record.session.title, 120))
    if len(record.clips) == 1:
        return [(record.clips[0], path)]
    return [(clip, path.with_name(f"{path.stem}.{k}{path.suffix}")) for k, clip in enumerate(record.clips, start=1)]


def write_chapters(record: SessionRecord, path: Path) -> list[Path]:
    """WebVTT chapters; a session with more clips gets a numbered file for each.

    Raises:
        NoFilm: there is no clip. CannotWrite: the place cannot be written.
    """
    return _write(path, [(p, vtt(clip, chapters(record, clip))) for clip, p in _for_each_clip(record, path)])


def write_captions(record: SessionRecord, path: Path) -> list[Path]:
    """WebVTT captions, files as `write_chapters`."""
    return _write(path, [(p, vtt(clip, captions(record, clip))) for clip, p in _for_each_clip(record, path)])


def write_ffmetadata(record: SessionRecord, path: Path) -> list[Path]:
    """ffmpeg metadata with chapters, files as `write_chapters`."""
    return _write(path, [(p, ffmetadata(record, clip)) for clip, p in _for_each_clip(record, path)])


def _write(path: Path, texts: Sequence[tuple[Path, str]]) -> list[Path]:
    for target, text in texts:
        with atomic_file(target, newline="\n") as file:
            file.write(text)
    return [target for target, _ in texts]


def named(clip: ClipRecord) -> str:
    """How a clip is called where several are listed."""
    return one_line(clip.camera, 40) or one_line(file_name(clip.path), 60)
