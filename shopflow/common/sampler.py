"""Every piece of the look on one page, with invented contents: for drawing and checking, not for the shop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.conf import settings
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.common import charts, sample_charts
from shopflow.common.gauges import Gauge, GaugeSheet, gauge_words

KINDS = {"k": "racked", "b": "benched", "r": "resting", "p": "proving", "s": "signed"}
NAV = ("Floor", "Bench", "Load", "Promises", "Year", "Records", "Set-up")


@dataclass(frozen=True, slots=True)
class SampleDepartment:
    """Name, mark and material, as a real department has them, and its stages."""

    name: str
    mark: str
    material: str
    kinds: str
    stages: str

    @property
    def names(self) -> list[str]:
        return self.stages.split(", ")

    def gauge(self, at: int, stopped_by: str = "") -> Gauge:
        words = gauge_words(
            department=self.name, stage=self.names[at], at=at, of=len(self.kinds), stopped_by=stopped_by
        )
        kinds = tuple(KINDS[letter] for letter in self.kinds)
        return Gauge(kinds, at, bool(stopped_by), words, self.material)


CASE = "on the rack, stripped, mended, coloured, built up, hardening, rubbed out, proving, signed"
METAL = "on the rack, counted in, ground, in the tanks, trial fit, signed"
ACTION = "on the rack, parted, renewed, glue-up, set up, proving, signed"
BELLY = "on the rack, opened, drying down, glued, under clamps, sealed, proving, signed"
STRINGS = "on the rack, laid out, strung, chipped, settling, proving, signed"
LAST = "on the rack, set down, in hand, settling, proving, signed"
DEPARTMENTS = (
    SampleDepartment("Refinishing", "RF", "walnut", "kbbbbrbps", CASE),
    SampleDepartment("Plating", "PL", "brass", "kbbrps", METAL),
    SampleDepartment("Action", "AC", "felt", "kbbrbps", ACTION),
    SampleDepartment("Soundboard", "SB", "spruce", "kbrbrbps", BELLY),
    SampleDepartment("Stringing", "ST", "steel", "kbbbrps", STRINGS),
    SampleDepartment("Final bench", "FB", "ebony", "kbbrps", LAST),
)
INVENTED = SampleDepartment("Lacquer loft", "LL", "lacquer", "kbs", "on the rack, sprayed, signed")
HOURS = ((58, 64), (21, 30), (44, 36), (12, 40), (39, 40), (18, 52))

INSTRUMENTS = (
    ("Bexcombe 214", "grand, 1924, 84 317", (4, 5, 1, None, None, 0), "week 31", "8 in 10"),
    ("Corvane Brothers 209", "upright, 1911, 30 552", (8, 5, 6, None, 4, 1), "week 29", "19 in 20"),
    ("Ostrander & Vale 221", "grand, 1898, 11 204", (1, 3, 0, 2, 0, 0), "week 40", "7 in 10"),
    ("Thistledown 198", "grand, 1931, 52 860", (6, 5, 4, 7, 5, 0), "week 28", "4 in 10"),
    ("Harrow-Lisle 230", "upright, 1907, 7 713", (None, 0, 0, None, None, 0), "week 44", "9 in 10"),
)


class SampleForm(forms.Form):
    serial = forms.CharField(label="Serial", help_text="As stamped on the plate, spaces as you like.")
    hours = forms.DecimalField(label="Hours", min_value=0, max_value=400, help_text="0 to 400.")
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    kind = forms.ChoiceField(
        label="Instrument", choices=[("grand", "grand"), ("upright", "upright")], widget=forms.RadioSelect
    )
    wanted = forms.ChoiceField(label="Department", choices=[(d.mark, d.name) for d in DEPARTMENTS])
    agreed = forms.BooleanField(label="Agreed with the customer", required=False)


def sampler(request: HttpRequest) -> HttpResponse:
    """All pieces at once; only while DEBUG is on."""
    if not settings.DEBUG:
        raise Http404
    page = "common/sampler_bench.html" if "bench" in request.GET else "common/sampler.html"
    return render(request, page, {**_contents(), "tablet": {"pixels_per_mm": request.GET.get("mm", "")}})


def _contents() -> dict[str, Any]:
    typed = {"serial": "84 317", "hours": "-3", "note": "Hinge screws counted: 14.", "kind": "grand"}
    case, metal = DEPARTMENTS[0], DEPARTMENTS[1]
    return {
        "shop_name": "Quillmere Piano Works",
        "nav": [(label, "#", label == "Floor") for label in NAV],
        "person_name": "Ilse Marchbank",
        "departments": [_load(d, *hours) for d, hours in zip(DEPARTMENTS, HOURS, strict=True)],
        "case": case,
        "metal": metal,
        "invented": INVENTED,
        "sheet": GaugeSheet(),
        "rows": [_row(*row) for row in INSTRUMENTS],
        "large": case.gauge(4),
        "large_stopped": metal.gauge(3, stopped_by="two hinges missing"),
        "form": SampleForm({**typed, "wanted": "RF"}),
        "page": Paginator(range(214), 25).page(3),
        "stats": [("31", "finished of 70"), ("4.6", "a week needed"), ("3.9", "a week so far")],
        "trail": [("Floor", "#"), ("Bexcombe 214", "#")],
        "charts": sample_charts.all_of_them(DEPARTMENTS, HOURS),
    }


def _row(name: str, facts: str, places: tuple[int | None, ...], week: str, odds: str) -> dict[str, Any]:
    cells = []
    for department, at in zip(DEPARTMENTS, places, strict=True):
        snag = "two hinges missing" if name.startswith("Ostrander") and department.mark == "PL" else ""
        cells.append((department, None if at is None else department.gauge(at, snag)))
    return {
        "name": name,
        "facts": facts,
        "cells": cells,
        "week": week,
        "odds": odds,
        "late": odds == "4 in 10",
    }


def _load(department: SampleDepartment, ready: int, room: int) -> dict[str, Any]:
    load = charts.Load(department.name, ready, room, department.material)
    bar = charts.load_bar(title=f"{department.name} this week", load=load)
    return {"it": department, "bar": bar, "ready": ready, "room": room, "days": round(ready / room * 5, 1)}
