"""Film that was moved, and film that comes into the book."""

from __future__ import annotations

import shutil
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from clipmark.book.care.relink import NoSuchFolder, film_trouble, search
from clipmark.book.film.intake import FilmChanged, NothingOutlined, boxes_for, clip_record, run_pass, same_film
from clipmark.book.model import ClipRecord, Outline, Session
from clipmark.book.store import Book
from clipmark.media.clip import Clip, open_clip
from clipmark.media.fingerprint import fingerprint
from clipmark.progress import Cancelled
from tests.book.made_book import clip_of, new_session


def film(path: Path, content: bytes) -> ClipRecord:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return replace(clip_of(1), id=len(content), path=str(path), size=len(content), fingerprint=fingerprint(path))


def test_film_in_its_place_is_no_trouble(tmp_path: Path) -> None:
    clip = film(tmp_path / "a.mp4", b"film a")

    assert "" == film_trouble(clip)
    assert ((), (), ()) == (
        search([clip], [tmp_path]).found, search([clip], [tmp_path]).missing, search([clip], [tmp_path]).changed,
    )  # fmt: skip


def test_moved_and_renamed_film_is_found_by_its_content(tmp_path: Path) -> None:
    clip = film(tmp_path / "old" / "a.mp4", b"film a")
    (tmp_path / "new" / "deep").mkdir(parents=True)
    shutil.move(clip.path, tmp_path / "new" / "deep" / "Visit é.MP4")
    (tmp_path / "new" / "a.mp4").write_bytes(b"film b")  # the old name, the old length, another film

    assert ((clip, tmp_path / "new" / "deep" / "Visit é.MP4"),) == search([clip], [tmp_path]).found


def test_of_several_copies_the_one_of_the_old_name_is_taken(tmp_path: Path) -> None:
    clip = film(tmp_path / "old" / "b.mp4", b"film")
    for name in ("x/a.mp4", "x/b.mp4", "x/c.mp4"):
        film(tmp_path / name, b"film")
    Path(clip.path).unlink()

    assert ((clip, tmp_path / "x" / "b.mp4"),) == search([clip], [tmp_path / "x"]).found


def test_film_that_is_nowhere_is_said_and_changed_film_apart_from_it(tmp_path: Path) -> None:
    gone = film(tmp_path / "a.mp4", b"film a")
    changed = film(tmp_path / "b.mp4", b"film bb")
    Path(gone.path).unlink()
    Path(changed.path).write_bytes(b"film cc")
    found = search([gone, changed], [tmp_path])

    assert ((), (gone,), (changed,)) == (found.found, found.missing, found.changed)
    assert ("missing", "changed") == (film_trouble(gone), film_trouble(changed))


def test_a_film_name_that_no_system_takes_is_missing_film() -> None:
    assert "missing" == film_trouble(replace(clip_of(1), path="a\0b"))


def test_looking_in_a_folder_that_is_not_there_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(NoSuchFolder, match="no folder"):
        search([], [tmp_path / "none"])


def test_a_loop_of_links_does_not_keep_the_search_going(tmp_path: Path) -> None:
    clip = film(tmp_path / "old" / "a.mp4", b"film a")
    (tmp_path / "old" / "round").symlink_to(tmp_path / "old")
    Path(clip.path).unlink()

    assert (clip,) == search([clip], [tmp_path]).missing


# real film ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Clip:
    """Two seconds of noise on brown, 25 frames a second."""
    import subprocess

    path = tmp_path_factory.mktemp("film") / "noise.mp4"
    made = "color=brown:s=96x64:r=25:d=2,noise=alls=30:all_seed=4"
    subprocess.run(["ffmpeg", "-v", "error", "-f", "lavfi", "-i", made, "-pix_fmt", "yuv420p", str(path)], check=True)
    return open_clip(path)


def test_the_book_keeps_the_facts_of_an_opened_film(clip: Clip) -> None:
    kept = clip_record(clip, 3, Fraction(1, 3), "left")

    assert (3, str(clip.path), clip.size_bytes, clip.fingerprint, "left") == (
        kept.session_id, kept.path, kept.size, kept.fingerprint, kept.camera,
    )  # fmt: skip
    assert (50, 96, 64, Fraction(2)) == (
        kept.frames, kept.width, kept.height, kept.on_clock(kept.end_pts) - kept.offset,
    )  # fmt: skip
    assert same_film(clip, kept)
    assert not same_film(clip, replace(kept, fingerprint="other"))


def test_outlines_become_boxes_on_the_frames_that_were_on_the_screen(tmp_path: Path, clip: Clip) -> None:
    with Book.open(tmp_path / "b.book") as book:
        session = book.add_session(Session(0, "Visit", None, None))
        kept = book.add_clip(clip_record(clip, session.id))
        pts = clip.index.pts
        book.add_outline(Outline(0, kept.id, int(pts[30]), 5, 6, 7, 8, "male"))
        book.add_outline(Outline(0, kept.id, int(pts[10]) + 1, 1, 2, 3, 4))
        boxes = boxes_for(book.session(session.id), kept, clip.index)

        assert [(10, 1, "abdomen"), (30, 5, "male")] == [(box.frame, box.x, box.part) for box in boxes]


def test_a_pass_over_a_clip_of_the_book_comes_back_into_it(tmp_path: Path, clip: Clip) -> None:
    with Book.open(tmp_path / "b.book") as book:
        session = book.add_session(Session(0, "Visit", None, None))
        kept = book.add_clip(clip_record(clip, session.id))
        with pytest.raises(NothingOutlined, match="Nothing is outlined"):
            run_pass(clip, book.session(session.id), kept)
        book.add_outline(Outline(0, kept.id, int(clip.index.pts[0]), 30, 20, 30, 20))
        with pytest.raises(FilmChanged, match="not the film that the book knows"):
            run_pass(clip, book.session(session.id), replace(kept, fingerprint="other"))
        result = run_pass(clip, book.session(session.id), kept)
        made = book.add_pass(kept.id, result)

        assert result.parameters == book.session(session.id).passes[0].parameters
        assert 50 == len(book.trace_of(made.id).x)
        assert kept.end_pts == max(span.end_pts for span in book.session(session.id).spans)


def test_a_stopped_pass_leaves_nothing(tmp_path: Path, clip: Clip) -> None:
    class Stop:
        def advance(self, done: int, total: int) -> None:
            raise Cancelled

    with Book.open(tmp_path / "b.book") as book:
        _, _ = new_session(book)
        kept = book.add_clip(clip_record(clip, 1))
        book.add_outline(Outline(0, kept.id, int(clip.index.pts[0]), 30, 20, 30, 20))
        with pytest.raises(Cancelled):
            run_pass(clip, book.session(1), kept, Stop())

        assert () == book.session(1).passes
