"""The state of the piano as the catalogue knows it: whole, told alike from rows and from fixtures."""

from __future__ import annotations

import itertools

import pytest

from shopflow.catalogue.knowledge import knowledge, knowledge_data
from shopflow.catalogue.models import FindingKind, Operation, Remedy, Shop, StateLine
from shopflow.catalogue.services import load_trade
from shopflow.catalogue.services import operations as deeds
from shopflow.common import clock
from shopflow.compute.worknet import Knowledge
from tests import cast
from tests.catalogue_data import data_from_fixtures

DATA = data_from_fixtures()
LINES, STEPS = DATA["lines"], DATA["steps"]
OPERATIONS = DATA["operations"]
KNOWN_PARTS = {
    "body", "loose", "plate", "hardware", "hammers", "wippens", "dampers", "keys", "keyframe", "pedals",
    "desk",
}  # fmt: skip


@pytest.mark.django_db
def test_a_fresh_catalogue_says_just_what_the_fixtures_say(trade):
    assert knowledge_data() == DATA


def test_everything_that_the_four_usual_ways_ask_for_is_there():
    assert set(DATA) == {
        "lines", "steps", "steps_by_part", "parts", "words", "common", "rates", "materials", "rests",
        "operations", "stops", "forbids", "findings", "library", "remedies", "routes",
    }  # fmt: skip
    assert (len(LINES), len(STEPS), len(OPERATIONS), len(DATA["findings"])) == (31, 19, 126, 60)
    assert len(DATA["stops"]) == 23
    assert DATA["forbids"] == {"HI5": ["keytops-new"]}


@pytest.mark.parametrize("code", LINES)
def test_a_line_says_each_of_its_levels_once(code):
    line = LINES[code]
    assert len(line["levels"]) == len(set(line["levels"])) == len(line["say"]) == len(set(line["say"])) > 1
    assert {line["found"], line["goal"]} <= set(line["levels"])


@pytest.mark.parametrize("code", OPERATIONS)
def test_an_operation_names_only_lines_levels_steps_and_parts_that_there_are(code):
    operation = OPERATIONS[code]
    for facts in (operation, *operation.get("by_kind", {}).values()):
        for line, asked in facts.get("needs", {}).items():
            assert asked.split(" ", 2)[0] in {"at", "still"}
            level = asked.removeprefix("at most ").removeprefix("at least ").removeprefix("still ")
            assert level in LINES[line]["levels"]
        for verb in ("opens", "leaves", "spoils", "lifts_from"):
            assert all(level in LINES[line]["levels"] for line, level in facts.get(verb, {}).items())
        assert {*facts.get("keeps", ()), *facts.get("renews", ())} <= set(DATA["words"])
    assert all(step in STEPS[line] for line, step in operation.get("step", {}).items())
    assert {*operation.get("covers", ()), *operation.get("serves_for", ())} <= set(OPERATIONS)
    assert operation["work"] in DATA["common"]
    at = (
        operation["at"]
        if isinstance(operation["at"], list)
        else [*itertools.chain(*operation["at"].values())]
    )
    assert at
    assert set(at) <= KNOWN_PARTS


@pytest.mark.parametrize("row", DATA["library"], ids=lambda row: row["code"])
def test_a_remedy_names_known_work_for_each_kind(row):
    given = row["operations"]
    by_kind = given.values() if isinstance(given, dict) else [given]
    assert all(set(codes) <= set(OPERATIONS) for codes in by_kind)
    assert row["finding"] in DATA["findings"]


def test_a_bent_shank_takes_butts_in_an_upright_alone():
    given = DATA["remedies"]["AC7-shanks-new"]
    assert given == {"upright": ["butts-knuckles", "shanks-new"], "grand": ["shanks-new"]}


# --- routes ---

KNOWN = {kind: Knowledge.load(DATA, kind) for kind in ("upright", "grand")}


@pytest.mark.parametrize("code", DATA["routes"])
def test_a_route_holds_everything_that_it_needs_and_closes_what_it_opens(code):
    route = DATA["routes"][code]
    assert KNOWN[route["kind"]].complete(route["operations"]).operations == tuple(sorted(route["operations"]))


@pytest.mark.parametrize("code", DATA["routes"])
def test_the_steps_of_a_route_are_mentioned_in_an_order_in_which_they_can_be_done(code):
    route = DATA["routes"][code]
    place = {operation: at for at, operation in enumerate(route["operations"])}
    ties = KNOWN[route["kind"]].order(route["operations"])
    assert [tie for tie in ties if place[tie.before] > place[tie.after]] == []


