"""The trade's catalogue as data: complete, in order, and honest about what it rests on."""

from __future__ import annotations

import itertools
import json
import re
from collections import Counter
from decimal import Decimal

import pytest
from django.conf import settings

FIXTURES = settings.BASE_DIR / "fixtures"
OPERATIONS_BY_DEPARTMENT = {
    "final": 25,
    "soundboard": 17,
    "stringing": 25,
    "refinishing": 22,
    "plating": 9,
    "action": 28,
}


def rows(name, model):
    found = json.loads((FIXTURES / f"{name}.json").read_text(encoding="utf-8"))
    return [row["fields"] for row in found if row["model"] == f"catalogue.{model}"]


OPERATIONS = {row["code"]: row for row in rows("operations", "operation")}
ROUTES = {row["code"]: row for row in rows("routes", "route")}
STAGES = {(row["department"][0], row["code"]): row for row in rows("stages", "stage")}
CAUTIONS = rows("cautions", "caution")
STEPS = {code: [] for code in ROUTES}
for step in rows("routes", "routestep"):
    STEPS[step["route"][0]].append(step["operation"][0])


def test_the_catalogue_has_its_126_operations_in_six_departments():
    assert Counter(row["department"][0] for row in OPERATIONS.values()) == OPERATIONS_BY_DEPARTMENT


@pytest.mark.parametrize(
    ("parts", "upright", "grand"),
    [
        # What was one operation before it was split: planning figures, common practice, no source.
        (("bridge-recap", "bridge-notch"), (6, 10, 16), (8, 13, 22)),
        (("bridge-new", "bridge-notch"), (8, 12, 20), (9, 14, 23)),
        (("build-lacquer", "clear-coats"), (5, 8, 12), ("6.5", 11, 17)),
    ],
)
def test_what_was_split_keeps_its_hours_together(parts, upright, grand):
    for side, hours in (("upright", upright), ("grand", grand)):
        sums = [
            sum(Decimal(OPERATIONS[code][f"{side}_{step}"]) for code in parts)
            for step in ("low", "likely", "high")
        ]
        assert sums == [Decimal(figure) for figure in hours]


def test_hardware_alone_takes_the_hours_of_its_operations():
    sums = [
        sum(Decimal(OPERATIONS[code][f"grand_{step}"]) for code in STEPS["G"])
        for step in ("low", "likely", "high")
    ]
    assert sums == [Decimal("18.0"), Decimal("36.0"), Decimal("63.0")]


def test_the_first_year_has_three_visits_at_the_owners():
    visits = [OPERATIONS[code] for code in ("aftercare-tune", "aftercare-tune-2", "aftercare-tune-3")]
    assert all(visit["at_the_owners"] for visit in visits)
    assert [visit["rest"] for visit in visits] == [["season"], ["season"], None]
    assert [visit["state"].get("after") for visit in visits] == [
        None,
        ["aftercare-tune"],
        ["aftercare-tune-2"],
    ]


@pytest.mark.parametrize("code", ["strings-order", "plating-sendout", "hw-replace", "plate-crack"])
def test_what_is_ordered_or_sent_out_waits_for_delivery(code):
    resting = [STAGES[tuple(key)] for key in OPERATIONS[code]["stages"]]
    assert [stage["name"] for stage in resting if stage["kind"] == "resting"] == ["waiting for delivery"]


def test_a_pinblock_goes_through_several_stages_of_work_and_the_finish_is_sanded_and_sealed():
    block = [STAGES[tuple(key)] for key in OPERATIONS["block-replace"]["stages"]]
    assert [stage["name"] for stage in block if stage["kind"] == "benched"] == [
        "laid out",
        "fitted",
        "drilled",
    ]
    assert ["refinishing", "sanded"] in OPERATIONS["sand"]["stages"]
    assert ["refinishing", "sealed"] in OPERATIONS["build-lacquer"]["stages"]


@pytest.mark.parametrize("code", OPERATIONS)
def test_a_path_runs_from_the_rack_to_signed_in_the_departments_order(code):
    path = [STAGES[tuple(key)] for key in OPERATIONS[code]["stages"]]
    kinds = [stage["kind"] for stage in path]
    places = [stage["position"] for stage in path]
    assert kinds[0] == "racked"
    assert kinds[-1] == "signed"
    assert "benched" in kinds
    assert kinds.count("racked") == kinds.count("signed") == 1
    assert places == sorted(set(places))
    assert {stage["department"][0] for stage in path} == {OPERATIONS[code]["department"][0]}


