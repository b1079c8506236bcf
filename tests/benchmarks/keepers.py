"""What fitting from a keeper's calls does to film that the keeper has not seen: simulated keepers, sealed seeds.

    python -m tests.benchmarks.keepers                       # table: with the validation and without
    python -m tests.benchmarks.keepers --parameters pulls-1

Each keeper calls 20 to 200 candidates of open films, in one leaning way or another, ten draws each; after each refit
every candidate of the sealed films (seeds 1000 to 1002; collages 1000 to 1011) is scored anew. Which of two near
steps stays and which step is a release is taken as it was under the old parameters. Nothing is chosen by the outcome.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from clipmark.motion.fit import TooFewCalls, refit
from clipmark.motion.parameters import MotionParameters, load
from clipmark.motion.pulls import score
from clipmark.motion.validation import Stand, Validation, load_validation
from tests.benchmarks.candidates import FAMILIES, Example, all_examples, family, take_all
from tests.benchmarks.fit_scorer import Table, jobs, log_losses, ready, scores, sealed_jobs, table_of

COUNTS = (20, 50, 100, 200)
DRAWS = 10

Rows = list[Example]
Keeper = Callable[[Rows, MotionParameters, np.random.Generator], Rows]


class NoValidation(Validation):
    """Lets everything pass: what refitting was before there was a validation."""

    def stand(self, parameters: MotionParameters) -> Stand:
        return Stand(0, 0, 0, 0.0)


def honest(rows: Rows, parameters: MotionParameters, rng: np.random.Generator) -> Rows:
    return rows


def strong_only(rows: Rows, parameters: MotionParameters, rng: np.random.Generator) -> Rows:
    """Calls no pull that is smaller than most."""
    middle = float(np.median([row.features["size"] for row in rows if row.pulled]))
    return [row for row in rows if not row.pulled or row.features["size"] > middle]


def one_in_ten_wrong(rows: Rows, parameters: MotionParameters, rng: np.random.Generator) -> Rows:
    return [replace(row, pulled=row.pulled != bool(rng.random() < 0.1)) for row in rows]


def takes_pushes_for_pulls(rows: Rows, parameters: MotionParameters, rng: np.random.Generator) -> Rows:
    """Calls four in ten of the false friends a pull."""
    return [replace(row, pulled=row.pulled or bool(rng.random() < 0.4)) for row in rows]


def flags_only(rows: Rows, parameters: MotionParameters, rng: np.random.Generator) -> Rows:
    """Calls what was nearly flagged or flagged, never what scored low."""
    return [row for row in rows if score(row.features, parameters) > 0.2 * parameters.flag_at]


def collages_only(rows: Rows, parameters: MotionParameters, rng: np.random.Generator) -> Rows:
    return [row for row in rows if family(row.profile) == "collages"]


def photographs_only(rows: Rows, parameters: MotionParameters, rng: np.random.Generator) -> Rows:
    return [row for row in rows if family(row.profile) == "photographs"]


KEEPERS: dict[str, Keeper] = {
    "calls all kinds, rightly": honest,
    "calls only strong pulls": strong_only,
    "one call in ten is wrong": one_in_ten_wrong,
    "takes false friends for pulls": takes_pushes_for_pulls,
    "calls only what scored": flags_only,
    "collages only": collages_only,
    "photographs only": photographs_only,
}


@dataclass(frozen=True)
class Judged:
    missed: int
    false: int
    loss: float
    share: float


def judged(table: Table, parameters: MotionParameters, share: float = 1.0) -> Judged:
    p, yes = scores(table, parameters.weights), table.y > 0.5
    flagged = p >= parameters.flag_at
    return Judged(
        int((yes & ~flagged).sum()), int((~yes & flagged).sum()), float(log_losses(p, table.y).mean()), share
    )


def drawn(rows: Rows, count: int, rng: np.random.Generator) -> Rows:
    """So many of them, at least ten of each answer where there are so many."""
    order = [rows[int(k)] for k in rng.permutation(len(rows))]
    yes, no = [r for r in order if r.pulled], [r for r in order if not r.pulled]
    sure = yes[:10] + no[:10]
    rest = [r for r in order if not any(r is s for s in sure)]
    return (sure + rest)[:count]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--parameters", default="")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--collages", type=int, default=30, help="seeds of each kind of collage that are called")
    parser.add_argument("--ready", action="store_true", help="only films that are rendered already")
    parser.add_argument("--families", nargs="+", choices=tuple(FAMILIES), default=list(FAMILIES))
    parser.add_argument("--draws", type=int, default=DRAWS)
    chosen = parser.parse_args()
    old, validation = load(chosen.parameters), load_validation()
    wanted = jobs(0, 2, chosen.collages)
    wanted = [job for job in wanted if family(job[0]) in chosen.families and (not chosen.ready or ready(job))]
    pool = all_examples(take_all(wanted, chosen.processes), old)
    which = sealed_jobs(collages=12)
    which = [job for job in which if family(job[0]) in chosen.families and (not chosen.ready or ready(job))]
    taken = take_all(which, chosen.processes)
    films = table_of(all_examples(taken, old, everything=True))
    was = judged(films, old)
    print(f"{old.version} on {len(taken)} sealed films, {films.y.sum():.0f} pulls among {len(films.y)} candidates: "
          f"{was.missed} missed, {was.false} false, log loss {was.loss:.3f}")  # fmt: skip
    print("| keeper | calls | way gone | missed more, mean (worst) | false more, mean (worst) | log loss | "
          "without validation: missed | false | log loss |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|---|")
    for name, keeper in KEEPERS.items():
        for count in COUNTS:
            told = [_one(keeper, pool, count, seed, old, validation, films) for seed in range(chosen.draws)]
            pairs = [both for both in told if both is not None]
            if not pairs:
                print(f"| {name} | {count} | too few of one answer | | | | | | |")
                continue
            mine, free = ([pair[k] for pair in pairs] for k in (0, 1))
            print(f"| {name} | {count} | {np.mean([j.share for j in mine]):.2f} | " + " | ".join(
                [*_cells(mine, was), *_cells(free, was)]) + " |", flush=True)  # fmt: skip


def _one(keeper: Keeper, pool: Rows, count: int, seed: int, old: MotionParameters, validation: Validation,
         films: Table) -> tuple[Judged, Judged] | None:  # fmt: skip
    rng = np.random.default_rng([seed, count])
    calls = drawn(keeper(pool, old, rng), count, rng)
    features, pulled = [row.features for row in calls], [row.pulled for row in calls]
    found = []
    for held in (validation, NoValidation((), ())):
        try:
            new = refit(old, features, pulled, "mine", held)
        except TooFewCalls:
            return None
        found.append(judged(films, new.parameters, new.share))
    return found[0], found[1]


def _cells(told: Sequence[Judged], was: Judged) -> list[str]:
    missed, false = [j.missed - was.missed for j in told], [j.false - was.false for j in told]
    loss = np.mean([j.loss for j in told]) - was.loss
    return [f"{np.mean(missed):+.1f} ({max(missed):+d})", f"{np.mean(false):+.1f} ({max(false):+d})", f"{loss:+.3f}"]


if __name__ == "__main__":
    main()
