"""The values that the book keeps, frozen. A change is a new value; ids are given by the store (0 = not stored yet).

Dates are ISO text (`2026-03-01`), instants of the real world RFC 3339 UTC text. Times on film are ticks of the
clip's own time base. Positions on the session clock are exact Fractions of seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from clipmark.timebase import Moment


class Sex(StrEnum):
    FEMALE = "female"
    MALE = "male"
    UNKNOWN = "unknown"


class Actor(StrEnum):
    HIM = "him"
    HER = "her"
    BOTH = "both"
    KEEPER = "keeper"
    NOBODY = "nobody"


class Decision(StrEnum):
    """The keeper's call (evidence grades of TRADE 3.3: not seen 0, attempt 1, probable 2, confirmed 3)."""

    CONFIRMED = "confirmed"
    PROBABLE = "probable"
    ATTEMPT = "attempt"
    NOT_SEEN = "not seen"
    OTHER = "something else"


class Sign(StrEnum):
    """What a call rests on."""

    PALPS_STILL = "palps went still"
    ABDOMEN_DRAWN = "abdomen drawn in"
    ANGLE_CHANGED = "body angle changed"
    MALE_STRETCHED = "male stretched"
    BULB_SEATED = "bulb seen seated"


@dataclass(frozen=True, slots=True)
class Animal:
    id: int
    name: str
    sex: Sex
    species: str = ""
    born: str = ""
    origin: str = ""  # captive-bred, wild-caught, permit number, source
    owner: str = ""
    note: str = ""
    photo: str = ""


@dataclass(frozen=True, slots=True)
class LifeEvent:
    """Something dated in an animal's life: `kind` is moult, matured, fed, sperm web, cooling began, cooling ended,
    died, sold, note."""

    id: int
    animal_id: int
    kind: str
    date: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Loan:
    """A breeding loan: whose animal, to whom, on what terms, what share of the young is agreed. `returned` is the day
    on which the animal went back, "" while it is out."""

    id: int
    animal_id: int
    owner: str
    borrower: str
    start: str
    end: str = ""
    terms: str = ""
    share: str = ""
    returned: str = ""


@dataclass(frozen=True, slots=True)
class SpeciesNote:
    """What a keeper knows of a species or genus: a range (`low`, `high`, `unit`), or in words (`note`). `what` is
    what it is about, such as "pairing_to_sac", "weak pull", "note"."""

    id: int
    species: str
    what: str
    low: float | None = None
    high: float | None = None
    unit: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Session:
    """One pairing: one female, one male, one occasion. The introduction is a mark (act `introduced`, by the
    keeper); where there is none the session clock's zero counts. `time_of_day`: when it began, as 21:10, or empty."""

    id: int
    title: str
    female_id: int | None
    male_id: int | None
    date: str = ""
    place: str = ""
    temperature_c: float | None = None
    humidity_pct: float | None = None
    reviewer: str = ""
    note: str = ""
    time_of_day: str = ""


@dataclass(frozen=True, slots=True)
class ClipRecord:
    """One film file of a session. `offset` is where the clip's first frame sits on the session clock, seconds."""

    id: int
    session_id: int
    path: str
    size: int
    fingerprint: str
    offset: Fraction
    time_base: Fraction
    first_pts: int
    end_pts: int  # first tick after the last frame
    frames: int
    width: int  # as displayed
    height: int
    camera: str = ""

    def on_clock(self, pts: int) -> Fraction:
        """Seconds on the session clock of a tick of this clip."""
        # offset + (pts - first_pts) * time_base, brought to lowest terms once: it is asked very often
        zero, tick = self.offset, self.time_base
        ticks = (pts - self.first_pts) * tick.numerator * zero.denominator
        return Fraction(zero.numerator * tick.denominator + ticks, zero.denominator * tick.denominator)

    def pts_at(self, clock_s: Fraction) -> int:
        """The last tick of this clip at or before a session time (may lie outside the film)."""
        return self.first_pts + (clock_s - self.offset) // self.time_base

    def moment(self, pts: int) -> Moment:
        """The instant of a tick of this clip."""
        return Moment(pts, self.time_base)


