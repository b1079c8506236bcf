"""Does it help if he drums before he touches her? One question, answered from your own book with pandas.

run: python docs/examples/drumming_before_touch.py [BOOK]

For each session it asks whether his first drumming came before the first contact, and whether an insertion was
confirmed. Sessions without contact are told apart: there, nothing could follow. What the columns of the tables mean
stands in docs/formats.md, how the figures come about in docs/reading.md.
"""

import sys

import pandas as pd

import clipmark
from clipmark.reading.numbers.statistics import FEWEST, fisher, wilson


def main(book: str | None = None) -> None:
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
        print(f"  {words:<14} confirmed in {wilson(yes, yes + no).text}")
    if table.sum(axis=1).min() >= FEWEST:
        print(f"  p = {fisher(table.to_numpy().tolist()).p:.3f} (Fisher's exact test)")
    else:
        print(f"  fewer than {FEWEST} sessions on one side: counts only")

    waits = judged.groupby("drummed_first")["latency.contact"].median()
    for first, seconds in waits.items():
        print(f"  median wait for contact where he {'drummed first' if first else 'did not'}: {seconds:.1f} s")


if __name__ == "__main__":
    main(*sys.argv[1:2])
