"""What surveys of the demo find: invented pianos, each with its own troubles."""

from __future__ import annotations

from dataclasses import dataclass, field

from shopflow.catalogue.models import Kind

HIDDEN, INFERRED, SEEN = "hidden", "inferred", "seen"


@dataclass(frozen=True, slots=True)
class Found:
    """One finding: a code of the library, how bad, how much of what, and the words beside it."""

    code: str
    severity: int
    words: str = ""
    extent: str = ""
    unit: str = ""
    confidence: str = SEEN
    picture: str = ""


@dataclass(frozen=True, slots=True)
class Later:
    """What a second survey says of an earlier finding."""

    code: str
    verdict: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class Portrait:
    """One piano's survey. `built`: between which years what is found can be found; `until`: how far it has
    come; `groups`: how many parts are closed.
    """

    kind: str
    found: tuple[Found, ...]
    built: tuple[int, int] = (1890, 1960)
    readings: tuple[tuple[str, str, str], ...] = ()
    unseen: dict[str, str] = field(default_factory=dict)
    partly: dict[str, str] = field(default_factory=dict)
    until: str = "finished"
    groups: int = 14
    later: tuple[Later, ...] = ()
    surprises: tuple[Found, ...] = ()


TIRED_UPRIGHT = (
    Found("CA2", 1, "sun side bleached, rings on the top", "30", "percent"),
    Found("AC1", 2, "grooves of 2 mm in the middle", "60", "of-88", picture="hammers"),
    Found("AC6", 2, "two came off in the hand", "88", "of-88"),
    Found("AC11", 2, "blow 49, let-off 4 in the middle"),
    Found("KE2", 1, "edges sharp at notes 35 to 50", "9", "of-88", picture="keys"),
    Found("ST4", 2, "78 cents flat at A4"),
    Found("CS1", 3, "rear left wheel gone; not to be rolled", "1", "pieces"),
)
MOTH_UPRIGHT = (
    Found("AC9", 3, "grubs under the keys, key cloth eaten through", picture="hammers"),
    Found("KE5", 2, "level sags 2 mm from note 20 to 60"),
    Found("AC2", 3, "1 mm left at the top", "88", "of-88"),
    Found("AC7", 2, "butt felt flat, leather shining", "88", "of-88"),
    Found("DA1", 2, "tenor rings on", "20", "of-88"),
    Found("KE1", 2, "clacks all over", "88", "of-88"),
    Found("HI1", 4, "old nest beside the pedal rods; masks on", picture="veneer"),
    Found("CA1", 2, "lower door, left corner", "40", "cm2", picture="veneer"),
    Found("HW1", 1, "pedals worn to the grey", "3", "pieces"),
    Found("ST3", 2, "spotted in the top two sections", "90", "of-230", picture="strings"),
    Found("PE1", 1, "middle rail squeaks", "1", "pieces"),
    Found("AC4", 2, "hammer butts in the treble", "24", "of-88"),
)
LOOSE_UPRIGHT = (
    Found("PB1", 2, "fourteen below 3 N·m in the tenor", "14", "of-230"),
    Found("PB3", 3, "coils touch the plate in the bass; dark stains", "30", "of-230"),
    Found("BR1", 3, "bass bridge, ten notes", "90", "mm"),
    Found("BR3", 3, "feeler goes in at the bass apron", "60", "mm", HIDDEN),
    Found("SB3", 2, "buzzes at F2; rib 7 likely", "1", "pieces", INFERRED),
    Found("SB2", 2, "between posts 2 and 3", "340", "mm", HIDDEN, "crack"),
    Found("ST2", 2, "bass dead below C2", "24", "of-230"),
    Found("ST3", 2, "dull, some spots", "120", "of-230", picture="strings"),
    Found("AC3", 2, "three heads click", "3", "of-88"),
    Found("AC5", 2, "sticks in damp weather, notes 40 to 55", "16", "of-88"),
    Found("AC11", 2, "all of it"),
    Found("KE1", 2, "front and balance", "88", "of-88"),
    Found("KE4", 2, "hairlines at the balance hole", "6", "of-88"),
    Found("DA2", 2, "spoons late in the tenor"),
    Found("CA3", 2, "toe block left, gap 2 mm", "2", "mm"),
    Found("CA5", 2, "lock of the fall broken", "1", "pieces"),
    Found("HW2", 1, "two candle-arm plates missing", "2", "pieces"),
    Found("HI3", 2, "white glue at six hammer butts", "6", "pieces"),
)
HOPELESS_UPRIGHT = (
    Found("PL1", 4, "crack through the bass strut; dye shows it", "70", "mm", picture="crack"),
    Found("SB7", 4, "lower third soft, boards parted at the glue lines", "40", "percent"),
    Found("FR1", 4, "both outer posts open 6 mm", "6", "mm"),
    Found("PB2", 4, "nothing above 2 N·m in the treble", "130", "of-230"),
    Found("HI2", 4, "waterline 30 cm up, mould in the bottom", picture="veneer"),
    Found("ST3", 3, "scaled", "230", "of-230", picture="strings"),
    Found("AC9", 3, "felts eaten"),
    Found("CA1", 3, "veneer off in sheets", "900", "cm2"),
    Found("KE3", 3, "white powder, 20 keys stuck", "20", "of-88"),
    Found("CS1", 4, "socket split, stands on blocks", "2", "pieces"),
)
FRESH_GRAND = (
    Found("AC11", 1, "touch a little deep in the treble"),
    Found("AC12", 1, "bright from C5 up"),
    Found("ST4", 1, "18 cents flat"),
    Found("KE1", 1, "front bushings in the middle", "30", "of-88"),
    Found("PE1", 1, "una corda late"),
    Found("CA2", 1, "rubbed at the key slip", "5", "percent"),
)
RUSTY_GRAND = (
    Found("ST3", 3, "pitted from note 40 up", "150", "of-230", picture="strings"),
    Found("ST2", 3, "covers loose on eight", "8", "of-230"),
    Found("PL4", 2, "grooves in the capo bar"),
    Found("PB1", 2, "scattered in the fifth octave", "20", "of-230"),
    Found("BR2", 2, "false beats in the top section", "30", "pieces"),
    Found("SB1", 1, "two hairlines at the bass", "180", "mm", picture="crack"),
    Found("SB6", 1, "dust and water rings under the strings"),
    Found("AC1", 2, "2 mm grooves", "88", "of-88", picture="hammers"),
    Found("AC8", 2, "slow in the middle", "40", "of-88"),
    Found("DA1", 2, "hard from note 20", "48", "of-88"),
    Found("KE6", 2, "58 g at C4, 48 g at C6"),
    Found("CA2", 2, "crazed on the lid", "60", "percent"),
    Found("HW1", 1, "lyre rods and hinges", "9", "pieces"),
    Found("PL3", 1, "bronze flaking round the bolts"),
)
WORN_GRAND = (
    *RUSTY_GRAND,
    Found("PB2", 3, "treble section: a map of 60 pins, most under 3 N·m", "60", "of-230"),
    Found("SB2", 3, "open 1 mm, buzzes at C3", "420", "mm", picture="crack"),
    Found("SB5", 3, "thread touches in the fifth octave", confidence=INFERRED),
    Found("BR4", 2, "treble negative at the back", confidence=INFERRED),
    Found("AC2", 3, "wood shows at note 88", "12", "of-88", picture="hammers"),
    Found("AC7", 2, "knuckles flat", "88", "of-88"),
    Found("KE3", 3, "swollen in the bass", "26", "of-88"),
    Found("KE2", 2, "ivory, two-piece; nine chipped", "9", "of-88", picture="keys"),
    Found("PE2", 3, "lyre comes away by hand"),
    Found("CA5", 4, "hinge pin of the lid missing", "1", "pieces"),
    Found("HI5", 0, "ivory tops, keep the papers"),
)
SOUND_GRAND = (
    Found("AC1", 2, "1.5 mm grooves", "88", "of-88"),
    Found("AC11", 2, "aftertouch gone in the bass"),
    Found("AC4", 2, "shank centres loose in the middle", "30", "of-88"),
    Found("KE1", 2, "balance and front", "88", "of-88"),
    Found("DA1", 2, "rings on from note 30", "40", "of-88"),
    Found("ST4", 2, "62 cents flat"),
    Found("SB1", 1, "one hairline, silent", "90", "mm", picture="crack"),
    Found("CA1", 1, "left leg, a blister", "12", "cm2"),
    Found("CA6", 2, "music desk, one hinge torn out", "1", "pieces"),
    Found("PE1", 2, "squeaks"),
)
UPRIGHT_READINGS = (
    ("pin-torque", "note 40", "5.2"),
    ("pin-torque", "note 52", "3.1"),
    ("pitch-offset", "A4", "-78"),
    ("crown", "rib 5", "2.5"),
    ("hammer-contact", "note 40", "14"),
    ("blow-upright", "note 40", "49"),
    ("letoff-upright", "note 40", "4"),
    ("key-side-play", "note 45", "0.45"),
    ("dip-upright", "note 40", "10.1"),
)
GRAND_READINGS = (
    ("pin-torque", "note 60", "4.4"),
    ("pin-torque", "note 20", "8.2"),
    ("bearing-front", "treble, section 4", "0.6"),
    ("bearing-net", "treble, section 4", "0.2"),
    ("crown", "rib 6", "1"),
    ("pitch-offset", "A4", "-62"),
    ("hammer-felt", "note 88", "1.2"),
    ("blow-grand", "note 40", "49"),
    ("dip-grand", "note 40", "10.2"),
    ("down-weight", "C4", "58"),
    ("up-weight", "C4", "19"),
    ("decay", "C6", "3.4"),
)
NO_TEARDOWN = {"ribs": "behind the posts; comes with teardown"}

