from collections import namedtuple
from pathlib import Path

import pytest

from clipmark import machine, system_packages

LDD = """\
\tlinux-vdso.so.1 (0x00007ffd)
\tlibEGL.so.1 => not found
\tlibc.so.6 => /lib/x86_64-linux-gnu/libc.so.6 (0x00007f)
\tlibxcb-cursor.so.0 => not found
\tlibEGL.so.1 => not found
"""


def test_a_missing_library_is_named_once_by_the_systems_own_package():
    lacking = machine.missing_in(LDD)

    assert lacking == ["libEGL.so.1", "libxcb-cursor.so.0"]
    assert [system_packages.PACKAGES[name][0] for name in lacking] == ["libegl1", "libxcb-cursor0"]


def test_the_check_asks_the_libraries_that_are_really_installed():
    names = {path.name.split(".")[0] for path in machine._binaries()}

    assert {"libqxcb", "QtWidgets", "cv2", "core"} <= names


def test_an_install_command_updates_the_package_lists_first(monkeypatch):
    monkeypatch.setattr(
        system_packages.shutil, "which", lambda name: "/usr/bin/apt-get" if name == "apt-get" else None
    )

    update, install = system_packages.install(["libegl1"])

    assert update[-2:] == ["apt-get", "update"]
    assert install[-1] == "libegl1"


def test_without_a_known_package_manager_nothing_is_run(monkeypatch):
    monkeypatch.setattr(system_packages.shutil, "which", lambda name: None)

    assert system_packages.install(["libegl1"]) == []


def test_a_headless_platform_counts_as_no_screen(monkeypatch):
    monkeypatch.setattr(machine.sys, "platform", "linux")
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")

    assert not machine.has_screen()


def test_every_library_is_tried_at_its_job_and_does_it():
    findings = [machine._library(trial) for trial in machine._TRIALS if trial.module == "clipmark.trials"]

    assert {"open and decode film", "keep the book", "write tables"} <= {finding.what for finding in findings}
    assert [] == [finding.says for finding in findings if not finding.able]


BROKEN = {
    "a sheet with markup let through": (
        "page",
        "jinja2.py",
        "class Environment:\n"
        "    def __init__(self, **_): pass\n"
        "    def from_string(self, text): return self\n"
        "    def render(self, name): return name\n"
        "__version__ = '0'\n",
        "it lets markup through",
    ),
    "a library that does not load": ("tables", "pandas.py", "raise ImportError('no numpy here')", "no numpy here"),
    "a library that ends its process": ("reminders", "icalendar.py", "import os; os._exit(11)", "code 11"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_a_library_that_does_not_do_its_job_is_named_with_what_to_install(case, tmp_path, monkeypatch):
    name, file, code, said = BROKEN[case]
    (tmp_path / file).write_text(code)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    (trial,) = [one for one in machine._TRIALS if one.name == name]

    found = machine._library(trial)

    assert not found.able
    assert found.says.startswith(f"{trial.library} does not {trial.job}")
    assert said in found.says
    assert f"pip install --force-reinstall {trial.library}" in found.says


def test_the_check_tells_where_the_log_lies():
    from clipmark.log import log_file

    (told,) = [finding for finding in machine.look() if finding.what == "log"]

    assert str(log_file()) in told.says


Usage = namedtuple("Usage", "total used free")


@pytest.mark.parametrize("variable", ["CLIPMARK_HOME", "TMPDIR"])
@pytest.mark.parametrize(("free", "able", "words"), [(0, False, "is full"), (300_000_000, False, "nearly full")])
def test_a_full_disk_is_told_in_a_sentence_with_its_place(variable, free, able, words, tmp_path, monkeypatch):
    monkeypatch.setenv(variable, str(tmp_path))

    def usage(place):
        return Usage(10**12, 0, free if tmp_path in (Path(place), *Path(place).parents) else 10**11)

    monkeypatch.setattr(machine.shutil, "disk_usage", usage)
    found = machine._room()

    assert (able, free == 0) == (found.able, found.needed)
    assert all(one in found.says for one in (words, str(tmp_path), "make room"))


def test_room_on_every_disk_is_told_as_the_least_of_them(monkeypatch):
    monkeypatch.setattr(machine.shutil, "disk_usage", lambda place: Usage(10**12, 0, 5 * 10**9))

    assert machine._room().able
    assert "5.0 GB free" in machine._room().says
