"""Fit the scorer of the motion pass anew from test films, and say how far its scores can be believed.

    python -m tests.benchmarks.fit_scorer                      # follow the films, fit, write pulls-2.json
    python -m tests.benchmarks.fit_scorer --name pulls-3       # the same under another name
    python -m tests.benchmarks.fit_scorer --half pulls-1       # mean of the fit and of pulls-1 (so pulls-2)
    python -m tests.benchmarks.fit_scorer --ready --seeds 7    # only what is rendered already, seeds 0 to 6
    python -m tests.benchmarks.fit_scorer --validation-only    # only the validation table, after measures changed
    python -m tests.benchmarks.fit_scorer --check              # is the validation table one of the present sources?
    python -m tests.benchmarks.fit_scorer --sealed             # fit nothing: judge parameters on the sealed seeds

Fitted on open seeds of three families that share no motion code: rendered film, photographs and film warped by
a known pull, and collages; films also with boxes drawn badly, each family counting alike. A film is never on both
sides of a fold, in whichever boxes. The strength of the pull towards zero is the one that does best on kinds of film
left out. The validation films (seeds 2000 and up) are used for nothing but the validation table
(`clipmark.motion.validation`) and the picture of reliability.
Work is kept beside the films (`tests.benchmarks.candidates`), so a stopped run goes on
where it was.

Written: models/pulls/NAME.json, models/pulls/validation.json, docs/pictures/motion-reliability.png and the figures in
models/pulls/card.md between its two marks. `clipmark.motion.parameters.DEFAULT` is left alone.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from clipmark.motion.fit import SIGNS, design, fit_design
from clipmark.motion.parameters import MotionParameters, load, write
from clipmark.motion.validation import validation_document
from tests.benchmarks.accuracy import Outcome, calibration, summary
from tests.benchmarks.candidates import FAMILIES, Example, Job, Taken, all_examples, family, replay, sources, take_all
from tests.film import collage, photos
from tests.film.library import SEALED_FROM, VARIANTS, cache_folder
from tests.film.profiles import PROFILES

ROOT = Path(__file__).resolve().parents[2]
MODELS, PICTURE = ROOT / "models" / "pulls", ROOT / "docs" / "pictures" / "motion-reliability.png"
VALIDATION_FROM = 2000
RICH = ("busy", "walking", "quiet", "everything", "exposure", "photo quiet", "photo trouble")  # in false friends
STRENGTHS = (0.3, 1.0, 3.0, 10.0, 30.0)
THRESHOLDS = (0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7)
FOLDS = 5
BEGINS, ENDS = "<!-- figures of the fit: written by tests.benchmarks.fit_scorer -->", "<!-- end of the figures -->"

Weights = dict[str, float]


def jobs(first: int, seeds: int, collages: int, boxes: Sequence[str] = ("",)) -> list[Job]:
    """Films from seed `first` on: every kind `seeds` times, twice as often those rich in false friends."""
    kinds = [*PROFILES, *(p for p in photos.PROFILES if photos.available(p))]
    films = [(p, first + k) for p in kinds for k in range(2 * seeds if p in RICH else seeds)]
    found = [(p, s, b) for p, s in films for b in boxes]
    return found + [(p, first + k, "") for k in range(collages) for p in collage.PROFILES]


def sealed_jobs(collages: int = 0) -> list[Job]:
    """The films that are reported on, and nothing else."""
    found = [(p, SEALED_FROM + k, "") for k in range(3) for p in PROFILES]
    found += [(p, SEALED_FROM, "") for p in photos.PROFILES if photos.available(p)]
    return found + [(p, SEALED_FROM + k, "") for k in range(collages) for p in collage.PROFILES]


def ready(job: Job) -> bool:
    """Whether the film need not be rendered first."""
    profile, seed, _ = job
    if profile in collage.PROFILES:
        return True
    films = cache_folder("photos" if profile in photos.PROFILES else "spiders")
    return (films / f"{profile.replace(' ', '_')}-{seed:04d}.truth.json").exists()


# -- fitting ------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Table:
    """Candidates as arrays, one row each: measures as the scorer takes them, answers, and where each comes from."""

    x: np.ndarray
    names: list[str]
    y: np.ndarray
    film: np.ndarray  # "kind seed"
    kind: np.ndarray
    family: np.ndarray
    boxes: np.ndarray

    def take(self, which: np.ndarray) -> Table:
        arrays = (getattr(self, name)[which] for name in ("y", "film", "kind", "family", "boxes"))
        return Table(self.x[which], self.names, *arrays)

    def counts(self) -> np.ndarray:
        """How often each candidate counts: a film once in whatever boxes, each family as much as the others."""
        each = np.empty(len(self.y))
        for film in np.unique(self.film):
            own = self.film == film
            each[own] = 1 / len(np.unique(self.boxes[own]))
        total, families = float(each.sum()), np.unique(self.family)
        for name in families:
            own = self.family == name
            each[own] *= total / len(families) / each[own].sum()
        return each

    def folds(self) -> np.ndarray:
        """A fold for each candidate; films of one kind are spread over the folds, all boxes of a film in one."""
        films = sorted(set(self.film))
        place = {film: k % FOLDS for k, film in enumerate(films)}
        return np.array([place[film] for film in self.film])


def table_of(rows: Sequence[Example]) -> Table:
    x, names = design([row.features for row in rows])
    film, kind, whose, boxes = (
        np.array([text(row) for row in rows])
        for text in (lambda r: r.film, lambda r: r.profile, lambda r: family(r.profile), lambda r: r.boxes)
    )
    return Table(x, names, np.array([float(row.pulled) for row in rows]), film, kind, whose, boxes)


def fitted(table: Table, strength: float) -> Weights:
    return fit_design(table.x, table.names, table.y, None, strength, table.counts(), signed=True)


def scores(table: Table, weights: Weights) -> np.ndarray:
    total = table.x @ np.array([weights[name] for name in table.names]) + weights["bias"]
    return np.asarray(1 / (1 + np.exp(-np.clip(total, -30, 30))))


def log_loss(table: Table, p: np.ndarray) -> float:
    """Mean log loss of the truth, weighted as in the fit."""
    n = table.counts()
    return float(n @ log_losses(p, table.y) / n.sum())


def log_losses(p: np.ndarray, y: np.ndarray) -> np.ndarray:
    return np.asarray(-np.log(np.clip(np.where(y > 0.5, p, 1 - p), 1e-6, 1)))


def left_out(table: Table, group: np.ndarray, strength: float) -> tuple[np.ndarray, dict[Any, Weights]]:
    """Scores of each candidate by a scorer that saw nothing of its group, and those scorers."""
    p, made = np.full(len(table.y), np.nan), {}
    for name in np.unique(group):
        own = group == name
        made[name.item()] = fitted(table.take(~own), strength)
        p[own] = scores(table.take(own), made[name.item()])
    return p, made


def best_strength(table: Table) -> tuple[float, list[tuple[float, float, float]]]:
    """The pull towards zero that does best on kinds left out, the stronger among near equals; also what was tried."""
    tried = []
    for strength in STRENGTHS:
        by_kind, _ = left_out(table, table.kind, strength)
        by_film, _ = left_out(table, table.folds(), strength)
        tried.append((strength, log_loss(table, by_kind), log_loss(table, by_film)))
    least = min(entry[1] for entry in tried)
    return max(entry[0] for entry in tried if entry[1] <= least * 1.02), tried


def by_chance(p: np.ndarray, bins: int = 10, draws: int = 400) -> float:
    """Calibration error that scores which are exactly right would show at this count, by luck alone."""
    if not len(p):
        return 0.0
    cell = np.minimum((p * bins).astype(int), bins - 1)
    right = np.random.default_rng(1).random((draws, len(p))) < p
    gaps = [np.abs((right[:, cell == k] - p[cell == k]).sum(axis=1)) for k in np.unique(cell)]
    return float(np.sum(gaps, axis=0).mean() / len(p))


# -- judging ------------------------------------------------------------------------------------------------------
def judged(films: Sequence[Taken], parameters: MotionParameters) -> list[Outcome]:
    return [replay(taken, parameters) for taken in films]


def cross_judged(
    films: Sequence[Taken], table: Table, made: dict[int, Weights], base: MotionParameters, flag_at: float
) -> list[Outcome]:
    """Films under the scorer of the fold that they were left out of."""
    place = dict(zip(table.film.tolist(), table.folds().tolist(), strict=True))
    return [
        replay(taken, replace(base, weights=made[place.get(f"{taken.profile} {taken.seed}", 0)], flag_at=flag_at))
        for taken in films
    ]


def best_flag_at(tried: dict[float, tuple[int, int]]) -> float:
    """The threshold with fewest missed pulls and false flags together; among equals the one nearest to one half,
    where a score that means what it says belongs."""
    least = min(missed + false for missed, false in tried.values())
    return min((at for at, both in tried.items() if sum(both) == least), key=lambda at: (abs(at - 0.5), at))


def lines_of(outcomes: Sequence[Outcome], title: str) -> list[str]:
    """A row of figures for each family and for all of them."""
    groups = {name: [o for o in outcomes if o.profile in kinds] for name, kinds in FAMILIES.items()}
    groups["all"] = list(outcomes)
    rows = []
    for name, mine in groups.items():
        if not mine:
            continue
        figures, scored = summary(mine), [c for o in mine for c in o.candidates]
        chance = by_chance(np.array([s for s, _ in scored])) if scored else float("nan")
        loss = np.mean([-np.log(np.clip(s if y else 1 - s, 1e-6, 1)) for s, y in scored]) if scored else float("nan")
        recall = "-" if figures["recall"] is None else f"{figures['recall']:.3f} of {figures['pulls']}"
        rows.append(
            f"| {title}, {name} | {len(mine)} | {recall} | {figures['false']} ({figures['false_a_minute']:.2f}) | "
            f"{len(scored)} | {figures['ece'] or 0:.3f} ({chance:.3f}) | {loss:.3f} |"
        )
    return rows


HEAD = [
    "| films | count | pulls found | false (a minute) | candidates | calibration error (by luck alone) | log loss |",
    "|---|---|---|---|---|---|---|",
]


def draw(curves: dict[str, Sequence[Outcome]], path: Path) -> None:
    """How often a score was right: a curve a set of films, with 90 % intervals (Wilson 1927) and counts."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axis = plt.subplots(figsize=(5.2, 4.2))
    axis.plot([0, 1], [0, 1], color="#999999", lw=1)
    looks = zip(
        curves.items(), ("#0072B2", "#D55E00", "#009E73"), ("o", "s", "^"), (-0.006, 0.006, 0.0), strict=False
    )
    for (name, outcomes), colour, mark, aside in looks:
        scored = [c for o in outcomes for c in o.candidates]
        error, bins = calibration(scored, 10)
        if error is None:
            continue
        at, share = np.array([b["score"] for b in bins]), np.array([b["share"] for b in bins])
        n, z = np.array([b["count"] for b in bins]), 1.645
        middle = (share + z * z / (2 * n)) / (1 + z * z / n)
        half = z * np.sqrt(share * (1 - share) / n + z * z / (4 * n * n)) / (1 + z * z / n)
        reach = np.clip(np.array([share - (middle - half), middle + half - share]), 0, None)
        label = f"{name}: {len(scored)} candidates, error {error:.3f}"
        axis.errorbar(at + aside, share, reach, color=colour, marker=mark, ms=4, lw=1, capsize=2, label=label)
        if aside >= 0:
            for x, y, count in zip(at, share, n, strict=True):
                axis.annotate(str(count), (x, y), (4, -11), textcoords="offset points", fontsize=7, color=colour)
    axis.set_xlabel("score")
    axis.set_ylabel("share that was a pull")
    axis.set_title("How often a score was right, on films not fitted on", loc="left", fontsize=10)
    axis.legend(fontsize=7, loc="upper left", frameon=False)
    figure.tight_layout()
    figure.savefig(path, dpi=110)
    plt.close(figure)