# Candle arms went out of use, and ivory, in their time.
CANDLES, IVORY = (1885, 1914), (1890, 1936)

PORTRAITS = (
    Portrait(Kind.UPRIGHT, TIRED_UPRIGHT, (1900, 1965), UPRIGHT_READINGS, unseen=NO_TEARDOWN),
    Portrait(
        Kind.UPRIGHT,
        MOTH_UPRIGHT,
        (1890, 1950),
        UPRIGHT_READINGS,
        unseen={"casters": "could not be lifted alone"},
        partly={"board": "upper third behind a back board"},
    ),
    Portrait(Kind.UPRIGHT, LOOSE_UPRIGHT, CANDLES, UPRIGHT_READINGS, partly={"board": "back is boarded up"}),
    Portrait(Kind.UPRIGHT, HOPELESS_UPRIGHT, (1885, 1930), UPRIGHT_READINGS[:4]),
    Portrait(
        Kind.GRAND,
        FRESH_GRAND,
        (1958, 1994),
        GRAND_READINGS[1:6],
        unseen={"block": "nothing to see at this visit"},
    ),
    Portrait(Kind.GRAND, RUSTY_GRAND, (1895, 1955), GRAND_READINGS),
    Portrait(Kind.GRAND, WORN_GRAND, IVORY, GRAND_READINGS, partly={"block": "only its edge shows"}),
    Portrait(Kind.GRAND, SOUND_GRAND, (1920, 1975), GRAND_READINGS[:9]),
    Portrait(Kind.UPRIGHT, LOOSE_UPRIGHT[:9], (1890, 1940), UPRIGHT_READINGS[:3], until="half", groups=6),
    Portrait(Kind.GRAND, SOUND_GRAND[7:9], (1900, 1975), until="half", groups=1),
)
# Taken apart by now: a second survey spoke of the first, or is speaking.
AFTER_TEARDOWN = (
    Portrait(
        Kind.GRAND,
        (*RUSTY_GRAND, Found("SB3", 2, "buzz at A2", "1", "pieces", HIDDEN)),
        (1885, 1975),
        GRAND_READINGS,
        unseen={"casters": "could not be lifted alone"},
        later=(
            Later("SB3", "worse", "ribs 4 and 5 open 0.3 mm over half their length"),
            Later("ST3", "as-before"),
            Later("BR2", "worse", "holes oval in the top section"),
            Later("SB1", "as-before"),
            Later("AC8", "less", "springs sound, only the slots dirty"),
            Later("HW1", "as-before"),
            Later("PB1", "not-so", "the pins hold; it was the coils"),
        ),
        surprises=(
            Found("BR1", 3, "three splits under the strings, treble", "45", "mm", picture="crack"),
            Found("PB3", 2, "twenty oversize pins in the tenor", "20", "of-230"),
        ),
    ),
    Portrait(
        Kind.UPRIGHT,
        LOOSE_UPRIGHT[:-2],
        (1885, 1975),
        UPRIGHT_READINGS,
        partly={"ribs": "behind the posts"},
        until="second",
        later=(Later("BR3", "worse", "open over the whole apron"),),
        surprises=(Found("SB4", 3, "treble corner, feeler goes 40 mm deep", "120", "mm"),),
    ),
)