@pytest.mark.parametrize("code", OPERATIONS)
def test_only_an_operation_with_a_rest_stands_in_a_resting_stage(code):
    operation = OPERATIONS[code]
    resting = [key for key in operation["stages"] if STAGES[tuple(key)]["kind"] == "resting"]
    assert len(resting) <= 1
    assert operation["rest"] or not resting


def test_only_the_final_check_asks_for_a_second_pair_of_eyes():
    asking = {key for key, stage in STAGES.items() if stage["needs_second_eyes"]}
    assert asking == {("final", "proving")}
    asked = {
        code
        for code, operation in OPERATIONS.items()
        if asking & {tuple(stage) for stage in operation["stages"]}
    }
    assert asked == {"final-check"}


@pytest.mark.parametrize("code", OPERATIONS)
def test_hours_stand_in_order_and_say_that_they_are_planning_figures(code):
    operation = OPERATIONS[code]
    for side in ("upright", "grand"):
        hours = [operation[f"{side}_{step}"] for step in ("low", "likely", "high")]
        if None not in hours:
            assert list(map(Decimal, hours)) == sorted(map(Decimal, hours))
            assert Decimal(hours[0]) > 0
    assert "no source" in operation["hours_basis"]


def test_bridle_straps_are_the_one_thing_a_grand_does_not_have():
    without = {code for code, op in OPERATIONS.items() if op["grand_likely"] is None}
    assert without == {"straps-new"}
    assert all(op["upright_likely"] is not None for op in OPERATIONS.values())


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda row: row["code"])
def test_every_caution_defers_to_codes_sheets_and_licensed_practice(caution):
    last = caution["text"].splitlines()[-1]
    assert "local codes" in last
    assert "safety data sheet" in last
    assert "licensed practice" in last


@pytest.mark.parametrize(
    ("code", "needed"),
    [
        ("tension-down", "string-tension"),
        ("string-treble", "string-tension"),
        ("plate-out", "plate"),
        ("plate-in", "plate"),
        ("strip", "paint-strippers"),
        ("build-lacquer", "solvents-spray"),
        ("build-lacquer", "isocyanates"),
        ("build-polyester", "polyester"),
        ("french-polish", "oily-rags"),
        ("plating-shop", "plating-baths"),
        ("key-leads", "lead"),
        ("keytops-mend", "ivory"),
        ("sand", "wood-dust"),
        ("decontaminate", "droppings"),
        ("panel-glass", "glass-mirrors"),
        ("deliver", "lifting"),
        ("block-replace", "driving-pins"),
        ("block-replace", "machines"),
        ("case-restore", "machines"),
        ("keytops-mend", "celluloid"),
        ("strip", "bleach"),
        ("board-dry", "heaters"),
        ("action-clean", "compressed-air"),
        ("plate-refinish", "bronze-dust"),
        ("springs-renew", "springs"),
    ],
)
def test_dangerous_work_carries_its_caution(code, needed):
    assert [needed] in OPERATIONS[code]["cautions"]


def test_every_caution_belongs_to_some_work():
    used = {caution[0] for op in OPERATIONS.values() for caution in op["cautions"]}
    assert {row["code"] for row in CAUTIONS} == used


def test_no_text_that_people_read_carries_a_reference_mark():
    texts = [
        text
        for name in ("operations", "cautions", "rests", "routes", "conditions")
        for row in json.loads((FIXTURES / f"{name}.json").read_text(encoding="utf-8"))
        for text in row["fields"].values()
        if isinstance(text, str)
    ]
    assert [text for text in texts if re.search(r"\[(S\d+|cp|mem|calc)|\(\d\)|\(\d\.\d\)", text)] == []


def test_every_rest_says_where_its_hours_come_from():
    for rest in rows("rests", "rest"):
        hours = [Decimal(rest[f"hours_{step}"]) for step in ("low", "likely", "high")]
        assert hours == sorted(hours)
        assert re.search("no source|from memory|a floor finisher's page", rest["basis"]), rest["code"]


GROUPS = [row["code"] for row in rows("conditions", "componentgroup")]
FINDINGS = {row["code"]: row for row in rows("conditions", "findingkind")}
REMEDIES = rows("conditions", "remedy")
READINGS = {row["code"]: row for row in rows("conditions", "readingkind")}
# How many kinds of finding the trade's list has under each of its letters.
FINDINGS_BY_LETTERS = {
    "CA": 7, "PL": 4, "PB": 3, "SB": 7, "FR": 1, "BR": 4, "ST": 4, "AC": 12, "KE": 6,
    "DA": 2, "PE": 2, "HW": 2, "CS": 1, "HI": 5,
}  # fmt: skip
ASPECTS = ("safety", "playing", "tone", "looks", "durability")