@pytest.mark.parametrize("code", DATA["routes"])
def test_nothing_on_a_route_contradicts_the_rest_of_it(code):
    route = DATA["routes"][code]
    known = KNOWN[route["kind"]]
    assert known.clashes(route["operations"]) == ()
    assert known.in_vain(route["operations"]) == ()


@pytest.mark.parametrize(
    ("opened", "closed"),
    [
        ("case-strip", "case-on"),
        ("action-out", "assemble"),
        ("tension-down", "pitch-raise"),
        ("strings-off", "string-treble"),
        ("plate-out", "plate-in"),
        ("strip", "rub-out"),
    ],
)
@pytest.mark.parametrize("kind", KNOWN)
def test_what_is_opened_is_closed_again(kind, opened, closed):
    assert closed in KNOWN[kind].complete([opened]).operations


# --- as the shop changes it ---


@pytest.mark.django_db
def test_what_is_known_is_read_once_until_the_set_up_changes(trade, maud, django_assert_num_queries):
    first = knowledge("grand")
    with django_assert_num_queries(1):
        assert knowledge("grand") is first
    deeds.retire_operation(operation=Operation.objects.get(code="stain-fill"), by=maud)
    assert knowledge("grand") is not first


@pytest.mark.django_db
def test_what_a_shop_changes_is_what_is_known(trade):
    StateLine.objects.filter(code="wire").update(say=["no wire", "slack wire", "wire on"])
    Operation.objects.filter(code="decal").update(retired_at=clock.now())
    Remedy.objects.filter(code="CA1-veneer-repair").update(retired_at=clock.now())
    FindingKind.objects.filter(code="CA2").update(retired_at=clock.now())
    data = knowledge_data()
    assert data["lines"]["wire"]["say"] == ["no wire", "slack wire", "wire on"]
    assert data["operations"]["decal"]["retired"]
    assert "decal" not in data["routes"]["A"]["operations"]
    assert "CA1-veneer-repair" not in data["remedies"]
    assert not {row["finding"] for row in data["library"]} & {"CA2"}
    assert "CA2" not in data["findings"]


@pytest.mark.django_db
def test_own_work_that_says_nothing_of_the_state_holds_the_whole_piano(trade):
    own = cast.operation(code="own-work", state={})
    assert knowledge_data()["operations"][own.code]["at"] == ["body", "loose"]


@pytest.mark.django_db
def test_work_that_was_retired_although_other_work_needs_it_stands_in(trade):
    Operation.objects.filter(code="decal").update(retired_at=clock.now())
    assert "decal" in knowledge("grand").complete(["strip"]).operations


@pytest.mark.django_db
def test_a_catalogue_that_contradicts_itself_stops_no_work(trade):
    own = cast.operation(code="own-work", state={})
    Operation.objects.filter(code="strip").update(
        state={"at": ["body"], "work": "repair", "needs": {"plate": "at most nowhere"}}
    )
    known = knowledge("upright")
    assert known.complete(["strip"]).operations == KNOWN["upright"].complete(["strip"]).operations
    assert known.parts_of(own.code) == {"body", "loose"}


@pytest.mark.django_db
def test_work_from_before_the_state_was_known_is_told_it_and_own_states_stay(trade):
    own = {"at": ["keys"], "work": "repair"}
    Operation.objects.filter(code="strip").update(state={})
    Operation.objects.filter(code="sand").update(state=own)
    load_trade()
    assert Operation.objects.get(code="strip").state["opens"] == {"finish": "bare"}
    assert Operation.objects.get(code="sand").state == own


@pytest.mark.django_db
def test_each_deed_of_the_set_up_marks_the_catalogue_anew(trade, maud):
    before = Shop.objects.get().catalogue_version
    deeds.retire_operation(operation=Operation.objects.get(code="stain-fill"), by=maud)
    after = Shop.objects.get().catalogue_version
    assert before != after
    load_trade()
    assert Shop.objects.get().catalogue_version == after, "nothing was added, so nothing changed"


@pytest.mark.django_db
def test_reading_the_catalogue_takes_a_fixed_number_of_queries(trade, django_assert_num_queries):
    with django_assert_num_queries(16):
        knowledge_data()


@pytest.mark.django_db
@pytest.mark.parametrize("kind", ["upright", "grand"])
def test_a_shop_without_lines_of_state_knows_its_work_by_name_and_no_more(kind):
    cast.shop()
    assert knowledge(kind).complete([]).operations == ()
    cast.operation("crack-shim")
    known = knowledge(kind)
    assert known.name("crack-shim") == "Crack-shim"
    assert known.complete(["crack-shim"]).operations == ("crack-shim",)
    assert known.claims(["crack-shim"]) == {}
