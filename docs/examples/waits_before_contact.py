"""How long does a pairing take to come to contact, and to the first confirmed insertion?

run: python docs/examples/waits_before_contact.py [BOOK] [PICTURE.png]

One line a session, oldest at the top: a ring at first contact, a dot at the first confirmed insertion, both in
minutes on the session clock. A session without contact has no ring: it did not take infinitely long, it did not come
to it while the camera ran, and it counts in no median.
"""

import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt

import clipmark


def main(book: str | None = None, picture: str = "waits_before_contact.png") -> None:
    tables = clipmark.read_book(book)
    sessions = tables["sessions"].sort_values("date", na_position="last").set_index("session_id")
    measures = tables["measures"].pivot(index="session_id", columns="key", values="value")
    contact = measures.reindex(sessions.index).get("latency.contact")
    if contact is None or contact.notna().sum() == 0:
        print("no session of this book has a mark of contact")
        return
    flags = tables["flags"]
    confirmed = flags[flags["decision"] == "confirmed"].groupby("session_id")["onset_s"].min().reindex(sessions.index)

    print(f"{len(sessions)} sessions, {contact.notna().sum()} with contact")
    print(f"  median wait for contact: {contact.dropna().median():.1f} s")
    waits = (confirmed - contact).dropna()
    if len(waits):
        print(f"  from contact to the first confirmed insertion: {waits.median():.1f} s (median of {len(waits)})")

    fig, ax = plt.subplots(figsize=(7, 1.5 + 0.3 * len(sessions)), layout="constrained")
    rows = range(len(sessions))
    ax.plot(contact.astype(float) / 60, rows, "o", mfc="none", color="#0072B2", label="first contact")
    ax.plot(confirmed.astype(float) / 60, rows, "o", color="#D55E00", label="first confirmed insertion")
    ax.set(yticks=rows, yticklabels=sessions["title"], xlabel="minutes on the session clock", xlim=(0, None))
    ax.invert_yaxis()
    ax.legend()
    fig.savefig(picture, dpi=120)
    print(f"picture: {picture}")


if __name__ == "__main__":
    main(*sys.argv[1:3])
