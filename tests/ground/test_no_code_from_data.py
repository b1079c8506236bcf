"""Nothing that is read can run: no unpacking of objects, no text taken for code, no shell. Read off the source."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import clipmark

ROOT = Path(clipmark.__file__).parent
SHIPPED = [
    *ROOT.rglob("*.py"),
    *(ROOT.parent / "models").rglob("*.py"),
    *(ROOT.parent / "sample_media").rglob("*.py"),
]
# modules whose files or texts can hold code, or that come in without a check
UNPACKERS = {
    "pickle", "cPickle", "_pickle", "dill", "cloudpickle", "joblib", "marshal", "shelve", "dbm", "jsonpickle", "yaml",
    "code", "codeop", "runpy", "imp", "torch",
}  # fmt: skip
RUNNERS = {"eval", "exec", "compile", "__import__", "breakpoint"}
SHELLS = {"os.system", "os.popen", "subprocess.getoutput", "subprocess.getstatusoutput", "pty.spawn"}
READERS = {"read_pickle", "to_pickle", "unpack_archive", "extractall"}
# modules named by constants of our own: the commands, and the window that the bare command opens
NAMED_BY_US = {"cli/__init__.py": 2}


def named(node: ast.expr) -> str:
    """`a.b.c` as it stands in the source; "" for anything else."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return f"{named(node.value)}.{node.attr}"
    return ""


def trouble(source: str) -> Iterator[str]:
    """What in a module could run what it reads."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (f"imports {one.name}" for one in node.names if one.name.split(".")[0] in UNPACKERS)
        elif isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] in UNPACKERS:
            yield f"imports from {node.module}"
        elif isinstance(node, ast.Call):
            yield from _in_call(node)


def _in_call(node: ast.Call) -> Iterator[str]:
    name = named(node.func)
    given = {one.arg: one.value for one in node.keywords}
    if name in RUNNERS or name in SHELLS or name.split(".")[-1] in READERS:
        yield f"calls {name}"
    shell = given.get("shell")
    if shell is not None and not (isinstance(shell, ast.Constant) and shell.value is False):
        yield f"{name} by a shell"
    if name in ("np.load", "numpy.load"):
        allowed = given.get("allow_pickle")
        if not (isinstance(allowed, ast.Constant) and allowed.value is False):
            yield f"{name} without allow_pickle=False"


def test_no_module_can_run_what_it_reads():
    found = {str(path.relative_to(ROOT.parent)): list(trouble(path.read_text(encoding="utf-8"))) for path in SHIPPED}

    assert 150 < len(found)
    assert {} == {path: said for path, said in found.items() if said}


def test_modules_are_named_by_our_own_constants_only():
    loading = {}
    for path in SHIPPED:
        calls = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]
        count = sum(named(call.func).endswith("import_module") for call in calls)
        if count:
            loading[path.relative_to(ROOT).as_posix()] = count

    assert NAMED_BY_US == loading


@pytest.mark.parametrize(
    "source",
    [
        "import pickle",
        "from pickle import loads",
        "def f():\n    import marshal as m",
        "eval(text)",
        "exec(open(path).read())",
        "subprocess.run(line, shell=True)",
        "os.system(line)",
        "np.load(path)",
        "np.load(path, allow_pickle=True)",
        "pd.read_pickle(path)",
        "import yaml",
    ],
)
def test_this_look_at_the_source_sees_what_it_should(source):
    assert 1 == len(list(trouble(source)))


def test_this_look_at_the_source_lets_the_harmless_pass():
    assert [] == list(trouble("app.exec()\nre.compile('x')\nsubprocess.run([a], shell=False)\njson.loads(text)"))
