"""Where do two reviewers differ?

run: python docs/examples/two_reviewers.py FIRST SECOND [BOOK] [PICTURE.png]

Lays the last calls of two people on the same flags across each other. The diagonal is where they agree. How much of
the agreement chance alone would give stands in `clipmark agree`.
"""

import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import pandas as pd

import clipmark

DECISIONS = ["confirmed", "probable", "attempt", "not seen", "something else"]


def main(first: str, second: str, book: str | None = None, picture: str = "two_reviewers.png") -> None:
    calls = clipmark.read_book(book)["calls"].sort_values("made_at", kind="stable")
    last = calls.drop_duplicates(["flag_id", "reviewer"], keep="last")
    side = last.pivot(index="flag_id", columns="reviewer", values="decision").reindex(columns=[first, second])
    side = side.dropna()
    if side.empty:
        print(f"{first} and {second} have no flag in common")
        return
    table = pd.crosstab(side[first], side[second]).reindex(index=DECISIONS, columns=DECISIONS, fill_value=0)
    same = int(sum(table.loc[d, d] for d in DECISIONS))
    print(f"{len(side)} flags called by both, {same} of them alike")
    for one in DECISIONS:
        for other in DECISIONS:
            if one != other and table.loc[one, other]:
                print(f"  {table.loc[one, other]} × {first} says {one}, {second} says {other}")

    fig, ax = plt.subplots(figsize=(6, 5), layout="constrained")
    ax.imshow(table, cmap="Blues")
    for row, one in enumerate(DECISIONS):
        for column, other in enumerate(DECISIONS):
            if table.loc[one, other]:
                ax.text(column, row, table.loc[one, other], ha="center", va="center", color="#D55E00", weight="bold")
    places = range(len(DECISIONS))
    ax.set(xticks=places, yticks=places, yticklabels=DECISIONS, xlabel=second, ylabel=first)
    ax.set_xticks(places, DECISIONS, rotation=30, ha="right")
    fig.savefig(picture, dpi=120)
    print(f"picture: {picture}")


if __name__ == "__main__":
    main(*sys.argv[1:5])
