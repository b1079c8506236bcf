"""The tables open in other programs as they were meant, and no cell is a formula."""

import csv
import io
import json
from dataclasses import replace
from datetime import date

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import clipmark
from clipmark.book.model import Animal, Decision, LifeEvent, Outcome, Session, Sex, Sign
from clipmark.book.store import Book
from clipmark.cli import main
from clipmark.csv_package import guarded, unguarded
from clipmark.report.exports.columns import ACROSS, KINDS, TABLES
from clipmark.report.exports.csv_folder import write_csv_folder
from clipmark.report.exports.session_json import session_document
from clipmark.report.exports.tables import Around, rows, tables
from clipmark.report.text import legible
from tests.reading.made_records import Made
from tests.report import by_hand


@pytest.fixture(scope="module", params=["pairing", "hostile"])
def folder(request, tmp_path_factory):
    record = getattr(by_hand, request.param)()
    path = tmp_path_factory.mktemp("csv") / request.param
    write_csv_folder(record, path)
    return path


def test_every_table_is_valid_by_its_schema(folder):
    # the outside reader: frictionless-py, the reference implementation of the Frictionless standards
    from frictionless import Package

    report = Package(str(folder / "datapackage.json")).validate()

    assert [] == report.flatten(["resource", "rowNumber", "fieldName", "note"])
    assert len((*TABLES, *ACROSS)) == len(report.tasks)


def test_lines_end_as_rfc_4180_wants_and_every_row_has_all_columns(folder):
    for table in TABLES:
        raw = (folder / f"{table.name}.csv").read_bytes().decode("utf-8")
        lines = list(csv.reader(io.StringIO(raw, newline=""), strict=True))

        assert raw.endswith("\r\n")
        assert {len(table.columns)} == {len(line) for line in lines}


def test_no_cell_of_text_begins_as_a_formula(folder):
    for table in TABLES:
        with (folder / f"{table.name}.csv").open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                for column in table.columns:
                    if column.kind == "text":
                        assert not row[column.name].lstrip(" ").startswith(tuple("=+-@\t\r\n＝＋－＠"))


def test_pandas_reads_back_what_the_keeper_wrote(tmp_path):
    record = by_hand.hostile()
    write_csv_folder(record, tmp_path / "t")

    marks = pd.read_csv(tmp_path / "t" / "marks.csv", keep_default_na=False, lineterminator=None)

    assert [legible(m.note) for m in record.marks] == [unguarded(note) for note in marks["note"]]
    assert [m.start_pts for m in record.marks] == marks["start_pts"].tolist()


@given(st.text())
def test_what_is_guarded_comes_back_as_it_was(text):
    assert legible(text) == unguarded(guarded(text)) or not guarded(text).startswith("'")
    assert not guarded(text).lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


def test_times_and_units_are_those_of_the_film():
    marks = tables(by_hand.pairing())["marks"].set_index("mark_id")

    assert 14.0 == marks.loc[3, "start_s"]
    assert 4.2 == marks.loc[3, "duration_s"]
    assert by_hand.at(14) == marks.loc[3, "start_pts"]
    assert pd.isna(marks.loc[6, "end_s"])


def test_columns_are_typed_even_where_a_table_is_empty():
    found = tables(by_hand.pairing())

    assert 0 == len(found["outcomes"])
    for table in TABLES:
        assert {c.name: KINDS[c.kind][0] for c in table.columns} == found[table.name].dtypes.astype(str).to_dict()


def test_a_notebook_reads_a_whole_book(tmp_path):
    with Book.open(tmp_path / "my.book") as book:
        for day in ("2026-03-01", "2026-03-08"):
            book.add_session(Session(0, f"pairing of {day}", None, None, day))

    found = clipmark.read_book(tmp_path / "my.book")

    assert {t.name for t in (*TABLES, *ACROSS)} == set(found)
    assert [pd.Timestamp("2026-03-01"), pd.Timestamp("2026-03-08")] == sorted(found["sessions"]["date"])


