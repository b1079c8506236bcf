"""The draft in the window: proposals of acts, hollow on the roll, taken or taken off one by one.

A proposal is no mark. One that is taken becomes a mark of the reviewer that says where it came from; one that is
taken off, or left, counts nowhere. Drafting afresh touches no mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from PySide6.QtCore import QCoreApplication, QObject, Signal

from clipmark.book.model import Actor, Mark, Outline
from clipmark.draft.values import Proposal
from clipmark.media.clip import Clip
from clipmark.motion.result import Box
from clipmark.progress import Progress
from clipmark.report.draft_file import draft_clip
from clipmark.report.kept_drafts import keep_draft, kept_draft
from clipmark.timebase import clock
from clipmark.window.play.player import Player
from clipmark.window.workspace import Workspace


@dataclass(frozen=True, slots=True)
class Hollow:
    """A proposal on the session clock (seconds); `end` is None for a moment."""

    clip_id: int
    start: float
    end: float | None
    proposal: Proposal


class Drafting(QObject):
    """Proposals of the session's clips. Signals: changed()."""

    changed = Signal()

    def __init__(self, workspace: Workspace, player: Player, parent: QObject | None = None):
        super().__init__(parent)
        self.workspace, self.player = workspace, player
        self._open: dict[int, list[Proposal]] = {}
        self._running: set[int] = set()
        self.current: Hollow | None = None
        workspace.sessionChanged.connect(self._forget)
        workspace.clipReady.connect(self._bring_back)

    def _forget(self) -> None:
        self._open, self.current = {}, None
        for clip in self.workspace.record.clips if self.workspace.record else ():
            self._bring_back(clip.id)
        self.changed.emit()

    def _bring_back(self, clip_id: int) -> None:
        """What was open of a clip's draft when the window closed is open again."""
        film = self.workspace.film(clip_id)
        if film is None or clip_id in self._open:
            return
        known = kept_draft(film.fingerprint)
        if known:
            self._open[clip_id] = known
            self.changed.emit()

    def _keep(self, clip_id: int) -> None:
        film = self.workspace.film(clip_id)
        if film is not None:
            keep_draft(film, self._open.get(clip_id, ()))

    def begin(self) -> None:
        """Draft the clip on view, or draft it afresh; marks stay as they are."""
        clip = self.workspace.clip
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None:
            self.workspace.say(_tr("There is no film yet. Add one with Ctrl+O."), "note")
            return
        if clip.id in self._running:
            self.workspace.say(_tr("This clip is being drafted already."), "note")
            return
        self._running.add(clip.id)
        self.workspace.tasks.run(
            _tr("Drafting {0}").format(film.path.name),
            partial(_drafted, film, boxes_of(film, self.workspace.outlines_of(clip.id))),
            partial(self.take_in, clip.id),
            partial(self._failed, clip.id),
        )

    def take_in(self, clip_id: int, found: Sequence[Proposal]) -> None:
        """Show the proposals of a clip in the place of those before."""
        self._running.discard(clip_id)
        self._open[clip_id] = list(found)
        self._keep(clip_id)
        self.current = None
        said = _tr(
            "{0} proposals, drawn hollow. Alt+Right goes to the next, Ctrl+Return takes it, Backspace takes it off."
        )
        self.workspace.say(said.format(len(found)), "done")
        self.changed.emit()

    def _failed(self, clip_id: int, error: object) -> None:
        self._running.discard(clip_id)
        self.workspace.say_wrong(error)

    def hollow(self) -> tuple[Hollow, ...]:
        """All open proposals of the session, in order of time."""
        record = self.workspace.record
        found = []
        for clip in record.clips if record else ():
            offset = float(clip.offset)
            for one in self._open.get(clip.id, ()):
                end = None if one.end_s is None else one.end_s + offset
                found.append(Hollow(clip.id, one.start_s + offset, end, one))
        return tuple(sorted(found, key=lambda hollow: hollow.start))

    def go(self, way: int) -> None:
        """To the next proposal (+1), or the one before (-1)."""
        place, near = float(self.player.place), 1e-3
        known = self.hollow()
        if self.current in known:
            at = known.index(self.current) + way
            wanted = known[at] if 0 <= at < len(known) else None
        elif way > 0:
            wanted = next((one for one in known if one.start > place - near), None)
        else:
            wanted = next((one for one in reversed(known) if one.start < place - near), None)
        if wanted is None:
            said = _tr("No further proposal.") if known else _tr("There are no proposals. Ctrl+D drafts this clip.")
            self.workspace.say(said, "note")
            return
        self._select(wanted)

    def pick(self, number: int) -> None:
        """Select a proposal by its number in `hollow()`."""
        known = self.hollow()
        if 0 <= number < len(known):
            self._select(known[number])

    def _select(self, wanted: Hollow) -> None:
        self.current = wanted
        self.player.go(Fraction(round(wanted.start * 1000), 1000))
        self.workspace.say(self.told(wanted), "note")
        self.changed.emit()

    def move_end(self, number: int, end: str, at: float) -> None:
        """Put the start or the end of a proposal at `at` session seconds; never past the other."""
        known = self.hollow()
        record = self.workspace.record
        if record is None or not 0 <= number < len(known) or known[number].end is None:
            return
        old = known[number]
        assert old.end is not None
        start, stop = (min(at, old.end), old.end) if end == "start" else (old.start, max(at, old.start))
        offset = float(record.clip(old.clip_id).offset)
        moved = replace(old.proposal, start_s=max(start - offset, 0.0), end_s=max(stop - offset, 0.0))
        held = self._open[old.clip_id]
        held[held.index(old.proposal)] = moved
        self._keep(old.clip_id)
        self.current = next((one for one in self.hollow() if one.proposal is moved), None)
        if self.current is not None:
            self.workspace.say(self.told(self.current), "note")
        self.changed.emit()

    def take(self) -> None:
        """Make the current proposal a mark of the reviewer."""
        one, record = self._chosen(), self.workspace.record
        if one is None or record is None:
            return
        act, film = record.act(one.proposal.act), self.workspace.film(one.clip_id)
        if act is None or film is None:
            self.workspace.say(_tr("Your list of acts has none for this proposal."), "note")
            return
        clip = record.clip(one.clip_id)
        first = film.index.frame_at(one.proposal.start_s)
        end_pts = None
        if act.lasting and one.proposal.end_s is not None:
            last = film.index.frame_at(one.proposal.end_s)
            end_pts = int(film.index.pts[last + 1]) if last + 1 < len(film.index) else clip.end_pts
        mark = Mark(
            0, clip.id, act.code, Actor(one.proposal.actor), int(film.index.pts[first]), end_pts, act.lasting,
            self.workspace.reviewer, from_proposal=True,
        )  # fmt: skip
        kept = self.workspace.edit(partial(self.workspace.book.add_mark, closing=False), mark)
        if kept is not None:
            self._close(one)
            self.workspace.say(_tr("{0} is a mark of yours now. Ctrl+Z takes it back.").format(act.label), "done")

    def leave(self) -> None:
        """Take the current proposal off; it counts nowhere."""
        one = self._chosen()
        if one is not None:
            self._close(one)
            self.workspace.say(_tr("Taken off. It counts nowhere."), "done")

    def take_one(self, number: int) -> None:
        """Take a proposal by its number in `hollow()`."""
        self.pick(number)
        self.take()

    def leave_one(self, number: int) -> None:
        """Take a proposal off by its number in `hollow()`."""
        self.pick(number)
        self.leave()

    def _chosen(self) -> Hollow | None:
        if self.current is None or self.current not in self.hollow():
            self.workspace.say(_tr("No proposal is selected. Alt+Right goes to the next."), "note")
            return None
        return self.current

    def _close(self, one: Hollow) -> None:
        """Done with a proposal; the next one is selected, so that one key after the other goes through them."""
        known = self.hollow()
        at = known.index(one)
        self._open[one.clip_id].remove(one.proposal)
        self._keep(one.clip_id)
        self.current = known[at + 1] if at + 1 < len(known) else None
        if self.current is not None:
            self.player.go(Fraction(round(self.current.start * 1000), 1000))
        self.changed.emit()

    def told(self, one: Hollow) -> str:
        """A proposal in words: what, from when to when, how probable and why."""
        act = self.workspace.record.act(one.proposal.act) if self.workspace.record else None
        label = act.label if act else one.proposal.act
        end = "" if one.end is None else _tr(" to {0}").format(clock(one.end, 1))
        chance = _tr("{0} %").format(round(100 * one.proposal.probability))
        return f"{label}, {clock(one.start, 1)}{end}, {chance}: {one.proposal.because}"


def boxes_of(film: Clip, outlines: Sequence[Outline]) -> list[Box]:
    """Outlines of the book as the motion pass takes them."""
    return [Box(film.index.at_or_before(o.pts), o.x, o.y, o.w, o.h, o.part) for o in outlines]


def _drafted(film: Clip, boxes: Sequence[Box], progress: Progress) -> list[Proposal]:
    """For a background task."""
    if not any(box.part == "abdomen" for box in boxes):
        boxes = ()
    return draft_clip(film, boxes, progress)


def _tr(text: str) -> str:
    return QCoreApplication.translate("Drafting", text)
