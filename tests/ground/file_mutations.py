"""Damages the small files that clipmark reads from a keeper's disk, and reads them: what may come out is a value, a
sentence, or, for what can be made anew, nothing.

Run by itself it is the worker of the sweep: `python file_mutations.py FOLDER FIRST COUNT` reads the whole files in
FOLDER, damages them by the numbers FIRST, FIRST + 1 ..., and tells after each what came of it, one line a mutation.
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
from collections.abc import Callable
from dataclasses import asdict
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from clipmark.errors import ClipmarkError
from clipmark.media.clip import Clip, open_clip
from tests import made

ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 2**63, 10**400, 1e308, -1e308, float("nan"), float("inf"), 1e-320, "", "x" * 5_000,
    "\0", "\ud800", "2026-13-01", "../../etc/hosts", [], {}, [[]], [None], {"": None}, "1/0",
)  # fmt: skip
TOKENS = (
    b"[" * 20_000, b"{" * 20_000, b"]", b"}", b'"', b"\\u0000", b"\\ud800", b"NaN", b"-Infinity", b"1e999", b"null",
    b"9" * 5_000, b"\xff\xfe", b"\xef\xbb\xbf", b"\0", b"true", b"=", b"[[figure]]\n", b"[a.b.c]\n", b'"""', b"inf",
    b"1979-05-27", b"0x7fffffffffffffffffff", b"\r", b"#", b"'''", b"{a = 1}",
)  # fmt: skip


# the files, each whole, and what reads them


def make_files(folder: Path) -> None:
    """One whole file of every kind."""
    import numpy as np

    from clipmark import settings
    from clipmark.media.index import index_cache
    from clipmark.report.films import listening
    from clipmark.resources import resource
    from clipmark.review.pass_files import Job, write_job, write_result
    from clipmark.settings import Settings
    from tests.book.made_book import flag_of, result_of

    chosen = Settings(folder / "settings.json")
    for setting in settings.ALL:
        chosen.put(setting, setting.default)
    chosen.put(settings.KEYS, {"undo": "Ctrl+U"})
    chosen.put(settings.THRESHOLDS, {"cycle_months": 12, "sac_first_days": 30})
    film = open_clip(made.film(folder / "film.mkv", range(0, 2000, 40)).path, use_cache=False)
    boxes = [
        {"time_s": 0.2, "x": 4, "y": 4, "w": 20, "h": 16, "part": "abdomen"},
        {"time_s": 1, "x": 6, "y": 5, "w": 9, "h": 9},
    ]
    (folder / "boxes.json").write_text(json.dumps({"boxes": boxes}), encoding="utf-8")
    (folder / "parameters.json").write_bytes((resource("models/pulls") / "pulls-1.json").read_bytes())
    (folder / "flags.json").write_text(
        json.dumps({"format": "clipmark-scan/1", "clip": {"fingerprint": film.fingerprint}, "parameters": "pulls-1"})
    )
    for name in ("brachypelma.toml", "general.toml"):
        (folder / name).write_bytes((resource("models/species") / name).read_bytes())
    write_job(folder, Job("/books/b.book", 1, 2, "a1", "film.mkv", 77))
    write_result(folder, result_of(flag_of(10)))
    from clipmark.media.clip import _for_cache

    index_cache.save(film.fingerprint, *_for_cache(film))
    index_cache._path(film.fingerprint).rename(folder / "index.npz")
    listening._keep(folder / "sound.npz", listening.Heard(np.arange(9.0), np.ones(9), np.array([0.5, 1.0])))


def _settings(path: Path) -> object:
    from clipmark import settings
    from clipmark.reading.advice.outlook import explain
    from clipmark.reading.advice.thresholds import chosen
    from clipmark.window.commands import BY_NAME, Keys

    read = settings.Settings(path)
    explain(chosen(read.get(settings.THRESHOLDS)))
    keys = Keys(read)
    assert all(isinstance(keys.of(name), str) for name in BY_NAME)
    assert 32 << 20 <= read.get(settings.CACHE_MIB) << 20 <= 1 << 36
    return [read.get(one) for one in settings.ALL]


def _boxes(path: Path) -> object:
    from clipmark.report.exports.scan_file import read_boxes

    film = the_film(path.with_name("film.mkv"))
    boxes = read_boxes(path, film)
    assert all(0 <= box.frame < 50 and 0 <= box.x < film.width and box.w >= 4 for box in boxes)
    return boxes


