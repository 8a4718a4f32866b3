"""What the knowledge of the work says, against facts of the trade and against a piano played step by step."""

from __future__ import annotations

import json
import random
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Knowledge
from tests.catalogue_data import data_from_fixtures
from tests.compute.step_machine import StepMachine, any_order
from tests.work_scenarios import failing

SCENARIOS = json.loads((Path(__file__).parent / "data" / "work_scenarios.json").read_text(encoding="utf-8"))[
    "scenarios"
]
KINDS = ("upright", "grand")
ORDERS = 6


@cache
def data() -> dict[str, Any]:
    return data_from_fixtures()


@cache
def knowledge(kind: str) -> Knowledge:
    return Knowledge.load(data(), kind)


@cache
def machine(kind: str) -> StepMachine:
    return StepMachine(data(), kind)


def wrongs(kind: str, job: Iterable[str], dice: random.Random, done: list[str] | None = None) -> list[str]:
    """All that a played piano finds wrong with a job, in several orders that its ties allow."""
    state = knowledge(kind).replay(done or [])
    codes = sorted(job)
    ties = [(tie.before, tie.after) for tie in knowledge(kind).order(codes, state)]
    found = machine(kind).contradictions(codes, data()["parts"])
    for _ in range(ORDERS):
        found += machine(kind).play(any_order(codes, ties, dice), state)
    return found


def random_remedies(kind: str, dice: random.Random, findings: int) -> list[str]:
    by_finding: dict[str, list[str]] = {}
    for row in data()["library"]:
        if row["code"] in knowledge(kind).remedies:
            by_finding.setdefault(row["finding"], []).append(row["code"])
    chosen = dice.sample(sorted(by_finding), findings)
    return [dice.choice(by_finding[finding]) for finding in chosen]


def operations(kind: str, remedies: Iterable[str]) -> list[str]:
    return sorted({code for remedy in remedies for code in knowledge(kind).remedies[remedy]})


@pytest.mark.parametrize("scenario", SCENARIOS, ids=[each["id"] for each in SCENARIOS])
def test_facts_of_the_trade_hold(scenario: dict[str, Any]) -> None:
    facts = list(failing(scenario, data()))
    assert facts
    assert [words for words, holds in facts if not holds] == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_operation_alone_makes_a_job_that_works(kind: str) -> None:
    dice = random.Random(1)
    for code in sorted(knowledge(kind).codes):
        job = knowledge(kind).complete([code]).operations
        assert code in job
        assert wrongs(kind, job, dice) == [], code


@pytest.mark.parametrize("route", sorted(data()["routes"]))
def test_every_route_works_in_any_order_that_its_ties_allow(route: str) -> None:
    kind = data()["routes"][route]["kind"]
    codes = [code for code in data()["routes"][route]["operations"] if code in knowledge(kind).codes]
    job = knowledge(kind).complete(codes).operations
    assert set(codes) <= set(job) | {code for code, _ in knowledge(kind).in_vain(codes)}
    assert wrongs(kind, job, random.Random(2)) == []


@pytest.mark.parametrize("kind", KINDS)
def test_random_sets_of_remedies_make_jobs_that_work(kind: str) -> None:
    dice = random.Random(3)
    for _ in range(60):
        remedies = random_remedies(kind, dice, dice.randint(3, 25))
        job = knowledge(kind).complete(operations(kind, remedies)).operations
        assert wrongs(kind, job, dice) == [], remedies


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_at_any_moment_fits_what_is_done_and_what_is_open(kind: str) -> None:
    dice = random.Random(4)
    for _ in range(60):
        knows = knowledge(kind)
        first = operations(kind, random_remedies(kind, dice, dice.randint(1, 12)))
        job = knows.complete(first).operations
        ties = [(tie.before, tie.after) for tie in knows.order(job)]
        line_up = any_order(job, ties, dice)
        moment = dice.randint(2, len(line_up) - 1)
        done, todo = line_up[:moment], line_up[moment:]
        change = operations(kind, random_remedies(kind, dice, 1))
        extra = knows.extra(done, todo, change)
        after = (set(todo) - extra.away) | extra.added
        assert extra.added.isdisjoint(set(todo) - extra.away)
        assert extra.away <= set(todo)
        assert extra.again == extra.added & set(done)
        assert wrongs(kind, after, dice, done) == [], (first, moment, change)


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_before_anything_is_done_is_the_whole_job(kind: str) -> None:
    dice = random.Random(5)
    knows = knowledge(kind)
    for _ in range(40):
        remedies = random_remedies(kind, dice, 2)
        change = operations(kind, remedies)
        extra = knows.extra([], [], change)
        assert extra.added == set(knows.complete(change).operations)
        assert not extra.away | extra.again | extra.in_vain


