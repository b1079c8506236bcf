"""Holds clipmark against ffmpeg on one film of the matrix.

`python tests/media/film_judge.py` judges all of them (some minutes) and writes the table in docs/film-files.md.
"""

from __future__ import annotations

import random
import sys
import tempfile
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from film_matrix import CASES, Case
from film_recipes import shown_numbers, shown_times

from clipmark.media.clip import Clip, open_clip
from clipmark.media.frames.reader import FrameLost, Reader
from clipmark.media.open_film import ClipUnreadable
from tests import made

PAGE = Path(__file__).parent.parent.parent / "docs" / "film-files.md"
BEGIN, END = "<!-- table of films: begin -->", "<!-- table of films: end -->"


@dataclass(frozen=True)
class Verdict:
    """Attributes:
    frames: frames that clipmark lists; 0 where it refuses the film.
    right: frames, asked for in random order, that carried the right number.
    illegible: frames of damaged film that do not show their number any more and are marked as damaged.
    lost: frames said not to come out.
    wrong: frames that carried a wrong number (must be none).
    times: times that equal ffprobe's; of `timed` that ffprobe states.
    theirs: frames that ffmpeg shows.
    said: what the keeper is told.
    """

    case: Case
    frames: int = 0
    right: int = 0
    illegible: int = 0
    lost: int = 0
    wrong: tuple[tuple[int, int | None], ...] = ()
    times: int = 0
    timed: int = 0
    theirs: int = 0
    exact: bool = True
    said: str = ""

    @property
    def good(self) -> bool:
        """Whether the promise of the case's kind is kept."""
        if self.case.kind == "refused":
            return self.frames == 0 and bool(self.said)
        if self.wrong or self.right + self.illegible + self.lost != self.frames:
            return False
        if self.case.kind == "damaged":
            return self.right + self.illegible >= self.theirs - 2 and self.right > 0
        whole = self.right == self.frames == self.theirs
        if self.case.kind == "counted":
            return whole and not self.exact and bool(self.said)
        return whole and self.exact and self.times == self.timed >= self.theirs - 1


def judge(case: Case, folder: Path) -> Verdict:
    """Make the film and hold every frame and every time against ffmpeg's."""
    path = case.make(folder)
    try:
        clip = open_clip(path, use_cache=False)
    except ClipUnreadable as error:
        return Verdict(case, said=str(error))
    theirs = shown_numbers(path, clip.width, clip.height, case.stream)
    times = shown_times(path, case.stream)
    true = _by_time(clip) if case.kind == "damaged" else theirs
    right, illegible, lost, wrong = _ask_at_random(clip, true, case.kind == "damaged")
    ours = [clip.index.exact_seconds(number) for number in range(len(clip.index))]
    stated = [(number, time) for number, time in enumerate(times[: len(ours)]) if time is not None]
    if case.kind == "damaged":  # ffprobe leaves out what does not come out: only the times themselves can be compared
        stated = [(number, time) for number, time in enumerate(times) if time is not None]
        same = len({time for _, time in stated} & set(ours))
    else:
        same = sum(ours[number] == time for number, time in stated)
    return Verdict(
        case, len(ours), right, illegible, lost, tuple(wrong), same, len(stated), len(theirs), clip.times_exact,
        " ".join(clip.notes),
    )  # fmt: skip


def _by_time(clip: Clip) -> list[int | None]:
    """The numbers that the frames of a damaged film must carry: it ran at 25 frames a second."""
    return [int(clip.index.exact_seconds(number) * 25 + Fraction(1, 2)) for number in range(len(clip.index))]


def _ask_at_random(
    clip: Clip, true: list[int | None], damaged: bool
) -> tuple[int, int, int, list[tuple[int, int | None]]]:
    right = illegible = lost = 0
    wrong: list[tuple[int, int | None]] = []
    with Reader(clip) as reader:
        for number in random.Random(len(true)).sample(range(len(clip.index)), len(clip.index)):
            try:
                picture = reader.frame(number)
            except FrameLost:
                lost += 1
                continue
            read = made.number_in(picture.grey())
            # nothing whole may be called damaged, but where the file itself marks data as damaged
            believed = not picture.damaged or damaged or clip.packets.corrupt.any()
            if believed and number < len(true) and read is not None and read == true[number]:
                right += 1
            elif picture.damaged and damaged:
                illegible += 1
            else:
                wrong.append((number, read))
    return right, illegible, lost, wrong


def line(verdict: Verdict) -> str:
    """The verdict as a row of the table."""
    kept = verdict.case
    if verdict.frames == 0:
        return f"| {kept.name} | refused | | {verdict.said.split(': ', 1)[1]} |"
    frames = f"{verdict.right} of {verdict.frames}"
    if verdict.lost or verdict.illegible:
        frames += f" ({verdict.lost} lost, {verdict.illegible} marked as damaged)"
    times = f"{verdict.times} of {verdict.timed}"
    if verdict.timed == 0:
        times = "ffprobe states none"
    elif kept.kind == "counted":
        times = f"estimated ({times} as ffprobe's)"
    return f"| {kept.name} | {frames} | {times} | {verdict.said} |"


def main() -> int:
    verdicts = []
    for case in CASES:
        with tempfile.TemporaryDirectory() as folder:
            verdicts.append(judge(case, Path(folder)))
        print("ok   " if verdicts[-1].good else "BAD  ", line(verdicts[-1]), flush=True)
    head = ["| film | right frames, asked for in random order | times equal to ffprobe's | what the keeper is told |"]
    table = [*head, "|---|---|---|---|", *(line(verdict) for verdict in verdicts)]
    text = PAGE.read_text(encoding="utf-8")
    before, after = text.split(BEGIN)[0], text.split(END)[1]
    PAGE.write_text(before + BEGIN + "\n" + "\n".join(table) + "\n" + END + after, encoding="utf-8")
    bad = [verdict.case.name for verdict in verdicts if not verdict.good]
    print(f"{len(verdicts)} films, {len(bad)} bad {bad or ''}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