@dataclass(frozen=True, slots=True)
class ShotRecord:
    """A stretch of a clip from one camera view, ticks [start_pts, end_pts).

    The latest pass planted `planted` pulls into its own pictures of it and found nine in ten of those of
    `smallest_pull` abdomen lengths and more; None where it found not even the largest."""

    id: int
    clip_id: int
    start_pts: int
    end_pts: int
    begins: str = "film"
    planted: int = 0
    smallest_pull: float | None = None


@dataclass(frozen=True, slots=True)
class Outline:
    """The keeper's box on one frame, displayed pixels; part is "abdomen", "carapace" or "male". Where the keeper
    only pressed in the middle of her abdomen, `press_x` and `press_y` say where, and the box is the region that was
    told from the press and accepted."""

    id: int
    clip_id: int
    pts: int
    x: float
    y: float
    w: float
    h: float
    part: str = "abdomen"
    press_x: float | None = None
    press_y: float | None = None

    @property
    def pressed(self) -> bool:
        """Whether the keeper gave one press, not a box."""
        return self.press_x is not None and self.press_y is not None


@dataclass(frozen=True, slots=True)
class Act:
    """A kind of thing that is marked. `code` never changes its meaning; label, key and definition may."""

    code: str
    label: str
    actor: Actor
    lasting: bool
    definition: str
    key: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """An act placed on film by a person. `end_pts` is None for momentary acts and for lasting ones still open;
    `from_proposal` tells that the program had proposed it and the person took it."""

    id: int
    clip_id: int
    act: str  # Act.code
    actor: Actor
    start_pts: int
    end_pts: int | None
    lasting: bool
    reviewer: str
    note: str = ""
    from_proposal: bool = False

    @property
    def open(self) -> bool:
        """Whether a lasting act has not been ended yet."""
        return self.lasting and self.end_pts is None


@dataclass(frozen=True, slots=True)
class PassRecord:
    """One run of the motion pass over a clip. `trace` is the compressed trace (see book.store.Book.trace_of);
    a newer pass of a clip replaces the shown flags, older passes and their calls are kept."""

    id: int
    clip_id: int
    parameters: str
    made_at: str
    frames_per_s: float
    current: bool = True


@dataclass(frozen=True, slots=True)
class FlagRecord:
    """A pull proposed by a pass (`pass_id` set) or added by a keeper (`pass_id` None, `by` names the keeper)."""

    id: int
    clip_id: int
    pass_id: int | None
    onset_pts: int
    full_pts: int
    release_pts: int | None
    score: float | None
    pull: float | None  # abdomen lengths
    tilt_deg: float | None
    direction_deg: float | None
    because: str
    doubts: tuple[str, ...] = ()
    flagged: bool = True
    features: tuple[tuple[str, float], ...] = ()
    parameters: str = ""
    by: str = ""
    proposed_as: int = 0  # of a keeper's own: the flag of the current pass that proposes the same pull, 0 where none


@dataclass(frozen=True, slots=True)
class SpanRecord:
    """Watched (`why` empty) or unwatched stretch of a pass, ticks [start_pts, end_pts). `why` is what the keeper
    reads, `cause` the code of it (`motion.result.Cause`), empty where no code is known."""

    pass_id: int
    start_pts: int
    end_pts: int
    why: str = ""
    cause: str = ""


@dataclass(frozen=True, slots=True)
class RegionRecord:
    """What a pass took her abdomen for on the frame where it began to follow, displayed pixels.

    `source` is "drawn" (from the keeper's box), "pressed" (from a press) or "found" (by the program itself, nobody
    drew it); `fitted` tells that it was told from motion or looks and is not the box as drawn. `length` and
    `angle_deg` (clockwise from right, or None) are of its long axis; `confidence` is 0..1."""

    id: int
    pass_id: int
    pts: int
    source: str
    fitted: bool
    x: float
    y: float
    w: float
    h: float
    length: float
    angle_deg: float | None = None
    confidence: float = 1.0


