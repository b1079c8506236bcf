"""Everything that can be pressed: one table of name, label, key, help, page. Menu, help sheet and keys read it.

A page offers `handlers() -> dict[name, callable]`; the window binds them. Plain letters belong to the acts
(book/acts.py), so commands use other keys. Changed keys are kept in the settings under `keys`.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication

from clipmark import settings as declared
from clipmark.errors import ClipmarkError
from clipmark.settings import Settings


def _noop(text: str) -> str:
    return str(QT_TRANSLATE_NOOP("Commands", text))


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
    _command("page.pair", "Pair", "Ctrl+1", "Who was paired, when, and which film."),
    _command("page.film", "Film", "Ctrl+2", "Step through the film, mark acts, draw outlines."),
    _command("page.pulls", "Pulls", "Ctrl+3", "Go through the flags and call each."),
    _command("page.sheet", "Sheet", "Ctrl+4", "The session at one look, and what follows from it."),
    _command("page.after", "After", "Ctrl+5", "What came of it, and what comes next."),
    _command("film.add", "Add film…", "Ctrl+O", "Choose film files; they can also be dropped on the window."),
    _command("edit.undo", "Undo", "Ctrl+Z", "Take the last change back, also after a restart."),
    _command("edit.redo", "Do again", "Ctrl+Shift+Z", "Do again what was undone."),
    _command("help.keys", "What can I press here?", "F1", "List the keys of this page."),
    _command("window.close", "Close", "Ctrl+Q", "Close the window; everything is in the book already."),
    # Film
    _command("step.back", "One frame back", "Left", "Show the frame before.", "film"),
    _command("step.forward", "One frame on", "Right", "Show the next frame.", "film"),
    _command("step.back_long", "Ten frames back", "Shift+Left", "Skip back by the long step.", "film"),
    _command("step.forward_long", "Ten frames on", "Shift+Right", "Skip on by the long step.", "film"),
    _command("step.back_second", "One second back", "Ctrl+Left", "Show the frame one second earlier.", "film"),
    _command("step.forward_second", "One second on", "Ctrl+Right", "Show the frame one second later.", "film"),
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


def on_page(page: str) -> tuple[Command, ...]:
    """What can be pressed on a page: its own commands first, then those that act everywhere."""
    own = tuple(c for c in COMMANDS if c.page == page)
    return own + tuple(c for c in COMMANDS if not c.page)