def test_the_package_names_what_each_column_means(folder):
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))

    assert all(f["description"] for r in package["resources"] for f in r["schema"]["fields"])


def full(tmp_path):
    """A session with a sac that was counted, its animals with their dates, and a stretch watched in full."""
    made = Made(date="2026-03-01")
    flag = made.flag(100, call=Decision.CONFIRMED)
    made.calls[0] = replace(made.calls[0], signs=(Sign.PALPS_STILL, Sign.ABDOMEN_DRAWN))
    made.flags[0] = replace(made.flags[0], doubts=("half hidden", "light step"))
    made.mark("introduced", 0)
    made.mark("drumming", 5, 8)
    made.watched_in_full(0, 60)
    made.outcome("laid", "2026-05-01", eggs=300, nymphs=120)
    record = made.record()
    about = Around((LifeEvent(1, record.female.id, "moult", "2025-09-01"),), (), ())
    write_csv_folder(record, tmp_path, about)
    return flag, {t.name: pd.read_csv(tmp_path / f"{t.name}.csv") for t in TABLES}


def test_what_one_cell_would_hold_together_has_a_row_each(tmp_path):
    flag, found = full(tmp_path)

    assert [(flag, "palps went still"), (flag, "abdomen drawn in")] == [
        (row.flag_id, row.sign) for row in found["signs"].itertuples()
    ]
    assert ["half hidden", "light step"] == found["doubts"]["doubt"].tolist()
    assert {"eggs": 300, "nymphs": 120} == dict(zip(found["counts"]["stage"], found["counts"]["number"], strict=True))
    one = found["measures"].query("act == 'drumming' and measure == 'count'").iloc[0]
    assert ("him", 1.0, "Ada") == (one.actor, one.value, one.reviewer)


def test_animals_life_dates_watched_stretches_and_the_outlook_go_out_with_a_session(tmp_path):
    _, found = full(tmp_path)

    assert {"female", "male"} == set(found["animals"]["sex"])
    assert ["moult"] == found["life"]["kind"].tolist()
    assert [60.0] == found["reviewed"]["end_s"].tolist()
    assert {"pull"} <= set(found["outlook"]["what"])
    assert found["outlook"]["source"].str.len().min() > 0


def test_the_exported_session_is_valid_by_its_schema_with_calls_keyed_to_flags(tmp_path):
    from frictionless import Package

    full(tmp_path)

    assert Package(str(tmp_path / "datapackage.json")).validate().valid


def test_a_notebook_gets_cycles_and_incidence_as_of_the_day_that_it_asks(tmp_path):
    with Book.open(tmp_path / "my.book") as book:
        for k in range(6):
            her = book.add_animal(Animal(0, f"F{k}", Sex.FEMALE))
            session = book.add_session(Session(0, f"P{k}", her.id, None, "2026-03-01"))
            if k < 3:
                book.add_outcome(Outcome(0, session.id, "laid", f"2026-05-0{k + 1}"))

    found = clipmark.read_book(tmp_path / "my.book", asked=date(2026, 12, 1))

    assert ["sac"] * 3 + ["waiting"] * 3 == found["cycles"]["state"].tolist()
    assert [6, 5] == found["incidence"]["at_risk"].tolist()
    assert {pd.Timestamp("2026-12-01")} == set(found["cycles"]["asked"])


