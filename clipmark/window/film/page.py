"""The Film page: step through the film, mark acts, draw outlines, run the motion pass.

At the left the cameras' pictures with transport and strip under them, then the act board, at the right the log roll.
What keys do here is in `handlers`; the widgets only report.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import QLabel, QSplitter, QVBoxLayout, QWidget

from clipmark import settings as declared
from clipmark.book.meaning.shots import view_at
from clipmark.book.model import Act, ClipRecord, SessionRecord
from clipmark.timebase import clock
from clipmark.window import theme
from clipmark.window.commands import Actions
from clipmark.window.film.act_editor import ActEditor
from clipmark.window.film.acts import ActBoard
from clipmark.window.film.begin_pass import BeginPass
from clipmark.window.film.cameras import Cameras
from clipmark.window.film.contact_page import ContactPage
from clipmark.window.film.drafting import Drafting
from clipmark.window.film.drawing import Drawing
from clipmark.window.film.first_frames import FirstFrames
from clipmark.window.film.found_card import FoundCard
from clipmark.window.film.going import Going
from clipmark.window.film.mark_card import MarkCard
from clipmark.window.film.marking import Marking
from clipmark.window.film.moving import Moving
from clipmark.window.film.outlining import Outlining
from clipmark.window.film.pass_list import PassList
from clipmark.window.film.pass_runner import PassRunner
from clipmark.window.film.strip import Strip
from clipmark.window.film.transport import Transport
from clipmark.window.film.watched_part import WatchedPart
from clipmark.window.play.player import Player
from clipmark.window.roll.hollow import HollowBar
from clipmark.window.roll.log_roll import LogRoll
from clipmark.window.workspace import Workspace

_BUTTONS = (
    ("step.back_long", "media-seek-backward", ""), ("step.back", "step-back", ""),
    ("play.toggle", "media-playback-start", ""), ("step.forward", "step-forward", ""),
    ("step.forward_long", "media-seek-forward", ""), ("", "", ""), ("play.slower", "list-remove", ""),
    ("play.faster", "list-add", ""), ("play.loop", "media-playlist-repeat", ""), ("", "", ""),
    ("outline.abdomen", "outline", "Outline"), ("pass.run", "edit-find", "Find pulls"), ("", "", ""),
    ("view.fit", "zoom-fit-best", ""), ("view.real", "zoom-original", ""), ("view.strip", "strip", ""),
    ("view.alone", "view-fullscreen", ""),
)  # fmt: skip


class FilmPage(QWidget):
    """Signals: aloneWanted(bool): film, roll and keys are to have the whole screen, or no longer."""

    aloneWanted = Signal(bool)

    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self.player = Player(workspace, self)
        self.passes = PassRunner(workspace, self)
        self.marking = Marking(workspace, self.player)
        self.outlining = Outlining(workspace)
        self.begin_pass = BeginPass(workspace, self.passes, self.isVisible, self)
        self.moving = Moving(workspace, self)
        self.first_frames = FirstFrames(workspace, self.player, self)
        self.drafting = Drafting(workspace, self.player, self)
        self.going = Going(workspace, self.player, self.moving, self)
        self.player.skip = self.moving.skipped_to
        self._shown_clip: int | None = None
        self._ticks: tuple[SessionRecord, int, NDArray[np.int64]] | None = None  # where anything is marked in a clip
        self._shared_out = False
        self._keys: list[QShortcut] = []
        self._keyed: tuple[Act, ...] = ()
        self._alone = False
        self._contact: ContactPage | None = None
        self._lay_out()
        self._connect()
        self._set_up()

    # --- putting together

    def _lay_out(self) -> None:
        self.transport, self.strip, self.roll = Transport(), Strip(), LogRoll(self.workspace)
        self.board, self.card = ActBoard(), MarkCard(self.workspace)
        self.hint = QLabel()
        self.hint.setWordWrap(True)
        self.hint.setProperty("role", "faint")
        self.pass_list = PassList()
        self.hint.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.hint.setFixedHeight(4 * self.fontMetrics().lineSpacing())  # a longer hint moves nothing
        self.cameras = Cameras(self.workspace, self.player, self.outlining)
        self.drawing = Drawing(self.workspace, self.player, self.cameras, self)
        self.found = FoundCard(self.workspace, self.drawing, self.passes)
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.SPACE // 2)
        column.addWidget(self.cameras, 1)
        column.addWidget(self.transport)
        column.addWidget(self.strip)
        self.strip.setVisible(bool(self.workspace.settings.get(declared.STRIP)))
        acts = QWidget()
        column = QVBoxLayout(acts)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.board, 1)
        column.addWidget(self.card)
        column.addWidget(self.found)
        column.addWidget(WatchedPart(self.workspace))
        column.addWidget(self.hint)
        column.addWidget(self.pass_list)
        self.side = acts
        split = QSplitter(Qt.Orientation.Horizontal)
        split.setChildrenCollapsible(False)
        for part, stretch in ((left, 6), (acts, 0), (self.roll, 3)):
            split.addWidget(part)
            split.setStretchFactor(split.count() - 1, stretch)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(split)
        self.split = split
        self.editor = ActEditor(self.workspace, self)
        self.editor.closed.connect(self.setFocus)

    def _connect(self) -> None:
        player, workspace = self.player, self.workspace
        self.cameras.frameShown.connect(self._frame_shown)
        self.cameras.frameShown.connect(self.moving.frame_shown)
        player.nearby.connect(lambda _: self.strip.refresh())
        player.moved.connect(self._show_place)
        player.changed.connect(self._show_running)
        workspace.sessionChanged.connect(self._set_up)
        workspace.recordChanged.connect(self._set_up)
        workspace.clipReady.connect(self._film_came)
        workspace.clipLost.connect(lambda *_: self._set_up())
        workspace.placeChanged.connect(self._show_place)
        self.passes.changed.connect(self._show_pass)
        self.roll.holds_back = self.first_frames.awaits
        self.first_frames.over.connect(self.moving.look)
        self.first_frames.over.connect(lambda _: self.roll.show_sound())
        self.moving.changed.connect(lambda: self.roll.show_moving(self.moving.lanes()))
        self.drafting.changed.connect(self._show_hollow)
        mouse = self.roll.roll.hollow_mouse
        mouse.chosen.connect(self.drafting.pick)
        mouse.endDragged.connect(self.drafting.move_end)
        mouse.takeWanted.connect(self.drafting.take_one)
        mouse.leaveWanted.connect(self.drafting.leave_one)
        self.board.pressed.connect(self.marking.press)
        self.board.endWanted.connect(self._end_mark)
        self.card.removeWanted.connect(lambda mark_id: workspace.edit(workspace.book.remove_mark, mark_id))
        self.strip.wanted.connect(self.going.to_number)
        self.transport.clock.typed.connect(self._go_typed)
        self.pass_list.stopWanted.connect(self.passes.stop)
        self.pass_list.stopAllWanted.connect(self.passes.stop_all)
        self.drawing.firstOutlined.connect(self.begin_pass.begin_at_once)
        player.moved.connect(self.begin_pass.busy_elsewhere)

    def bound(self, actions: Actions) -> None:
        """The window has made the actions of `handlers`: put some of them on buttons."""
        self.transport.lay_out(actions, _BUTTONS)

    def handlers(self) -> dict[str, Callable[[], object]]:
        player = self.player

        def long() -> int:
            return int(self.workspace.settings.get(declared.LONG_STEP))

        return {
            "play.toggle": player.toggle,
            "step.back": lambda: player.step(-1),
            "step.forward": lambda: player.step(1),
            "step.back_long": lambda: player.step(-long()),
            "step.forward_long": lambda: player.step(long()),
            "step.back_second": lambda: player.step_seconds(Fraction(-1)),
            "step.forward_second": lambda: player.step_seconds(Fraction(1)),
            "jump.mark_back": lambda: self.going.to_mark(-1),
            "jump.mark_on": lambda: self.going.to_mark(1),
            "jump.flag_back": lambda: self.going.to_flag(-1),
            "jump.flag_on": lambda: self.going.to_flag(1),
            "jump.cut_back": lambda: self.going.to_cut(-1),
            "jump.cut_on": lambda: self.going.to_cut(1),
            "jump.moving_back": lambda: self.going.to_moving(-1),
            "jump.moving_on": lambda: self.going.to_moving(1),
            "play.skip": self._toggle_skip,
            "view.contact": self._show_contact,
            "draft.begin": self.drafting.begin,
            "draft.back": lambda: self.drafting.go(-1),
            "draft.on": lambda: self.drafting.go(1),
            "draft.take": self.drafting.take,
            "draft.leave": self.drafting.leave,
            "jump.start": lambda: self.going.to_number(0),
            "jump.end": lambda: self.going.to_number(-1),
            "jump.time": self._type_time,
            "play.slower": lambda: player.faster(-1),
            "play.faster": lambda: player.faster(1),
            "play.normal": lambda: player.set_speed(Fraction(1)),
            "play.sound": player.toggle_sound,
            "play.loop": self.going.toggle_loop,
            "loop.start": lambda: self.going.set_loop(start=self.player.place),
            "loop.end": lambda: self.going.set_loop(end=self.going.end_of_frame()),
            "mark.end_all": self.marking.end_all,
            "acts.edit": self._edit_acts,
            "mark.note": self._write_note,
            "mark.remove": self._remove_mark,
            "outline.abdomen": lambda: self.drawing.draw("abdomen"),
            "outline.carapace": lambda: self.drawing.draw("carapace"),
            "outline.male": lambda: self.drawing.draw("male"),
            "outline.remove": self.drawing.remove,
            "outline.next_bare": self.going.to_next_bare,
            "pass.run": self.begin_pass.run,
            "pass.all": self.begin_pass.run_all,
            "pass.stop": self.begin_pass.stop,
            "view.strip": self._fold_strip,
            "view.alone": self._toggle_alone,
            "acts.find": self.board.begin_search,
            **self.cameras.handlers(),
        }

    # --- coming and going

    def entered(self) -> None:
        self.player.wake()
        self._show_place()

    def left(self) -> None:
        self.player.sleep()

    def shut(self) -> None:
        self.first_frames.forget()
        self.player.sleep()
        self.passes.shut()

    def _share_out(self) -> None:
        """Give acts and roll the width that they need, the picture the rest; once, then the keeper's sizes stay."""
        if self._shared_out or not self.board.buttons:
            return
        self._shared_out = True
        em = self.fontMetrics().height()
        acts = min(self.board.sizeHint().width(), self.width() // 5)
        # a roll that is wider than on a small screen has room for whole names beside its bars
        roll = min(14 * em + max(round(0.4 * (self.width() - 90 * em)), 0), 48 * em)
        self.split.setSizes([max(self.width() - acts - roll, 1), acts, roll])

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._share_out()

    def _set_up(self) -> None:
        """The session changed: cameras, acts, what is open."""
        record = self.workspace.record
        self.cameras.set_up()
        acts = record.acts if record else ()
        self.board.set_acts(acts)
        if self.isVisible():
            self._share_out()
        self._set_act_keys(acts)
        opened = self.marking.open_marks()
        if record is not None:
            told = [(m, self._label(m.act), record.clip(m.clip_id).on_clock(m.start_pts)) for m in opened]
            self.board.set_open(tuple(told))
        else:
            self.board.set_open(())
        self._show_place()
        self._show_pass()

    def _set_act_keys(self, acts: tuple[Act, ...]) -> None:
        if acts == self._keyed:
            return
        self._keyed = acts
        wanted = [act for act in acts if act.key]
        for key in self._keys:
            key.setParent(None)
            key.deleteLater()
        self._keys = []
        for act in wanted:
            key = QShortcut(QKeySequence(act.key), self)
            key.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            key.setAutoRepeat(False)
            key.activated.connect(lambda a=act: self.marking.press(a))
            self._keys.append(key)

    def _film_came(self, clip_id: int) -> None:
        self._set_up()
        self.player.show_place()

    def _show_hollow(self) -> None:
        """The proposals of the draft on the roll."""
        current = self.drafting.current
        bars = [
            HollowBar(
                h.start, h.end, h.proposal.actor, h == current, self._label(h.proposal.act), self.drafting.told(h)
            )
            for h in self.drafting.hollow()
        ]
        self.roll.roll.set_hollow(tuple(bars))

    def _show_contact(self) -> None:
        """Stills of all that moves, in a window of their own."""
        if self._contact is None:
            self._contact = ContactPage(self.workspace, self.moving, self)
            self._contact.wanted.connect(self.player.go)
        self._contact.fill()
        self._contact.show()
        self._contact.raise_()

    def _toggle_skip(self) -> None:
        """While playing, leave out where nothing moves, or play all."""
        self.player.skipping = not self.player.skipping
        if not self.player.skipping:
            said = self.tr("All of the film is played.")
        elif self.moving.stretches():
            said = self.tr("What is still is skipped while playing; Shift+F7 plays all.")
        else:
            said = self.tr(
                "What is still is skipped while playing, as soon as the survey knows where something moves."
            )
        self.workspace.say(said, "note")

    def _fold_strip(self) -> None:
        """The strip of neighbouring frames, or more room for the picture; kept."""
        shown = self.strip.isHidden()
        self.strip.setVisible(shown)
        self.workspace.choose(declared.STRIP, shown)

    def _toggle_alone(self) -> None:
        """Film, roll and keys alone on the whole screen, and back."""
        self.aloneWanted.emit(not self._alone)

    def show_alone(self, alone: bool) -> None:
        """Hide what is neither film, transport nor roll, or show it again."""
        self._alone = alone
        self.side.setVisible(not alone)
        self.strip.setVisible(not alone and bool(self.workspace.settings.get(declared.STRIP)))

    # --- the place

    def _show_place(self) -> None:
        place, clip = self.player.place, self.workspace.clip
        self.transport.clock.show_place(place)
        self.cameras.show_place()
        film = self.workspace.film(clip.id) if clip else None
        number = self.player.number()
        if clip is None or film is None or number is None:
            self.strip.set_number(None)
            return self.transport.show_frame(None, 0)
        if self._shown_clip != clip.id and self._begin_strip(clip):
            self._shown_clip = clip.id
        self._frame_shown(clip.id, number, True)
        if not self.player.running or self.player.speed < 1:
            self.strip.set_number(number, self._marked_frames(clip))

    def _frame_shown(self, clip_id: int, number: int, exact: bool) -> None:
        film = self.workspace.film(clip_id)
        if film is not None and clip_id == self.workspace.clip_id:
            note, doubted = "" if exact else self.tr("preview"), self.cameras.doubts(clip_id, number)
            self.transport.show_frame(number, len(film.index), note, doubted)
            self._show_hint()

    def _begin_strip(self, clip: ClipRecord) -> bool:
        film, source = self.workspace.film(clip.id), self.player.source(clip.id)
        if film is None or source is None:
            return False
        index = film.index
        shape = film.width * float(film.pixel_aspect) / film.height
        self.strip.set_film(len(index), shape, source.picture, lambda n: clock(clip.offset + index.exact_seconds(n)))
        return True

    def _marked_frames(self, clip: ClipRecord) -> frozenset[int]:
        record, film = self.workspace.record, self.workspace.film(clip.id)
        number = self.player.number()
        if record is None or film is None or number is None:
            return frozenset()
        pts = film.index.pts
        low, high = int(pts[max(number - 12, 0)]), int(pts[min(number + 12, len(pts) - 1)])
        if self._ticks is None or self._ticks[0] is not record or self._ticks[1] != clip.id:
            found = [m.start_pts for m in record.marks if m.clip_id == clip.id]
            found += [f.onset_pts for f in record.flags if f.clip_id == clip.id]
            self._ticks = (record, clip.id, np.unique(np.array(found, dtype=np.int64)))
        first, last = np.searchsorted(self._ticks[2], (low, high + 1))
        return frozenset(film.index.at_or_before(int(t)) for t in self._ticks[2][first:last])

    def _go_typed(self, text: str) -> None:
        self.going.to_typed(text)
        self.setFocus()
        self._show_place()

    def _type_time(self) -> None:
        self.transport.clock.setFocus()
        self.transport.clock.selectAll()

    # --- running

    def _show_running(self) -> None:
        player = self.player
        self.transport.show_speed(player.speed, player.clock.reached_speed(), player.running, player.hearing.sounding)
        self.transport.show_loop(player.loop)
        self.transport.show_running(player.running)
        if not player.running:
            self._show_place()

    # --- acts

    def _label(self, code: str) -> str:
        act = self.workspace.record.act(code) if self.workspace.record else None
        return act.label if act else code

    def _edit_acts(self) -> None:
        self.player.pause()
        margin = 2 * self.fontMetrics().height()
        self.editor.setGeometry(self.rect().adjusted(margin, margin, -margin, -margin))
        self.editor.begin()

    def _end_mark(self, mark_id: int) -> None:
        for mark in self.marking.open_marks():
            if mark.id == mark_id:
                self.marking.end(mark)

    def _write_note(self) -> None:
        self.workspace.settle()
        self.card.edit_note()

    def _remove_mark(self) -> None:
        self.workspace.settle()
        mark = self.workspace.mark
        if mark is None:
            self.workspace.say(self.tr("No act is selected. Up and Down go from one to the next."), "note")
            return
        self.workspace.edit(self.workspace.book.remove_mark, mark.id)
        self.workspace.say(self.tr("{0} is taken off. Ctrl+Z brings it back.").format(self._label(mark.act)), "done")

    # --- the pass

    def _show_pass(self) -> None:
        self.pass_list.show_passes(self.passes.running)
        self._show_hint()

    def _show_hint(self) -> None:
        """What must be said of the frame on view, and what to do next."""
        self.drawing.invite()
        then = self.begin_pass.next_step(clip) if (clip := self.workspace.clip) else ""
        seen = self._view_told(clip) if clip else ""
        self.hint.setText(f"{self.transport.frame.accessibleDescription()} {seen} {then}".strip())

    def _view_told(self, clip: ClipRecord) -> str:
        """What the pass could see in the view that the film stands in; shows or hides the card of one to check."""
        film, number, record = self.workspace.film(clip.id), self.player.number(), self.workspace.record
        if film is None or number is None or record is None:
            return ""
        pts = int(film.index.pts[number])
        self.found.show_at(clip.id, pts)
        view = view_at(record, clip.id, pts)
        return view.smallest if view is not None else ""
