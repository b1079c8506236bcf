"""Two clips onto one clock: by one moment that both show, or as their sound proposes it."""

from __future__ import annotations

from fractions import Fraction

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout

from clipmark.book.model import ClipRecord
from clipmark.media.clip import Clip
from clipmark.media.sound.match import SoundMatch, match_sounds
from clipmark.progress import Progress
from clipmark.report.films.listening import RATE, Heard, heard_in
from clipmark.timebase import clock
from clipmark.window.pair.frame_picker import FramePicker
from clipmark.window.pair.waves import WavePair
from clipmark.window.shared.parts import Card, button, label, row
from clipmark.window.workspace import Workspace


class AlignPanel(Card):
    """Signals:
    closed(): the keeper is done with it."""

    closed = Signal()

    def __init__(self, workspace: Workspace):
        super().__init__(self.tr("Two cameras on one clock"))
        self.workspace = workspace
        self._request = 0
        self._lay_out()

    def _lay_out(self) -> None:
        self.first, self.second = QComboBox(), QComboBox()
        self.first.setAccessibleName(self.tr("The clip that stays where it is"))
        self.second.setAccessibleName(self.tr("The clip that is moved"))
        for box in (self.first, self.second):
            box.activated.connect(lambda _: self._clips_chosen())
        self.body.addLayout(
            row(
                label(self.tr("stays:"), wrap=False),
                self.first,
                label(self.tr("is moved:"), wrap=False),
                self.second,
                1,
            )
        )
        self.pickers = (
            FramePicker(self.workspace, self.tr("stays")),
            FramePicker(self.workspace, self.tr("is moved")),
        )
        pictures = QHBoxLayout()
        for picker in self.pickers:
            pictures.addWidget(picker, 1)
        self.body.addLayout(pictures, 3)
        self.same = button(
            self.tr("This is the same moment"),
            self.take_moment,
            self.tr("Find one moment in both, such as a foot set down or a lid closed, and press this"),
        )
        self.listen = button(
            self.tr("Propose from the sound"),
            self.propose,
            self.tr("Compare what both cameras heard; you look at it before it counts"),
        )
        self.done = button(self.tr("Close"), self.closed.emit)
        self.body.addLayout(row(self.same, self.listen, 1, self.done))
        self.waves = WavePair()
        self.waves.shifted.connect(self._tell_shift)
        self.verdict = label()
        self.accept = button(self.tr("Accept this place"), self.take_shift)
        self.leave = button(self.tr("Leave it"), self._hide_waves)
        self.body.addWidget(self.waves, 2)
        self.body.addWidget(self.verdict)
        self.body.addLayout(row(self.accept, self.leave, 1))
        for part in (self.waves, self.verdict, self.accept, self.leave):
            policy = part.sizePolicy()  # their room stays, so that no button comes to lie where another one was
            policy.setRetainSizeWhenHidden(True)
            part.setSizePolicy(policy)
        self._doubtful = False
        self._hide_waves()

    # showing

    def show_clips(self) -> None:
        """Begin with the session's clips: the first stays, the next is moved."""
        record = self.workspace.record
        clips = record.clips if record else ()
        for box, at in ((self.first, 0), (self.second, 1)):
            kept = box.currentData()
            box.clear()
            for clip in clips:
                box.addItem(clip_name(clip), clip.id)
            place = box.findData(kept)
            box.setCurrentIndex(place if place >= 0 else min(at, len(clips) - 1))
        self._clips_chosen()

    def sleep(self) -> None:
        for picker in self.pickers:
            picker.sleep()

    def _clips_chosen(self) -> None:
        for box, picker in zip((self.first, self.second), self.pickers, strict=True):
            clip_id = box.currentData()
            film = self.workspace.film(clip_id)
            missing = "" if clip_id is None else self.workspace.lost(clip_id) or self.tr("The film is being opened.")
            picker.show_film(film, box.currentText(), missing)
        able = self.first.currentData() != self.second.currentData() and None not in self._films()
        for one in (self.same, self.listen):
            one.setEnabled(able)
        self._hide_waves()

    def _films(self) -> tuple[Clip | None, Clip | None]:
        return self.workspace.film(self.first.currentData()), self.workspace.film(self.second.currentData())

    def _clips(self) -> tuple[ClipRecord, ClipRecord] | None:
        record = self.workspace.record
        one, two = self.first.currentData(), self.second.currentData()
        if record is None or one is None or two is None or one == two:
            return None
        return record.clip(one), record.clip(two)

    # by a common moment

    def take_moment(self) -> None:
        """Move the second clip so that the two frames on view lie at one time."""
        clips, films = self._clips(), self._films()
        if clips is None or films[0] is None or films[1] is None:
            return
        here = clips[0].offset + films[0].index.exact_seconds(self.pickers[0].number)
        self._move(clips[1], here - films[1].index.exact_seconds(self.pickers[1].number))

    def _move(self, clip: ClipRecord, offset: Fraction) -> None:
        if self.workspace.edit(self.workspace.book.move_clip, clip.id, offset) is not None:
            words = self.tr("“{0}” now begins at {1} of the session clock.")
            self.workspace.say(words.format(clip_name(clip), clock(offset)), "done")

    # by sound

    def propose(self) -> None:
        """Compare the sound of both, beside the window."""
        clips, films = self._clips(), self._films()
        if clips is None or films[0] is None or films[1] is None:
            return
        self._request += 1
        request, one, two = self._request, films[0], films[1]
        self.listen.setEnabled(False)
        self.workspace.tasks.run(
            self.tr("Comparing the sound of two clips"),
            lambda progress: _compare(one, two, progress),
            lambda found: self._proposed(request, clips, found),
            self._failed,
            lambda: self.listen.setEnabled(True),
        )

    def _failed(self, error: Exception) -> None:
        self.listen.setEnabled(True)
        self.workspace.say(str(error), "wrong")

    def _proposed(
        self, request: int, clips: tuple[ClipRecord, ClipRecord], found: tuple[SoundMatch, Heard, Heard]
    ) -> None:
        self.listen.setEnabled(True)
        if request != self._request:
            return
        match, one, two = found
        self.waves.show_pair(one, two, match.shift_s, (clip_name(clips[0]), clip_name(clips[1])))
        self.waves.show_busiest()
        if match.clear:
            words = self.tr("Both heard the same at one place only (agreement {0:.2f}, next best {1:.2f}).")
        else:
            words = self.tr(
                "No place stands out (agreement {0:.2f}, next best {1:.2f}): do not trust this one without looking."
            )
        self._verdict = words.format(match.score, match.rival)
        for part in (self.waves, self.verdict, self.accept, self.leave):
            part.setVisible(True)
        self._doubtful = not match.clear
        self.accept.setText(self.tr("Accept all the same") if self._doubtful else self.tr("Accept this place"))
        self._tell_shift(match.shift_s)
        (self.leave if self._doubtful else self.accept).setFocus()

    def _tell_shift(self, shift: float) -> None:
        said = self.tr("“{0}” begins {1} after “{2}”.") if shift >= 0 else self.tr("“{0}” begins {1} before “{2}”.")
        second, first = self.second.currentText(), self.first.currentText()
        self.verdict.setText(self._verdict + " " + said.format(second, clock(abs(shift)), first))

    def take_shift(self) -> None:
        """Keep the place that is shown; one that does not stand out needs a second press."""
        if self._doubtful:
            self._doubtful = False
            self.accept.setText(self.tr("Yes, place it there"))
            self.workspace.say(
                self.tr("This place does not stand out. Compare a moment in both pictures, or press again."),
                "note",
            )
            return
        clips = self._clips()
        if clips is not None:
            self._move(clips[1], clips[0].offset + Fraction(round(self.waves.shift * 1_000_000), 1_000_000))
        self._hide_waves()

    def _hide_waves(self) -> None:
        self._verdict = ""
        for part in (self.waves, self.verdict, self.accept, self.leave):
            part.setVisible(False)


def clip_name(clip: ClipRecord) -> str:
    """What a keeper calls a clip: its camera, else its file."""
    file = clip.path.replace("\\", "/").rsplit("/", 1)[-1]
    return f"{clip.camera} ({file})" if clip.camera else file


def _compare(one: Clip, two: Clip, progress: Progress) -> tuple[SoundMatch, Heard, Heard]:
    """Shift of the second clip's first frame against the first one's, and what is drawn of both."""
    from clipmark.media.sound.clip_sound import read_sound
    from clipmark.media.sound.match import NothingToCompare

    heard = []
    for number, film in enumerate((one, two)):
        progress.advance(number, 3)
        sound = read_sound(film, rate=RATE)
        if sound is None:
            raise NothingToCompare(f"“{film.path.name}” has no sound")
        heard.append(sound)
    progress.advance(2, 3)
    found = match_sounds(heard[0].samples, heard[1].samples, RATE)
    shift = found.shift_s + float(heard[0].start) - float(heard[1].start)
    shown = [heard_in(sound.samples, sound.rate, float(sound.start), progress) for sound in heard]
    return SoundMatch(shift, found.score, found.rival, found.overlap_s), shown[0], shown[1]