def _parameters(path: Path) -> object:
    from clipmark.motion.parameters import load
    from clipmark.motion.pulls import score

    read = load(str(path))
    assert 0 <= score({"log_size": 1.0}, read) <= 1
    return asdict(read)


def _flags(path: Path) -> object:
    from clipmark.cli.scan_many import _is_done

    return _is_done(path.with_name("flags.mkv"), the_film(path.with_name("film.mkv")).fingerprint, "pulls-1")


def _species(path: Path) -> object:
    from clipmark.reading.kinds.species import read, windows

    found = read(path)
    windows(date(9999, 1, 1), found.figures)
    return [(one.text, one.cited) for one in found.figures]


def _job(path: Path) -> object:
    from clipmark.review.pass_files import read_job

    return read_job(path.parent)


def _result(path: Path) -> object:
    from clipmark.review.pass_files import read_result

    return read_result(path.parent) and None


def _index(path: Path) -> object:
    """A damaged index must leave the film as readable, and with the same frames, as no index at all."""
    from clipmark.media.index import index_cache

    film = the_film(path.with_name("film.mkv"))
    place = index_cache._path(film.fingerprint)
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(path.read_bytes())
    again = open_clip(film.path)
    assert again.index.pts.tolist() == film.index.pts.tolist()
    return None


def _sound(path: Path) -> object:
    from clipmark.report.films.listening import _kept

    return _kept(path) and None


READERS: dict[str, Callable[[Path], object]] = {
    "settings.json": _settings, "boxes.json": _boxes, "parameters.json": _parameters, "flags.json": _flags,
    "brachypelma.toml": _species, "general.toml": _species, "job.json": _job, "result.npz": _result,
    "index.npz": _index, "sound.npz": _sound,
}  # fmt: skip


@cache
def the_film(path: Path) -> Clip:
    return open_clip(path, use_cache=False)


# damage


def mutated(data: bytes, number: int, name: str) -> bytes:
    """The file with damage number `number`: the same number always does the same damage."""
    chance = random.Random(number)
    if name.endswith(".json") and chance.random() < 0.5:
        return _other_values(data, chance)
    changed = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 4))):
        at = chance.randrange(len(changed) + 1)
        end = min(at + chance.choice((1, 2, 10, 200)), len(changed))
        kind = chance.randrange(7)
        if kind == 0 and changed:
            changed[min(at, len(changed) - 1)] ^= 1 << chance.randrange(8)
        elif kind == 1:
            changed[at:at] = chance.choice(TOKENS)
        elif kind == 2:
            changed[at:end] = chance.choice(TOKENS)
        elif kind == 3:
            del changed[at:end]
        elif kind == 4:
            changed[end:end] = changed[at:end]
        elif kind == 5:
            changed[at:end] = chance.randbytes(end - at)
        else:
            del changed[at:]
    return bytes(changed)


def _other_values(data: bytes, chance: random.Random) -> bytes:
    """JSON in which one to three values are others: of another type, extreme, doubled, or gone."""
    document = json.loads(data)
    for _ in range(chance.choice((1, 1, 2, 3))):
        spots = list(_spots(document))
        if not spots:
            break
        holder, key = chance.choice(spots)
        if chance.random() < 0.2:
            del holder[key]
        else:
            holder[key] = chance.choice(ODD)
    return json.dumps(document).encode()


def _spots(item: Any) -> Any:
    pairs = item.items() if isinstance(item, dict) else enumerate(item) if isinstance(item, list) else ()
    for key, value in list(pairs):
        yield item, key
        yield from _spots(value)


def read_damaged(folder: Path, name: str, number: int) -> str:
    """Damage a file, read it, and put it right again; says in a word what came of it."""
    path = folder / name
    whole = path.read_bytes()
    path.write_bytes(mutated(whole, number, name))
    said = ""
    try:
        found = READERS[name](path)
    except ClipmarkError as error:
        said = str(error)
    finally:
        path.write_bytes(whole)
    if said:
        assert said.rstrip().endswith("."), said
        return "refused"
    return "nothing" if found is None else "read"


def main(folder: Path, first: int, count: int) -> None:
    names = sorted(READERS)
    for number in range(first, first + count):
        name = names[number % len(names)]
        print(number, name, "begins", flush=True)
        print(number, name, read_damaged(folder, name, number), flush=True)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as home:
        import os

        os.environ["CLIPMARK_HOME"] = home
        main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
