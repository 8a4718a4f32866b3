"""What stops work in the demo: reasons that fit the work they stop, and how long each lasts."""

from __future__ import annotations

import random
from dataclasses import dataclass

from shopflow.workshop.models import Snag

CUSTOMER, SUPPLIER, PART = Snag.Cause.CUSTOMER, Snag.Cause.SUPPLIER, Snag.Cause.PART
FAULT, BENCH, CURE, UNCLEAR = Snag.Cause.FAULT, Snag.Cause.BENCH, Snag.Cause.CURE, Snag.Cause.UNCLEAR
# Whom a bench page names: nobody in person.
OUTSIDE = {CUSTOMER: "the owner", SUPPLIER: "the supplier"}

SETTLED = {
    CUSTOMER: "the owner has decided",
    SUPPLIER: "came today",
    PART: "found, or made anew",
    FAULT: "put right",
    BENCH: "free again",
    CURE: "hard now",
    UNCLEAR: "told apart by an old photo",
}


@dataclass(frozen=True, slots=True)
class Stop:
    """A reason, the work that it can stop, and the days that it usually lasts."""

    cause: Snag.Cause
    reason: str
    days: float
    operations: frozenset[str]

    def lasts(self, rng: random.Random) -> float:
        return max(1.0, rng.gauss(self.days, self.days / 3))


def _stop(cause: Snag.Cause, reason: str, days: float, operations: str) -> Stop:
    return Stop(cause, reason, days, frozenset(operations.split()))


STOPS = (
    _stop(CUSTOMER, "colour sample not signed yet", 16, "stain-fill ebonise"),
    _stop(CUSTOMER, "owner has to decide about the cracked panel", 20, "veneer-repair case-restore"),
    _stop(SUPPLIER, "veneer of this figure is still on its way", 12, "veneer-repair veneer-replace"),
    _stop(FAULT, "sanded through at the edge of the fall", 3, "stain-fill"),
    _stop(BENCH, "booth taken by a large case", 3, "build-lacquer build-polyester clear-coats"),
    _stop(SUPPLIER, "transfer of the name being drawn anew", 9, "decal"),
    _stop(CURE, "still prints under the thumb", 5, "rub-out"),
    _stop(PART, "one hinge of the pair is missing", 6, "hw-prep hw-polish"),
    _stop(SUPPLIER, "plater's van comes only at the end of the week", 4, "plating-sendout"),
    _stop(UNCLEAR, "two sets of screws, which belongs here?", 2, "screws-restore"),
    _stop(SUPPLIER, "casters of this height not in stock", 13, "casters"),
    _stop(SUPPLIER, "felt set not delivered", 16, "damper-felts rails-felts keyframe-felt"),
    _stop(SUPPLIER, "bushing cloth of this thickness not in stock", 9, "keys-rebush"),
    _stop(SUPPLIER, "hammer heads promised for next week", 14, "hammers-hang"),
    _stop(SUPPLIER, "flanges came a size too wide", 11, "wippens-renew shanks-new damper-action"),
    _stop(CUSTOMER, "owner has to decide: new tops, or the old ones mended", 15, "keytops-new keytops-mend"),
    _stop(PART, "leather of this thickness used up", 5, "checks-releather butts-knuckles"),
    _stop(UNCLEAR, "which of the two old lead patterns holds?", 3, "touch-weigh"),
    _stop(CURE, "board not down to six per cent yet", 6, "crack-shim rib-reglue board-edge"),
    _stop(BENCH, "press and cauls still on another board", 4, "rib-reglue bridge-recap board-edge"),
    _stop(PART, "bridge pins of this length on order", 7, "bridge-repin bridge-notch"),
    _stop(SUPPLIER, "two wound strings came too short, being made again", 17, "string-bass"),
    _stop(PART, "agraffe of this thread not in the drawer", 8, "agraffe-mend"),
    _stop(BENCH, "hoist taken by another plate", 2, "plate-in plate-out"),
    _stop(SUPPLIER, "pinblock panel came from the wrong sheet", 14, "block-replace"),
    _stop(BENCH, "quiet room taken by another tuning", 2, "shop-tune voice regulate-2"),
    _stop(CUSTOMER, "owner wants to play it before it is voiced", 12, "voice"),
    _stop(PART, "two lid screws of the old thread missing", 4, "case-on"),
    _stop(UNCLEAR, "bag of punchings without a tag", 2, "assemble"),
)


def stop_for(operation: str, rng: random.Random) -> Stop | None:
    """Something that can stop this work; None for work that hardly anything stops."""
    fitting = [stop for stop in STOPS if operation in stop.operations]
    return rng.choice(fitting) if fitting else None
