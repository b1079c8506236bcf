"""Everything that can be pressed: one table of name, label, key, help, page. Menu, help sheet and keys read it.

A page offers `handlers() -> dict[name, callable]`; the window binds them. Plain letters belong to the acts
(book/meaning/acts.py), so commands use other keys. Changed keys are kept in the settings under `keys`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QWidget

from clipmark import settings as declared
from clipmark.errors import ClipmarkError
from clipmark.settings import Settings

Actions = dict[str, QAction]


@dataclass(frozen=True, slots=True)
class Command:
    """`page` is where it acts; empty for everywhere. `key` in Qt's portable spelling, empty for none."""

    name: str
    label: str
    key: str
    help: str
    page: str = ""

    @property
    def text(self) -> str:
        return QCoreApplication.translate("Commands", self.label)

    @property
    def told(self) -> str:
        return QCoreApplication.translate("Commands", self.help)


def _command(name: str, label: str, key: str, help: str, page: str = "") -> Command:
    return Command(name, label, key, help, page)


COMMANDS: tuple[Command, ...] = (
    # everywhere
    _command("page.start", "Sessions", "Ctrl+Shift+O", "All sessions of the book; open one, or begin another."),
    _command("page.pair", "Pair", "Ctrl+1", "Who was paired, when, and which film."),
    _command("page.film", "Film", "Ctrl+2", "Step through the film, mark acts, draw outlines."),
    _command("page.pulls", "Pulls", "Ctrl+3", "Go through the flags and call each."),
    _command("page.sheet", "Sheet", "Ctrl+4", "The session at one look, and what follows from it."),
    _command("page.after", "After", "Ctrl+5", "What came of it, and what comes next."),
    _command("film.add", "Add film…", "Ctrl+O", "Choose film files; they can also be dropped on the window."),
    _command("edit.undo", "Undo", "Ctrl+Z", "Take the last change back, also after a restart."),
    _command("edit.redo", "Redo", "Ctrl+Shift+Z", "Redo what was undone."),
    _command("look.theme", "Light or dark", "Ctrl+L", "Change between a light and a dark window."),
    _command("help.introduction", "Sample session", "", "Show the made-up session and the three steps again."),
    _command("book.own", "My own book", "", "Back from the sample session to your own book."),
    _command("help.keys", "Keyboard shortcuts", "F1", "List the keys of this page."),
    _command("window.close", "Close", "Ctrl+Q", "Close the window; everything is in the book already."),
    # Film: going through it
    _command("play.toggle", "Play or pause", "Space", "Play the film from here, or pause it.", "film"),
    _command("step.back", "Previous frame", "Left", "Show the frame before.", "film"),
    _command("step.forward", "Next frame", "Right", "Show the next frame.", "film"),
    _command("step.back_long", "Ten frames back", "Shift+Left", "Skip back by the long step.", "film"),
    _command("step.forward_long", "Ten frames forward", "Shift+Right", "Skip on by the long step.", "film"),
    _command("step.back_second", "One second back", "Ctrl+Left", "Show the frame one second earlier.", "film"),
    _command("step.forward_second", "One second forward", "Ctrl+Right", "Show the frame one second later.", "film"),
    _command("jump.mark_back", "Previous mark", "Up", "Go to the mark before, up the roll.", "film"),
    _command("jump.mark_on", "Next mark", "Down", "Go to the next mark, down the roll.", "film"),
    _command("jump.flag_back", "Previous flag", "Ctrl+Up", "Go to the flag before.", "film"),
    _command("jump.flag_on", "Next flag", "Ctrl+Down", "Go to the next flag.", "film"),
    _command("jump.cut_back", "Previous cut", "PgUp", "Go to the cut before.", "film"),
    _command("jump.cut_on", "Next cut", "PgDown", "Go to the next cut.", "film"),
    _command(
        "jump.moving_back", "Previous movement", "Alt+Up", "Go to where something began to move before.", "film"
    ),
    _command("jump.moving_on", "Next movement", "Alt+Down", "Go to where something moves next.", "film"),
    _command("draft.begin", "Draft the timeline", "Ctrl+D", "Propose acts; no mark is touched.", "film"),
    _command("draft.back", "Previous proposal", "Alt+Left", "Go to the proposal before.", "film"),
    _command("draft.on", "Next proposal", "Alt+Right", "Go to the next proposal.", "film"),
    _command("draft.take", "Take the proposal", "Ctrl+Return", "Make the selected proposal a mark of yours.", "film"),
    _command("draft.leave", "Take the proposal off", "Backspace", "It is no mark, and counts nowhere.", "film"),
    _command("jump.start", "Start of the clip", "Home", "Go to the first frame.", "film"),
    _command("jump.end", "End of the clip", "End", "Go to the last frame.", "film"),
    _command("jump.time", "Go to a time", "Ctrl+G", "Type a time of the session clock.", "film"),
    _command("play.slower", "Slower", "F6", "Play at half the speed, down to 1/16.", "film"),
    _command("play.faster", "Faster", "F7", "Play at twice the speed, up to 8.", "film"),
    _command("play.normal", "Normal speed", "F8", "Play at 1×, with sound where there is some.", "film"),
    _command("play.sound", "Sound on or off", "Shift+F8", "Hear the film at 1×, or not.", "film"),
    _command("play.skip", "Skip what is still", "Shift+F7", "While playing, leave out where nothing moves.", "film"),
    _command(
        "view.contact", "Contact sheet", "Shift+F10", "A picture of every stretch in which something moves.", "film"
    ),
    _command("play.loop", "Repeat", "F9", "Repeat the selected act or flag, or two seconds here.", "film"),
    _command("loop.start", "Repeat from here", "Shift+F9", "The repeated stretch begins at this frame.", "film"),
    _command("loop.end", "Repeat up to here", "Ctrl+F9", "The repeated stretch ends with this frame.", "film"),
    _command("camera.other", "Other camera", "F4", "Make the next camera the current one.", "film"),
    # Film: acts
    _command("mark.end_all", "End what is open", "Ctrl+E", "End all open acts at this frame.", "film"),
    _command("mark.note", "Write a note", "Ctrl+N", "Write a note to the selected act.", "film"),
    _command("mark.remove", "Remove the act", "Del", "Remove the selected act; undo brings it back.", "film"),
    _command("acts.edit", "Change the list of acts", "Ctrl+K", "Names, keys and meanings; kept as a set.", "film"),
    # Film: outlines and the motion pass
    _command("outline.abdomen", "Outline her abdomen", "F2", "Draw or change the box round her abdomen.", "film"),
    _command("outline.carapace", "Outline her carapace", "Shift+F2", "Draw a box round her carapace.", "film"),
    _command("outline.male", "Outline him", "Ctrl+F2", "Draw a box round the male.", "film"),
    _command("outline.remove", "Remove outlines", "Shift+Del", "Remove the outlines of this frame.", "film"),
    _command("outline.next_bare", "Next shot to outline", "F3", "Go to the next shot without an outline.", "film"),
    _command("pass.run", "Run the motion pass", "F5", "Follow the outlined abdomen and flag its pulls.", "film"),
    _command("pass.all", "Find pulls in all clips", "Ctrl+F5", "Run it over every clip with an outline.", "film"),
    _command("pass.stop", "Stop the motion pass", "Shift+F5", "Stop it; nothing of it is kept.", "film"),
    # Film: how the picture is shown
    _command("view.fit", "Zoom to fit", "0", "Show all of the picture, as large as it goes.", "film"),
    _command("view.real", "Actual size", "1", "One pixel of the film on one of the screen.", "film"),
    _command("view.closer", "Zoom in", "2", "Enlarge the picture.", "film"),
    _command("view.further", "Zoom out", "3", "Make the picture smaller.", "film"),
    _command("view.brighter", "Brightness up", "4", "Lift the dark parts.", "film"),
    _command("view.darker", "Brightness down", "5", "Lower the dark parts.", "film"),
    _command("view.harder", "Contrast up", "6", "Spread dark and bright.", "film"),
    _command("view.softer", "Contrast down", "7", "Bring dark and bright together.", "film"),
    _command("view.mirror", "Mirror", "8", "Swap left and right on the screen.", "film"),
    _command("view.shapes", "Outlines on or off", "9", "Show outlines, followed outline and trail, or not.", "film"),
    _command("view.plain", "Reset the picture", "Ctrl+0", "Take brightness, contrast and mirror back.", "film"),
    _command("view.strip", "Neighbouring frames", "F12", "Show or fold the strip under the picture.", "film"),
    _command("view.alone", "Full screen", "F11", "Film, roll and keys alone on the whole screen.", "film"),
    _command("acts.find", "Find an act", "Ctrl+F", "Type a part of its name; Enter marks it.", "film"),
    # Sessions
    _command("sessions.search", "Search", "Ctrl+F", "Find a session by its title, names, kind or date.", "start"),
    _command("sessions.remove", "Remove the session", "Del", "Undo brings it back; film files stay.", "start"),
    # Pair
    _command("session.new", "New session", "Ctrl+Shift+N", "Begin another pairing."),
    _command("clips.align", "Two cameras on one clock", "Ctrl+Shift+A", "By a moment, or by their sound.", "pair"),
    # Pulls
    _command("call.confirmed", "Call it confirmed", "1", "Seating seen, and a second sign.", "pulls"),
    _command("call.probable", "Call it probable", "2", "Seating seen, or an attempt together with a pull.", "pulls"),
    _command("call.attempt", "Call it an attempt", "3", "A palp reached her and did not seat.", "pulls"),
    _command("call.not_seen", "Call it not seen", "4", "The film does not let anybody judge.", "pulls"),
    _command("call.other", "Call it something else", "5", "It was no insertion; say what it was.", "pulls"),
    _command("sign.palps_still", "Palps went still", "P", "Tick this sign.", "pulls"),
    _command("sign.abdomen_drawn", "Abdomen drawn in", "D", "Tick this sign.", "pulls"),
    _command("sign.angle_changed", "Body angle changed", "G", "Tick this sign.", "pulls"),
    _command("sign.male_stretched", "Male stretched", "M", "Tick this sign.", "pulls"),
    _command("sign.bulb_seated", "Bulb seen seated", "B", "Tick this sign.", "pulls"),
    _command("palp.left", "Left palp", "L", "It was his left palp.", "pulls"),
    _command("palp.right", "Right palp", "R", "It was his right palp.", "pulls"),
    _command("palp.none", "Palp not told", "U", "The film does not show which palp.", "pulls"),
    _command("pull.next", "Next pull", "PgDown", "Go on in the list.", "pulls"),
    _command("pull.previous", "Previous pull", "PgUp", "Go back in the list.", "pulls"),
    _command("pull.next_uncalled", "Next uncalled", "N", "Jump to the next pull that you have not called.", "pulls"),
    _command("pull.film", "Show on the film", "Ctrl+Return", "Show the moment on the Film page.", "pulls"),
    _command("pull.missed", "Add a missed pull", "Ctrl+I", "Keep a pull of your own where the film stands.", "pulls"),
    _command("pull.remove", "Remove this pull", "Ctrl+Del", "Only a pull added by hand.", "pulls"),
    _command("loop.hold", "Pause the loop", "H", "Pause the loop on this frame, and play it again.", "pulls"),
    _command("loop.whole", "Whole picture", "W", "Show the whole picture, or her abdomen close.", "pulls"),
    _command("loop.pin", "Pin this moment", "K", "Keep this frame beside the loop, for comparing.", "pulls"),
    _command("loop.mirror", "Mirror", "8", "Swap left and right on the screen, here and on the Film page.", "pulls"),
    _command("loop.back", "One frame back in the loop", ",", "Hold, and show the frame before.", "pulls"),
    _command("loop.forward", "One frame on in the loop", ".", "Hold, and show the next frame.", "pulls"),
    # Sheet
    _command("sheet.write", "Write the sheet", "Ctrl+P", "As one HTML file that opens in any browser.", "sheet"),
    _command("sheet.pdf", "Write the sheet as PDF", "Ctrl+Shift+P", "To print, or to send to an owner.", "sheet"),
    _command("sheet.open", "Open the sheet", "Ctrl+Return", "Open what was written last.", "sheet"),
    # After
    _command("after.note", "Note the outcome", "Ctrl+Return", "Keep in the book what came of it.", "after"),
    _command("after.calendar", "Reminders to a calendar", "Ctrl+E", "Write them as an .ics file.", "after"),
)

