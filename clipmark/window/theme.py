"""Light and dark: the colours that have a meaning, the palette of the window, and the sum that WCAG asks for.

The hues are those of Okabe & Ito (2008), made for colour-blind eyes; no meaning hangs on colour alone. On a light
ground they are darkened, on a dark one lightened, until text in them has a contrast of 4.5 : 1 (WCAG 2.2, 1.4.3).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

ORANGE = "#E69F00"
SKY = "#56B4E9"
GREEN = "#009E73"
YELLOW = "#F0E442"
BLUE = "#0072B2"
VERMILION = "#D55E00"
PURPLE = "#CC79A7"

TEXT_CONTRAST = 4.5
SHAPE_CONTRAST = 3.0

ICONS = Path(__file__).parent / "icons"
SPACE = 8  # pixels: the step of the spacing scale; margins and gaps are halves and multiples of it
TYPE = {"small": 0.88, "normal": 1.0, "title": 1.5}  # the type scale, shares of the system's size


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Relative luminance of "#rrggbb", 0..1. Source: WCAG 2.2, definition of relative luminance."""
    parts = QColor(colour)
    red, green, blue = (_linear(v) for v in (parts.redF(), parts.greenF(), parts.blueF()))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1..21. Source: WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def readable(hue: str, ground: str, least: float = TEXT_CONTRAST) -> str:
    """The hue, moved towards black or white in small steps until it reads on the ground."""
    colour, end = QColor(hue), 0.0 if luminance(ground) > 0.18 else 1.0
    for step in range(101):
        share = step / 100
        mixed = QColor.fromRgbF(*(c + (end - c) * share for c in (colour.redF(), colour.greenF(), colour.blueF())))
        if contrast(mixed.name(), ground) >= least:
            return mixed.name()
    raise AssertionError("black or white reads on every ground")


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours as "#rrggbb". his, hers, both, keeper: whose act; flag; called and uncalled; wrong, done: messages."""

    dark: bool
    ground: str
    panel: str  # cards, lists, the roll's paper
    line: str  # borders of what can be operated
    text: str
    faint: str  # secondary text
    accent: str
    on_accent: str
    his: str
    hers: str
    both: str
    keeper: str
    flag: str
    called: str
    unwatched: str
    place: str  # the line of the present place
    wrong: str
    done: str


def _theme(dark: bool, ground: str, panel: str, text: str, faint: str) -> Theme:
    def on(hue: str) -> str:
        # both grounds carry the hue as text; the panel is the harder one in neither theme by much, so satisfy both
        return readable(readable(hue, panel), ground)

    accent = on(BLUE)
    return Theme(
        dark=dark,
        ground=ground,
        panel=panel,
        line=readable("#808080", ground, SHAPE_CONTRAST),
        text=text,
        faint=faint,
        accent=accent,
        on_accent=readable("#ffffff" if not dark else "#101010", accent),
        his=on(SKY if dark else BLUE),
        hers=on(ORANGE if dark else VERMILION),
        both=on(PURPLE),
        keeper=on(GREEN),
        flag=on(YELLOW),
        called=on(GREEN),
        unwatched=on("#888888"),
        place=on(VERMILION),
        wrong=on(VERMILION),
        done=on(GREEN),
    )


@cache
def light() -> Theme:
    """The colours of the window by day."""
    return _theme(False, ground="#f4f2ee", panel="#ffffff", text="#1d1b18", faint="#5c5750")


@cache
def dark() -> Theme:
    """The colours of the window by night."""
    return _theme(True, ground="#1e1d1b", panel="#292724", text="#f1eee8", faint="#b9b2a7")


_chosen: list[Theme] = []


def current() -> Theme:
    """The theme in use; light before `apply`."""
    return _chosen[-1] if _chosen else light()


def choose(setting: str) -> Theme:
    """The theme for the setting "light", "dark" or "system" (anything else counts as that)."""
    if setting in ("light", "dark"):
        return dark() if setting == "dark" else light()
    hints = QGuiApplication.styleHints()
    return dark() if hints.colorScheme() == Qt.ColorScheme.Dark else light()


def apply(app: QApplication, theme: Theme) -> None:
    """Give the whole application the theme's palette and style."""
    _chosen[:] = [theme]
    app.setStyle("Fusion")
    app.setPalette(_palette(theme))
    size = app.font().pointSizeF()
    app.setStyleSheet(_sheet(theme, size if size > 0 else 10.0))