@pytest.mark.parametrize("kind", KINDS)
def test_what_may_start_is_what_a_played_piano_allows(kind: str) -> None:
    """Signing only what may start plays a job to its end, and never at a wrong level."""
    dice = random.Random(6)
    knows = knowledge(kind)
    for _ in range(6):
        todo = set(knows.complete(operations(kind, random_remedies(kind, dice, 8))).operations)
        done: list[str] = []
        while todo:
            ready = [code for code in sorted(todo) if not knows.may_start(code, done, todo - {code})]
            assert ready, (done, todo)
            code = dice.choice(ready)
            todo.discard(code)
            done.append(code)
        assert machine(kind).play(done) == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_addition_has_a_reason_in_words(kind: str) -> None:
    dice = random.Random(7)
    for _ in range(30):
        asked = operations(kind, random_remedies(kind, dice, 5))
        whole = knowledge(kind).complete(asked)
        added = set(whole.operations) - set(asked)
        assert added <= set(whole.reasons)
        assert all(sentences and all(sentences) for sentences in whole.reasons.values())
        assert all(tie.reason for tie in knowledge(kind).order(whole.operations))


def test_a_tie_left_out_is_noticed_by_the_played_piano() -> None:
    """The judge can fail: most ties of a full rebuild, left out, let something go wrong."""
    job = knowledge("grand").complete(data()["routes"]["A"]["operations"]).operations
    ties = [(tie.before, tie.after) for tie in knowledge("grand").order(job)]
    dice, noticed = random.Random(8), 0
    for left_out in ties:
        rest = [tie for tie in ties if tie != left_out]
        wrong = [machine("grand").play(_early(job, rest, first=left_out[1], dice=dice)) for _ in range(3)]
        noticed += any(wrong)
    assert noticed >= 0.95 * len(ties)


def _early(job: Iterable[str], ties: list[tuple[str, str]], *, first: str, dice: random.Random) -> list[str]:
    """An order in which one piece of work comes as early as its ties let it."""
    waiting: dict[str, set[str]] = {code: set() for code in job}
    for before, after in ties:
        waiting[after].add(before)
    needed, queue = {first}, [first]
    while queue:
        for before in waiting[queue.pop()]:
            if before not in needed:
                needed.add(before)
                queue.append(before)
    line_up: list[str] = []
    while waiting:
        ready = sorted(code for code, needs in waiting.items() if not needs)
        pool = [code for code in ready if code in needed] or ready
        code = dice.choice(pool)
        line_up.append(code)
        del waiting[code]
        for needs in waiting.values():
            needs.discard(code)
    return line_up


@pytest.mark.parametrize("kind", KINDS)
def test_the_four_ways_contradict_nothing_and_close_what_they_open(kind: str) -> None:
    dice = random.Random(9)
    kinds = {row["finding"] for row in data()["library"] if row["code"] in knowledge(kind).remedies}
    for name in ("keep it going", "good order", "rebuilt", "case only"):
        for _ in range(8):
            findings = {code: dice.randint(1, 4) for code in dice.sample(sorted(kinds), dice.randint(1, 20))}
            way = knowledge(kind).level(name, findings)
            assert wrongs(kind, way.operations, dice) == [], (name, findings)
            assert not way.unmended or name != "keep it going", (name, findings, way.unmended)


def test_claims_end_with_the_work_that_undoes_them() -> None:
    knows = knowledge("grand")
    tuned = ["receive", "survey", "pins-tap", "tune-once"]
    assert knows.claims(tuned)["tuning"] == ("tuned", "tune-once")
    assert "tuning" not in knows.claims([*tuned, "pins-tap"])


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"needs": {"wire": "at most gone"}}, "gone"),
        ({"needs": {"wires": "at most off"}}, "wires"),
        ({"needs": {"wire": "perhaps off"}}, "perhaps off"),
        ({"opens": {"wire": "taken"}}, "taken"),
        ({"step": {"strings": "never"}}, "never"),
        ({"also": ["no-such"]}, "no-such"),
        ({"work": "magic"}, "magic"),
    ],
)
def test_data_that_makes_no_sense_is_named(change: dict[str, Any], named: str) -> None:
    broken = {**data(), "operations": {**data()["operations"]}}
    broken["operations"]["string-treble"] = {**data()["operations"]["string-treble"], **change}
    with pytest.raises(ComputeError, match=named):
        Knowledge.load(broken, "grand")


def _small(**operations: dict[str, Any]) -> dict[str, Any]:
    lines = {
        "lid": {"levels": ["off", "on"], "found": "on", "goal": "on", "say": ["the lid off", "the lid on"]},
        "key": {"levels": ["lost", "there"], "found": "lost", "goal": "lost", "say": ["no key", "the key"]},
        "lock": {"levels": ["rusty", "free"], "found": "rusty", "goal": "rusty", "say": ["rust", "free"]},
    }
    for code, row in operations.items():
        row.setdefault("grand", [1, 1, 1])
        row.setdefault("name", code.capitalize())
    return {"lines": lines, "operations": operations}


def test_work_that_can_never_be_done_is_refused_by_name() -> None:
    broken = _small(oil={"needs": {"lid": "at most off"}})
    with pytest.raises(ComputeError, match="Oil"):
        Knowledge.load(broken, "grand")


