"""The trade's catalogue as data: complete, in order, and honest about what it rests on."""

from __future__ import annotations

import json
import re
from collections import Counter
from decimal import Decimal

import pytest
from django.conf import settings

from shopflow.compute import network

FIXTURES = settings.BASE_DIR / "fixtures"
# Low, likely and high hours of each route: the totals that the trade catalogue itself states, to which the
# operations below must add up. They are sums of planning figures: common practice, no source.
CATALOGUE_TOTALS = {
    "A": ("216.0", "374.5", "658.0"),
    "B": ("177.5", "301.0", "533.5"),
    "C": ("70.4", "125.7", "228.0"),
    "D": ("57.0", "103.5", "187.5"),
    "Du": ("48.0", "83.0", "154.5"),
    "E": ("84.0", "141.5", "236.0"),
    "Eu": ("76.5", "125.5", "209.5"),
    "F": ("94.0", "156.5", "260.0"),
    "Fu": ("59.5", "95.0", "157.5"),
    "G": ("18.0", "36.0", "63.0"),
}
OPERATIONS_BY_DEPARTMENT = {
    "final": 21,
    "soundboard": 14,
    "stringing": 19,
    "refinishing": 19,
    "plating": 9,
    "action": 25,
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


def test_the_catalogue_has_its_107_operations_in_six_departments():
    assert Counter(row["department"][0] for row in OPERATIONS.values()) == OPERATIONS_BY_DEPARTMENT


def test_there_is_a_total_for_each_route():
    assert set(CATALOGUE_TOTALS) == set(ROUTES)


@pytest.mark.parametrize("code", CATALOGUE_TOTALS)
def test_the_hours_of_a_route_add_up_to_the_catalogues_own_total(code):
    side = ROUTES[code]["kind"]
    sums = tuple(
        sum((Decimal(OPERATIONS[op][f"{side}_{step}"]) for op in STEPS[code]), Decimal(0))
        for step in ("low", "likely", "high")
    )
    assert sums == tuple(map(Decimal, CATALOGUE_TOTALS[code]))


@pytest.mark.parametrize("code", ROUTES)
def test_a_route_holds_everything_that_its_operations_must_have(code):
    needed = {must[0] for op in STEPS[code] for must in OPERATIONS[op]["must"]}
    assert needed - set(STEPS[code]) == set()


def test_must_and_after_have_no_circle():
    pairs = [
        (earlier[0], op["code"]) for op in OPERATIONS.values() for earlier in [*op["must"], *op["after"]]
    ]
    ordered = network.order(pairs)
    assert ordered.index("tension-down") < ordered.index("strings-off") < ordered.index("string-treble")


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
        for name in ("operations", "cautions", "rests", "routes")
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
