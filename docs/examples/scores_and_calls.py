"""Does a flag's score mean what it says? Of the flags with a score of 0.9, nine in ten should be pulls.

run: python docs/examples/scores_and_calls.py [BOOK] [PICTURE.png]

Takes the flags of the motion pass that you called, in fifths of the score, and counts how many you called confirmed,
probable or attempt: in each of these her abdomen was drawn in. "Not seen" counts on neither side. Few flags say
little: the bars are Wilson's 95 % intervals.
"""

import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import pandas as pd
from scipy.stats import binomtest

import clipmark

DRAWN = ("confirmed", "probable", "attempt")


def main(book: str | None = None, picture: str = "scores_and_calls.png") -> None:
    flags = clipmark.read_book(book)["flags"]
    called = flags[flags["score"].notna() & flags["decision"].isin([*DRAWN, "something else"])].copy()
    if called.empty:
        print("no flag of the motion pass has been called yet")
        return
    called["pull"] = called["decision"].isin(DRAWN)
    called["fifth"] = pd.cut(called["score"].astype(float), [0, 0.2, 0.4, 0.6, 0.8, 1.0], include_lowest=True)

    print(f"{len(called)} called flags, {called['pull'].sum()} of them pulls")
    fig, ax = plt.subplots(figsize=(5, 5), layout="constrained")
    ax.plot([0, 1], [0, 1], ":", color="grey", label="a score that means what it says")
    for place, part in called.groupby("fifth", observed=True):
        pulls, score = int(part["pull"].sum()), part["score"].mean()
        share = pulls / len(part)
        low, high = binomtest(pulls, len(part)).proportion_ci(method="wilson")
        fifth = f"{max(place.left, 0):.1f} to {place.right:.1f}"
        print(f"  score {fifth} (mean {score:.2f}): {pulls} of {len(part)} pulls")
        ax.errorbar(score, share, [[share - low], [high - share]], fmt="o", color="#0072B2")
    ax.set(xlabel="score", ylabel="share that were pulls", xlim=(0, 1), ylim=(0, 1.02))
    ax.legend()
    fig.savefig(picture, dpi=120)
    print(f"picture: {picture}")


if __name__ == "__main__":
    main(*sys.argv[1:3])
