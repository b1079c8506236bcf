"""The cameras' pictures side by side on one clock; one of them is the current one, which marks and outlines go to."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtWidgets import QSplitter, QWidget

from clipmark.media.frames.picture import Picture
from clipmark.review import lanes
from clipmark.timebase import clock
from clipmark.window.film.frame_doubts import doubts
from clipmark.window.film.outlining import Outlining
from clipmark.window.play.player import Player
from clipmark.window.shared.outline_picture import OutlinePicture
from clipmark.window.shared.picture import Tone
from clipmark.window.workspace import Workspace

_STEP = 1.15
_LEAST, _MOST = 0.25, 6.0


class Cameras(QSplitter):
    """Signals:
    frameShown(clip_id, number, exact): a frame was put on the screen.
    drawn(QRectF), dropped(), invited(), pointed(QPointF): see OutlinePicture.
    """

    frameShown = Signal(int, int, bool)
    drawn = Signal(QRectF)
    dropped = Signal()
    invited = Signal()
    pointed = Signal(QPointF)

    def __init__(self, workspace: Workspace, player: Player, outlining: Outlining, parent: QWidget | None = None):
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.workspace, self.player, self.outlining = workspace, player, outlining
        self.views: list[OutlinePicture] = []
        self._lanes: tuple[lanes.Lane, ...] = ()
        self._shapes_on = True
        self.setChildrenCollapsible(False)
        workspace.sessionChanged.connect(self._clear)
        workspace.mirrorChanged.connect(self._mirror)
        player.drawn_size = self._drawn_size
        player.shown.connect(self._show_picture)
        player.off.connect(self._show_off)
        player.missing.connect(self._show_missing)

    def handlers(self) -> dict[str, Callable[[], object]]:
        return {
            "camera.other": self.choose_other,
            "view.fit": lambda: self.current.fit(),
            "view.real": lambda: self.current.real_size(),
            "view.closer": lambda: self.current.zoom(1),
            "view.further": lambda: self.current.zoom(-1),
            "view.brighter": lambda: self._tone(gamma=_STEP),
            "view.darker": lambda: self._tone(gamma=1 / _STEP),
            "view.harder": lambda: self._tone(contrast=_STEP),
            "view.softer": lambda: self._tone(contrast=1 / _STEP),
            "view.mirror": lambda: self.workspace.set_mirrored(not self.workspace.mirrored),
            "view.shapes": self._toggle_shapes,
            "view.plain": self._plain,
        }

    @property
    def lanes(self) -> tuple[lanes.Lane, ...]:
        return self._lanes

    @property
    def current(self) -> OutlinePicture:
        """The current camera's picture."""
        number = self._lane_of(self.workspace.clip_id)
        return self.views[number if number is not None and number < len(self.views) else 0]

    def set_up(self) -> None:
        """The session changed: a picture for each camera, and words where there is nothing to show."""
        self._lanes = self.player.lanes
        self._make_views(max(len(self._lanes), 1))
        if not self._lanes:
            self.current.show_nothing(
                self.tr("No film yet. Drop film files on this window, or press Ctrl+O to choose some.")
            )
        for lane, view in zip(self._lanes, self.views, strict=False):
            clip = lanes.at(lane, self.player.place) or lane[0]
            lost = self.workspace.lost(clip.id)
            if lost or view.picture is None:
                view.show_nothing(lost or self.tr("The film is being opened …"))
        self.show_place()

    def _clear(self) -> None:
        for view in self.views:
            view.show_nothing("")
            view.set_shapes(())

    def _mirror(self) -> None:
        for view in self.views:
            view.set_mirrored(self.workspace.mirrored)

    def _make_views(self, count: int) -> None:
        while len(self.views) < count:
            view, number = OutlinePicture(), len(self.views)
            view.set_mirrored(self.workspace.mirrored)
            view.pressed.connect(lambda n=number: self._choose(n))
            view.drawn.connect(self.drawn)
            view.dropped.connect(self.dropped)
            view.invited.connect(self.invited)
            view.pointed.connect(self.pointed)
            self.views.append(view)
            self.addWidget(view)
        while len(self.views) > count:
            view = self.views.pop()
            view.setParent(None)
            view.deleteLater()

    def show_place(self) -> None:
        """Captions (where there are several cameras) and shapes for the present place."""
        many, clip = len(self._lanes) > 1, self.workspace.clip
        for number, lane in enumerate(self._lanes[: len(self.views)]):
            there = lanes.at(lane, self.player.place)
            name = (lane[0].camera or self.tr("Camera {0}").format(number + 1)) if many else ""
            current = many and there is not None and clip is not None and there.id == clip.id
            self.views[number].set_caption(name, current)
            if there is not None:
                self._show_shapes(number, there.id)

    def choose_other(self) -> None:
        """Make the next camera that runs at this time the current one."""
        now = self._lane_of(self.workspace.clip_id) or 0
        for step in range(1, len(self._lanes) + 1):
            number = (now + step) % len(self._lanes)
            if lanes.at(self._lanes[number], self.player.place) is not None:
                self._choose(number)
                return

    def _choose(self, number: int) -> None:
        if number < len(self._lanes):
            clip = lanes.at(self._lanes[number], self.player.place)
            if clip is not None and clip.id != self.workspace.clip_id:
                self.player.go(self.player.place, clip.id)

    def _lane_of(self, clip_id: int | None) -> int | None:
        return next((i for i, lane in enumerate(self._lanes) if any(c.id == clip_id for c in lane)), None)

    def _drawn_size(self, clip_id: int) -> tuple[int, int] | None:
        number = self._lane_of(clip_id)
        return self.views[number].pixels_wanted() if number is not None and number < len(self.views) else None

    def _show_picture(self, clip_id: int, picture: Picture, exact: bool) -> None:
        number, film = self._lane_of(clip_id), self.workspace.film(clip_id)
        if number is None or film is None or number >= len(self.views):
            return
        self.views[number].show_picture(picture, exact, float(film.pixel_aspect))
        self._show_shapes(number, clip_id)
        record = self.workspace.record
        if exact and record is not None:
            at = clock(record.clip(clip_id).on_clock(picture.pts))
            told = [self.tr("frame {0} of {1} at {2}").format(picture.number + 1, len(film.index), at)]
            self.views[number].setAccessibleDescription(". ".join((*told, *self.doubts(clip_id, picture.number))))
        if exact and picture.damaged:
            self.views[number].say(self.tr("parts of this frame are filled in"))
        self.frameShown.emit(clip_id, picture.number, exact)

    def doubts(self, clip_id: int, frame: int) -> tuple[str, ...]:
        """What must be said of a frame; that parts of it are filled in is known once it is on the screen."""
        number, film, record = self._lane_of(clip_id), self.workspace.film(clip_id), self.workspace.record
        if number is None or film is None or record is None or number >= len(self.views):
            return ()
        picture = self.views[number].picture
        shown = picture is not None and picture.number == frame
        return doubts(film, record.clip(clip_id), frame, shown and picture is not None and picture.damaged)

    def _show_off(self, clip_id: int) -> None:
        number = self._lane_of(clip_id)
        if number is not None and number < len(self.views) and not lanes.at(self._lanes[number], self.player.place):
            self.views[number].show_nothing(self.tr("This camera was not running at this time."))
            self.views[number].set_shapes(())

    def _show_missing(self, clip_id: int, frame: int) -> None:
        number = self._lane_of(clip_id)
        if number is not None and number < len(self.views):
            self.views[number].say(self.tr("frame {0} is damaged and cannot be shown").format(frame + 1))

    def _show_shapes(self, number: int, clip_id: int) -> None:
        record, view = self.workspace.record, self.views[number]
        picture = view.picture
        if record is None or picture is None or not self._shapes_on or not view.exact or view.edit is not None:
            view.set_shapes(())
            return
        view.set_shapes(self.outlining.shapes(record.clip(clip_id), picture.pts, picture.number))

    def _toggle_shapes(self) -> None:
        self._shapes_on = not self._shapes_on
        self.show_place()

    def _tone(self, gamma: float = 1.0, contrast: float = 1.0) -> None:
        tone = self.current.tone
        self.current.set_tone(
            Tone(
                min(max(tone.gamma * gamma, _LEAST), _MOST),
                min(max(tone.contrast * contrast, _LEAST), _MOST),
            )
        )

    def _plain(self) -> None:
        self.current.set_tone(Tone())
        self.workspace.set_mirrored(False)
