"""The desktop entry: a file that a desktop can read, an icon of our own, and a command that opens the window."""

import configparser
import tomllib
from pathlib import Path
from xml.etree import ElementTree

import clipmark
from clipmark import cli

ROOT = Path(__file__).parents[2]
ICON = Path(clipmark.__file__).parent / "window" / "icons" / "clipmark.svg"


def test_the_desktop_entry_starts_a_command_that_is_installed():
    entry = configparser.ConfigParser(interpolation=None)
    entry.optionxform = str  # type: ignore[method-assign,assignment]
    entry.read(ROOT / "download" / "clipmark.desktop", encoding="utf-8")
    desktop = entry["Desktop Entry"]
    installed = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["gui-scripts"]

    assert desktop["Exec"].split()[0] in installed
    assert "Application" == desktop["Type"]
    assert ICON.stem == desktop["Icon"]
    assert all(kind.startswith("video/") for kind in desktop["MimeType"].strip(";").split(";"))


def test_the_icon_is_a_square_drawing_without_anything_from_outside():
    drawing = ElementTree.parse(ICON).getroot()

    _, _, width, height = drawing.attrib["viewBox"].split()
    assert width == height
    assert "http" not in ICON.read_text("utf-8").replace('xmlns="http://www.w3.org/2000/svg"', "")


def test_the_entry_opens_the_window_with_the_films_dropped_on_it(monkeypatch):
    opened = []
    monkeypatch.setattr(cli, "_open_window", lambda films: opened.append(list(films)) or 0)
    monkeypatch.setattr("sys.argv", ["clipmark-window", "a.mp4", "b.mp4"])

    assert 0 == cli.window()
    assert [["a.mp4", "b.mp4"]] == opened
