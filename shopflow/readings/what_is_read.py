"""Which work makes an older reading worthless: what each kind of reading depends on.

Common practice, no source. Names are those of the state of the piano: lines, parts that are kept or renewed,
steps within a part. A kind that is not named here is a shop's own: nobody knows what it depends on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from shopflow.compute.proof import EVERY_STEP, Reads


def _reads(
    lines: Iterable[str] = (), parts: Iterable[str] = (), steps: Mapping[str, Iterable[str]] | None = None
) -> Reads:
    told = {line: frozenset(names) for line, names in (steps or {}).items()}
    return Reads(frozenset(lines), frozenset(parts), told)


_ALL = (EVERY_STEP,)
_WIRE = _reads(("wire", "bass"), ("wire", "bass"), {"strings": ("wire", "bass")})
_HAMMERS = _reads(("hammers", "voicing"), ("hammers",), {"action": ("head",)})
_CENTRES = _reads(
    (),
    ("hammer centres", "wippen centres", "shanks", "wippens"),
    {"action": ("centre",), "stack": ("centre",)},
)
_CRACK = _reads((), ("board",), {"belly": ("panel", "dry", "crack"), "back": ("glue",)})
BEARING = _reads(("bearing", "caps", "plate"), ("bridge", "board"), {"belly": ("cap", "bearing", "plate in")})
WEIGHTS = _reads(
    (),
    ("hammers", "shanks", "wippens", "key tops"),
    {"keys": _ALL, "touch": ("weigh",), "action": ("centre", "part", "head"), "stack": ("centre", "work")},
)
REGULATED = _reads(("regulation", "bedding"))

READS: dict[str, Reads] = {
    "pitch-offset": _reads(("tuning",), ("wire", "bass")),
    "decay": _reads(("wire", "bass", "bearing", "seated")),
    "wire-diameter": _WIRE,
    "rust-grade": _WIRE,
    "pin-torque": _reads(("pins",), ("pins", "pin holes", "block"), {"strings": ("pins",)}),
    "coil-height": _reads(("pins", "wire"), ("pins",), {"strings": ("pins", "wire")}),
    "bearing-front": BEARING,
    "bearing-back": BEARING,
    "bearing-net": BEARING,
    # The load of the strings presses the crown flat: with them off it reads higher.
    "crown": _reads(("wire", "bass", "plate"), ("board", "ribs", "board edge")),
    "wood-moisture": _reads((), ("board",), {"belly": ("panel", "dry")}),
    "crack-length": _CRACK,
    "crack-open": _CRACK,
    "rib-gap": _reads((), ("ribs", "board"), {"belly": ("panel", "rib"), "back": ("glue",)}),
    "plate-gap": _reads(("plate",), ("block",), {"plate fit": _ALL, "block": _ALL}),
    "case-gap": _reads((), (), {"finish": ("wood",), "fittings": ("joint",)}),
    "lacquer-film": _reads(("finish",), ("finish",)),
    "polyester-film": _reads(("finish",), ("finish",)),
    "gloss": _reads(("finish",), ("finish",), {"finish": ("clean", "touch")}),
    "deposit-film": _reads(("plating",)),
    "hammer-contact": _HAMMERS,
    "hammer-groove": _HAMMERS,
    "hammer-felt": _HAMMERS,
    "centre-swings": _CENTRES,
    "centre-grams": _CENTRES,
    **dict.fromkeys(
        ("blow-upright", "blow-grand", "letoff-upright", "letoff-grand", "check-upright", "check-grand"),
        REGULATED,
    ),
    "dip-upright": REGULATED,
    "dip-grand": REGULATED,
    "key-side-play": _reads((), (), {"keys": ("mend", "bushings", "ease"), "key pins": _ALL}),
    "key-friction": _reads((), (), {"keys": ("mend", "bushings", "ease"), "key pins": _ALL}),
    "down-weight": WEIGHTS,
    "up-weight": WEIGHTS,
    "damper-lift": _reads(("regulation",), (), {"dampers": _ALL}),
    "pedal-lost-motion": _reads(("regulation",), (), {"pedals": ("mend",)}),
    "air-humidity": _reads(),
    "air-temperature": _reads(),
}
