"""Renders test film by its seeds from the command line; one door for all makers that take nothing but a seed."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any


def render(
    make: Callable[[int], tuple[Path, dict[str, Any]]], says: str, told: Callable[[dict[str, Any]], str]
) -> None:
    """Make the film of each seed that the command line names, first to stop, and tell path and truth in a line."""
    parser = argparse.ArgumentParser(description=says)
    parser.add_argument("first", type=int)
    parser.add_argument("stop", type=int)
    chosen = parser.parse_args()
    for seed in range(chosen.first, chosen.stop):
        path, truth = make(seed)
        print(path, told(truth), flush=True)
