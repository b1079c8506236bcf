"""Colours: computed, not looked at. Bars of WCAG 2.2: text 4.5 : 1 (1.4.3), shapes 3 : 1 (1.4.11)."""

from __future__ import annotations

import itertools

import pytest

from clipmark.window import theme

THEMES = pytest.mark.parametrize("colours", [theme.light(), theme.dark()], ids=["light", "dark"])
WORDS = ("text", "faint", "his", "hers", "both", "keeper", "flag", "called", "unwatched", "place", "wrong", "done")


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.48), ("#0000ff", "#ffffff", 8.59)],
)
def test_contrast_is_that_of_the_published_formula(one, other, expected):
    # worked values of the WCAG formula as commonly quoted: black on white 21, #777 on white 4.48, blue on white 8.59
    assert pytest.approx(expected, abs=0.01) == theme.contrast(one, other)


@THEMES
@pytest.mark.parametrize("name", WORDS)
def test_words_in_every_colour_can_be_read_on_every_ground(colours, name):
    for ground in (colours.ground, colours.panel):
        assert theme.contrast(getattr(colours, name), ground) >= 4.5


@THEMES
def test_words_on_the_accent_can_be_read(colours):
    assert theme.contrast(colours.on_accent, colours.accent) >= 4.5


@THEMES
def test_borders_of_what_can_be_operated_stand_out(colours):
    for ground in (colours.ground, colours.panel):
        assert theme.contrast(colours.line, ground) >= 3.0


@THEMES
def test_his_and_hers_are_told_apart_by_colour_too(colours):
    from PySide6.QtGui import QColor

    for one, other in itertools.combinations((colours.his, colours.hers, colours.both, colours.keeper), 2):
        hues = [QColor(c).hsvHueF() for c in (one, other)]
        apart = abs(hues[0] - hues[1])
        assert min(apart, 1 - apart) > 0.08


def test_the_setting_wins_over_the_system(qapp):
    assert theme.choose("dark").dark
    assert not theme.choose("light").dark


def test_light_and_dark_change_over_and_the_choice_is_kept(window):
    from clipmark import settings as declared

    window.change_theme()
    assert theme.current().dark
    assert "dark" == window.workspace.settings.get(declared.THEME)
    window.change_theme()
    assert not theme.current().dark
