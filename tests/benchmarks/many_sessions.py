"""How long reading many sessions takes: 500 invented sessions with 20,000 marks and 5,000 flags, all figures.

run: python -m tests.benchmarks.many_sessions [--sessions 500] [--marks 20000] [--json]

Timed apart: reading every session (measures), the statistics across them (outcomes and how good the flags were), the
order of acts (999 shuffles) and answers (999 shuffles). The target is 3 s for the first two together. Times
are of the processor, so that other work on the machine does not count; `--wall` takes the clock on the wall.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np

from clipmark.book.model import Decision, SessionRecord
from tests.reading.made_records import Made

ACTS = (
    "drumming",
    "body shaking",
    "answering",
    "leg play",
    "palp touching",
    "attempt",
    "clasp",
    "insertion left",
    "jerk",
)


def sessions(number: int, marks: int, seed: int = 1) -> list[SessionRecord]:
    """Invented sessions of `number // 4` females, `marks` marks and ten flags a session, most with outcomes."""
    random = np.random.default_rng(seed)
    each = marks // number
    made = []
    for k in range(number):
        day = date(2015, 1, 1) + timedelta(days=int(random.integers(0, 4000)))
        one = Made(session_id=k + 1, date=day.isoformat(), female_id=1 + k % max(1, number // 4), length=1800)
        one.mark("introduced", 5)
        for at in np.sort(random.uniform(10, 1790, each - 2)).round(3):
            act = str(random.choice(ACTS))
            one.mark(act, float(at), None if act == "jerk" else round(float(at) + float(random.uniform(0.5, 8)), 3))
        one.mark("separated", 1795)
        for at in np.sort(random.uniform(20, 1780, 10)).round(3):
            one.flag(float(at), release=float(at) + 3, call=Decision(random.choice([d.value for d in Decision])))
        one.watched(0, 1500)
        kind = str(random.choice(["laid", "moulted", "none yet", "infertile", ""]))
        if kind:
            one.outcome(kind, (day + timedelta(days=int(random.integers(20, 200)))).isoformat())
        made.append(one.record())
    return made


def measure(records: list[SessionRecord], clock: Callable[[], float] = time.process_time) -> dict[str, float]:
    """Seconds of each part."""
    from clipmark.reading.cycles.flag_quality import flag_quality
    from clipmark.reading.cycles.outcomes import outcomes
    from clipmark.reading.sequence import acts_in_order, shuffle_within_sessions
    from clipmark.reading.session.answers import her_answers
    from clipmark.reading.session.measures import read

    times: dict[str, float] = {}

    def timed(name: str, started: float) -> float:
        times[name] = clock() - started
        return clock()

    start = clock()
    readings = [read(record) for record in records]
    start = timed("reading", start)
    outcomes(records, today=date(2027, 1, 1))
    start = timed("outcomes", start)
    flag_quality(records)
    start = timed("flag quality", start)
    shuffle_within_sessions([acts_in_order(r.occurrences) for r in readings])
    start = timed("order of acts", start)
    her_answers(readings)
    timed("answers", start)
    return times


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sessions", type=int, default=500)
    parser.add_argument("--marks", type=int, default=20_000)
    parser.add_argument("--wall", action="store_true")
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    records = sessions(arguments.sessions, arguments.marks)
    times = measure(records, time.perf_counter if arguments.wall else time.process_time)
    times["reading and statistics"] = times["reading"] + times["outcomes"] + times["flag quality"]
    if arguments.json:
        print(json.dumps({"sessions": arguments.sessions, "marks": arguments.marks, "seconds": times}, indent=1))
    else:
        print(f"{arguments.sessions} sessions, {sum(len(r.marks) for r in records)} marks")
        for name, seconds in times.items():
            print(f"  {name:<24} {seconds:6.2f} s")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
