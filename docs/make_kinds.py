"""Write what docs/trade-facts.md says of each kind out of models/species: `python docs/make_kinds.py`.

Everything from the line `## What is said of each kind` to `## Sources` is made; the rest is written by hand.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))
PAGE = HERE / "trade-facts.md"
BEGIN, END = "## What is said of each kind\n", "## Sources\n"


def made() -> str:
    """The part of the page, as Markdown: the kinds in order of name, tarantulas in general last."""
    from clipmark.reading.advice.known import what_is_known
    from clipmark.reading.kinds.species import GENERAL, LEVELS, load_all

    parts = [BEGIN, "\nThis part is made from the files of `models/species/` by `docs/make_kinds.py`.\n"]
    for kind in sorted(load_all(), key=lambda k: (k.level == GENERAL, LEVELS.index(k.level), k.name)):
        title = kind.name if kind.level == "group" else f"*{kind.name}*"
        parts.append(f"\n### {title if kind.name else 'Tarantulas in general'}\n")
        if kind.genera:
            members = ", ".join(f"*{genus}*" for genus in kind.genera)
            parts.append(f"\nIn this group: {members} (which genera belong here is {kind.members}).\n")
        of = kind.name or "tarantulas in general"
        own = [
            f"- {s.text.rstrip('.')}: {s.cited.removesuffix(f', {of}')}.\n"
            for section in what_is_known(kind.name if kind.level in ("species", "genus") else _member(kind)).sections
            for s in section.statements
            if s.level == kind.level and s.cited.endswith(f", {of}")
        ]
        parts += ["\n", *own]
    return "".join(parts) + "\n"


def _member(kind) -> str:  # type: ignore[no-untyped-def]
    """A name whose statements include those of a group, or of none."""
    return f"{kind.genera[0]} sp" if kind.genera else ""


def main() -> None:
    """Put the made part in its place."""
    text = PAGE.read_text("utf-8")
    start = text.index(BEGIN) if BEGIN in text else text.index(END)
    PAGE.write_text(text[:start] + made() + text[text.index(END) :], "utf-8")


if __name__ == "__main__":
    main()
