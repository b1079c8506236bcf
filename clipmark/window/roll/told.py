"""A mark or flag of the roll in words, for its tooltip and for a screen reader."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from clipmark.review.roll_model import RollItem
from clipmark.timebase import clock


def told(item: RollItem) -> str:
    """An item in words: what, when, how long, whose, its call."""
    return _flag(item) if item.kind == "flag" else _mark(item)


def _flag(item: RollItem) -> str:
    call = _tr("called: {call}").format(call=item.decision.value) if item.decision else _tr("not called yet")
    score = _tr("added by hand") if item.score is None else _tr("score {score:.2f}").format(score=item.score)
    return _tr("Pull at {time}, {score}, {call}").format(time=clock(item.start), score=score, call=call)


def _mark(item: RollItem) -> str:
    whose = {"him": _tr("he"), "her": _tr("she"), "both": _tr("both"), "keeper": _tr("keeper")}
    who = whose.get(item.actor.value, "")
    words = [item.label, _tr("({who})").format(who=who) if who else "", clock(item.start)]
    if item.open:
        words.append(_tr("still open"))
    elif item.lasting:
        words.append(_tr("to {end}, {long:.2f} s").format(end=clock(item.end), long=item.end - item.start))
    return " ".join(word for word in words if word)


def _tr(text: str) -> str:
    return QCoreApplication.translate("Roll", text)
