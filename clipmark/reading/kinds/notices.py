"""Every caution that clipmark shows, in one place, each with its sources (docs/trade-facts.md resolves the keys).

Screens, sheets and exports take the texts from here and never word their own. None of them urges a keeper to put a
hand between the animals, none gives a diagnosis, and none says what the law is: they say where to look.
"""

from __future__ import annotations

from dataclasses import dataclass

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Notice:
    """A text for the keeper.

    Attributes:
        key: stable name.
        title: two or three words.
        text: what is shown.
        sources: keys of docs/trade-facts.md, or `COMMON_PRACTICE`, or "clipmark's own wording".
        weight: "standing" (always shown), "before" (before a pairing), "after" (with a result), "fact" (to look up).
    """

    key: str
    title: str
    text: str
    sources: tuple[str, ...]
    weight: str = "fact"


STANDING = Notice(
    "standing",
    "What this can tell",
    "This program helps you look at film and keep notes. It cannot tell whether eggs will be fertile, is not "
    "veterinary, medical or legal advice, and its flags are suggestions for your own judgement.",
    ("clipmark's own wording",),
    "standing",
)

SEEN_ONLY = Notice(
    "seen-only",
    "Insertion seen, no more",
    "A call says that an insertion was seen, never that sperm was passed on. Good-looking pairings are often "
    "followed by a moult or by no sac, and unmated females have laid sacs. Only eggs that develop prove it.",
    ("TSU595",),
    "after",
)

NOT_SEEN_IS_NO_FAILURE = Notice(
    "not-seen",
    "Not seen is not failed",
    "What was hidden from the camera counts neither for nor against. In unwatched stretches the motion pass could "
    "not follow her: that there is no flag there says nothing.",
    (COMMON_PRACTICE,),
    "after",
)

SEPARATE = Notice(
    "separate",
    "Stop rule",
    "Separate them when she attacks or he is pinned, and end the trial after a set time. Use long soft tools, never"
    " a hand; keep the lid within reach and the room escape-proof. Poecilotheria, Psalmopoeus and many African and "
    "Asian species are fast and bite readily. When they part, watch the female and let the male run.",
    (COMMON_PRACTICE, "from memory"),
    "before",
)

QUIET = Notice(
    "quiet",
    "Quiet and dark",
    "Noise, knocks and camera flashes have stopped pairings: film without flash, warm and undisturbed.",
    ("HUV", "HUA"),
    "before",
)

NO_LEANING = Notice(
    "hairs",
    "Urticating hairs",
    "Film through glass and do not lean over the open enclosure. Barbed hairs travel through the eye and can "
    "trouble it for months: wear goggles and gloves, do not rub, rinse, and see an eye doctor.",
    ("ES", "NO", "CO00", "MD"),
    "before",
)

BITES = Notice(
    "bites",
    "Bites",
    "Of 363 published bites most were mild and local, but 12.7 % brought strong muscle cramps, most often from "
    "Poecilotheriinae, Harpactirinae and Stromatopelminae; after Poecilotheria they may begin hours later and last "
    "for days. Seek medical care or a poison line at once for cramps, breathing trouble or swelling, and for any "
    "child; wash, keep calm, use no home antidote.",
    ("HH20", "FU14", "from memory"),
    "before",
)

YOUNG = Notice(
    "young",
    "Where will the young go?",
    "Ask before pairing: a brood can be tens or thousands. Pair no two species with each other, and never release "
    "animals.",
    ("BD", "VS", COMMON_PRACTICE),
    "before",
)

HER_QUARTERS = Notice(
    "her-quarters",
    "He goes to her",
    "The male is put to the female's quarters, never the other way round.",
    ("TZ", "ART"),
    "before",
)

VETERINARIAN = Notice(
    "veterinarian",
    "Sick or stuck",
    "A sick or injured animal, one stuck in its moult or bound with eggs belongs to a veterinarian who knows "
    "invertebrates. This program gives no diagnosis.",
    (COMMON_PRACTICE,),
)

LAW = Notice(
    "law",
    "Look up the law",
    "Some tarantulas are protected in international trade, among them Brachypelma and certain Aphonopelma and "
    "Sericopelma, and some may only be kept, sold or moved with papers. The lists change: look your species up in "
    "the official list at https://checklist.cites.org and in the rules of your own country. This program states no "
    "verdict.",
    ("CEC19", "ATS", "PR18", "FWS", "PNC", "AN"),
)

US_POECILOTHERIA = Notice(
    "us-poecilotheria",
    "United States: listed species",
    "Poecilotheria fasciata, P. ornata, P. smithi, P. subfusca and P. vittata were listed as endangered in the "
    "United States from 30 August 2018; sale or transport between states then needs a permit even for captive-bred "
    "animals. Check what holds today.",
    ("FWS", "WT"),
)

HIS_END = Notice(
    "cannibalism",
    "Will she eat him?",
    "No percentage is known for tarantulas. No cannibalism was seen in seven Uruguayan species or in a wild "
    "Poecilotheria smithi pair; in Grammostola schulzei it happened only where the male had not courted.",
    ("CP02", "PS13", "FF08"),
)

FEW_CASES = Notice(
    "few-cases",
    "Few cases",
    "With fewer than five sessions only counts are shown. Several sessions of one female are not independent, and "
    "the best of many comparisons looks good by chance.",
    (COMMON_PRACTICE,),
    "after",
)

ALL: tuple[Notice, ...] = (
    STANDING, SEEN_ONLY, NOT_SEEN_IS_NO_FAILURE, SEPARATE, QUIET, NO_LEANING, BITES, YOUNG, HER_QUARTERS,
    VETERINARIAN, LAW, US_POECILOTHERIA, HIS_END, FEW_CASES,
)  # fmt: skip


def notice(key: str) -> Notice:
    """The notice of that key.

    Raises:
        KeyError: there is none.
    """
    for known in ALL:
        if known.key == key:
            return known
    raise KeyError(key)


def before_pairing(species: str = "") -> tuple[Notice, ...]:
    """What the Pair page shows before the animals meet: cautions, then law, veterinarian, his end and few cases; the
    American listing only where the species is on it."""
    listed = ("fasciata", "ornata", "smithi", "subfusca", "vittata")
    words = species.lower().replace(".", "").split()
    extra = (US_POECILOTHERIA,) if words[:1] == ["poecilotheria"] and words[1:2] and words[1] in listed else ()
    return (*(n for n in ALL if n.weight == "before"), LAW, *extra, VETERINARIAN, HIS_END, FEW_CASES, SEEN_ONLY)
