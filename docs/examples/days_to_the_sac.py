"""How many days after a pairing did she lay, by species?

run: python docs/examples/days_to_the_sac.py [BOOK] [PICTURE.png]

Takes the outcomes "laid" and counts from the day of the session. A female that was paired several times before she
laid is counted from each of those pairings, with a thin mark for all but the last: nobody can say which one it was.
"""

import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import pandas as pd

import clipmark


def main(book: str | None = None, picture: str = "days_to_the_sac.png") -> None:
    tables = clipmark.read_book(book)
    sessions = tables["sessions"].set_index("session_id")[["date", "female_id", "female", "female_species"]]
    laid = tables["outcomes"].query("kind == 'laid'").join(sessions.drop(columns="date"), on="session_id")
    laid = laid.dropna(subset=["date"]).drop_duplicates(["female_id", "date"])
    both = (
        sessions.dropna(subset=["date"])
        .reset_index()
        .merge(laid[["female_id", "date"]], on="female_id", suffixes=("", "_laid"))
    )
    days = (pd.to_datetime(both["date_laid"]) - pd.to_datetime(both["date"])).dt.days
    both = both.assign(days=days)[days > 0]
    if both.empty:
        print("no session of this book has an outcome “laid” with a date after it")
        return
    both["last"] = both.groupby(["female_id", "date_laid"])["date"].transform("max") == both["date"]

    both["species"] = both["female_species"].replace("", "species not noted").fillna("species not noted")
    names = sorted(both["species"].unique())
    both["row"] = both["species"].map(names.index)
    last, earlier = both[both["last"]], both[~both["last"]]
    for species, days in last.groupby("species")["days"]:
        print(f"{species}: {len(days)} sacs, {days.min()} to {days.max()} days after the last pairing")

    fig, ax = plt.subplots(figsize=(7, 3), layout="constrained")
    ax.plot(last["days"], last["row"], "o", color="#D55E00", label="last pairing before the sac")
    ax.plot(earlier["days"], earlier["row"], "|", color="grey", label="an earlier pairing")
    ax.set(yticks=range(len(names)), yticklabels=names, xlabel="days from pairing to sac", xlim=(0, None))
    ax.margins(y=0.3)
    ax.legend()
    fig.savefig(picture, dpi=120)
    print(f"picture: {picture}")


if __name__ == "__main__":
    main(*sys.argv[1:3])
