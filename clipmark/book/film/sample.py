"""The invented session that comes with clipmark, put into a book: what `clipmark demo` and the first start show."""

from __future__ import annotations

import json
import shutil
from fractions import Fraction
from pathlib import Path
from typing import Any

from clipmark.atomic_files import CannotWrite
from clipmark.book.film import intake
from clipmark.book.model import Animal, LifeEvent, Mark, Outline, Session, Sex
from clipmark.book.store import Book
from clipmark.media.clip import Clip, open_clip
from clipmark.resources import resource

TITLE_FILE = "session.json"


def sample_film(folder: Path) -> Path:
    """A copy of the sample film in the folder (made where missing), so that the book's footage stays when clipmark
    is installed anew.

    Raises:
        CannotWrite: the folder cannot be made or written.
    """
    source = resource(f"sample_media/{_description()['clip']}")
    target = folder / source.name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if not target.exists() or target.stat().st_size != source.stat().st_size:
            shutil.copyfile(source, target)
    except OSError as error:
        raise CannotWrite(target, error.strerror or str(error)) from error
    return target


def add_sample(book: Book, film: Path) -> int:
    """Put the sample session into the book unless it is there already.

    Args:
        film: where the sample film lies, see `sample_film`.
    Returns:
        the session's id.
    """
    told = _description()
    for there in book.sessions(told["title"]):
        record = book.session(there.id)
        if record.session.title == told["title"] and record.clips:
            return there.id
    clip = open_clip(film)
    female = _animal(book, told["female"], Sex.FEMALE)
    male = _animal(book, told["male"], Sex.MALE)
    session = book.add_session(
        Session(
            id=0,
            title=told["title"],
            female_id=female.id,
            male_id=male.id,
            date=told["date"],
            place=told.get("place", ""),
            temperature_c=told.get("temperature_c"),
            humidity_pct=told.get("humidity_pct"),
            reviewer=told.get("reviewer", ""),
            note=told.get("note", ""),
        )
    )
    row = book.add_clip(intake.clip_record(clip, session.id, Fraction(0)))
    _outlines(book, clip, row.id)
    _marks(book, clip, row.id, told)
    return session.id


def _description() -> dict[str, Any]:
    told = json.loads((resource(f"sample_media/{TITLE_FILE}")).read_text(encoding="utf-8"))
    return dict(told)


def _animal(book: Book, told: dict[str, Any], sex: Sex) -> Animal:
    fields = {k: v for k, v in told.items() if k in ("name", "species", "born", "origin", "owner", "note")}
    animal = book.add_animal(Animal(id=0, sex=sex, **fields))
    for event in told.get("life", []):
        book.add_life_event(LifeEvent(0, animal.id, event["kind"], event["date"], event.get("note", "")))
    return animal


def _pts(clip: Clip, seconds: float) -> int:
    return int(clip.index.pts[clip.index.frame_at(seconds)])


def _outlines(book: Book, clip: Clip, clip_id: int) -> None:
    path = resource(f"sample_media/{clip.path.stem}.boxes.json")
    for box in json.loads(path.read_text(encoding="utf-8"))["boxes"]:
        place = (float(box["x"]), float(box["y"]), float(box["w"]), float(box["h"]))
        book.add_outline(Outline(0, clip_id, _pts(clip, box["time_s"]), *place, box.get("part", "abdomen")))


def _marks(book: Book, clip: Clip, clip_id: int, told: dict[str, Any]) -> None:
    acts = {act.code: act for act in book.acts()}
    for mark in told.get("marks", []):
        act = acts[mark["act"]]
        end = mark.get("end_s")
        book.add_mark(
            Mark(
                id=0,
                clip_id=clip_id,
                act=act.code,
                actor=act.actor,
                start_pts=_pts(clip, mark["start_s"]),
                end_pts=None if end is None or not act.lasting else _pts(clip, end),
                lasting=act.lasting,
                reviewer=told.get("reviewer", ""),
                note=mark.get("note", ""),
            )
        )