@dataclass(frozen=True, slots=True)
class Call:
    """A reviewer's decision on one flag; the latest by that reviewer counts (by id: clocks can be set back).
    `cause` is for "something else", `palp` is "left", "right" or "". `carried_from` is the id of the call on an
    older pass's flag that this one was carried over from, 0 where the reviewer decided on this flag itself."""

    id: int
    flag_id: int
    reviewer: str
    decision: Decision
    signs: tuple[Sign, ...] = ()
    palp: str = ""
    cause: str = ""
    note: str = ""
    made_at: str = ""
    carried_from: int = 0


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A stretch of film that a reviewer watched in full, ticks [start_pts, end_pts): only there does a pull that no
    pass proposed count as missed, and only there is silence of the marks evidence."""

    id: int
    clip_id: int
    reviewer: str
    start_pts: int
    end_pts: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a pairing. `kind`: laid, pulled, eggs, eggs with legs, larvae, nymphs (with counts), infertile,
    eaten, moulted, lost, none yet. Counts by stage as (stage, number). `sac` counts the sacs of the pairing from 1;
    `kept` is "with her", "by hand" or ""; temperature and humidity are those of the sac."""

    id: int
    session_id: int
    kind: str
    date: str
    counts: tuple[tuple[str, int], ...] = ()
    note: str = ""
    sac: int = 1
    temperature_c: float | None = None
    humidity_pct: float | None = None
    kept: str = ""


@dataclass(frozen=True, slots=True)
class Reminder:
    id: int
    session_id: int
    date: str
    text: str
    done: bool = False
    uid: str = ""


@dataclass(frozen=True, slots=True)
class SessionRow:
    """One session in a list. `flags` counts the proposed pulls of the current passes, the keeper's own and weaker
    candidates that somebody called; `called` those with a call, `confirmed` those whose call that counts
    (`book.meaning.calls`) is confirmed; `outcome` is the kind of the
    latest outcome by date, "" where there is none; `due` counts reminders not done."""

    id: int
    title: str
    date: str
    female: str
    male: str
    species: str  # hers; his where hers is not noted
    clips: int
    marks: int
    flags: int
    called: int
    confirmed: int
    outcome: str
    due: int


@dataclass(frozen=True, slots=True)
class SessionRecord:
    """Everything about one session as one frozen snapshot: what reading, report and the pages work on.

    Lists are sorted by time. `regions` and `spans` are those of the current passes, `flags` too plus the keeper's
    own; `older_flags` belong to replaced passes. `traces` are fetched apart, by pass."""

    session: Session
    female: Animal | None
    male: Animal | None
    clips: tuple[ClipRecord, ...]
    shots: tuple[ShotRecord, ...]
    outlines: tuple[Outline, ...]
    acts: tuple[Act, ...]
    marks: tuple[Mark, ...]
    passes: tuple[PassRecord, ...]
    flags: tuple[FlagRecord, ...]
    older_flags: tuple[FlagRecord, ...]
    spans: tuple[SpanRecord, ...]
    calls: tuple[Call, ...]
    outcomes: tuple[Outcome, ...]
    reminders: tuple[Reminder, ...]
    reviewed: tuple[Reviewed, ...] = ()
    regions: tuple[RegionRecord, ...] = ()

    def clip(self, clip_id: int) -> ClipRecord:
        """The clip of a number.

        Raises:
            StopIteration: the session has no such clip.
        """
        return next(c for c in self.clips if c.id == clip_id)

    def act(self, code: str) -> Act | None:
        """The act of a code; None where the set in use does not have it."""
        return next((a for a in self.acts if a.code == code), None)
