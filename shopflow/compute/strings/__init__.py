"""String scale work: pitch, tension, strength, stiffness, wound strings and proposals for a restringing.

A piano holds 15 to 18 tonnes of pull. Every tension here is a sum, not a permission: eye protection,
tension changed evenly in passes, local codes and licensed practice rule.
"""

from shopflow.compute.strings.pitch import Pass, cents_from, note_frequency_hz, tension_passes
from shopflow.compute.strings.plain import PlainString, PlainWires, propose_plain_wires
from shopflow.compute.strings.scale import (
    HIGHEST_SHARE,
    UNEVEN_STEP,
    USUAL_PULL_N,
    Break,
    NoteFigures,
    Oddity,
    ScaleFigures,
    ScaleString,
    kg_of,
    lb_of,
    scale_figures,
)
from shopflow.compute.strings.stiffness import inharmonicity, partial_cents
from shopflow.compute.strings.tension import (
    Loads,
    Section,
    load_sums,
    plain_linear_density,
    string_frequency_hz,
    tension_n,
)
from shopflow.compute.strings.wire import (
    A228_MAXIMUM,
    A228_MINIMUM,
    FIGURES,
    MUSIC_WIRE_METRIC_MM,
    MUSIC_WIRE_MM,
    POWER_LAW,
    BreakingShare,
    breaking_load_n,
    breaking_share,
    wire_strength_mpa,
)
from shopflow.compute.strings.wound import WoundString, propose_wound_set, wound_linear_density

__all__ = [
    "A228_MAXIMUM",
    "A228_MINIMUM",
    "FIGURES",
    "HIGHEST_SHARE",
    "MUSIC_WIRE_METRIC_MM",
    "MUSIC_WIRE_MM",
    "POWER_LAW",
    "UNEVEN_STEP",
    "USUAL_PULL_N",
    "Break",
    "BreakingShare",
    "Loads",
    "NoteFigures",
    "Oddity",
    "Pass",
    "PlainString",
    "PlainWires",
    "ScaleFigures",
    "ScaleString",
    "Section",
    "WoundString",
    "breaking_load_n",
    "breaking_share",
    "cents_from",
    "inharmonicity",
    "kg_of",
    "lb_of",
    "load_sums",
    "note_frequency_hz",
    "partial_cents",
    "plain_linear_density",
    "propose_plain_wires",
    "propose_wound_set",
    "scale_figures",
    "string_frequency_hz",
    "tension_n",
    "tension_passes",
    "wire_strength_mpa",
    "wound_linear_density",
]
