"""The fit of the scorer: what counts how often, what is left out; a replayed film gives the program's flags."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from clipmark.motion.parameters import load
from clipmark.motion.pulls import NAMES
from clipmark.motion.scan import scan
from tests.benchmarks import fit_scorer
from tests.benchmarks.candidates import Example, examples, flags, replay, take
from tests.benchmarks.fit_scorer import best_flag_at, by_chance, left_out, table_of
from tests.benchmarks.keepers import drawn, strong_only
from tests.film.collage import Collage


def rows(count: int = 60, seed: int = 0) -> list[Example]:
    """Candidates of three families; pulls leave the surroundings where they are."""
    draw = np.random.default_rng(seed)
    made = []
    for k in range(count):
        pulled = bool(draw.random() < 0.5)
        item = dict.fromkeys(NAMES, 0.5) | {"along": float(draw.normal(0.2 if pulled else 0.9, 0.2))}
        item["size"] = float(draw.uniform(0.02, 0.2))
        kind = ("tripod", "photo still", "collage hand", "dark")[k % 4]
        made.append(Example(kind, k % 6, "", float(k), item, pulled))
    return made


def test_each_family_counts_alike_and_a_film_once_in_whatever_boxes() -> None:
    once = [row for row in rows() if not row.boxes]
    again = [replace(row, boxes=boxes) for row in once if row.profile == "tripod" for boxes in ("large", "small")]
    n, families = table_of(once + again).counts(), table_of(once + again).family

    thirds = [n[families == name].sum() for name in ("rendered", "photographs", "collages")]
    assert [len(once) / 3] * 3 == pytest.approx(thirds)
    dark = table_of(once + again).kind == "dark"
    assert table_of(once).counts()[table_of(once).kind == "dark"] == pytest.approx(n[dark])


def test_a_film_is_never_on_both_sides_of_a_fold() -> None:
    table = table_of(rows())
    fold = table.folds()

    for film in np.unique(table.film):
        assert 1 == len(set(fold[table.film == film]))


def test_a_left_out_group_is_scored_by_weights_that_do_not_hang_on_it() -> None:
    told = rows()
    lied = [
        r if r.profile != "dark" else Example(r.profile, r.seed, "", r.time_s, r.features, not r.pulled) for r in told
    ]
    true, false = (left_out(t, t.kind, 1.0)[0] for t in (table_of(told), table_of(lied)))
    own = table_of(told).kind == "dark"

    assert true[own] == pytest.approx(false[own])
    assert true[~own] != pytest.approx(false[~own])


def test_among_thresholds_that_do_equally_well_the_one_nearest_to_one_half_is_taken() -> None:
    assert 0.45 == best_flag_at({0.3: (1, 4), 0.35: (1, 2), 0.45: (2, 1), 0.5: (3, 1), 0.7: (4, 0)})


def test_scores_that_are_sure_leave_nothing_to_luck_and_few_unsure_ones_much() -> None:
    assert 0.0 == by_chance(np.array([0.0, 1.0, 1.0]))
    assert by_chance(np.full(10, 0.5)) > by_chance(np.full(1000, 0.5)) > 0


def test_figures_take_the_place_of_older_ones_in_the_card(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(fit_scorer, "MODELS", tmp_path)
    card = tmp_path / "card.md"
    card.write_text(f"above\n{fit_scorer.BEGINS}\nold\n{fit_scorer.ENDS}\nbelow\n", encoding="utf-8")
    for line in ("first", "second"):
        fit_scorer.into_card([line])

    assert f"above\n{fit_scorer.BEGINS}\nsecond\n{fit_scorer.ENDS}\nbelow\n" == card.read_text(encoding="utf-8")


def test_a_kept_film_gives_the_flags_that_the_pass_gives(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("tests.benchmarks.candidates.cache_folder", lambda generator: tmp_path)
    film = Collage("collage still", 2)
    told = scan(film, [film.box()]).flags
    for _ in ("followed", "fetched"):
        kept = take("collage still", 2)

        assert [(f.onset, f.score) for f in told] == [(f.onset, f.score) for f in flags(kept, load())]
    assert 1 == sum(pull["found"] for pull in replay(kept, load()).pulls)
    found = examples(kept, load())
    assert [True] == [row.pulled for row in found if abs(row.time_s - film.pulls[0]["onset_s"]) < 0.3]
    assert any(not row.pulled for row in found)


def test_a_keeper_draws_ten_of_each_answer_first() -> None:
    unlike = [row for row in rows(200) if row.pulled][:80] + [row for row in rows(200) if not row.pulled][:12]
    calls = drawn(unlike, 30, np.random.default_rng(0))

    assert 30 == len(calls)
    assert sum(row.pulled for row in calls) >= 10
    assert sum(not row.pulled for row in calls) >= 10
    weak = min(row.features["size"] for row in strong_only(unlike, load(), np.random.default_rng(0)) if row.pulled)
    assert weak > np.median([row.features["size"] for row in unlike if row.pulled]) - 1e-9
