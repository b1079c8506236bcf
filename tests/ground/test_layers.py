import ast
from pathlib import Path

import clipmark

ROOT = Path(clipmark.__file__).parent
ORDER = ["ground", "media", "motion", "draft", "book", "reading", "report", "review"]
MAY_IMPORT = {room: set(ORDER[: place + 1]) for place, room in enumerate(ORDER)}
MAY_IMPORT["window"] = {*ORDER, "window"}
MAY_IMPORT["cli"] = {*ORDER, "cli"}


def room_of(module: str) -> str:
    part = module.split(".")[1] if "." in module else ""
    return part if part in MAY_IMPORT else "ground"


def imports_of(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


def test_imports_run_one_way():
    wrong = []
    for path in ROOT.rglob("*.py"):
        module = ".".join(path.relative_to(ROOT.parent).with_suffix("").parts)
        if path.parent == ROOT and path.stem in ("__init__", "__main__", "library"):
            continue  # the doors: the library for notebooks and the command, both opened only when asked for
        for name in imports_of(path):
            if name.startswith("clipmark.") and room_of(name) not in MAY_IMPORT[room_of(module)]:
                wrong.append(f"{module} imports {name}")
    assert [] == sorted(wrong)


def test_qt_lives_in_the_window_only():
    users = {room_of(".".join(p.relative_to(ROOT.parent).parts)) for p in ROOT.rglob("*.py") if _uses(p, "PySide6")}

    assert users <= {"window"}


def test_the_motion_pass_opens_no_files():
    for name in ("av", "sqlite3"):
        assert [] == [p.name for p in (ROOT / "motion").rglob("*.py") if _uses(p, name)]


def _uses(path: Path, library: str) -> bool:
    return any(name.split(".")[0] == library for name in imports_of(path))
