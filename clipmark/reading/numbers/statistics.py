"""The statistics that readings use, under one name; each family has a module of its own."""

from __future__ import annotations

from clipmark.reading.numbers.detection import Found, Sensitivity, corrected, sensitivity
from clipmark.reading.numbers.kappa import Kappa, band, kappa
from clipmark.reading.numbers.proportions import FEWEST, Difference, Exact, Share, fisher, newcombe, wilson
from clipmark.reading.numbers.survival import Curve, Incidence, LogRank, cumulative_incidence, kaplan_meier, logrank

__all__ = [
    "FEWEST", "Curve", "Difference", "Exact", "Found", "Incidence", "Kappa", "LogRank", "Sensitivity", "Share",
    "band", "corrected", "cumulative_incidence", "fisher", "kaplan_meier", "kappa", "logrank", "newcombe",
    "sensitivity", "wilson",
]  # fmt: skip
