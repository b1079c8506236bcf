"""Children run clipmark's code and Python's, whatever lies in the folder that clipmark is started in."""

import ast
import os
import subprocess
import sys
from multiprocessing import Pipe
from pathlib import Path

import pytest

import clipmark
from clipmark import children

SHIPPED = sorted(Path(clipmark.__file__).parent.rglob("*.py"))
STARTERS = {
    "subprocess", "multiprocessing", "PySide6.QtCore.QProcess", "concurrent.futures.process", "pty",
    "concurrent.futures.ProcessPoolExecutor",
}  # fmt: skip
CALLS = {"posix_spawn", "spawnv", "spawnl", "execv", "execve", "execvp", "fork", "system", "popen", "startfile"}
PLANTED = (
    "signal",
    "struct",
    "json",
    "enum",
    "runpy",
    "numpy",
    "tempfile",
    "selectors",
    "clipmark_plugin",
    "usercustomize",
)


@pytest.fixture
def planted(tmp_path, monkeypatch):
    """A folder of films in which modules lie that write down that they were run; it is the working folder."""
    heard = tmp_path / "heard"
    folder = tmp_path / "films"
    folder.mkdir()
    for name in PLANTED:
        (folder / f"{name}.py").write_text(f"open({str(heard)!r}, 'a').write('{name} ')\nraise SystemExit(9)\n")
    monkeypatch.chdir(folder)
    return heard


def test_planted_modules_are_run_by_a_python_that_is_not_told_otherwise(planted):
    told = {name: value for name, value in os.environ.items() if name != "PYTHONSAFEPATH"}
    subprocess.run([sys.executable, "-c", "import signal, struct, tempfile, numpy"], check=False, env=told)

    assert planted.exists()


def test_a_module_of_ours_in_a_child_runs_no_planted_file(planted):
    assert 0 == children.run_module("clipmark", "--help", timeout_s=60).returncode
    assert not planted.exists()


@pytest.mark.parametrize("path", ["", ".", os.pathsep, f".{os.pathsep}films"])
def test_neither_does_one_with_the_working_folder_on_the_python_path(planted, monkeypatch, path):
    monkeypatch.setenv("PYTHONPATH", path)

    assert 0 == children.run_module("clipmark", "--help", timeout_s=60).returncode
    assert not planted.exists()


def _answer(pipe):
    import enum  # noqa: F401
    import tempfile  # noqa: F401

    pipe.send("done")


def test_a_process_for_a_piece_of_work_runs_no_planted_file(planted):
    ours, theirs = Pipe(duplex=False)
    child = children.process(_answer, (theirs,))
    child.start()
    theirs.close()

    assert ours.poll(60)
    assert "done" == ours.recv()
    child.join()
    assert not planted.exists()


def test_the_module_form_of_the_command_runs_no_planted_file(planted):
    """Beside its source tree, where clipmark is found behind the working folder."""
    environment = {**children.environment(), "PYTHONPATH": str(children.ROOT)}
    del environment["PYTHONSAFEPATH"]
    words = [sys.executable, "-c", "import sys; sys.path[0] = ''; import clipmark.children"]
    assert 9 == subprocess.run(words, env=environment, check=False).returncode  # plain Python does run them
    planted.unlink()

    for name in ("runpy", "enum", "struct", "signal"):  # what Python itself takes in before it comes to clipmark
        Path(f"{name}.py").unlink()
    assert 0 == subprocess.run([sys.executable, "-m", "clipmark", "--help"], env=environment, check=False,
                               stdout=subprocess.DEVNULL).returncode  # fmt: skip
    assert not planted.exists()


def test_a_child_gets_the_named_surroundings_and_no_others(monkeypatch):
    monkeypatch.setenv("SOME_TOKEN", "secret")
    monkeypatch.setenv("PYTHONSTARTUP", "x.py")
    monkeypatch.setenv("CLIPMARK_HOME", "/somewhere")
    told = children.environment(QT_QPA_PLATFORM="offscreen")

    assert {"SOME_TOKEN", "PYTHONSTARTUP"}.isdisjoint(told)
    assert ("/somewhere", "offscreen", "1") == (
        told["CLIPMARK_HOME"], told["QT_QPA_PLATFORM"], told["PYTHONSAFEPATH"],
    )  # fmt: skip


def test_a_child_that_takes_too_long_is_told_in_a_sentence():
    with pytest.raises(children.ChildFailed, match="timed out"):
        children.run_module("clipmark", "--help", timeout_s=0.01)


@pytest.fixture
def download(tmp_path, monkeypatch):
    """The program as in the download: it starts at download/start.py, and no Python is beside it."""
    program = tmp_path / "clipmark"
    start = Path(__file__).parents[2] / "download" / "start.py"
    program.write_text(f"#!/bin/sh\nPYTHONPATH='{children.ROOT}' exec '{sys.executable}' -P '{start}' \"$@\"\n")
    program.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(program))
    monkeypatch.setattr(sys, "frozen", True, raising=False)


@pytest.mark.skipif(os.name == "nt", reason="Windows lacks the shell that plays the program here")
def test_the_download_starts_itself_where_it_needs_a_process(download, monkeypatch):
    said = children.run_module("clipmark.trials", "book", timeout_s=60)
    assert (0, "") == (said.returncode, said.stderr), said.stdout
    assert said.stdout

    monkeypatch.delattr(sys, "frozen")
    assert 2 == children.run_module("clipmark.trials", "book", timeout_s=60).returncode  # it is no Python


def beginnings(source):
    """What in a source could begin a process."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in STARTERS)
        elif isinstance(node, ast.ImportFrom) and node.module:
            taken = {f"{node.module}.{alias.name}" for alias in node.names} - {"multiprocessing.Pipe"}
            yield from (name for name in taken if node.module in STARTERS or name in STARTERS)
        elif isinstance(node, ast.Attribute) and node.attr in CALLS and getattr(node.value, "id", "") == "os":
            yield f"os.{node.attr}"


def test_processes_are_begun_in_one_place_only():
    root = Path(clipmark.__file__).parent
    sources = {path.relative_to(root).as_posix(): path.read_text(encoding="utf-8") for path in SHIPPED}

    assert ["children.py"] == [name for name, source in sources.items() if list(beginnings(source))]


@pytest.mark.parametrize(
    "source",
    [
        "import subprocess",
        "from subprocess import run",
        "from PySide6.QtCore import QProcess",
        "from multiprocessing import Pipe, Process",
        "from concurrent.futures import ProcessPoolExecutor",
        "os.execv(a, b)",
    ],
)
def test_this_look_at_the_source_sees_what_begins_a_process(source):
    assert list(beginnings(source))
