"""The sheet becomes a PDF also where Qt's page engine does not run."""

import json
import os
import shutil
import subprocess
import unicodedata

import pytest

from clipmark.atomic_files import CannotWrite
from clipmark.book.model import Session
from clipmark.book.store import Book
from clipmark.report.sheets import pdf
from clipmark.report.sheets.compose import compose
from clipmark.report.sheets.sheet_json import from_json, to_json
from tests.report import by_hand

pytest.importorskip("PySide6.QtSvg")


def drawn(record, folder):
    source, out = folder / "sheet.json", folder / "sheet.pdf"
    source.write_text(to_json(compose(record, [by_hand.trace()])), encoding="utf-8")
    return pdf._made_by("clipmark.window.print.sheet", source, out)


def words(path):
    # the outside reader: poppler's pdftotext; some fonts join letters (fi), which NFKC takes apart again
    read = subprocess.run(["pdftotext", "-layout", path, "-"], check=True, capture_output=True, text=True).stdout
    return unicodedata.normalize("NFKC", read)


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")
def test_the_drawn_pdf_holds_the_verdict_every_mark_and_the_notice(tmp_path):
    text = words(drawn(by_hand.pairing(), tmp_path))

    assert "1 confirmed of 3 judgeable, 0 not visible" in text
    assert all(act in text for act in ("Searching on her silk", "He retreats", "Separated"))
    assert "It cannot tell whether eggs will be fertile" in " ".join(text.split())
    assert "1/" in text.replace(" ", "")  # the page of how many


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")
def test_hostile_texts_are_printed_and_run_on_over_the_pages(tmp_path):
    text = words(drawn(by_hand.hostile(), tmp_path))

    assert "<script>alert('x')</script>" in text
    assert 5 * 10_000 <= text.count("x")  # four calls' and the session's long notes, whole
    assert 8 <= text.count("\f")


def test_without_the_page_engine_the_sheet_is_drawn(tmp_path, monkeypatch):
    monkeypatch.setattr(pdf, "write_pdf", lambda page, out: (_ for _ in ()).throw(pdf.NoPaper("not there")))
    with Book.open(tmp_path / "my.book") as book:
        book.add_session(Session(0, "no film yet", None, None))
        out = pdf.write_sheet_pdf(book, 1, tmp_path / "sheet.pdf")

    assert out.read_bytes().startswith(b"%PDF-")
    assert ["my.book", "sheet.pdf"] == sorted(os.listdir(tmp_path))


def test_a_pdf_that_cannot_be_made_leaves_nothing(tmp_path):
    (tmp_path / "sheet.json").write_bytes(b"no sheet")

    with pytest.raises(pdf.NoPaper, match="could not be made"):
        pdf._made_by("clipmark.window.print.sheet", tmp_path / "sheet.json", tmp_path / "sheet.pdf")
    assert ["sheet.json"] == os.listdir(tmp_path)


@pytest.mark.parametrize("record", [by_hand.pairing(), by_hand.hostile()], ids=["pairing", "hostile"])
def test_a_sheet_comes_through_json_as_it_was(record):
    sheet = compose(record, [by_hand.trace()])

    assert sheet == from_json(to_json(sheet))


@pytest.mark.parametrize(
    "change",
    [
        lambda made: made.pop("title"),
        lambda made: made.update(title=7),
        lambda made: made.update(cards={}),
        lambda made: made["cards"][0].update(number=True),
        lambda made: made["head"][0].append("third"),
        lambda made: made["films"].append(None),
    ],
)
def test_what_is_no_sheet_is_not_taken_for_one(change):
    made = json.loads(to_json(compose(by_hand.pairing(), [by_hand.trace()])))
    change(made)

    with pytest.raises(ValueError, match=r"no sheet|zip"):
        from_json(json.dumps(made))


@pytest.mark.parametrize("text", ["", "{", "[]", "7", "[" * 100_000, "cos\nsystem\n(S'true'\ntR."])
def test_text_of_any_kind_is_no_sheet(text):
    with pytest.raises(ValueError, match=r".+"):
        from_json(text)


@pytest.mark.parametrize("way", ["page_engine", "sheet"])
def test_a_pdf_that_came_out_half_takes_nobodys_name(tmp_path, way):
    """Files may not grow beyond 4 kB here, which a program meets like a full disk."""
    resource = pytest.importorskip("resource")
    source, out = tmp_path / "source", tmp_path / "sheet.pdf"
    sheet = compose(by_hand.pairing(), [by_hand.trace()])
    source.write_text(to_json(sheet) if way == "sheet" else "<p>text</p>" * 5_000, encoding="utf-8")
    if way == "page_engine":
        source = source.rename(tmp_path / "source.html")
    out.write_bytes(b"the good one from before")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4_096, before[1]))
    try:
        with pytest.raises(pdf.NoPaper):
            pdf._made_by(f"clipmark.window.print.{way}", source, out)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)

    assert b"the good one from before" == out.read_bytes()
    assert 2 == len(os.listdir(tmp_path))


def test_a_pdf_that_fills_the_disk_says_so(tmp_path, monkeypatch):
    (tmp_path / "sheet.json").write_bytes(b"no sheet")
    full = shutil.disk_usage(tmp_path)._replace(free=8_192)
    monkeypatch.setattr(pdf.shutil, "disk_usage", lambda folder: full)

    with pytest.raises(CannotWrite, match="the disk is full"):
        pdf._made_by("clipmark.window.print.sheet", tmp_path / "sheet.json", tmp_path / "sheet.pdf")


def test_no_place_for_what_is_needed_for_a_moment_is_told_in_words(tmp_path, monkeypatch):
    """As with TMPDIR on a full disk: /dev/full refuses every byte."""
    with Book.open(tmp_path / "my.book") as book:
        book.add_session(Session(0, "no film yet", None, None))
        monkeypatch.setattr("pathlib.Path.write_text", lambda self, text, **more: _to_full(text))
        with pytest.raises(CannotWrite, match="the disk is full"):
            pdf.write_sheet_pdf(book, 1, tmp_path / "sheet.pdf")


def _to_full(text):
    with open("/dev/full", "w") as file:
        file.write(text)