def test_a_book_exported_as_tables_tells_outlook_cycles_and_incidence_as_a_notebook_gets_them(tmp_path):
    from frictionless import validate

    with Book.open(tmp_path / "my.book") as book:
        for k in range(6):
            her = book.add_animal(Animal(0, f"F{k}", Sex.FEMALE))
            session = book.add_session(Session(0, f"P{k}", her.id, None, "2026-03-01"))
            if k < 3:
                book.add_outcome(Outcome(0, session.id, "laid", f"2026-05-0{k + 1}"))
    assert 0 == main(["book", "export", str(tmp_path / "out"), "--csv", "--book", str(tmp_path / "my.book")])
    told = clipmark.read_book(tmp_path / "my.book")

    # the outside reader: frictionless, with references between the tables
    report = validate(str(tmp_path / "out" / "datapackage.json"))
    assert [] == report.flatten(["rowNumber", "fieldName", "type", "message"])
    for name in ("outlook", "cycles", "incidence"):
        out = pd.read_csv(tmp_path / "out" / f"{name}.csv")
        assert 0 < len(out) == len(told[name])
        for column in {"share", "days", "text", "at_risk"} & set(out.columns):
            assert told[name][column].tolist() == pytest.approx(out[column].tolist()) or column == "text"


def test_the_outlook_stands_in_the_json_of_a_session_as_in_its_table():
    made = Made()
    made.mark("drumming", 1, 2)
    made.outcome("laid", "2026-05-01")
    record = made.record()
    about = Around((LifeEvent(1, record.female.id, "moult", "2025-09-01"),), (), ())
    document = session_document(record, about)
    wanted = [{k: v for k, v in row.items() if k != "session_id"} for row in rows(record, about)["outlook"]]

    assert wanted == document["outlook"]
    assert {"pull"} <= {row["what"] for row in document["outlook"]}


def test_one_session_goes_out_with_her_cycles_and_the_incidence_of_her_kind(tmp_path):
    from frictionless import validate

    with Book.open(tmp_path / "my.book") as book:
        for k in range(7):
            her = book.add_animal(Animal(0, f"F{k}", Sex.FEMALE, "Brachypelma smithi" if k else "Grammostola rosea"))
            session = book.add_session(Session(0, f"P{k}", her.id, None, "2025-03-01"))
            if k < 4:
                book.add_outcome(Outcome(0, session.id, "laid", f"2025-05-0{k + 1}"))
    out = tmp_path / "one"
    words = ["--csv", str(out), "--json", str(tmp_path / "one.json"), "--book", str(tmp_path / "my.book")]
    assert 0 == main(["export", str(session.id), *words])
    told = json.loads((tmp_path / "one.json").read_text(encoding="utf-8"))
    table = pd.read_csv(out / "incidence.csv")

    # the six of her kind, of whom three laid; the other kind is left out
    assert (
        [her.id]
        == [cycle["female_id"] for cycle in told["cycles"]]
        == pd.read_csv(out / "cycles.csv")["female_id"].tolist()
    )
    assert {"Brachypelma smithi"} == set(table["species"])
    assert [(6, pytest.approx(1 / 6)), (5, pytest.approx(2 / 6))] == [
        (row["at_risk"], row["share"]) for row in told["incidence"] if row["way"] == "sac"
    ]
    assert table["share"].tolist() == pytest.approx([row["share"] for row in told["incidence"]])
    assert [] == validate(str(out / "datapackage.json")).flatten(["fieldName", "type", "message"])


def test_the_sheet_draws_the_waiting_of_her_kind_and_the_calendar_of_her_sac(tmp_path):
    with Book.open(tmp_path / "my.book") as book:
        for k in range(6):
            her = book.add_animal(Animal(0, f"F{k}", Sex.FEMALE, "Brachypelma smithi"))
            session = book.add_session(Session(0, f"P{k}", her.id, None, "2025-03-01"))
            if k < 4:
                book.add_outcome(Outcome(0, session.id, "laid", f"2025-05-0{k + 1}"))
        book.change_session(replace(session, date=date.today().isoformat()))
    page = tmp_path / "sheet.html"
    assert 0 == main(["sheet", str(session.id), "--book", str(tmp_path / "my.book"), "-o", str(page)])
    drawn = page.read_text(encoding="utf-8")

    assert "Waiting for the sac in Brachypelma smithi" in drawn
    assert "Sessions over her cycle" in drawn
    assert "a sac may come 20" in drawn  # the window, as its tip says it
