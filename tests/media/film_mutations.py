"""Damages films at random and reads them: what may come out is frames or a sentence, never anything else.

Run by itself it is the worker of the sweep: `python film_mutations.py FOLDER FIRST COUNT` reads the films in FOLDER,
damages them by the numbers FIRST, FIRST + 1 ... and tells after each what came of it, one line a mutation, with a
line in between wherever the program gets on. At the end it tells the most memory that it took.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
from pathlib import Path


def mutated(data: bytes, number: int) -> bytes:
    """The film with damage number `number`: the same number always does the same damage."""
    chance = random.Random(number)
    film = bytearray(data)
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        chance.choice((_flip, _flip, _flip_head, _flip_tail, _blot, _blank, _cut, _drop, _repeat, _swap, _numbers))(
            film, chance
        )
        if not film:
            break
    return bytes(film)


def _flip(film: bytearray, chance: random.Random) -> None:
    for _ in range(chance.choice((1, 3, 10, 60))):
        film[chance.randrange(len(film))] ^= 1 << chance.randrange(8)


def _flip_head(film: bytearray, chance: random.Random) -> None:
    for _ in range(chance.choice((1, 2, 8))):
        film[chance.randrange(min(len(film), 2048))] = chance.randrange(256)


def _flip_tail(film: bytearray, chance: random.Random) -> None:
    for _ in range(chance.choice((1, 2, 8))):
        film[len(film) - 1 - chance.randrange(min(len(film), 2048))] = chance.randrange(256)


def _numbers(film: bytearray, chance: random.Random) -> None:
    """A number of four bytes becomes an extreme one: counts, sizes and offsets stand in such."""
    at = chance.randrange(max(len(film) - 4, 1))
    film[at : at + 4] = chance.choice(
        (b"\0\0\0\0", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\0\0\0\1", b"\x80\0\0\0")
    )


def _stretch(film: bytearray, chance: random.Random) -> slice:
    start = chance.randrange(len(film))
    return slice(start, start + chance.randrange(1, max(len(film) // 8, 2)))


def _blot(film: bytearray, chance: random.Random) -> None:
    place = _stretch(film, chance)
    film[place] = chance.randbytes(len(film[place]))


def _blank(film: bytearray, chance: random.Random) -> None:
    place = _stretch(film, chance)
    film[place] = bytes(len(film[place]))


def _cut(film: bytearray, chance: random.Random) -> None:
    del film[chance.randrange(len(film)) :]


def _drop(film: bytearray, chance: random.Random) -> None:
    del film[_stretch(film, chance)]


def _repeat(film: bytearray, chance: random.Random) -> None:
    place = _stretch(film, chance)
    film[place.stop : place.stop] = film[place]


def _swap(film: bytearray, chance: random.Random) -> None:
    one, other = _stretch(film, chance), _stretch(film, chance)
    first, second = film[one], film[other]
    film[one] = second
    film[other] = first


class Heartbeat:
    """A Progress that says when work gets on, at most once a second."""

    def __init__(self) -> None:
        self._next = 0.0

    def advance(self, done: int, total: int) -> None:
        if time.monotonic() >= self._next:
            self._next = time.monotonic() + 1
            print("- - goes on", flush=True)


def read_through(path: Path) -> str:
    """Open a film, jump about in it, read it forward, read its sound; says in a word or two what came of it."""
    from clipmark.errors import ClipmarkError
    from clipmark.media.clip import open_clip
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.media.frames.reader import FrameLost, Reader
    from clipmark.media.sound.clip_sound import read_sound

    beat = Heartbeat()
    try:
        clip = open_clip(path, beat, use_cache=False)
    except ClipmarkError as error:
        return f"refused {type(error).__name__}"
    count = len(clip.index)
    lost = 0
    with Reader(clip, threads=1) as reader:
        for number in random.Random(count).sample(range(count), min(count, 6)):
            beat.advance(0, 0)
            try:
                picture = reader.frame(number)
            except FrameLost:
                lost += 1
                continue
            assert picture.number == number
            picture.bgra(40, 30)
    numbers = []
    for number, _ in GreyFilm(clip, 32, threads=1).frames():
        numbers.append(number)
        beat.advance(number, count)
    assert numbers == sorted(set(numbers))
    sound = read_sound(clip)
    return f"read {len(numbers)} of {count}, sound {'none' if sound is None else len(sound.samples)}"


def main(folder: Path, first: int, count: int) -> None:
    films = sorted(folder.iterdir())
    with tempfile.TemporaryDirectory() as place:
        for number in range(first, first + count):
            film = films[number % len(films)]
            path = Path(place) / f"film{film.suffix}"
            path.write_bytes(mutated(film.read_bytes(), number))
            print(number, film.name, "begins", flush=True)
            print(number, film.name, read_through(path), flush=True)
    # ru_maxrss is kilobytes on Linux
    print("- - memory", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
