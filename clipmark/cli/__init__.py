"""The commands: each parses, calls, prints. One file a command, found by its name in COMMANDS.

Exit codes: 0 done; 1 the keeper must act (one sentence on stderr); 2 wrong usage; 130 stopped.
Only the module of the asked command is imported, so `clipmark --help` is instant.
"""

from __future__ import annotations

import argparse
import importlib
import os
import signal
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from clipmark import __version__
from clipmark.errors import ClipmarkError, WrongUsage
from clipmark.progress import Cancelled

# name -> (module, one line). Each module has `configure(parser)` and `run(arguments) -> int | None`.
COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("demo", "the whole job on the sample session"),
    "inspect": ("inspect", "what a film file is: streams, frames, times, shots, damage"),
    "frames": ("frames", "the frame index as CSV"),
    "scan": ("scan", "the motion pass on one film, without a book"),
    "survey": ("survey", "where in a film anything moves, without an outline"),
    "draft": ("draft", "acts proposed for a film, to take or leave"),
    "scan-many": ("scan_many", "the motion pass on many films, on several cores or machines"),
    "rhythm": ("rhythm", "drumming in picture and sound"),
    "sheet": ("sheet", "the session's sheet as one HTML file"),
    "export": ("export", "tables, interchange, chapters, reminders, slow-motion cuts"),
    "agree": ("agree", "agreement of two reviewers"),
    "book": ("book", "the record book: list, show, check, backup, relink, import"),
    "check": ("check", "is this machine able, and what to install"),
}


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> None:  # type: ignore[override]
        raise WrongUsage(f"{message[:1].upper()}{message[1:]}. See {self.prog} --help.")


def _overview() -> str:
    lines = [
        "usage: clipmark [COMMAND] [--help]",
        "",
        "Without a command the window opens; with film files it opens on them.",
        "",
        "commands:",
    ]
    lines += [f"  {name:<10} {line}" for name, (_, line) in COMMANDS.items()]
    lines += ["", "example: clipmark demo --no-window", "         clipmark COMMAND --help tells about one command"]
    return "\n".join(lines)


def _open_window(arguments: Sequence[str]) -> int:
    # The one place where the command line hands over to the window; imported here because Qt is heavy.
    app = importlib.import_module("clipmark.window.app")
    return int(app.run(list(arguments)))


def _dispatch(argv: Sequence[str]) -> int:
    if not argv:
        return _open_window([])
    name = argv[0]
    if name in ("-h", "--help", "help"):
        print(_overview())
        return 0
    if name == "--version":
        print(f"clipmark {__version__}")
        return 0
    if name not in COMMANDS and Path(name).exists():
        return _open_window(argv)
    if name not in COMMANDS:
        known = ", ".join(COMMANDS)
        raise WrongUsage(f"There is no command “{name}”. The commands are {known}.")
    module = importlib.import_module(f"clipmark.cli.{COMMANDS[name][0]}")
    parser = _Parser(
        prog=f"clipmark {name}",
        description=(module.__doc__ or "").strip(),
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    module.configure(parser)
    return int(module.run(parser.parse_args(argv[1:])) or 0)


def window() -> int:
    """What the desktop's own entry starts: the window, with the films that were dropped on it."""
    return main(sys.argv[1:], _open_window)


def main(argv: Sequence[str] | None = None, run: Callable[[Sequence[str]], int] | None = None) -> int:
    """Run one command; returns the exit code and never lets a traceback of an expected failure through."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a C locale must not stop a name in another alphabet
            stream.reconfigure(errors="replace")
    try:
        return (run or _dispatch)(sys.argv[1:] if argv is None else argv)
    except WrongUsage as error:
        print(error, file=sys.stderr)
        return 2
    except ClipmarkError as error:
        print(error, file=sys.stderr)
        return 1
    except (Cancelled, KeyboardInterrupt):
        print("Stopped; nothing was left half written.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # the reader of our output went away (`| head`): not an error of the keeper's
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 128 + signal.SIGPIPE if hasattr(signal, "SIGPIPE") else 1
