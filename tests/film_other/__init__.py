"""Test film by another hand: painted animals, a timeline of their own, known truth. Only measured, never tuned on.

Written without sight of the motion pass, and sharing nothing with `tests/film` but the encoder. `pairings.make`
renders a film and its truth; `tests.benchmarks.other_hand` measures with it.
"""
