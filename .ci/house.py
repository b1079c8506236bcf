"""The structure of the program, read off its imports: the picture in DEVELOPERS.md, and its measures.

.venv/bin/python .ci/house.py             the measures, one a line
.venv/bin/python .ci/house.py --of REV    the same of another commit
.venv/bin/python .ci/house.py --picture   draws the picture in DEVELOPERS.md anew (tests/ground/test_house.py)
"""

from __future__ import annotations

import ast
import io
import statistics
import subprocess
import sys
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- picture: .ci/house.py --picture -->\n", "<!-- end of picture -->\n"
DOORS = ("clipmark", "clipmark.__main__", "clipmark.library")  # they open rooms only when asked to
ROOMS = ("window", "cli", "review", "report", "reading", "book", "draft", "motion", "media")
MOST_FILES = 12  # modules in one folder that still can be taken in at a glance

Arrows = dict[str, set[str]]  # from a name to the names that it imports


@dataclass(frozen=True)
class Module:
    """One file of the program: its dotted name, its tree, its lines."""

    name: str
    tree: ast.Module
    lines: int

    @property
    def folder(self) -> str:
        return self.name.rpartition(".")[0]


def modules(package: Path) -> list[Module]:
    """All modules below `package`, empty `__init__` files left out, in the order of their names."""
    found = []
    for path in sorted(package.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        name = ".".join(path.relative_to(package.parent).with_suffix("").parts).removesuffix(".__init__")
        if "._data." not in name and not (path.stem == "__init__" and len(text.splitlines()) < 15):
            found.append(Module(name, ast.parse(text), len(text.splitlines())))
    return found


def _for_types(tree: ast.Module) -> set[ast.AST]:
    """What stands under `if TYPE_CHECKING` and never runs."""
    blocks = [n for n in ast.walk(tree) if isinstance(n, ast.If) and ast.unparse(n.test).endswith("TYPE_CHECKING")]
    return {inner for block in blocks for statement in block.body for inner in ast.walk(statement)}


def _named(module: Module, types: bool) -> set[str]:
    names: set[str] = set()
    left_out = set() if types else _for_types(module.tree)
    for node in ast.walk(module.tree):
        if node in left_out:
            continue
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def arrows(found: list[Module], types: bool = True) -> Arrows:
    """Which module imports which, inside functions too; without `types` those for types alone are left out."""
    known = {module.name for module in found} - set(DOORS)
    return {m.name: (_named(m, types) & known) - {m.name} for m in found if m.name not in DOORS}


def rooms(found: list[Module]) -> dict[str, list[Module]]:
    """The modules of each folder, by its dotted name."""
    folders: dict[str, list[Module]] = {}
    for module in found:
        if module.folder:
            folders.setdefault(module.folder, []).append(module)
    return folders


def _reaches(of: Arrows) -> Arrows:
    """All names that can be come to from each, by any number of arrows."""
    reach: Arrows = {}
    for start in of:
        seen: set[str] = set()
        todo = [start]
        while todo:
            new = of.get(todo.pop(), set()) - seen
            seen |= new
            todo += new
        reach[start] = seen
    return reach


def circles(of: Arrows) -> list[set[str]]:
    """The groups of names of which each can be come to from each other."""
    reach = _reaches(of)
    found: list[set[str]] = []
    for name in sorted(of):
        group = {other for other in reach[name] if name in reach.get(other, set())}
        if group and group not in found:
            found.append(group)
    return found


def _reduced(of: Arrows) -> Arrows:
    """Without the arrows that a longer way tells already; those of a circle all stay."""
    reach = _reaches(of)

    def told(name: str, end: str) -> bool:
        ways = of[name] - {end}
        return any(end in reach[w] and w not in reach[end] and name not in reach[w] for w in ways)

    return {name: {end for end in ends if not told(name, end)} for name, ends in of.items()}


def _between(of: Arrows, place: dict[str, str]) -> Arrows:
    """Arrows between rooms, from those between the modules that stand in them (`place`: module -> room)."""
    made: Arrows = {room: set() for room in place.values()}
    for name, ends in of.items():
        if name in place:
            made[place[name]] |= {place[end] for end in ends if end in place} - {place[name]}
    return made


def _inner(found: list[Module], room: str) -> dict[str, str]:
    """Which room of `room` each of its modules stands in; those that stand in none are left out."""
    names = [m.name for m in found if m.name.startswith(f"clipmark.{room}.")]
    return {n: ".".join(n.split(".")[1:3]) for n in names if n.count(".") > 2}


def room_circles(found: list[Module]) -> list[set[str]]:
    """Rooms inside a room that import each other in a circle."""
    of = arrows(found)
    return [c for room in ROOMS for c in circles(_between(of, _inner(found, room)))]


def picture(found: list[Module]) -> str:
    """Mermaid: the rooms as boxes, in each its own rooms, and who imports whom. An arrow points at what is imported;
    one that a longer way tells already is left out, and so are those of modules that stand beside the inner rooms."""
    of = arrows(found)
    top = {m.name: m.name.split(".")[1] if m.name.count(".") > 1 else "ground" for m in found if m.name in of}
    lines = ["```mermaid", "flowchart TB"]
    for room in ROOMS:
        inner = _inner(found, room)
        if not inner:
            lines.append(f"  {room}[{room}]")
            continue
        lines.append(f"  subgraph {room}")
        lines += [f"    {name}[{name.split('.')[1]}]" for name in sorted(set(inner.values()))]
        for name, ends in sorted(_reduced(_between(of, inner)).items()):
            lines += [f"    {name} --> {end}" for end in sorted(ends)]
        lines.append("  end")
    lines.append("  ground[ground: the modules at the top]")
    for room, ends in sorted(_reduced(_between(of, top)).items()):
        lines += [f"  {room} --> {end}" for end in sorted(ends)]
    return "\n".join([*lines, "```", ""])


def page_with(picture: str, page: str) -> str:
    """The page with the picture between its two comments."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}{picture}{END}{after}"


def _public(module: Module) -> list[ast.FunctionDef]:
    """Public functions of a module, and public methods of its public classes."""
    held: list[ast.FunctionDef] = []
    for node in module.tree.body:
        members = node.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_") else [node]
        held += [m for m in members if isinstance(m, ast.FunctionDef) and not m.name.startswith("_")]
    return held


def _length(function: ast.FunctionDef) -> int:
    told = isinstance(function.body[0], ast.Expr) and ast.get_docstring(function) is not None
    return (function.end_lineno or function.lineno) - function.lineno + 1 - (
        (function.body[0].end_lineno or 0) - function.body[0].lineno + 1 if told else 0
    )  # fmt: skip


def measures(found: list[Module]) -> list[tuple[str, str]]:
    """What can be counted of the structure: name and figure."""
    of = arrows(found)
    functions = [n for m in found for n in ast.walk(m.tree) if isinstance(n, ast.FunctionDef)]
    public = [f for m in found for f in _public(m)]
    held = {room: len(inside) for room, inside in rooms(found).items()}
    full = [f"{room[9:] or 'ground'} {files}" for room, files in held.items() if files > MOST_FILES]
    return [
        ("modules", str(len(found))),
        ("lines", str(sum(m.lines for m in found))),
        ("lines of a module, median", str(round(statistics.median(m.lines for m in found)))),
        ("modules of more than 400 lines", str(sum(m.lines > 400 for m in found))),
        ("lines of a function, median", str(round(statistics.median(map(_length, functions))))),
        ("rooms", str(len(held))),
        ("files a room, median", str(round(statistics.median(held.values())))),
        (
            f"rooms of more than {MOST_FILES} files",
            ", ".join(full) or "0",
        ),
        ("arrows between modules", str(sum(map(len, of.values())))),
        ("circles of modules", str(len(circles(arrows(found, types=False))))),
        ("circles of rooms", "; ".join(" ".join(sorted(c)) for c in room_circles(found)) or "0"),
        ("public functions with docstring", f"{sum(bool(ast.get_docstring(f)) for f in public)} of {len(public)}"),
    ]


def _checked_out(revision: str, folder: Path) -> Path:
    packed = subprocess.run(["git", "archive", revision, "clipmark"], cwd=ROOT, capture_output=True, check=True)
    with tarfile.open(fileobj=io.BytesIO(packed.stdout)) as tar:
        tar.extractall(folder, filter="data")
    return folder / "clipmark"


def main(arguments: list[str]) -> int:
    if arguments == ["--picture"]:
        page = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(page_with(picture(modules(ROOT / "clipmark")), page), encoding="utf-8")
        return 0
    with tempfile.TemporaryDirectory() as made:
        other = arguments[0] == "--of" if arguments else False
        package = _checked_out(arguments[1], Path(made)) if other else ROOT / "clipmark"
        for name, figure in measures(modules(package)):
            print(f"{name}: {figure}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