def mixed(ground: str, ink: str, share: float) -> str:
    """A colour between two, `share` of the way from the first to the second."""
    one, other = QColor(ground), QColor(ink)
    parts = zip((one.redF(), one.greenF(), one.blueF()), (other.redF(), other.greenF(), other.blueF()), strict=True)
    return QColor.fromRgbF(*(a + (b - a) * share for a, b in parts)).name()


def _palette(theme: Theme) -> QPalette:
    role = QPalette.ColorRole
    palette = QPalette()
    pairs = {
        role.Window: theme.ground, role.WindowText: theme.text, role.Base: theme.panel, role.Text: theme.text,
        role.AlternateBase: theme.ground, role.Button: theme.panel, role.ButtonText: theme.text,
        role.ToolTipBase: theme.panel, role.ToolTipText: theme.text, role.PlaceholderText: theme.faint,
        role.Highlight: theme.accent, role.HighlightedText: theme.on_accent, role.Link: theme.accent,
        role.Mid: theme.line, role.Dark: theme.line, role.BrightText: theme.wrong, role.Accent: theme.accent,
    }  # fmt: skip
    for which, colour in pairs.items():
        palette.setColor(which, QColor(colour))
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, QColor(theme.faint))
    return palette


def _sheet(theme: Theme, size: float) -> str:
    # The style draws the frames of ticks fainter than 3 : 1 (WCAG 2.2, 1.4.11), on dark ground hardly at all.
    which = "dark" if theme.dark else "light"
    tick, up, down = ((ICONS / f"{name}-{which}.svg").as_posix() for name in ("tick", "arrow-up", "arrow-down"))
    hover, pressed, edge = (mixed(theme.panel, theme.text, share) for share in (0.06, 0.14, 0.22))
    return f"""
    QCheckBox::indicator, QRadioButton::indicator {{
        width: 0.95em; height: 0.95em; border: 1px solid {theme.line}; background: {theme.panel};
    }}
    QCheckBox::indicator {{ border-radius: 3px; }}
    QLineEdit {{ border: 1px solid {theme.line}; border-radius: 3px; padding: 2px 3px; background: {theme.panel}; }}
    QAbstractSpinBox {{ min-height: 1.6em; }}
    QSpinBox, QDoubleSpinBox {{
        border: 1px solid {theme.line}; border-radius: 3px; background: {theme.panel}; padding-left: 3px;
    }}
    QSpinBox::up-button, QSpinBox::down-button, QDoubleSpinBox::up-button, QDoubleSpinBox::down-button {{
        border: none; width: 1.4em;
    }}
    QSpinBox::up-arrow, QDoubleSpinBox::up-arrow {{ image: url("{up}"); width: 0.6em; height: 0.6em; }}
    QSpinBox::down-arrow, QDoubleSpinBox::down-arrow {{ image: url("{down}"); width: 0.6em; height: 0.6em; }}
    QLineEdit:focus, QSpinBox:focus, QDoubleSpinBox:focus {{ border: 1px solid {theme.accent}; }}
    QAbstractSpinBox QLineEdit, QComboBox QLineEdit {{ border: none; padding: 0; }}
    QRadioButton::indicator {{ border-radius: 0.47em; }}
    QCheckBox::indicator:checked {{ background: {theme.accent}; border-color: {theme.accent}; image: url("{tick}"); }}
    QRadioButton::indicator:checked {{ background: qradialgradient(cx: 0.5, cy: 0.5, radius: 0.5, fx: 0.5, fy: 0.5,
        stop: 0 {theme.accent}, stop: 0.55 {theme.accent}, stop: 0.65 {theme.panel}, stop: 1 {theme.panel}); }}
    QCheckBox::indicator:focus, QRadioButton::indicator:focus {{ border: 2px solid {theme.accent}; }}
    QPushButton, QToolButton {{
        background: {theme.panel}; border: 1px solid {theme.line}; border-radius: 4px; color: {theme.text};
        padding: {SPACE // 2}px {SPACE}px;
    }}
    QToolButton {{ padding: {SPACE // 2}px; }}
    QPushButton:hover, QToolButton:hover {{ background: {hover}; }}
    QPushButton:pressed, QToolButton:pressed {{ background: {pressed}; }}
    QPushButton:focus, QToolButton:focus {{
        border: 2px solid {theme.accent}; padding: {SPACE // 2 - 1}px {SPACE - 1}px;
    }}
    QToolButton:focus {{ padding: {SPACE // 2 - 1}px; }}
    QPushButton:checked, QToolButton:checked {{
        background: {theme.accent}; color: {theme.on_accent}; border-color: {theme.accent};
    }}
    QPushButton:disabled, QToolButton:disabled {{
        color: {theme.faint}; border-color: {edge}; background: {theme.ground};
    }}
    QToolButton[autoRaise="true"] {{ background: transparent; border: 1px solid transparent; }}
    QToolButton[autoRaise="true"]:hover {{ background: {hover}; border-color: {edge}; }}
    QToolButton[autoRaise="true"]:focus {{ border: 2px solid {theme.accent}; }}
    QPushButton[role="main"] {{
        background: {theme.accent}; color: {theme.on_accent}; border-color: {theme.accent}; font-weight: 600;
    }}
    QTabBar::tab {{
        background: transparent; color: {theme.faint}; border: none; border-bottom: 3px solid transparent;
        padding: {SPACE}px {2 * SPACE}px {SPACE - 2}px {2 * SPACE}px; margin-right: {SPACE // 2}px;
    }}
    QTabBar::tab:hover {{ color: {theme.text}; background: {hover}; }}
    QTabBar::tab:selected {{ color: {theme.text}; border-bottom: 3px solid {theme.accent}; font-weight: 600; }}
    QTabBar::tab:focus {{ border-bottom: 3px solid {theme.hers}; }}
    QListView, QTreeView, QTableView {{ border: 1px solid {edge}; border-radius: 4px; }}
    QListView::item {{ padding: {SPACE // 2}px; }}
    QListView:focus, QTreeView:focus, QTableView:focus {{ border: 1px solid {theme.accent}; }}
    QProgressBar {{ border: 1px solid {edge}; border-radius: 4px; background: {theme.panel}; text-align: center; }}
    QProgressBar::chunk {{ background: {theme.accent}; border-radius: 3px; }}
    QSplitter::handle {{ background: transparent; }}
    QSplitter::handle:hover {{ background: {edge}; }}
    QToolTip {{ border: 1px solid {theme.line}; padding: 4px; }}
    *[role="heading"] {{ font-weight: 600; }}
    *[role="title"] {{ font-weight: 600; font-size: {size * TYPE["title"]:.1f}pt; }}
    *[role="small"] {{ color: {theme.faint}; font-size: {size * TYPE["small"]:.1f}pt; }}
    *[role="faint"] {{ color: {theme.faint}; }}
    QLabel[role="key"] {{ border: 1px solid {theme.line}; border-radius: 3px; padding: 0 2px; color: {theme.text}; }}
    *[role="both"] {{ color: {theme.both}; font-weight: 600; }}
    *[role="keeper"] {{ color: {theme.keeper}; font-weight: 600; }}
    *[role="his"] {{ color: {theme.his}; font-weight: 600; }}
    *[role="hers"] {{ color: {theme.hers}; font-weight: 600; }}
    *[role="wrong"] {{ color: {theme.wrong}; }}
    *[role="done"] {{ color: {theme.done}; }}
    QFrame[role="sheet"] {{ background: {theme.panel}; border: 2px solid {theme.accent}; border-radius: 8px; }}
    QFrame[role="card"] {{ background: {theme.panel}; border: 1px solid {theme.line}; border-radius: 6px; }}
    """