def test_the_library_has_fourteen_groups_and_sixty_kinds_of_finding():
    assert len(GROUPS) == 14
    assert Counter(re.sub(r"\d", "", code) for code in FINDINGS) == FINDINGS_BY_LETTERS
    assert {row["group"][0] for row in FINDINGS.values()} <= set(GROUPS)


@pytest.mark.parametrize("code", FINDINGS)
def test_a_kind_of_finding_says_what_it_is_what_follows_and_what_that_rests_on(code):
    row = FINDINGS[code]
    assert row["plain_words"]
    assert row["if_left"]
    assert row["how_seen"]
    assert 0 <= row["usual_severity"] <= 4
    assert all(0 <= row[aspect] <= 3 for aspect in ASPECTS)
    assert "no source" in row["basis"]


@pytest.mark.parametrize("code", [code for code, row in FINDINGS.items() if row["usual_severity"] == 4])
def test_what_is_unsafe_or_structural_weighs_on_safety_or_lasting(code):
    assert max(FINDINGS[code]["safety"], FINDINGS[code]["durability"]) == 3


@pytest.mark.parametrize("code", FINDINGS)
def test_the_ladder_of_a_finding_cures_more_the_higher_it_goes_and_names_known_work(code):
    ladder = sorted(
        (row for row in REMEDIES if row["finding_kind"] == [code]), key=lambda row: row["position"]
    )
    assert ladder or code == "HI4", "a player mechanism goes to a specialist or stays as history"
    cures = [row["cures"] for row in ladder]
    assert cures == sorted(cures)
    assert all(row["operations"] for row in ladder)
    assert {op[0] for row in ladder for op in row["operations"]} <= set(OPERATIONS)
    assert all("no source" in row["basis"] for row in ladder)


def test_a_remedy_for_both_builds_has_hours_for_both():
    lacking = {code for code, op in OPERATIONS.items() if op["grand_likely"] is None}
    wrong = [
        row["code"]
        for row in REMEDIES
        if lacking & {op[0] for op in row["operations"]} and row["only_for"] != "upright"
    ]
    assert wrong == []


@pytest.mark.parametrize("code", READINGS)
def test_what_is_usual_lies_inside_what_is_possible(code):
    row = READINGS[code]
    low, high = Decimal(row["possible_low"]), Decimal(row["possible_high"])
    usual = [Decimal(row[name]) for name in ("usual_low", "usual_high") if row[name] is not None]
    assert low < high
    assert usual == sorted(usual)
    assert all(low <= value <= high for value in usual)
    assert row["basis"]


@pytest.mark.parametrize("code", ["bearing-front", "bearing-back", "bearing-net", "crown", "decay"])
def test_where_experts_give_no_pass_mark_there_is_none(code):
    assert (READINGS[code]["usual_low"], READINGS[code]["usual_high"]) == (None, None)
    assert "no agreed limit" in READINGS[code]["usual_words"]


@pytest.mark.parametrize(
    ("code", "typed", "kept"),
    [
        # NIST SP 811 (2008), appendix B.8: 1 in = 25.4 mm exactly; 1 lbf·in = 0.112 984 8 N·m;
        # 1 oz (avoirdupois) = 28.349 52 g; t/°C = (t/°F − 32)/1.8.
        ("key-side-play", "0.01", "0.254"),
        ("pin-torque", "100", "11.29848"),
        ("down-weight", "2", "56.69904"),
        ("air-temperature", "70", "21.11111"),
        ("lacquer-film", "5", "127"),
    ],
)
def test_what_an_inch_shop_types_becomes_the_unit_that_is_kept(code, typed, kept):
    row = READINGS[code]
    value = Decimal(typed) * Decimal(row["inch_factor"]) + Decimal(row["inch_offset"])
    assert float(value) == pytest.approx(float(kept), rel=1e-6)


def test_what_every_job_has_is_marked():
    every = {code for code, row in OPERATIONS.items() if row.get("in_every_job")}
    assert every == {"receive", "survey", "final-check", "deliver", "handover"}


def test_bands_of_material_follow_one_another_and_say_that_they_are_planning_figures():
    bands = rows("materials", "materialband")
    assert [band["code"] for band in bands] == ["M0", "M1", "M2", "M3", "M4", "M5"]
    figures = [[Decimal(band[step]) for step in ("low", "likely", "high")] for band in bands]
    assert all(band == sorted(band) for band in figures)
    assert all(one[-1] <= following[1] for one, following in itertools.pairwise(figures))
    assert all("no source" in band["basis"] for band in bands)
    used = {row["materials"] for row in OPERATIONS.values()}
    assert used <= {band["code"] for band in bands}


def test_an_hour_costs_something_in_each_department():
    assert all(Decimal(row["rate"]) > 0 for row in rows("departments", "department"))
