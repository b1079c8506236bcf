"""Drawing outlines on the picture: a box is begun, proposed, kept, left or taken off."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QPointF, QRectF, Signal

from clipmark.book.model import ClipRecord
from clipmark.progress import Progress
from clipmark.review.region_at import ROUND_S, RegionFound, guessed_round, region_at, region_on
from clipmark.window.background import Task
from clipmark.window.film.cameras import Cameras
from clipmark.window.film.outlining import Outlining, look_for_her
from clipmark.window.play.player import Player
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from clipmark.motion.proposals import Proposal


class Drawing(QObject):
    """One outline at a time, on the current clip's frame; the cameras report what the keeper's hand does.

    Signals:
    firstOutlined(clip_id): her abdomen is outlined in a clip for the first time.
    keptAt(clip_id, pts): an outline of her abdomen came into the book.
    """

    firstOutlined = Signal(int)
    keptAt = Signal(int, object)

    def __init__(self, workspace: Workspace, player: Player, cameras: Cameras, parent: QObject | None = None):
        super().__init__(parent)
        self.workspace, self.player, self.cameras = workspace, player, cameras
        self.outlining: Outlining = cameras.outlining
        self._edited: tuple[ClipRecord, int, str] | None = None
        self._proposed: QRectF | None = None  # the region that was proposed, as long as nobody changed it
        self._press: QPointF | None = None  # the last press, what is searched for it, whether anything was told yet
        self._searches: list[Task] = []
        self._told: float | None = None  # how sure the region is that is shown
        cameras.drawn.connect(self.keep)
        cameras.dropped.connect(self.drop)
        cameras.invited.connect(lambda: self.draw("abdomen"))
        cameras.pointed.connect(self.look_round)

    def draw(self, part: str) -> None:
        clip, number = self.workspace.clip, self.player.number()
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None or number is None:
            self.workspace.say(self.tr("There is no film to draw on yet. Add one with Ctrl+O."), "note")
            return
        self.player.pause()
        pts = int(film.index.pts[number])
        self._edited = (clip, pts, part)
        self.cameras.current.set_shapes(())
        self.cameras.current.begin_edit(part, self.outlining.proposal(clip, pts, number, part))
        words = {"abdomen": self.tr("her abdomen"), "carapace": self.tr("her carapace"), "male": self.tr("him")}
        self.workspace.say(
            self.tr(
                "Draw a box round {0}: drag, or move it with the arrow keys (Shift: further, Ctrl: size). "
                "Enter keeps it, Esc leaves it."
            ).format(words[part]),
            "note",
        )

        model = self.outlining.model(clip, pts) if part == "abdomen" else None
        if model is not None:
            self.workspace.tasks.run(
                self.tr("Looking for her in this view"),
                partial(look_for_her, film, model, number),
                partial(self._propose, self._edited, self.cameras.current.edited_box()),
            )

    def _propose(self, edited: tuple[ClipRecord, int, str], began: QRectF | None, proposal: Proposal | None) -> None:
        """The search has ended: put the box where she probably is, unless the keeper has begun to draw."""
        if self._edited is not edited or self.cameras.current.edited_box() != began:
            return
        if proposal is None or not proposal.found:
            self.workspace.say(self.tr("She was not found in this view. Draw the box where you see her."), "note")
            return
        box = proposal.box
        self.cameras.current.begin_edit(edited[2], QRectF(box.x, box.y, box.w, box.h))
        said = self.tr("She is probably here, as she looked in an earlier view ({0} of 100 alike). ")
        said += self.tr("Enter keeps the box; drag it, or draw another, where it is wrong.")
        self.workspace.say(said.format(round(100 * proposal.confidence)), "note")

    def look_round(self, at: QPointF) -> None:
        """A press in the middle of her abdomen: show the region that is told from it, to be kept or changed. At once
        a box of the usual size, then what this picture tells, then what moves in the seconds round it."""
        edited = self._edited
        film = self.workspace.film(edited[0].id) if edited is not None else None
        if edited is None or film is None or edited[2] != "abdomen":
            return
        for task in self._searches:
            task.stop()
        self._searches, self._told = [], None
        self._show_proposed(QRectF(*guessed_round(film, at.x(), at.y())))
        self.workspace.say(self.tr("Looking for her abdomen round the place that you pressed …"), "note")
        number, view = film.index.at_or_before(edited[1]), self.cameras.current
        if view.picture is not None and view.exact and view.picture.number == number:
            self._look(partial(region_on, film, view.picture, at.x(), at.y()), at, last=False)
        self._look(partial(region_at, film, number, at.x(), at.y(), ROUND_S), at, last=True)

    def _look(self, search: Callable[[Progress], RegionFound], at: QPointF, last: bool) -> None:
        title, found = self.tr("Looking for her abdomen"), partial(self._found, at)
        nothing = partial(self._nothing_there, at, last)
        self._press = at
        self._searches.append(self.workspace.tasks.run(title, search, found, nothing, urgent=True))

    def _show_proposed(self, rect: QRectF) -> None:
        self._proposed = rect
        self.cameras.current.begin_edit("abdomen", rect)

    def _untouched(self, press: QPointF) -> bool:
        """Whether what was proposed on a press still stands: not kept, left, or drawn otherwise meanwhile."""
        same = self._edited is not None and self._press is press
        return same and self.cameras.current.edited_box() == self._proposed

    def _found(self, press: QPointF, region: RegionFound) -> None:
        if not self._untouched(press) or (self._told is not None and region.confidence < self._told):
            return  # the surer one of the two stays
        self._show_proposed(QRectF(region.x, region.y, region.w, region.h))
        said = self.tr("This is probably her abdomen, told from how it looks.")
        if region.source == "moved":
            said = self.tr("This is probably her abdomen, told from what moves as one.")
        then = self.tr(" Enter keeps the box; drag its handles, or draw another, where it is wrong.")
        self.workspace.say(said + then, "note")
        self._told = region.confidence

    def _nothing_there(self, press: QPointF, last: bool, error: object) -> None:
        if not last or self._told is not None or not self._untouched(press):
            return
        self.cameras.current.begin_edit("abdomen", None)  # a guess that nothing speaks for does not stay
        self.workspace.say_wrong(error)

    def keep(self, rect: QRectF) -> None:
        if self._edited is None:
            return
        (clip, pts, part), self._edited = self._edited, None
        first = not any(o.part == "abdomen" for o in self.workspace.outlines_of(clip.id))
        pressed = self._press if part == "abdomen" and rect == self._proposed else None
        self.outlining.keep(clip, pts, part, rect, None if pressed is None else (pressed.x(), pressed.y()))
        self.workspace.say(self.tr("The outline is kept. F5 runs the motion pass."), "done")
        self.cameras.show_place()
        if first and part == "abdomen":
            self.firstOutlined.emit(clip.id)
        if part == "abdomen":
            self.keptAt.emit(clip.id, pts)

    def invite(self) -> None:
        """Where nothing is outlined in the current clip yet, a press on its picture begins to outline her abdomen."""
        clip = self.workspace.clip
        bare = clip is not None and self.workspace.film(clip.id) is not None
        bare = bare and not any(o.part == "abdomen" for o in self.workspace.outlines_of(clip.id if clip else 0))
        for view in self.cameras.views:
            view.invite(bare and view is self.cameras.current)

    def drop(self) -> None:
        self._edited = None
        self.workspace.say(self.tr("Nothing was drawn."), "note")
        self.cameras.show_place()

    def remove(self) -> None:
        clip, number = self.workspace.clip, self.player.number()
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None or number is None:
            return
        if not self.outlining.remove(clip, int(film.index.pts[number])):
            self.workspace.say(self.tr("Nothing is outlined on this frame."), "note")
        self.cameras.show_place()
