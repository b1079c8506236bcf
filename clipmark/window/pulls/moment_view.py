"""One pull as it is looked at: a large slow loop of her abdomen over ground held still, a pinned moment beside it,
before, full pull and what changed in the same cut, and her movement over time."""

from __future__ import annotations

from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtGui import QImage, QTransform
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QVBoxLayout, QWidget

from clipmark import settings as declared
from clipmark.book.model import FlagRecord
from clipmark.review.pull_pictures import MomentPictures, Rgb, Stretch, load, moves, stretch_of
from clipmark.timebase import clock
from clipmark.window.background import Task
from clipmark.window.film.outlining import Outlining
from clipmark.window.pulls.loop import Loop
from clipmark.window.pulls.signs_shown import SignReader, SignStrip
from clipmark.window.pulls.trace_strip import Moves, TraceStrip
from clipmark.window.shared.parts import PictureBox, label, row
from clipmark.window.shared.shapes import Shape
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from clipmark.media.clip import Clip


class MomentView(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self._request = 0
        self._task: Task | None = None
        self._kept: dict[int, MomentPictures] = {}  # the pull on view and the one before
        self._flag: FlagRecord | None = None
        self._enlarged: PictureBox | None = None
        self.outlining = Outlining(workspace)
        self._lay_out()
        workspace.sessionChanged.connect(self._kept.clear)

    def _lay_out(self) -> None:
        self.loop = Loop(str(self.workspace.settings.get(declared.FLAG_PLAY_SPEED)))
        self.loop.speedChosen.connect(lambda text: self.workspace.choose(declared.FLAG_PLAY_SPEED, text))
        self.loop.shown.connect(self._loop_moved)
        self.before = PictureBox(self.tr("Before"))
        self.after = PictureBox(self.tr("Full pull"))
        self.change = PictureBox(self.tr("What changed"))
        self.pinned = PictureBox("")
        self.pinned.hide()
        self.pinned.pressed.connect(self.unpin)
        self.pinned.setToolTip(self.tr("Press to take the pinned moment off"))
        self.large = PictureBox("")
        self.large.hide()
        self.large.pressed.connect(lambda: self._enlarge(None))
        for box in (self.before, self.after, self.change):
            box.setToolTip(self.tr("Press to see it large; press again for the loop"))
            box.pressed.connect(partial(self._enlarge, box))
            box.setFixedHeight(9 * self.fontMetrics().height())
        self.loop.pinned.connect(self.pin)
        self.workspace.mirrorChanged.connect(self._mirror)
        self.laid = QComboBox()
        self.laid.setAccessibleName(self.tr("What the two pictures are laid on for comparing"))
        self.laid.addItem(self.tr("with her abdomen held in place"), "held")
        self.laid.addItem(self.tr("with the ground held in place"), "ground")
        self.laid.activated.connect(lambda _: self._show_change())
        self.trace = TraceStrip()
        self.trace.placeWanted.connect(self._seek)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(row(self.pinned, self.large, self.loop), 1)
        stills = QHBoxLayout()
        for part in (self.before, self.after, self.change):
            stills.addWidget(part, 1)
        column.addLayout(stills)
        legend = label(self.tr("orange: brighter at the full pull · blue: darker"), "faint", wrap=False)
        column.addLayout(row(1, legend, self.laid))
        self.signs = SignStrip()
        self.reader = SignReader(self.workspace, self)
        self.reader.told.connect(self._signs_told)
        line = QHBoxLayout()
        line.addWidget(self.trace, 1)
        line.addWidget(self.signs)
        column.addLayout(line)

    def show_flag(self, flag: FlagRecord, film: Clip) -> None:
        """Show a pull; its frames are read beside the window."""
        record = self.workspace.record
        assert record is not None
        stretch = stretch_of(film, record, flag)
        kept = self._kept.get(flag.id)
        if self._flag == flag and self.loop.place is not None and kept is not None and kept.stretch == stretch:
            self._show_signs(flag, film)
            return
        self._flag = flag
        self._request += 1
        self._show_trace(flag, stretch)
        self._show_signs(flag, film)
        if kept is not None and kept.stretch == stretch:
            self._show_moment(flag, kept)
            return
        if self._task is not None and self._task.running:
            self._task.stop()
        self.show_nothing(self.tr("Reading the frames round it …"), trace=False)
        request, trace = self._request, self.workspace.trace(flag.clip_id)
        self._task = self.workspace.tasks.run(
            self.tr("Reading a pull"),
            lambda progress: load(film, stretch, trace, progress),
            lambda made: self._arrived(request, flag, made),
            lambda error: self._failed(request, error),
        )

    def show_nothing(self, why: str, trace: bool = True) -> None:
        self.loop.show_nothing(why)
        for box in (self.before, self.after, self.change):
            box.show_image(None)
        if trace:
            self._flag = None
            self._request += 1
            self.trace.show_moves(None, ())
            self.signs.show_signs(())

    def _arrived(self, request: int, flag: FlagRecord, made: MomentPictures) -> None:
        while len(self._kept) > 1:
            self._kept.pop(next(iter(self._kept)))
        self._kept[flag.id] = made
        if request == self._request:
            self._show_moment(flag, made)

    def _failed(self, request: int, error: Exception) -> None:
        if request == self._request:
            self.show_nothing(str(error), trace=False)

    def _show_moment(self, flag: FlagRecord, made: MomentPictures) -> None:
        film, record = self.workspace.film(flag.clip_id), self.workspace.record
        if film is None or record is None:
            return
        offset = record.clip(flag.clip_id).offset
        times = [offset + film.index.exact_seconds(picture.number) for picture in made.frames]
        if made.frames:
            zero = self.workspace.flag_place(flag)
            self.loop.show_frames(made.frames, times, zero, made.centres, made.span)
        self.before.show_image(self._image(made.before))
        self.after.show_image(self._image(made.after))
        self._show_change()

    def _show_change(self) -> None:
        made = self._kept.get(self._flag.id) if self._flag is not None else None
        wanted: Rgb | None = getattr(made, str(self.laid.currentData())) if made is not None else None
        missing = self.tr("She was not followed here, so the two cannot be laid on each other.")
        self.change.show_image(self._image(wanted) if wanted is not None else None, missing if made else "")
        if self._enlarged is not None:
            self.large.show_image(self._enlarged.image)

    def _show_signs(self, flag: FlagRecord, film: Clip) -> None:
        found = self.reader.of(flag, film)
        nothing = self.tr("Looking for signs …") if found is None else self.tr("No signs: nothing was followed here.")
        self.signs.show_signs(found or (), nothing)

    def _signs_told(self, flag_id: int) -> None:
        film = self.workspace.film(self._flag.clip_id) if self._flag is not None else None
        if self._flag is not None and self._flag.id == flag_id and film is not None:
            self._show_signs(self._flag, film)

    def _show_trace(self, flag: FlagRecord, stretch: Stretch) -> None:
        film, record = self.workspace.film(flag.clip_id), self.workspace.record
        trace = self.workspace.trace(flag.clip_id)
        if film is None or record is None or trace is None or len(trace.pull) != len(film.index):
            self.trace.show_moves(None, ())
            return
        first, stop = stretch.loop
        clip = record.clip(flag.clip_id)
        times = film.index.seconds()[first:stop] + float(clip.offset)
        names = [(flag.onset_pts, self.tr("onset")), (flag.full_pts, self.tr("full pull"))]
        if flag.release_pts is not None:
            names.append((flag.release_pts, self.tr("release")))
        ticks = tuple((float(clip.on_clock(pts)), name) for pts, name in names)
        told = ", ".join(f"{name} {clock(at)}" for at, name in ticks)
        self.trace.show_moves(Moves(times, *moves(trace, stretch)), ticks, told)

    def _loop_moved(self, number: int) -> None:
        place = self.loop.place
        self.trace.set_place(float(place) if place is not None else None)
        self.loop.picture.set_shapes(self._shapes(number) if self.loop.outline.isChecked() else ())

    def _shapes(self, number: int) -> tuple[Shape, ...]:
        """The followed abdomen on a frame of the loop, whose pictures may be smaller than the film."""
        record, flag, picture = self.workspace.record, self._flag, self.loop.picture.picture
        film = self.workspace.film(flag.clip_id) if flag is not None else None
        if record is None or flag is None or film is None or picture is None:
            return ()
        found = self.outlining.shapes(record.clip(flag.clip_id), int(film.index.pts[number]), number)
        return tuple(shape for shape in found if shape.kind == "followed")

    def pin(self) -> None:
        """Keep the frame on the screen beside the loop, in the same cut; it stays while other pulls are looked at."""
        place = self.loop.place
        if place is not None:
            self.pinned.show_image(self.loop.picture.grab().toImage())
            self.pinned.set_caption(self.tr("pinned: {0}").format(clock(place)))
            self.pinned.show()

    def unpin(self) -> None:
        self.pinned.show_image(None)
        self.pinned.hide()

    def _enlarge(self, box: PictureBox | None) -> None:
        """One of the stills in place of the loop, or the loop again."""
        self._enlarged = None if box is None or box is self._enlarged or box.image is None else box
        self.large.setVisible(self._enlarged is not None)
        self.loop.setVisible(self._enlarged is None)
        if self._enlarged is not None:
            self.large.show_image(self._enlarged.image)
            self.large.set_caption(self._enlarged.caption)

    def _mirror(self) -> None:
        self.loop.picture.set_mirrored(self.workspace.mirrored)
        self.loop._place_view()
        kept = self._kept.get(self._flag.id) if self._flag is not None else None
        if self._flag is not None and kept is not None:
            self._show_moment(self._flag, kept)

    def _image(self, pixels: Rgb) -> QImage:
        """A still as it is shown: mirrored where film is."""
        image = as_image(pixels)
        return image.transformed(QTransform.fromScale(-1, 1)) if self.workspace.mirrored else image

    def _seek(self, place: Fraction) -> None:
        self.loop.hold.setChecked(True)
        self.loop.seek(place)


def as_image(pixels: Rgb) -> QImage:
    """RGB pixels as a picture of Qt's that owns them."""
    height, width = pixels.shape[:2]
    return QImage(pixels.data, width, height, 3 * width, QImage.Format.Format_RGB888).copy()
