"""When motion passes are begun, what leads on from them, and the next step that the keeper is told."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject

from clipmark import settings as declared
from clipmark.book.model import ClipRecord
from clipmark.window.film.outlining import without_outline
from clipmark.window.film.pass_runner import PassRunner
from clipmark.window.workspace import Workspace


class BeginPass(QObject):
    def __init__(self, workspace: Workspace, passes: PassRunner, on_view: Callable[[], bool], parent: QObject):
        """
        Args:
            on_view: whether the keeper is on the page that asks; nobody is taken away from another.
        """
        super().__init__(parent)
        self.workspace, self.passes, self._on_view = workspace, passes, on_view
        self._awaited: int | None = None  # the clip whose pass the keeper waits for and does nothing else
        passes.kept.connect(self._kept)

    def run(self) -> None:
        """Over the clip on view."""
        clip = self.workspace.clip
        if clip is None:
            self.workspace.say(self.tr("There is no film yet. Add one with Ctrl+O."), "note")
        elif not any(o.part == "abdomen" for o in self.workspace.outlines_of(clip.id)):
            self.workspace.say(self.tr("Outline her abdomen first (F2): the motion pass follows it."), "note")
        else:
            self.passes.begin(clip)

    def run_all(self) -> None:
        """One press for the session: every clip in which her abdomen is outlined goes through the motion pass."""
        clips = self.workspace.record.clips if self.workspace.record else ()
        ready = [c for c in clips if any(o.part == "abdomen" for o in self.workspace.outlines_of(c.id))]
        if not ready:
            self.workspace.say(self.tr("Outline her abdomen first, in each clip (F2)."), "note")
            return
        self.passes.begin_all(ready)
        if len(ready) < len(clips):
            said = self.tr("{0} of {1} clips have no outline of her abdomen and are left out.")
            self.workspace.say(said.format(len(clips) - len(ready), len(clips)), "note")

    def begin_at_once(self, clip_id: int) -> None:
        """Her abdomen was outlined for the first time: the pass follows without a further press."""
        record = self.workspace.record
        if record is None or not self.workspace.settings.get(declared.PASS_AT_ONCE):
            return
        if self.workspace.pass_of(clip_id) is None and self.passes.of(clip_id) is None:
            self.passes.begin(record.clip(clip_id))
            self.workspace.say(self.tr("The outline is kept, and the motion pass runs. Shift+F5 stops it."), "done")
            self._awaited = clip_id

    def busy_elsewhere(self) -> None:
        """The keeper does something else: nobody waits for the flags."""
        self._awaited = None

    def _kept(self, clip_id: int) -> None:
        """Who outlined her and did nothing since waits for the flags: show them."""
        record, awaited = self.workspace.record, self._awaited
        self._awaited = None
        flags = record.flags if record is not None and awaited == clip_id and self._on_view() else ()
        if any(flag.flagged and flag.clip_id == clip_id for flag in flags):
            self.workspace.show_page("pulls")

    def stop(self) -> None:
        """Stop the pass over the clip on view."""
        if self.workspace.clip_id is not None:
            self.passes.stop(self.workspace.clip_id)

    def next_step(self, clip: ClipRecord) -> str:
        """What is to be done next with a clip, in words; empty where nothing is."""
        if self.passes.of(clip.id) is not None:
            waits = sum(1 for one in self.passes.running if one.for_s is None)
            said = self.tr("The motion pass runs; you can go on reviewing.")
            return said + (self.tr(" {0} more wait.").format(waits) if waits else "")
        bare = without_outline(self.workspace, clip)
        known = sum(1 for s in (self.workspace.record.shots if self.workspace.record else ()) if s.clip_id == clip.id)
        if not any(o.part == "abdomen" for o in self.workspace.outlines_of(clip.id)):
            return self.tr(
                "Next: outline her abdomen where it is well seen: drag a box round it in the picture (by keys: F2), "
                "then press Enter."
            )
        if self.workspace.pass_of(clip.id) is None:
            return self.tr("Next: run the motion pass (F5).")
        if bare and known > 1:
            return self.tr("{0} of {1} shots have no outline yet and are unwatched (F3 goes there).").format(
                len(bare), known
            )
        return ""
