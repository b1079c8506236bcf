"""How sure is this: the tests of answers and of the order of acts, in words, each with what it takes for granted.

A test is told only where there is enough to test. One session's acts are not independent of each other, so every
p-value here is a hint; what is told says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from clipmark.reading.figure import plural
from clipmark.reading.sequence import ShuffleTest, Transitions, acts_in_order, shuffle_within_sessions, transitions
from clipmark.reading.session.answers import Answers, Filmed, her_answers, his_answers

FEWEST_STEPS = 10  # below this many steps from act to act nothing is tested (proposal)
FEWEST_CALLS = 5  # drummings that could be answered (proposal)
STRIKING = 0.05
MOST_CELLS = 4


@dataclass(frozen=True, slots=True)
class Sureness:
    """One question, what the test says to it, and what it rests on.

    Attributes:
        key: "answers.her", "answers.his", "order.shuffle", "order.table".
        found: the result in a sentence; why there is none where nothing was tested.
        assumes: what the test takes for granted, in a sentence.
        p: its p-value, None where nothing was tested.
        n: how many cases it rests on.
    """

    key: str
    question: str
    found: str
    assumes: str
    p: float | None
    n: int


def how_sure(readings: Sequence[Filmed], labels: Mapping[str, str], draws: int = 999) -> tuple[Sureness, ...]:
    """The tests over one session or several, in the order in which a keeper asks.

    Args:
        labels: code of an act to its name.
        draws: shuffles. The same readings give the same answer.
    """
    sequences = [acts_in_order(reading.occurrences) for reading in readings]
    return (
        _answered("her", "Does she answer his drumming, or would it look so by chance?",
                  her_answers(readings, draws=draws), "her answers", "his drumming"),
        _answered("his", "Does he drum upon her answers, or would it look so by chance?",
                  his_answers(readings, draws=draws), "his drumming", "her answers"),
        _shuffled(shuffle_within_sessions(sequences, draws), labels, len(readings)),
        _table(transitions(sequences), labels),
    )  # fmt: skip


def _answered(key: str, question: str, found: Answers, turned: str, upon: str) -> Sureness:
    assumes = (
        f"{turned[:1].upper()}{turned[1:]} are turned round the observed time 999 times: each keeps its own rhythm, "
        f"only the coupling with {upon} is broken. It is taken for granted that both keep their rhythm all the time. "
        f"The window of {float(found.window_s):g} s is a proposal."
    )
    if found.calls < FEWEST_CALLS or found.p is None:
        why = f"Not tested: {plural(found.calls, 'beginning')} of {upon}"
        why += f", fewer than {FEWEST_CALLS}." if found.calls < FEWEST_CALLS else f", and no {turned} at all."
        return Sureness(f"answers.{key}", question, why, assumes, None, found.calls)
    said = f"{found.sentence[:1].upper()}{found.sentence[1:]}."
    return Sureness(f"answers.{key}", question, f"{said} {_read(found.p)}", assumes, found.p, found.calls)


def _read(p: float) -> str:
    if p <= STRIKING:
        return "Chance alone would seldom give that many."
    return "Chance alone would give that many often enough: it shows nothing."


def _shuffled(test: ShuffleTest | None, labels: Mapping[str, str], sessions: int) -> Sureness:
    question = "Does what comes next depend on what came before?"
    assumes = (
        "The order of the acts is shuffled within each session 999 times; steps from an act to itself do not count. "
        "It is taken for granted that without any order every arrangement would be as likely. The p-value of a "
        "single step already pays for picking the most striking of many."
    )
    n = 0 if test is None else int(test.counts.sum())
    if test is None or n < FEWEST_STEPS:
        why = f"Not tested: {plural(n, 'step')} from act to act, fewer than {FEWEST_STEPS}."
        return Sureness("order.shuffle", question, why, assumes, None, n)
    said = f"{plural(n, 'step')} in {plural(test.sessions, 'session')}: p = {max(test.p, 0.001):.3f}."
    said += " The order is not arbitrary." if test.p <= STRIKING else " That shows no order."
    cells = _striking(test, labels)
    if cells:
        said += f" More or less often than shuffled: {'; '.join(cells)}."
    if sessions == 1:
        said += " This is one session: another may differ."
    return Sureness("order.shuffle", question, said, assumes, test.p, n)


def _striking(test: ShuffleTest, labels: Mapping[str, str]) -> list[str]:
    with np.errstate(invalid="ignore"):
        rows, columns = np.nonzero(test.p_cell <= STRIKING)
    order = sorted(zip(rows, columns, strict=True), key=lambda cell: float(test.p_cell[cell]))
    return [
        f"{_label(labels, test.codes[i])} then {_label(labels, test.codes[j])} {test.counts[i, j]} times"
        f" ({test.mean[i, j]:.1f} shuffled, p = {max(float(test.p_cell[i, j]), 0.001):.3f})"
        for i, j in order[:MOST_CELLS]
    ]


def _table(table: Transitions, labels: Mapping[str, str]) -> Sureness:
    question = "Do the counts of “what followed what” differ from what the acts' frequencies alone would give?"
    assumes = (
        "It is taken for granted that steps are independent of each other, which acts of one session are not: take "
        "the p-value as a hint. At most one in five expected counts may lie below five (Cochran's rule, from memory)."
    )
    if table.p is None or table.n < FEWEST_STEPS:
        why = f"Not tested: {plural(table.n, 'step')}, too few for a table."
        return Sureness("order.table", question, why, assumes, None, table.n)
    live = table.expected > 1e-12
    low = int((table.expected[live] < 5).sum())
    if 5 * low > int(live.sum()):
        why = (
            f"Not tested: {low} of {int(live.sum())} expected counts are below five. The shuffle above needs no such."
        )
        return Sureness("order.table", question, why, assumes, None, table.n)
    said = f"Chi-square {table.chi2:.1f}, {table.df} degrees of freedom, p = {max(table.p, 0.001):.3f}."
    strong = _residuals(table, labels)
    if strong:
        said += f" Residuals beyond 2: {'; '.join(strong)}."
    return Sureness("order.table", question, said, assumes, table.p, table.n)


def _residuals(table: Transitions, labels: Mapping[str, str]) -> list[str]:
    with np.errstate(invalid="ignore"):
        rows, columns = np.nonzero(np.abs(table.residual) > 2)
    order = sorted(zip(rows, columns, strict=True), key=lambda cell: -abs(float(table.residual[cell])))
    return [
        f"{_label(labels, table.codes[i])} then {_label(labels, table.codes[j])} {table.residual[i, j]:+.1f}"
        for i, j in order[:MOST_CELLS]
    ]


def _label(labels: Mapping[str, str], code: str) -> str:
    return labels.get(code, code)
