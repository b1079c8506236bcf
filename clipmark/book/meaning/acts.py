"""The built-in acts, in a keeper's plain words: what a pairing on film is read by.

A code never changes its meaning once it is in a book; label, key and definition may be changed by the keeper.
Definitions say at which frame an act begins and ends. `source` names where the act comes from by the keys of
docs/trade-facts.md; "proposal" marks a rule of our own, "from memory" one that was not looked up.

Keys are letters, with Shift for the rarer acts; the window's commands keep to arrows, space, digits and F-keys.
"""

from __future__ import annotations

from clipmark.book.model import Act, Actor

INTRODUCED = "introduced"
SEPARATED = "separated"
OUT_OF_VIEW = "out of view"
CONTACT = "contact"
CLASP = "clasp"
KNOCK_DOWN = "knock-down"
ATTEMPT = "attempt"
INSERTION = "insertion"
INSERTION_LEFT = "insertion left"
INSERTION_RIGHT = "insertion right"
WITHDRAWAL = "withdrawal"
RELEASE = "release"
INSERTIONS = frozenset({INSERTION, INSERTION_LEFT, INSERTION_RIGHT})

_HIM, _HER, _BOTH, _KEEPER, _NOBODY = Actor.HIM, Actor.HER, Actor.BOTH, Actor.KEEPER, Actor.NOBODY
_MOMENT, _LASTS = False, True

