"""What the book says that cannot be: told in a sentence, never mended and never counted in silence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from clipmark.book.model import Animal, LifeEvent, SessionRecord
from clipmark.reading.advice.stages import sacs
from clipmark.reading.cycles.life_dates import day
from clipmark.reading.kinds.signs import species_of

GONE = ("died", "sold")


def doubts(
    record: SessionRecord,
    her_events: Sequence[LifeEvent] = (),
    his_events: Sequence[LifeEvent] = (),
    today: date | None = None,
) -> tuple[str, ...]:
    """Everything about a pairing, its outcomes and the lives of its animals that contradicts something else."""
    now = today or date.today()
    paired = day(record.session.date)
    said: list[str] = []
    if paired is not None and paired > now:
        said.append(f"The pairing is dated {paired}, which is still to come.")
    said += _outcomes(record, paired, now)
    for animal, events in ((record.female, her_events), (record.male, his_events)):
        if animal is not None:
            said += _life(animal, events, paired, now)
    said += [text for sac in sacs(record, species_of(record)) for text in sac.contradictions]
    return tuple(dict.fromkeys(said))


def _outcomes(record: SessionRecord, paired: date | None, now: date) -> Iterable[str]:
    for outcome in record.outcomes:
        on = day(outcome.date)
        if on is None:
            continue
        if paired is not None and on < paired:
            yield f"“{outcome.kind}” is noted for {on}, before the pairing ({paired})."
        if on > now:
            yield f"“{outcome.kind}” is noted for {on}, which is still to come."
    kinds = {o.kind for o in record.outcomes}
    if "none yet" in kinds and kinds & {"laid", "moulted"}:
        last = max((o for o in record.outcomes if o.date), key=lambda o: o.date, default=None)
        if last is not None and last.kind == "none yet":
            yield f"“none yet” is noted for {last.date}, after something had come."


def _life(animal: Animal, events: Sequence[LifeEvent], paired: date | None, now: date) -> Iterable[str]:
    dated = sorted((on, e.kind) for e in events if (on := day(e.date)) is not None)
    deaths = [on for on, kind in dated if kind == "died"]
    if len(deaths) > 1:
        yield f"{animal.name} is noted as dead {len(deaths)} times ({', '.join(map(str, deaths))})."
    if sum(kind == "matured" for _, kind in dated) > 1:
        yield f"{animal.name} has more than one maturing moult; the latest counts."
    for on, kind in dated:
        if on > now:
            yield f"“{kind}” of {animal.name} is dated {on}, which is still to come: it does not count yet."
    born = day(animal.born) if len(animal.born) == 10 else None
    first = dated[0][0] if dated else None
    if born is not None and first is not None and first < born:
        yield f"{animal.name} has an entry of {first}, before the day of birth ({born})."
    if deaths:
        after = [(on, kind) for on, kind in dated if on > deaths[0] and kind not in GONE]
        for on, kind in after:
            yield f"“{kind}” of {animal.name} is dated {on}, after {deaths[0]}, when it is noted as dead."
        if paired is not None and paired > deaths[0]:
            yield f"{animal.name} is noted as dead on {deaths[0]}, before this pairing ({paired})."
