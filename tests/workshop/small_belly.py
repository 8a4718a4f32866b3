"""A shop that knows a little of a piano: strings off and on, a bridge under them, an action, a case."""

from __future__ import annotations

from shopflow.catalogue.models import Operation
from tests import cast

BODY, ACTION = ["body"], ["keys"]


def small_belly() -> dict[str, Operation]:
    """Strings come off to repin the bridge; new wire is chipped and tuned; keys go their own way."""
    cast.line("wire", "off", "on", place=True)
    cast.line("tuning", "raw", "chipped", "tuned")
    cast.line("action", "out", "in", place=True)
    says = {
        "unstring": {"at": BODY, "opens": {"wire": "off"}},
        "repin": {"at": BODY, "needs": {"wire": "at most off"}, "keeps": ["bridge"]},
        "bridge-new": {"at": BODY, "needs": {"wire": "at most off"}, "renews": ["bridge"]},
        "string": {
            "at": BODY,
            "needs": {"wire": "at most off"},
            "leaves": {"wire": "on"},
            "spoils": {"tuning": "raw"},
        },
        "chip": {"at": BODY, "needs": {"wire": "at least on"}, "leaves": {"tuning": "chipped"}},
        "tune": {
            "at": BODY,
            "needs": {"wire": "at least on", "tuning": "at least chipped"},
            "leaves": {"tuning": "tuned"},
        },
        "action-out": {"at": ["body", "keys"], "opens": {"action": "out"}},
        "bush": {"at": ACTION, "needs": {"action": "at most out"}, "rest_holds": True},
        "action-in": {"at": ["body", "keys"], "leaves": {"action": "in"}},
        "polish": {"at": ["loose"]},
    }
    made = {code: cast.operation(code) for code in says}
    for code, state in says.items():
        cast.says(made[code], **state)
    return made