def test_what_is_opened_and_can_never_be_closed_is_refused_by_name() -> None:
    broken = _small(lift={"opens": {"lid": "off"}})
    with pytest.raises(ComputeError, match="Lift"):
        Knowledge.load(broken, "grand")


def test_two_operations_that_need_each_other_first_are_both_named() -> None:
    broken = _small(
        oil={"needs": {"key": "at least there"}, "leaves": {"lock": "free"}},
        turn={"needs": {"lock": "at least free"}, "leaves": {"key": "there"}},
    )
    with pytest.raises(ComputeError, match=r"Oil.*Turn"):
        Knowledge.load(broken, "grand")


def test_a_circle_of_three_names_its_members() -> None:
    broken = _small(one={"after": ["two"]}, two={"after": ["three"]}, three={"after": ["one"]})
    with pytest.raises(ComputeError) as caught:
        Knowledge.load(broken, "grand")
    assert all(code in str(caught.value) for code in ("one", "two", "three"))


def test_unknown_codes_are_refused_in_every_question() -> None:
    knows = knowledge("grand")
    for ask in (
        lambda: knows.complete(["no-such"]),
        lambda: knows.order(["no-such"]),
        lambda: knows.clashes(["no-such"]),
        lambda: knows.extra(["no-such"], [], []),
        lambda: knows.may_start("no-such", [], []),
        lambda: knows.claims(["no-such"]),
        lambda: knows.parts_of("no-such"),
        lambda: knows.level("keep it going", {"no-such": 2}),
        lambda: knows.level("no such way", {}),
        lambda: knows.complete([], {"no-such": "on"}),
    ):
        with pytest.raises(ComputeError, match=r"no.such"):
            ask()


def test_a_shops_own_rule_and_wish_count() -> None:
    shop = {**data(), "operations": {**data()["operations"]}}
    shop["operations"]["keys-clean"] = {**data()["operations"]["keys-clean"], "also": ["key-leads"]}
    shop["operations"]["trapwork"] = {**data()["operations"]["trapwork"], "after": ["keys-clean"]}
    own = Knowledge.load(shop, "grand")
    assert "key-leads" in own.complete(["keys-clean"]).operations
    assert "key-leads" not in knowledge("grand").complete(["keys-clean"]).operations
    wish = [tie for tie in own.order(["keys-clean", "trapwork"]) if tie.after == "trapwork"]
    assert [tie.before for tie in wish] == ["keys-clean"]
    assert not [
        tie for tie in knowledge("grand").order(["keys-clean", "trapwork"]) if tie.after == "trapwork"
    ]
    assert own.unmet(own.complete(["trapwork"]).operations) == ()


def test_what_is_retired_is_known_and_never_added() -> None:
    shop = {**data(), "operations": {**data()["operations"]}}
    shop["operations"]["tune-once"] = {**data()["operations"]["tune-once"], "retired": True}
    own = Knowledge.load(shop, "grand")
    assert "tune-once" in knowledge("grand").complete(["pins-tap"]).operations
    assert "tune-once" not in own.complete(["pins-tap"]).operations
    assert "shop-tune" in own.complete(["pins-tap"]).operations
    under_way = set(own.complete(["pins-tap"]).operations) - {"shop-tune"} | {"tune-once"}
    assert own.unmet(under_way) == ()
    assert own.claims(["receive", "tune-once"])["tuning"] == ("tuned", "tune-once")


def test_retiring_the_only_way_to_close_is_refused_by_name() -> None:
    shop = {**data(), "operations": {**data()["operations"]}}
    shop["operations"]["plate-in"] = {**data()["operations"]["plate-in"], "retired": True}
    with pytest.raises(ComputeError, match="the plate in"):
        Knowledge.load(shop, "grand")


def test_a_shop_that_has_entered_nothing_yet_knows_nothing() -> None:
    empty = Knowledge.load({"lines": {}, "operations": {}}, "grand")
    assert empty.complete([]).operations == ()
    plain = Knowledge.load(
        {"lines": {}, "operations": {"dust": {"grand": [1, 2, 3], "work": "repair"}}}, "grand"
    )
    assert plain.complete(["dust"]).operations == ("dust",)
    assert plain.order(["dust"]) == ()
    assert plain.may_start("dust", [], ["dust"]) == ()
    assert plain.level("rebuilt", {}).operations == ()
    with pytest.raises(ComputeError, match="library"):
        plain.level("rebuilt", {"CA1": 2})


@pytest.mark.parametrize("nothing", [{}, {"lines": []}, {"lines": {}, "operations": 7}, [], None])
def test_data_without_rows_is_refused(nothing: Any) -> None:
    with pytest.raises(ComputeError):
        Knowledge.load(nothing, "grand")


def test_only_uprights_and_grands_are_known() -> None:
    with pytest.raises(ComputeError, match="harpsichord"):
        Knowledge.load(data(), "harpsichord")