BUILT_IN: tuple[Act, ...] = (
    Act(INTRODUCED, "Introduced", _KEEPER, _MOMENT,
        "The first frame in which he is in her quarters and the keeper has let go.", "I", "proposal"),
    Act("searching", "Searching on her silk", _HIM, _LASTS,
        "From his first step on her silk, palps and first legs feeling the ground, until he stands for 2 s.",
        "Q", "[FF08] [CO12]"),
    Act("palp touching", "Palps touching the silk", _HIM, _LASTS,
        "Slow, light touches of the palps without a rhythm; from the first touch until 1 s passes without one.",
        "Shift+P", "[FF08]"),
    Act("drumming", "Drumming with the palps", _HIM, _LASTS,
        "Palps strike the ground fast and in rhythm; from the first strike until the bout breaks off.",
        "D", "[FF08] [QC05] [PS13]"),
    Act("body shaking", "Shaking his body", _HIM, _LASTS,
        "The whole body jerks or trembles with the feet planted; from the first movement until it is still.",
        "S", "[QC05] [QC07]"),
    Act("jerk", "Single jerk", _HIM, _MOMENT,
        "One separate jerk of the body, such as opens a bout of shaking; the frame of its widest swing.",
        "Shift+J", "[QC07]"),
    Act("trembling", "Fine trembling", _HIM, _LASTS,
        "A train of fast small movements, often only a blur on film; from the first blurred frame to the last.",
        "Shift+T", "[QC07]"),
    Act("leg tapping", "Tapping with the legs", _HIM, _LASTS,
        "First or second legs strike the ground or the female; from the first strike to the last.",
        "N", "[FF08]"),
    Act("leg drumming", "Drumming with the legs", _HIM, _LASTS,
        "Legs drum in rhythm on bark or ground; from the first strike to the last.", "Shift+D", "[PS13]"),
    Act("push-up", "Push-up", _HIM, _MOMENT,
        "He raises and lowers his body on planted legs; the highest frame.", "Shift+U", "[PS13]"),
    Act("answering", "She answers", _HER, _LASTS,
        "Fast, strong bouts of her first legs and palps on the ground; from the first strike to the last.",
        "A", "[QC05] [CO12] [FF08]"),
    Act("rocking", "She rocks on her third legs", _HER, _LASTS,
        "Her body is rocked by the third legs, read as refusal; from the first swing to the last.",
        "Shift+R", "[CO12]"),
    Act("hissing", "Hissing", _BOTH, _LASTS,
        "A rasp or hiss that can be heard, chelicerae and palps rubbing; the stretch in which it is heard.",
        "Shift+H", "[HCA] [RAZ]"),
    Act("threat", "Threat", _HER, _LASTS,
        "Front legs and palps raised, fangs open, not towards a male that holds her; first raised frame to lowered.",
        "H", "[FP11]"),
    Act(CONTACT, "First contact", _BOTH, _MOMENT,
        "The first frame in which a leg of his touches her.", "C", "proposal"),
    Act("leg play", "Leg play", _HIM, _LASTS,
        "His first and second legs stroke her first legs and chelicerae; from the first stroke to the last.",
        "G", "[BE08]"),
    Act("palp paddling", "Paddling with the palps", _HIM, _LASTS,
        "Palps beat in turn at her underside while he is near or under her; from the first beat to the last.",
        "B", "term from memory; definition: proposal"),
    Act("rearing", "She rears and opens her fangs", _HER, _LASTS,
        "Front of her body tilted up, fangs apart; from the first tilted frame until it is lowered.",
        "U", "[FF08]"),
    Act(CLASP, "Clasp", _HIM, _LASTS,
        "His hooks are seated behind her fangs (or his legs hold her, where males have no hooks); from the first "
        "frame seated to the first frame free.", "K", "[FF08] [FD09]"),
    Act("slapping", "Slapping while he holds her", _HIM, _LASTS,
        "Soft slaps of his legs on her during the clasp; from the first slap to the last.", "Shift+S", "[FF08]"),
    Act("lifting", "Lifting her", _HIM, _LASTS,
        "The angle of her front body grows and her underside comes into view; from the first rise until it is held.",
        "V", "[FD09]"),
    Act(KNOCK_DOWN, "Knock-down", _HIM, _LASTS,
        "She lies on her back; from the first frame on it until she is up. Known from Sickius only.",
        "Shift+K", "[BE08]"),
    Act("bite by him", "He bites her", _HIM, _MOMENT,
        "His fangs close on her, breast plate or joints; the first closed frame. Known from Sickius only.",
        "Shift+B", "[BE08]"),
    Act(ATTEMPT, "Insertion attempt", _HIM, _LASTS,
        "A palp reaches her furrow and scrapes or slides off without seating; from reaching it to leaving it.",
        "T", "[FF08]"),
    Act(INSERTION_LEFT, "Insertion, left palp", _HIM, _LASTS,
        "The bulb disappears at the furrow, the palp stops searching and stays seated (1 s or more); from the first "
        "seated frame to the first frame free.", "L", "[FF08] [FD09]; 1 s: proposal"),
    Act(INSERTION_RIGHT, "Insertion, right palp", _HIM, _LASTS,
        "The bulb disappears at the furrow, the palp stops searching and stays seated (1 s or more); from the first "
        "seated frame to the first frame free.", "R", "[FF08] [FD09]; 1 s: proposal"),
    Act(INSERTION, "Insertion, palp not told", _HIM, _LASTS,
        "As for the left or right palp, where the film does not show which.", "X", "[FF08] [FD09]; proposal"),
    Act(WITHDRAWAL, "Withdrawal", _HIM, _MOMENT,
        "The palp leaves the furrow; the first frame free. Ends the insertion that is open.", "W", "proposal"),
    Act("abdomen pull", "Her abdomen is pulled", _HER, _MOMENT,
        "Her abdomen tips, twists or is drawn in within a few frames and is held; the frame at which it begins.",
        "M", "[FF08] reports flexing; as a sign: from memory"),
    Act(RELEASE, "Release", _HIM, _MOMENT,
        "Hooks or legs are free of her fangs; the first frame free. Ends the clasp and open insertions.",
        "E", "proposal"),
    Act("retreat", "He retreats", _HIM, _LASTS,
        "He moves away by a leg span or more, walking or bolting; from the first step to standing.", "F", "[SA]"),
    Act("bolting", "He bolts", _HIM, _LASTS,
        "He runs from her, as opposed to walking off; from the first running step to standing.", "Y", "[SA]"),
    Act("lunge", "She lunges or chases", _HER, _LASTS,
        "She strikes or runs towards him; from the first movement to standing.", "J", "[SA]"),
    Act("stillness", "She stays still after it", _HER, _LASTS,
        "She holds the pose of the mating after he let go; from release to her first step.", "Shift+F", "[SA]"),
    Act("palp cleaning", "He cleans his palps", _HIM, _LASTS,
        "Palps are drawn through the chelicerae; from the first stroke to the last.", "Shift+C", "[SA]"),
    Act("abdomen cleaning", "She cleans her abdomen", _HER, _LASTS,
        "Fourth legs wipe the abdomen; from the first stroke to the last.", "Shift+A", "[SA]"),
    Act("killing", "She kills him", _HER, _MOMENT,
        "Her fangs are in him; the first such frame. Note when: before courtship, in it, in the clasp or after.",
        "Shift+X", "[FF08] [CP02]"),
    Act("feeding", "She feeds on him", _HER, _LASTS,
        "She holds him in her fangs and chews; from the first frame held.", "Shift+E", "[FF08] [CP02]"),
    Act("sperm web", "Sperm web", _HIM, _LASTS,
        "He builds the web or dips his palps on it, alone; from the first thread to leaving it.",
        "Shift+W", "[GSB] [TZ]"),
    Act(OUT_OF_VIEW, "Out of view", _NOBODY, _LASTS,
        "What matters cannot be seen; from the first such frame to the first in view. Taken off the observed time.",
        "O", "[MB]"),
    Act(SEPARATED, "Separated", _KEEPER, _MOMENT,
        "The keeper parts the two or takes him out; the first frame in which they cannot reach each other.",
        "P", "proposal"),
)  # fmt: skip


def built_in(code: str) -> Act | None:
    """The built-in act of that code, if there is one."""
    return _BY_CODE.get(code)


_BY_CODE = {act.code: act for act in BUILT_IN}
