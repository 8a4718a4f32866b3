"""The final check list, and the cautions that go home with a piano."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shopflow.instruments.selectors.findings import CurrentFinding

# What the law or a danger has to say of a piano with such a finding in it, whether it was mended or not.
CAUTIONS_OF: dict[str, tuple[str, ...]] = {"hi5": ("ivory", "protected-woods")}
# What has to be said only while it is left as found.
CAUTIONS_WHILE_LEFT: dict[str, tuple[str, ...]] = {
    "ke3": ("lead",),
    "ca6": ("glass-mirrors",),
    "ca5": ("lids-legs",),
    "ca3": ("lids-legs",),
    "hi1": ("droppings",),
    "ac9": ("moth",),
}


@dataclass(frozen=True, slots=True)
class Check:
    """One line of the final check list."""

    code: str
    words: str


# Common practice of final checks and handing over, no source.
USUAL_CHECKS = (
    Check("plays", "Every note plays, repeats and falls silent"),
    Check("pedals", "The pedals do what they should, without noise"),
    Check("tuned", "It is in tune at its pitch, and the air of the room is noted"),
    Check("parts", "Nothing of it is left in the shop: crates empty, parts counted"),
    Check("case", "Case clean; lid, fall, lock and casters work"),
    Check("key", "The key to the lid goes with it"),
    Check("readings", "The readings after the work are taken"),
    Check("photos", "The photos after the work are taken"),
    Check("left", "What was left as found has been told to the owner"),
    Check("old-parts", "Old parts are packed for the owner, or it is agreed where they go"),
)


def checks_for(mended: Iterable[CurrentFinding], left: Iterable[CurrentFinding]) -> list[Check]:
    """The usual ones, then each finding: mended, or left and no worse."""
    return [
        *USUAL_CHECKS,
        *(Check(f"mended-{one.number}", f"Mended: {one.name}") for one in mended),
        *(Check(f"left-{one.number}", f"Left as found, and no worse: {one.name}") for one in left),
    ]


def caution_codes(mended: Iterable[CurrentFinding], left: Iterable[CurrentFinding]) -> list[str]:
    """Each once, in order of mention."""
    left = list(left)
    kinds = [_code(one) for one in (*mended, *left)]
    codes = [code for kind in kinds for code in CAUTIONS_OF.get(kind, ())]
    codes += [code for one in left for code in CAUTIONS_WHILE_LEFT.get(_code(one), ())]
    return list(dict.fromkeys(codes))


def _code(finding: CurrentFinding) -> str:
    return finding.kind.code.casefold() if finding.kind else ""
