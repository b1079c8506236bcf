import json
import os

import pytest

from clipmark import settings
from clipmark.atomic_files import CannotWrite
from clipmark.settings import Setting, Settings, SettingsUnreadable


def test_a_choice_is_there_at_the_next_start(tmp_path):
    Settings(tmp_path / "s.json").put(settings.LONG_STEP, 25)

    assert Settings(tmp_path / "s.json").get(settings.LONG_STEP) == 25


def test_a_value_under_a_former_name_still_counts(tmp_path):
    (tmp_path / "s.json").write_text('{"jump": 7}', encoding="utf-8")
    setting = Setting("film.long_step", 10, "", formerly=("jump",))

    assert Settings(tmp_path / "s.json").get(setting) == 7


def test_a_value_of_the_wrong_type_gives_way_to_the_default(tmp_path):
    (tmp_path / "s.json").write_text('{"film.long_step": "many"}', encoding="utf-8")

    assert settings.LONG_STEP.default == Settings(tmp_path / "s.json").get(settings.LONG_STEP)


@pytest.mark.parametrize("text", ["{", "[]", '"x"'])
def test_a_damaged_settings_file_is_told_and_left_as_it_is(tmp_path, text):
    path = tmp_path / "s.json"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(SettingsUnreadable, match="Mend the file"):
        Settings(path)
    assert text == path.read_text(encoding="utf-8")


def test_every_setting_is_declared_once_and_its_default_can_be_kept(tmp_path):
    assert len({s.name for s in settings.ALL}) == len(settings.ALL)
    json.dumps({s.name: s.default for s in settings.ALL})


def test_one_variable_moves_all_folders(tmp_path, monkeypatch):
    monkeypatch.setenv("CLIPMARK_HOME", str(tmp_path))
    monkeypatch.delenv("CLIPMARK_BOOK", raising=False)

    assert tmp_path in settings.default_book().parents
    assert tmp_path in settings.cache_dir().parents


@pytest.mark.parametrize("value", [True, 0, -5, 10**9, 2.5, None, []])
def test_a_number_out_of_bounds_gives_way_to_the_default(tmp_path, value):
    (tmp_path / "s.json").write_text(json.dumps({"film.cache_mib": value}), encoding="utf-8")
    read = Settings(tmp_path / "s.json")

    assert settings.CACHE_MIB.default == read.get(settings.CACHE_MIB)
    with pytest.raises(TypeError):
        read.put(settings.CACHE_MIB, value)


def test_a_choice_that_cannot_be_written_is_told_and_holds_all_the_same(tmp_path):
    read = Settings(tmp_path / "place" / "s.json")
    (tmp_path / "place").write_text("a file where the folder should be")
    with pytest.raises(CannotWrite, match="could not be written"):
        read.put(settings.LONG_STEP, 25)

    assert 25 == read.get(settings.LONG_STEP)


def test_what_one_window_sets_outlasts_what_another_one_sets(tmp_path):
    path = tmp_path / "settings.json"
    first, second = Settings(path), Settings(path)
    first.put(settings.LONG_STEP, 25)
    second.put(settings.REVIEWER, "Ada")
    first.put(settings.BLIND, False)

    read = Settings(path)
    assert (25, "Ada", False) == (read.get(settings.LONG_STEP), read.get(settings.REVIEWER), read.get(settings.BLIND))


def test_an_entry_that_one_window_puts_into_a_table_outlasts_those_of_another(tmp_path):
    path = tmp_path / "settings.json"
    Settings(path).put(settings.REVIEWERS, {"b 1": "Ada", "b 2": "Ada", "b 3": "Ada"})
    first, second = Settings(path), Settings(path)
    first.put(settings.REVIEWERS, {**first.get(settings.REVIEWERS), "b 4": "Ben"})
    second.put(settings.REVIEWERS, {"b 2": "Cem", "b 3": "Ada", "b 5": "Cem"})
    first.put(settings.REVIEWERS, {**first.get(settings.REVIEWERS), "b 6": "Ben"})

    expected = {"b 3": "Ada", "b 4": "Ben", "b 2": "Cem", "b 5": "Cem", "b 6": "Ben"}
    assert list(expected.items()) == list(Settings(path).get(settings.REVIEWERS).items())


def test_entries_that_a_full_disk_did_not_take_are_written_later_with_those_of_others(tmp_path, monkeypatch):
    path = tmp_path / "settings.json"
    first = Settings(path)
    with monkeypatch.context() as full:
        full.setattr(Settings, "_write", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
        for number in (1, 2):
            with pytest.raises(CannotWrite, match="disk is full"):
                first.put(settings.LAST_SESSION, {**first.get(settings.LAST_SESSION), f"book {number}": number})
    Settings(path).put(settings.LAST_SESSION, {"book 3": 3})
    first.put(settings.LONG_STEP, 25)

    assert {"book 1": 1, "book 2": 2, "book 3": 3} == Settings(path).get(settings.LAST_SESSION)


def test_settings_that_are_a_link_are_written_where_they_lie(tmp_path):
    kept = tmp_path / "kept" / "mine.json"
    kept.parent.mkdir()
    kept.write_text("{}")
    (tmp_path / "settings.json").symlink_to(kept)
    Settings(tmp_path / "settings.json").put(settings.REVIEWER, "Ada")

    assert (tmp_path / "settings.json").is_symlink()
    assert "Ada" == Settings(kept).get(settings.REVIEWER)


def test_settings_that_are_no_file_are_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "settings.json")

    with pytest.raises(SettingsUnreadable, match="a pipe"):
        Settings(tmp_path / "settings.json")
