"""The pass repeated for one shot alone, in its own process's way."""

from __future__ import annotations

from pathlib import Path

import pytest

from clipmark.book.film.intake import clip_record, run_pass
from clipmark.book.model import Outline, Session
from clipmark.book.store import Book
from clipmark.media.clip import open_clip
from clipmark.review import pass_jobs
from clipmark.review.pass_files import Job, read_result
from clipmark.review.pass_worker import compute
from tests.window.conftest import pulled


@pytest.fixture
def book(tmp_path: Path) -> Path:
    film = pulled(tmp_path / "pulled.mkv")
    clip = open_clip(film.path if hasattr(film, "path") else film)
    with Book.open(tmp_path / "b.book", backups=False) as book:
        session = book.add_session(Session(0, "Visit", None, None))
        kept = book.add_clip(clip_record(clip, session.id))
        book.add_outline(Outline(0, kept.id, int(clip.index.pts[0]), 114, 86, 92, 68))
        book.add_pass(kept.id, run_pass(clip, book.session(session.id), kept))
    return tmp_path / "b.book"


def test_a_shot_computed_anew_from_the_same_outline_gives_the_same_pass(book: Path) -> None:
    with Book.open(book, read_only=True) as opened:
        record = opened.session(1)
        clip = record.clips[0]
        trace = opened.trace_of(record.passes[0].id)
    job = Job(str(book), 1, clip.id, clip.fingerprint, "pulled", 0, clip.first_pts, clip.end_pts)
    folder = pass_jobs.new_job(job)
    compute(folder)
    again = read_result(folder)

    assert [f.onset_pts for f in record.flags] == [f.onset_pts for f in again.flags]
    assert [f.score for f in record.flags] == pytest.approx([f.score for f in again.flags])
    assert pytest.approx(trace.x, abs=1e-3, nan_ok=True) == again.trace.x
    assert [r.source for r in record.regions] == [o.source for o in again.outlines]
