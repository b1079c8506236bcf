"""What the sheet says of the kind, of his rhythm, and of how sure the order of acts and the answers are: plain values
that the HTML template and the PDF both draw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from clipmark.book.model import SessionRecord, SpeciesNote
from clipmark.reading.advice.glance import glance
from clipmark.reading.cycles.his_rhythm import Beat, beside, male_rhythms
from clipmark.reading.kinds.signs import species_of
from clipmark.reading.session.how_sure import how_sure
from clipmark.reading.session.measures import Reading

Line = tuple[str, str]  # what is said, and its source
NO_SOURCE_RHYTHM = "Each male has his own drumming rhythm (common practice, no source)."


@dataclass(frozen=True, slots=True)
class Block:
    """Lines under one heading."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class SureRow:
    """A question, what the test says, and what it takes for granted."""

    question: str
    found: str
    assumes: str


@dataclass(frozen=True, slots=True)
class KindView:
    """Everything on the sheet that is known apart from the film.

    Attributes:
        title, headline: of which kind, and how much of it is about the species itself.
        glance: known, watch for, do not conclude, and the signs to look for.
        sections: all that is known, the particular first.
        sure: the tests of answers and order.
        rhythm: sentences on his drumming over his sessions.
    """

    title: str
    headline: str
    glance: tuple[Block, ...]
    sections: tuple[Block, ...]
    sure: tuple[SureRow, ...]
    rhythm: tuple[str, ...]


def kind_view(
    record: SessionRecord,
    reading: Reading,
    own: Sequence[SpeciesNote] = (),
    his: Sequence[SessionRecord] = (),
    beats: Mapping[int, Sequence[Beat]] | None = None,
) -> KindView:
    """Put it together.

    Args:
        own: what the keeper noted of species.
        his: further sessions, for his rhythm beside other males.
        beats: what was heard and seen, by session.
    """
    species = species_of(record)
    seen = glance(species, own)
    labels = {act.code: act.label for act in record.acts}
    return KindView(
        title=f"What is known of {species}" if species else "What holds for all kinds",
        headline=seen.headline,
        glance=(
            Block("Known", seen.known or (("Nothing is written down about this kind.", ""),)),
            Block("Signs to look for", seen.expected.lines),
            Block("Watch for", seen.watch),
            Block("Do not conclude", seen.not_conclude),
        ),
        sections=tuple(
            Block(s.title, tuple((x.text, x.cited) for x in s.statements)) for s in seen.everything.sections
        ),
        sure=tuple(SureRow(s.question, s.found, s.assumes) for s in how_sure([reading], labels)),
        rhythm=tuple(_rhythm(record, his, beats or {})),
    )


def _rhythm(
    record: SessionRecord, his: Sequence[SessionRecord], beats: Mapping[int, Sequence[Beat]]
) -> Sequence[str]:
    if record.male is None:
        return ()
    everybody = male_rhythms([record, *(r for r in his if r.session.id != record.session.id)], beats)
    him = next(m for m in everybody if m.animal_id == record.male.id)
    if not him.bouts:
        return ()
    here = next(s for s in him.sessions if s.session_id == record.session.id)
    said = [f"{him.name}: {him.text}."]
    if here.bouts:
        said.append(f"In this session: {here.trend}.")
    return (*said, beside(him, everybody), NO_SOURCE_RHYTHM)
