"""Does it help if he drums before he touches her? One question, answered from your own book with pandas.

run: python docs/examples/drumming_before_touch.py [BOOK] [PICTURE.png]

For each session it asks whether his first drumming came before the first contact, and whether an insertion was
confirmed. Sessions without contact are told apart: there, nothing could follow. What the columns of the tables mean
stands in docs/formats.md, how the figures come about in docs/reading.md.
"""

import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import pandas as pd
from scipy.stats import binomtest, fisher_exact

import clipmark

FEWEST = 5  # sessions on a side below which a share would say more than is known


def share(yes: int, out_of: int) -> str:
    """A share with Wilson's 95 % interval, or the counts alone where they are few."""
    if out_of < FEWEST:
        return f"{yes} of {out_of}"
    low, high = binomtest(yes, out_of).proportion_ci(method="wilson")
    return f"{yes} of {out_of} ({100 * yes / out_of:.0f} %, {100 * low:.0f} to {100 * high:.0f} %)"


def main(book: str | None = None, picture: str = "drumming_before_touch.png") -> None:
    tables = clipmark.read_book(book)

    # one row a session, one column a figure; a figure that could not be had is missing, not zero
    measures = tables["measures"].pivot(index="session_id", columns="key", values="value")
    sessions = tables["sessions"].set_index("session_id")[["title", "date", "female"]]
    wanted = ["latency.drumming", "latency.contact", "insertions.confirmed", "insertions.judgeable"]
    one = sessions.join(measures.reindex(columns=wanted).astype("Float64"))

    touched = one[one["latency.contact"].notna()].copy()
    print(f"{len(one)} sessions, {len(touched)} with contact, {touched['female'].nunique()} females")
    if touched.empty:
        return

    # he drummed first if drumming came before contact; drumming that never came did not come first
    drummed = touched["latency.drumming"]
    touched["drummed_first"] = drummed.notna() & (drummed < touched["latency.contact"]).fillna(False)
    touched["confirmed"] = touched["insertions.confirmed"] > 0

    # only sessions in which something could be judged: what was hidden is no failure
    judged = touched[touched["insertions.judgeable"] > 0]
    print(f"{len(judged)} of them with at least one insertion or attempt that could be judged")
    table = pd.crosstab(judged["drummed_first"], judged["confirmed"]).reindex(
        index=[True, False], columns=[True, False], fill_value=0
    )
    for first, words in ((True, "drummed first"), (False, "did not")):
        yes, no = (int(n) for n in table.loc[first])
        print(f"  {words:<14} confirmed in {share(yes, yes + no)}")
    if table.sum(axis=1).min() >= FEWEST:
        print(f"  p = {fisher_exact(table).pvalue:.3f} (Fisher's exact test)")
    else:
        print(f"  fewer than {FEWEST} sessions on one side: counts only")

    waits = judged.groupby("drummed_first")["latency.contact"].median()
    for first, seconds in waits.items():
        print(f"  median wait for contact where he {'drummed first' if first else 'did not'}: {seconds:.1f} s")

    fig, ax = plt.subplots(figsize=(5, 4), layout="constrained")
    sides = ["drummed first", "did not"]
    ax.bar(sides, table[True], color="#0072B2", label="confirmed")
    ax.bar(sides, table[False], bottom=table[True], color="#BBBBBB", label="not confirmed")
    ax.set(ylabel="sessions")
    ax.legend()
    fig.savefig(picture, dpi=120)
    print(f"picture: {picture}")


if __name__ == "__main__":
    main(*sys.argv[1:3])
