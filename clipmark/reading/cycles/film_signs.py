"""What film may show of a session, by name, for comparing what came where it did and where it did not."""

from __future__ import annotations

from collections.abc import Callable

from clipmark.book.meaning.calls import counting_calls
from clipmark.book.model import Decision, Sign
from clipmark.reading import roles
from clipmark.reading.cycles.cycle import Held
from clipmark.reading.session.ending import EndKind

CONFIRMED_SIGN = "confirmed insertion"


def _calls_with(sign: Sign) -> Callable[[Held], bool]:
    def has(session: Held) -> bool:
        calls = counting_calls(session.record).values()
        good = (Decision.CONFIRMED, Decision.PROBABLE)
        return any(c.decision in good and sign in c.signs for c in calls)

    return has


def _act(codes: frozenset[str]) -> Callable[[Held], bool]:
    return lambda session: any(o.act in codes for o in session.happened)


def _ended(kind: EndKind) -> Callable[[Held], bool]:
    return lambda session: session.ending.kind is kind


# What film may show, by name: each says whether one session shows it; a cycle shows what any of its sessions shows.
FILM_SIGNS: dict[str, Callable[[Held], bool]] = {
    CONFIRMED_SIGN: lambda s: s.insertions.confirmed >= 1,
    "two or more confirmed in one session": lambda s: s.insertions.confirmed >= 2,
    "confirmed or probable insertion": lambda s: s.insertions.confirmed + s.insertions.probable >= 1,
    **{str(sign): _calls_with(sign) for sign in Sign},
    "he drummed": _act(roles.DRUMMING),
    "she answered": _act(roles.ANSWER),
    "both cleaned or one did": _act(roles.CLEANING),
    "calm end": _ended(EndKind.CALM),
    "lunge at the end": _ended(EndKind.LUNGE),
}