# -- the command --------------------------------------------------------------------------------------------------
def write_validation(films: Sequence[Taken], parameters: MotionParameters) -> list[Example]:
    rows = all_examples(films, parameters)
    names = [f"{row.film}{row.boxes and ' ' + row.boxes}" for row in rows]
    text = validation_document(names, [row.features for row in rows], [row.pulled for row in rows], sources())
    (MODELS / "validation.json").write_text(text, encoding="utf-8")
    pulled = sum(row.pulled for row in rows)
    print(f"validation: {len(rows)} candidates, {pulled} of them pulls, {len(text) / 1000:.0f} kB")
    return rows


def check() -> int:
    """0 where the validation table was made from the present sources, else 1."""
    made_from = json.loads((MODELS / "validation.json").read_text(encoding="utf-8"))["made_from"]
    fresh = made_from == sources()
    print(
        "The validation table is up to date."
        if fresh
        else "The motion pass has changed since the validation table was made."
    )
    return 0 if fresh else 1


def into_card(lines: Sequence[str]) -> None:
    """Put the figures between the card's two marks."""
    path = MODELS / "card.md"
    text = path.read_text(encoding="utf-8")
    head, rest = text.split(BEGINS, 1)
    tail = rest.split(ENDS, 1)[1]
    path.write_text(f"{head}{BEGINS}\n" + "\n".join(lines) + f"\n{ENDS}{tail}", encoding="utf-8")


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--name", default="pulls-2", help="version of the new parameters")
    parser.add_argument(
        "--from", dest="base", default="", help="parameters whose limits are kept; scorer to begin with"
    )
    parser.add_argument(
        "--seeds", type=int, default=2, help="open seeds of each kind; twice as many of the rich ones"
    )
    parser.add_argument("--collages", type=int, default=30, help="seeds of each kind of collage")
    parser.add_argument("--boxes", nargs="*", default=[*VARIANTS], help="how boxes are drawn besides as usual")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--ready", action="store_true", help="only films that are rendered already")
    parser.add_argument("--validation-only", action="store_true")
    parser.add_argument(
        "--half", default="", help="parameters whose log odds make half of the score, the fit the other"
    )
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--sealed", action="store_true")
    parser.add_argument("--parameters", nargs="+", default=["pulls-1", "pulls-2"], help="what --sealed judges")
    parser.add_argument("--dry", action="store_true", help="fit and tell, write nothing")
    chosen = parser.parse_args(arguments)
    began = time.perf_counter()
    if chosen.check:
        return check()
    if chosen.sealed:
        return sealed(chosen)
    base = load(chosen.base)
    wanted = [] if chosen.validation_only else jobs(0, chosen.seeds, chosen.collages, ["", *chosen.boxes])
    validations = jobs(VALIDATION_FROM, 1, 12)
    if chosen.ready:
        wanted, validations = ([job for job in some if ready(job)] for some in (wanted, validations))
    validation_films = take_all(validations, chosen.processes)
    if chosen.validation_only:
        write_validation(validation_films, base)
        return 0
    films = take_all(wanted, chosen.processes)
    print(f"followed: {time.perf_counter() - began:.0f} s")
    new, lines, crossed = fit(films, base, chosen.name)
    if chosen.half:
        new = halves(new, load(chosen.half))
        lines += [
            "",
            f"Up to here: the fit alone. `{new.version}` is the mean of its log odds and those of `{chosen.half}`, "
            f"flagged from {new.flag_at:g} on.",
        ]
    validated = judged(validation_films, new)
    lines += ["", *HEAD, *lines_of(crossed, "cross-validated"), *lines_of(validated, "validation films")]
    lines += lines_of(judged(validation_films, base), f"validation films under {base.version}")
    print("\n".join(lines))
    if not chosen.dry:
        write(new, MODELS / f"{chosen.name}.json")
        write_validation(validation_films, new)
        draw({"cross-validated by film": crossed, "validation films": validated}, PICTURE)
        into_card(lines)
    print(f"{time.perf_counter() - began:.0f} s in all")
    return 0