BY_NAME = {command.name: command for command in COMMANDS}


class KeyTaken(ClipmarkError):
    def __init__(self, key: str, other: Command):
        super().__init__(
            f"“{key}” is already the key of “{other.text}”. Choose another key, or change that one first."
        )
        self.key, self.other = key, other


class Keys:
    """The key of each command: the table's, or the keeper's."""

    def __init__(self, settings: Settings):
        self._settings = settings

    def of(self, name: str) -> str:
        changed = self._settings.get(declared.KEYS)
        return str(changed.get(name, BY_NAME[name].key))

    def change(self, name: str, key: str) -> None:
        """Keep another key for a command; the default needs no entry.

        Raises:
            KeyTaken: a command that acts on the same page has it.
        """
        page = BY_NAME[name].page
        for other in COMMANDS:
            meets = not page or not other.page or page == other.page
            if key and other.name != name and meets and self.of(other.name) == key:
                raise KeyTaken(key, other)
        changed = dict(self._settings.get(declared.KEYS))
        changed.pop(name, None)
        if key != BY_NAME[name].key:
            changed[name] = key
        self._settings.put(declared.KEYS, changed)


def make_actions(widget: QWidget, page: str, handlers: Mapping[str, Callable[[], object]], keys: Keys) -> Actions:
    """Actions for the commands of a page that have a handler, added to the widget, each with its key.

    Raises:
        KeyError: a handler's name is not in the table.
    """
    actions: Actions = {}
    for name, do in handlers.items():
        command = BY_NAME[name]
        action = QAction(command.text, widget)
        action.setObjectName(name)
        action.setToolTip(command.told)
        action.setShortcut(QKeySequence(keys.of(name)))
        if page:
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.triggered.connect(lambda _=False, do=do: do())
        widget.addAction(action)
        actions[name] = action
    return actions


def on_page(page: str) -> tuple[Command, ...]:
    """What can be pressed on a page: its own commands first, then those that act everywhere."""
    own = tuple(c for c in COMMANDS if c.page == page)
    return own + tuple(c for c in COMMANDS if not c.page)
