"""The Pulls page: go through the flags, look at each, call it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QHideEvent, QIcon, QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QProgressBar,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from clipmark import settings as declared
from clipmark.book.meaning.calls import calls_by, latest_calls
from clipmark.book.model import Call, Decision, FlagRecord, SessionRecord, Sign
from clipmark.reading.kinds.signs import expected, species_of
from clipmark.timebase import clock
from clipmark.window.commands import Keys
from clipmark.window.pulls.call_panel import CallPanel, call_icon, decision_word, in_words, said
from clipmark.window.pulls.moment_view import MomentView
from clipmark.window.roll.look import Look
from clipmark.window.shared.parts import Empty, button, label, row, scrolled
from clipmark.window.workspace import Workspace

_ID = int(Qt.ItemDataRole.UserRole)


class PullsPage(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self._filling = False
        self._lay_out()
        self._stale = True
        workspace.recordChanged.connect(self._changed)
        workspace.selectionChanged.connect(self._follow_selection)
        workspace.clipReady.connect(lambda _: self._show_flag())
        self.refresh()

    # putting together

    def _lay_out(self) -> None:
        self.empty = Empty("", self.tr("Go to the film"), lambda: self.workspace.show_page("film"))
        self.whole = QWidget()
        line = QHBoxLayout(self.whole)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self._left())
        self.moment = MomentView(self.workspace)
        line.addWidget(self.moment, 1)
        line.addWidget(self._right())
        self.stack = QStackedWidget()
        self.stack.addWidget(self.empty)
        self.stack.addWidget(self.whole)
        QVBoxLayout(self).addWidget(self.stack)

    def _left(self) -> QWidget:
        self.counted = label("", "heading")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setMaximumHeight(self.fontMetrics().height() // 2)
        self.bar.setAccessibleName(self.tr("Pulls called"))
        self.order = QComboBox()
        self.order.setAccessibleName(self.tr("Order of the pulls"))
        self.order.addItem(self.tr("as they come"), "time")
        self.order.addItem(self.tr("strongest first"), "score")
        self.order.activated.connect(lambda _: self.refresh())
        self.list = QListWidget()
        self.list.setAccessibleName(self.tr("Pulls"))
        self.list.setUniformItemSizes(True)
        self.list.currentItemChanged.connect(self._chosen)
        self.list.itemActivated.connect(lambda _: self.show_on_film())
        self.weak = QCheckBox(self.tr("also weaker ones"))
        self.weak.setToolTip(self.tr("Show what the motion pass noticed and did not find likely enough to propose."))
        self.weak.toggled.connect(lambda _: self.refresh())
        self.blind = QCheckBox(self.tr("hide others' calls"))
        self.blind.setToolTip(self.tr("A second reviewer decides without knowing what the first one did."))
        self.blind.setChecked(bool(self.workspace.settings.get(declared.BLIND)))
        self.blind.toggled.connect(self._set_blind)
        self.caller = label("", "faint")
        made = QWidget()
        made.setFixedWidth(13 * self.fontMetrics().height())
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.counted)
        column.addWidget(self.bar)
        column.addWidget(self.order)
        column.addWidget(self.list, 1)
        column.addWidget(self.weak)
        column.addWidget(self.blind)
        column.addWidget(self.caller)
        column.addWidget(
            button(
                self.tr("Add a missed pull…"),
                self.add_missed,
                self.tr("Keep a pull of your own where the film stands now. Go there on the Film page first."),
            )
        )
        return made

    def _right(self) -> QWidget:
        keys = Keys(self.workspace.settings)
        self.panel = CallPanel(keys.of)
        self.panel.called.connect(self.call)
        self.panel.edited.connect(self._edit_call)
        self.go_on = QCheckBox(self.tr("go on to the next after a call"))
        self.go_on.setChecked(True)
        self.next = button(
            self.tr("Next uncalled   [{0}]").format(keys.of("pull.next_uncalled")),
            self.next_uncalled,
            self.tr("Jump to the next pull that you have not called"),
        )
        self.take_off = button(self.tr("Take this pull off"), self.remove_own, self.tr("Only a pull added by hand."))
        made = QWidget()
        made.setFixedWidth(23 * self.fontMetrics().height())
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(scrolled(self.panel), 1)
        column.addWidget(self.go_on)
        column.addLayout(row(self.next, self.take_off))
        return made

    def handlers(self) -> dict[str, Callable[[], None]]:
        calls = {f"call.{d.name.lower()}": partial(self.call, d) for d in Decision}
        signs = {f"sign.{s.name.lower()}": partial(self.panel.toggle, s) for s in Sign}
        palps = {f"palp.{p or 'none'}": partial(self.panel.choose_palp, p) for p in ("left", "right", "")}
        return {
            **calls,
            **signs,
            **palps,
            "pull.next": lambda: self.step(1),
            "pull.previous": lambda: self.step(-1),
            "pull.next_uncalled": self.next_uncalled,
            "pull.film": self.show_on_film,
            "pull.remove": self.remove_own,
            "pull.missed": self.add_missed,
            "loop.hold": lambda: self.moment.loop.hold.toggle(),
            "loop.whole": lambda: self.moment.loop.whole.toggle(),
            "loop.pin": self.moment.pin,
            "loop.mirror": lambda: self.workspace.set_mirrored(not self.workspace.mirrored),
            "loop.back": lambda: self.moment.loop.step(-1),
            "loop.forward": lambda: self.moment.loop.step(1),
        }

    # showing

    def entered(self) -> None:
        if self._stale:
            self.refresh()
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.moment.loop.wake()
        if self._stale:
            self.refresh()
        self._show_highlighted()

    def hideEvent(self, event: QHideEvent) -> None:
        self.moment.loop.sleep()
        super().hideEvent(event)

    def shut(self) -> None:
        self.moment.loop.sleep()

    def _changed(self) -> None:
        """Marks are made by the hundred on the Film page: the list is made anew when somebody looks at it."""
        self._stale = True
        if self.isVisible():
            self.refresh()

    def changeEvent(self, event: QEvent) -> None:
        if event.type() == QEvent.Type.PaletteChange:
            self._changed()  # colours of another theme
        super().changeEvent(event)

    def flags(self) -> list[FlagRecord]:
        """The pulls in the chosen order."""
        record = self.workspace.record
        if record is None:
            return []
        shown = [flag for flag in record.flags if flag.flagged or self.weak.isChecked()]
        if self.order.currentData() == "score":
            return sorted(shown, key=lambda flag: -(flag.score if flag.score is not None else 2.0))
        return sorted(shown, key=self.workspace.flag_place)

    def refresh(self) -> None:
        """Show the present state of the session."""
        self._stale = False
        flags = self.flags()
        self.stack.setCurrentWidget(self.whole if flags else self.empty)
        if not flags:
            self.empty.say(*self._what_next())
            return
        calls = self._calls(flags)
        proposed = [flag for flag in flags if flag.flagged]
        done = sum(1 for flag in proposed if calls[flag.id] is not None)
        self.counted.setText(self.tr("{0} of {1} called").format(done, len(proposed)))
        self.bar.setMaximum(max(len(proposed), 1))
        self.bar.setValue(done)
        self.caller.setText(self.tr("You call as “{0}” (set on the Pair page).").format(self.workspace.reviewer))
        self._fill(flags, calls)
        self._show_highlighted(next((flag.id for flag in flags if calls[flag.id] is None), flags[0].id))

    def _show_highlighted(self, otherwise: int | None = None) -> None:
        """The highlighted row is the pull on view; where no pull is selected (a mark was, on the Film page), the row
        that is highlighted is selected, without one `otherwise`."""
        listed = [int(self.list.item(row).data(_ID)) for row in range(self.list.count())]
        row = self.list.currentRow()
        wanted = listed[row] if 0 <= row < len(listed) else otherwise
        if self.workspace.flag_id not in listed and wanted is not None:
            self.workspace.select_flag(wanted, go=False)
        else:
            self._show_flag()

    def _calls(self, flags: list[FlagRecord]) -> dict[int, Call | None]:
        """The reviewer's own call on each pull."""
        record = self.workspace.record
        mine = calls_by(record.calls if record else (), self.workspace.reviewer)
        return {flag.id: mine.get(flag.id) for flag in flags}

    def _what_next(self) -> tuple[str, str]:
        record = self.workspace.record
        if record is None or not record.clips:
            return self.tr("No film is open. Add film on the Pair page, or drop it on the window."), ""
        if not record.passes:
            words = self.tr(
                "The motion pass has not looked at this film yet. Outline her abdomen on the Film page, once in each "
                "shot, and run the pass: what it finds is listed here."
            )
            return words, self.tr("Go to the film")
        weak = sum(1 for flag in record.flags if not flag.flagged)
        words = self.tr("The motion pass proposed no pull in what it could watch.")
        if weak:
            words += " " + self.tr("It noticed {0} weaker movements: tick “also weaker ones”.").format(weak)
        unwatched = sum(1 for span in record.spans if span.why)
        if unwatched:
            words += " " + self.tr("There are {0} unwatched stretches: look at those yourself.").format(unwatched)
        return words, self.tr("Go to the film")

    def _fill(self, flags: list[FlagRecord], calls: dict[int, Call | None]) -> None:
        self._filling = True
        look = Look(self.font(), self.palette())
        self.list.clear()
        icons: dict[tuple[Decision | None, bool], QIcon] = {}
        for flag in flags:
            call = calls[flag.id]
            sign = (call.decision if call else None, not flag.flagged)
            if sign not in icons:
                icons[sign] = call_icon(look, *sign)
            score = self.tr("score {0:.2f}").format(flag.score) if flag.score is not None else self.tr("by hand")
            told = decision_word(call.decision if call else None)
            if call is None and not flag.flagged:
                told = self.tr("held step, not flagged")
            if call is not None and call.palp:
                told += " · " + (self.tr("left palp") if call.palp == "left" else self.tr("right palp"))
            time = clock(self.workspace.flag_place(flag))
            item = QListWidgetItem(icons[sign], f"{time}   {score}\n{told}")
            item.setData(_ID, flag.id)
            item.setData(
                Qt.ItemDataRole.AccessibleTextRole, self.tr("Pull at {0}, {1}, {2}").format(time, score, told)
            )
            self.list.addItem(item)
            if flag.id == self.workspace.flag_id:
                self.list.setCurrentItem(item)
        self._filling = False

    def _chosen(self, item: QListWidgetItem | None, _: QListWidgetItem | None) -> None:
        if item is not None and not self._filling:
            self.workspace.select_flag(int(item.data(_ID)), go=False)

    def _follow_selection(self) -> None:
        if self.workspace.flag_id is None:
            if self.isVisible() and not self._stale:
                self._show_highlighted()
            return
        for number in range(self.list.count()):
            item = self.list.item(number)
            if item.data(_ID) == self.workspace.flag_id:
                self._filling = True
                self.list.setCurrentItem(item)
                self._filling = False
        self._show_flag()

    def _show_flag(self) -> None:
        flag, record = self.workspace.flag, self.workspace.record
        if flag is None or record is None:
            self.panel.show_nothing(self.tr("No pull is chosen."))
            self.moment.show_nothing(self.tr("Choose a pull in the list."))
            return
        call = self.workspace.call_of(flag.id)
        clip = record.clip(flag.clip_id)
        film = self.workspace.film(clip.id)
        frame_s = float((clip.end_pts - clip.first_pts) * clip.time_base) / max(clip.frames, 1)
        words = in_words(flag, frame_s, float(clip.time_base), self.tr)
        title = self.tr("Pull at {0}").format(clock(self.workspace.flag_place(flag)))
        if flag.score is not None:
            title += self.tr("  ·  score {0:.2f}").format(flag.score)
        own = self.workspace.guard(self.workspace.book.species_notes) or ()
        self.panel.show_expected(expected(species_of(record), own))
        look = Look(self.font(), self.palette())
        self.panel.show_pull(flag, title, words, call, self._others(record, flag, call), look)
        self.take_off.setEnabled(flag.pass_id is None)
        if film is None:
            why = self.workspace.lost(clip.id) or self.tr("The film is being opened.")
            self.moment.show_nothing(why)
            return
        if not self.isVisible():
            return
        self.moment.show_flag(flag, film)

    def _others(self, record: SessionRecord, flag: FlagRecord, call: Call | None) -> str:
        me = self.workspace.reviewer
        latest = dict(latest_calls(record.calls).get(flag.id, {}))
        latest.pop(me, None)
        if not latest:
            return ""
        if self.blind.isChecked() and call is None:
            return self.tr("Others have called this pull. Theirs are shown after your own.")
        told = [f"{who or self.tr('somebody')}: {decision_word(one.decision)}" for who, one in latest.items()]
        return self.tr("Others called it: {0}").format("; ".join(told))

    # what the keeper does

    def call(self, decision: Decision) -> None:
        """Call the pull on view with what is ticked, and go on."""
        flag = self.workspace.flag
        if flag is None or not self.isVisible():
            return
        signs, palp, cause, note = self.panel.fields()
        call = Call(0, flag.id, self.workspace.reviewer, decision, signs, palp, "", note)
        if decision is Decision.OTHER:
            call = replace(call, cause=cause)
        if self.workspace.edit(self.workspace.book.add_call, call) is None:
            return
        if decision is Decision.OTHER and not cause:
            self.panel.ask_cause()
            return
        if decision is Decision.CONFIRMED and not (Sign.BULB_SEATED in signs and len(signs) > 1):
            self.workspace.say(
                self.tr(
                    "Called confirmed. That asks for “{0}” and one more sign; without them, probable says it better."
                ).format(said(Sign.BULB_SEATED.value)),
                "note",
            )
        else:
            told = self.tr("{0}: {1}. Undo takes it back.")
            self.workspace.say(told.format(clock(self.workspace.flag_place(flag)), decision_word(decision)), "done")
        if self.go_on.isChecked():
            self.next_uncalled(quiet=True)

    def _edit_call(self) -> None:
        """Ticks and words that are changed after the call belong to it at once."""
        flag = self.workspace.flag
        call = self.workspace.call_of(flag.id) if flag is not None else None
        if call is None:
            return
        signs, palp, cause, note = self.panel.fields()
        changed = replace(call, signs=signs, palp=palp, note=note)
        if call.decision is Decision.OTHER:
            changed = replace(changed, cause=cause)
        if changed != call:
            self.workspace.edit(self.workspace.book.change_call, changed)

    def step(self, by: int) -> None:
        """The next or previous pull of the list."""
        number = self.list.currentRow() + by
        if 0 <= number < self.list.count():
            self.list.setCurrentRow(number)

    def next_uncalled(self, quiet: bool = False) -> None:
        """The next pull without a call of this reviewer, from the one on view on and then from the top."""
        flags = self.flags()
        ids = [flag.id for flag in flags]
        here = ids.index(self.workspace.flag_id) if self.workspace.flag_id in ids else -1
        for flag in flags[here + 1 :] + flags[: here + 1]:
            if flag.flagged and self.workspace.call_of(flag.id) is None:
                self.workspace.select_flag(flag.id, go=False)
                return
        words = self.tr("All {0} pulls are called. The Sheet shows what follows from it.").format(len(flags))
        self.workspace.say(words, "done")

    def show_on_film(self) -> None:
        if self.workspace.flag is not None:
            self.workspace.select_flag(self.workspace.flag_id)
            self.workspace.show_page("film")

    def add_missed(self) -> None:
        """A pull of the keeper's own, where the film stands."""
        clip = self.workspace.clip
        if clip is None:
            self.workspace.say(self.tr("Add film first: a pull belongs to a place on the film."), "wrong")
            return
        pts = min(max(clip.pts_at(self.workspace.place), clip.first_pts), clip.end_pts - 1)
        film = self.workspace.film(clip.id)
        if film is not None:
            pts = int(film.index.pts[film.index.at_or_before(pts)])
        by = self.workspace.reviewer
        because = self.tr("Seen by {0}; the motion pass did not propose it.").format(by)
        own = FlagRecord(0, clip.id, None, pts, pts, None, None, None, None, None, because, by=by)
        added = self.workspace.edit(self.workspace.book.add_flag, own)
        if added is not None:
            self.workspace.select_flag(added.id, go=False)
            self.workspace.show_page("pulls")
            self.workspace.say(self.tr("A pull was added at {0}.").format(clock(clip.on_clock(pts))), "done")

    def remove_own(self) -> None:
        flag = self.workspace.flag
        if flag is None or flag.pass_id is not None:
            self.workspace.say(self.tr("What the motion pass proposed stays; call it “something else”."), "note")
            return
        self.workspace.edit(self.workspace.book.remove_flag, flag.id)

    def _set_blind(self, on: bool) -> None:
        self.workspace.choose(declared.BLIND, on)
        self.workspace.reviewerChanged.emit()
        self._show_flag()
