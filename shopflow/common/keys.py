"""The keys of the key gauge, drawn one by one.

The shape tells the kind of stage, the depth whether it is passed:

* racked:  a plain slab, as the topmost key of a piano
* benched: cut away on one side, as a C
* resting: a short, narrow sharp
* proving: cut away on both sides, as a D
* signed:  a slab with a round seal in it

A passed key is pressed and dark, the present key has a heavy outline and a pointer above it, and a stopped
one carries a red eight-cornered sign with a bar. No two states differ by colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.safestring import SafeString, mark_safe

from shopflow.common.materials import n

KINDS = ("racked", "benched", "resting", "proving", "signed")
STATES = ("done", "now", "ahead")
HEIGHT = 20

_OUTLINE = {
    "racked": "M.4 0H7.6V13.2H.4Z",
    "benched": "M.4 0H4.3V7.7H7.6V13.2H.4Z",
    "resting": "M2.1 0H5.9V8.8H2.1Z",
    "proving": "M2.6 0H5.4V7.7H7.6V13.2H.4V7.7H2.6Z",
    "signed": "M.4 0H7.6V13.2H.4ZM4 4.2A2.4 2.4 0 0 0 4 9A2.4 2.4 0 0 0 4 4.2Z",
}
_STROKE = {"done": ".8", "now": "1.7", "ahead": ".9"}
_POINTER = '<path class="k-here" d="M{} 0h5.6l-2.8 3.6Z"/>'
_PITCH = 8.8
_LEFT = 0.6
_TOP = 4.2
_PRESSED = 2.0


def width(count: int) -> float:
    """How wide a run of so many keys is."""
    return count * _PITCH + 0.4


def run(kinds: Sequence[str], states: Sequence[str], stopped_at: int | None = None) -> str:
    """The keys of one gauge side by side on their bed."""
    pairs = zip(kinds, states, strict=True)
    keys = [_key(kind, state, _left(place)) for place, (kind, state) in enumerate(pairs)]
    bed = f'<path class="k-bed" d="M.5 19.6H{n(width(len(kinds)) - 0.5)}" stroke-width=".8"/>'
    stop = "" if stopped_at is None else _stop_sign(_left(stopped_at) + 4)
    return "".join(keys) + bed + stop


def alone(kind: str, state: str = "ahead", *, stopped: bool = False) -> SafeString:
    """One key by itself, for the large gauge and for legends; it is decoration beside its name."""
    inside = _key(kind, state, _LEFT) + (_stop_sign(_LEFT + 4) if stopped else "")
    frame = f'class="kind-key" viewBox="0 0 9.2 {HEIGHT}" aria-hidden="true" focusable="false"'
    return mark_safe(f"<svg {frame}>{inside}</svg>")


def _left(place: int) -> float:
    return _LEFT + place * _PITCH


def _key(kind: str, state: str, x: float) -> str:
    y = _TOP + (_PRESSED if state == "done" else 0)
    body = (
        f'<path class="k-{state}" d="{_OUTLINE[kind]}" transform="translate({n(x)} {n(y)})" '
        f'stroke-width="{_STROKE[state]}" stroke-linejoin="round" fill-rule="evenodd"/>'
    )
    pointer = _POINTER.format(n(x + 1.2)) if state == "now" else ""
    return body + pointer


def _stop_sign(x: float) -> str:
    """Over the front of the key that is held up, so that its cut-away shape stays in sight."""
    return (
        f'<path class="k-stop" d="M{n(x - 1.9)} 9.7h3.8l2.7 2.7v3.8l-2.7 2.7h-3.8l-2.7-2.7v-3.8Z"/>'
        f'<path class="k-stop-bar" d="M{n(x - 2.6)} 13.4h5.2v1.8h-5.2Z"/>'
    )