def fit(
    films: Sequence[Taken], base: MotionParameters, name: str
) -> tuple[MotionParameters, list[str], list[Outcome]]:
    """New parameters, the lines of the card about them, and the films as judged by scorers that did not see them."""
    current, strength = base, STRENGTHS[len(STRENGTHS) // 2]
    for last in (False, False, True):  # which of two near candidates stays, and what is a release, hang on the scorer
        table = table_of(all_examples(films, current))
        if last:
            strength, tried = best_strength(table)
        current = replace(base, version=name, weights=fitted(table, strength))
    plain = [taken for taken in films if not taken.boxes]
    p, made = left_out(table, table.folds(), strength)
    thresholds: dict[float, tuple[int, int]] = {}
    for at in THRESHOLDS:
        told = cross_judged(plain, table, made, base, at)
        missed = sum(pull["judgeable"] and not pull["found"] for o in told for pull in o.pulls)
        thresholds[at] = (missed, sum(len(o.false) for o in told))
    flag_at = best_flag_at(thresholds)
    weights = {key: round(value, 4) for key, value in current.weights.items()}
    new = replace(current, weights=weights, flag_at=flag_at)
    crossed = cross_judged(plain, table, made, base, flag_at)
    told_by = [p, left_out(table, table.kind, strength)[0], left_out(table, table.family, strength)[0]]
    lines = [
        f"`{name}`: {len(table.y)} candidates of {len(set(table.film))} films, {table.y.sum():.0f} of them pulls; "
        f"flagged from {flag_at:g} on; pull towards zero {strength:g}.",
        "",
        "Left out while fitting, then judged: log loss, calibration error (by luck alone); boxes as usual.",
        "",
        "| left out | candidates | film by film | kind by kind | family by family |",
        "|---|---|---|---|---|",
    ]
    for group in [*FAMILIES, *dict.fromkeys(table.kind.tolist())]:
        own = (table.boxes == "") & ((table.kind == group) | (table.family == group))
        if own.any():
            cells = " | ".join(_cell(q[own], table.y[own]) for q in told_by)
            lines.append(f"| {group} | {own.sum()} | {cells} |")
    lines += [
        "",
        "Pull towards zero: log loss with kinds left out, with films left out: "
        + "; ".join(f"{s:g}: {k:.3f}, {f:.3f}" for s, k, f in tried) + ".",
        "",
        "Flagging score: missed pulls and false flags, films left out: "
        + "; ".join(f"{at:g}: {m} and {f}" for at, (m, f) in thresholds.items()) + ".",
        "",
        "Weights held at nothing, since they would have had the wrong sign: "
        + (", ".join(key for key in SIGNS if not weights[key]) or "none") + ".",
    ]  # fmt: skip
    return new, lines, crossed


def halves(new: MotionParameters, old: MotionParameters) -> MotionParameters:
    """The mean of two scorers, in log odds; where to flag from is the old one's. Two fits on different film err in
    different ways, and their mean errs less than either on film that neither saw (common practice)."""
    names = dict.fromkeys([*new.weights, *old.weights])
    mean = {key: round((new.weights.get(key, 0.0) + old.weights.get(key, 0.0)) / 2, 4) for key in names}
    return replace(new, weights=mean, flag_at=old.flag_at)


def _cell(p: np.ndarray, y: np.ndarray) -> str:
    error = calibration([(float(s), yes > 0.5) for s, yes in zip(p, y, strict=True)])[0] or 0.0
    return f"{log_losses(p, y).mean():.3f}, {error:.3f} ({by_chance(p):.3f})"


def sealed(chosen: argparse.Namespace) -> int:
    """Judge parameters on the sealed seeds that are reported on; nothing is fitted or chosen here."""
    which = sealed_jobs()
    if chosen.ready:
        which = [job for job in which if ready(job)]
    films = take_all(which, chosen.processes)
    print("\n".join(HEAD))
    for name in chosen.parameters:
        print("\n".join(lines_of(judged(films, load(name)), name)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
