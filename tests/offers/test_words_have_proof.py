"""Every sentence of a report has its proof in the signed work, judged by a plain reading of the data."""

from __future__ import annotations

import itertools
import random

import pytest

from shopflow.compute.proof import Proof, Reads
from shopflow.compute.worknet import Knowledge
from shopflow.offers.aftercare import (
    CLAIMS,
    CLIMATE,
    PARTS,
    aftercare,
    claims_told,
    old_parts_words,
    untrue_old_parts,
)
from shopflow.readings.what_is_read import READS
from tests.catalogue_data import data_from_fixtures

DATA = data_from_fixtures()
KNOWN = {kind: Knowledge.load(DATA, kind) for kind in ("upright", "grand")}
SEEDS = range(60)


class Judge:
    """Plays a sequence by reading the data itself; shares no code with what it judges."""

    def __init__(self, kind: str, done: list[str]) -> None:
        self.kind, self.done = kind, done
        self.state = {code: self.level(code, line["found"]) for code, line in DATA["lines"].items()}
        self.after: list[dict[str, int]] = []
        for code in done:
            self.play(self.row(code))
            self.after.append(dict(self.state))

    def row(self, code: str) -> dict:
        row = DATA["operations"][code]
        return {**row, **row.get("by_kind", {}).get(self.kind, {})}

    def level(self, line: str, name: str) -> int:
        return DATA["lines"][line]["levels"].index(name)

    def lowered(self, row: dict) -> dict[str, str]:
        common = DATA["common"][row["work"]].get("spoils", {})
        lowest = {**common, **row.get("spoils", {})}
        for line, level in row.get("opens", {}).items():
            if line not in lowest or self.level(line, level) < self.level(line, lowest[line]):
                lowest[line] = level
        return lowest

    def play(self, row: dict) -> None:
        for line, level in self.lowered(row).items():
            self.state[line] = min(self.state[line], self.level(line, level))
        for line, level in row.get("leaves", {}).items():
            asked = row.get("needs", {}).get(line, "")
            least = self.level(line, asked.removeprefix("at least ")) if asked.startswith("at least") else 0
            if line in row.get("lifts_from", {}):
                least = self.level(line, row["lifts_from"][line])
            if least <= self.state[line] < self.level(line, level):
                self.state[line] = self.level(line, level)

    def holds(self, line: str, level: str, code: str) -> bool:
        """Some work of this name brought the line there or stood for it, and nothing lowered it since."""
        wanted = self.level(line, level)
        places = [place for place, other in enumerate(self.done) if other == code]
        return self.row(code).get("leaves", {}).get(line) == level and any(
            all(state[line] >= wanted for state in self.after[place:]) for place in places
        )

    def renewed(self) -> set[str]:
        parts = {part for code in self.done for part in self.row(code).get("renews", ())}
        while True:
            more = {other for part in parts for other in DATA["parts"].get(part, ())} - parts
            if not more:
                return parts
            parts |= more

    def is_done_and_holds(self, code: str) -> bool:
        """Signed, and every level it leaves is still reached at the end."""
        leaves = self.row(code).get("leaves", {})
        return any(
            other == code
            and all(
                state[line] >= self.level(line, level)
                for state in (self.after[place], self.after[-1])
                for line, level in leaves.items()
            )
            for place, other in enumerate(self.done)
        )


def sequence(kind: str, seed: int) -> list[str]:
    """Now a sensible job in a random order of its ties, cut somewhere; now anything in any order."""
    rng, known = random.Random(f"{kind} {seed}"), KNOWN[kind]
    codes = sorted(known.codes)
    if seed % 3 == 0:
        return rng.choices(codes, k=rng.randint(0, 40))
    remedies = rng.sample(sorted(known.remedies.values()), k=rng.randint(1, 6))
    job = known.complete({code for remedy in remedies for code in remedy}).operations
    after = {code: {tie.before for tie in known.order(job) if tie.after == code} for code in job}
    done: list[str] = []
    while len(done) < len(job):
        done.append(rng.choice([code for code in job if code not in done and after[code] <= set(done)]))
    done = done[: rng.randint(len(done) // 2, len(done))]
    late = rng.choices(codes, k=rng.choice([0, 0, 1, 3]))
    return [*done, *late]


CASES = [(kind, seed) for kind in KNOWN for seed in SEEDS]


def played(kind: str, seed: int) -> tuple[Proof, Judge]:
    done = sequence(kind, seed)
    return Proof(KNOWN[kind], done), Judge(kind, done)


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_what_is_said_to_hold_was_brought_about_and_not_undone(kind, seed):
    proof, judge = played(kind, seed)
    for _, claim in claims_told(proof):
        assert judge.holds(claim.line, claim.level, claim.code), (claim, judge.done)
        assert judge.done[claim.place] == claim.code


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_each_word_of_care_and_old_parts_has_its_work(kind, seed):
    proof, judge = played(kind, seed)
    titles = {care.title for care in aftercare(proof)}
    renewed = judge.renewed()
    assert aftercare(proof)[0] == CLIMATE
    assert ("New strings" in titles) == bool({"wire", "bass"} & renewed)
    assert ("New hammers" in titles) == ("hammers" in renewed)
    assert not {"New strings", "Tuning"} <= titles
    if "Tuning" in titles:
        assert judge.state["tuning"] == judge.level("tuning", "tuned")
    if "The new finish" in titles:
        assert judge.state["finish"] >= judge.level("finish", "built")
        assert {"build-lacquer", "build-polyester", "french-polish"} & set(judge.done)
    if "The action" in titles:
        assert any("touch" in judge.lowered(judge.row(code)) for code in judge.done)
    if "Plated metal" in titles:
        assert {"plating-shop", "plating-sendout"} & set(judge.done)
    words = old_parts_words(proof.renewed)
    names = words.removeprefix("We took out the old ").removesuffix(".").replace(" and ", ", ")
    spoken = {part for part, name in PARTS.items() if name in names.split(", ")}
    assert spoken <= renewed
    assert untrue_old_parts(words, proof) == []
    assert bool(words) == bool(renewed & set(PARTS))


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_a_remedy_without_gaps_was_signed_or_made_needless_and_still_holds(kind, seed):
    proof, judge = played(kind, seed)
    for codes in KNOWN[kind].remedies.values():
        gaps = {gap.code for gap in proof.gaps(codes)}
        for code in codes:
            stands = {code, *KNOWN[kind].instead_of(code)}
            holds = any(judge.is_done_and_holds(other) for other in stands)
            assert (code not in gaps) == holds, (code, judge.done)


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_nothing_that_changes_a_reading_comes_after_the_place_from_which_it_counts(kind, seed):
    proof, judge = played(kind, seed)
    for reads in READS.values():
        place = proof.last_that_changed(reads)
        later = judge.done[place + 1 :] if place is not None else judge.done
        for code in later:
            row = judge.row(code)
            touched = {*judge.lowered(row), *row.get("leaves", {})}
            worked_on = {*row.get("keeps", ()), *row.get("renews", ())}
            assert not touched & reads.lines
            assert not worked_on & reads.parts


def test_the_sequences_reach_every_sentence_that_can_be_said():
    """A check that no sentence class is never tried above."""
    proofs = [played(kind, seed)[0] for kind, seed in CASES]
    said = {care.title for proof in proofs for care in aftercare(proof)}
    assert {"New strings", "Tuning", "New hammers", "The action", "The new finish"} <= said
    told = {words for proof in proofs for words, _ in claims_told(proof)}
    assert {CLAIMS["tuning", "tuned"], CLAIMS["regulation", "regulated"], CLAIMS["finish", "rubbed"]} <= told
    undone = [
        gap
        for (kind, _), proof in zip(CASES, proofs, strict=True)
        for codes in KNOWN[kind].remedies.values()
        for gap in proof.gaps(codes)
    ]
    assert any(gap.undone_by for gap in undone)
    assert any(gap.is_signed and not gap.undone_by for gap in undone)
    assert any(not gap.is_signed for gap in undone)


def test_old_hammers_are_in_no_bag_without_new_ones():
    proof = Proof(KNOWN["upright"], ["action-out", "hammers-file", "assemble"])
    assert old_parts_words(proof.renewed) == ""
    assert untrue_old_parts("The old hammers are in the bag under the lid.", proof) == ["hammers"]
    assert untrue_old_parts("The bag holds a bridle strap and a hammer rail felt.", proof) == []
    new = Proof(KNOWN["upright"], ["action-out", "hammers-hang"])
    assert untrue_old_parts("The old hammers are in the bag under the lid.", new) == []
    assert old_parts_words(new.renewed) == "We took out the old hammers."


def test_old_strings_are_spoken_of_only_where_new_ones_are():
    cleaned = Proof(KNOWN["grand"], ["strings-clean"])
    assert untrue_old_parts("A length of the old bass strings is in the bag.", cleaned) == [
        "bass strings",
        "strings",
    ]
    one = Proof(KNOWN["grand"], ["string-mend"])
    assert untrue_old_parts("The broken string is in the bag.", one) == []
    plain = Proof(KNOWN["grand"], ["string-treble"])
    assert untrue_old_parts("The old strings went to the scrap dealer.", plain) == []
    assert untrue_old_parts("The old bass strings went to the scrap dealer.", plain) == ["bass strings"]


def test_an_open_crack_is_not_called_filled_because_the_board_was_varnished():
    proof = Proof(KNOWN["grand"], ["board-finish"])
    (gap,) = proof.gaps(["crack-fill"])
    assert (gap.is_signed, gap.undone_by) == (False, "")
    assert proof.gaps(["crack-fill"]) != []
    assert Proof(KNOWN["grand"], ["crack-fill"]).gaps(["crack-fill"]) == []


def test_a_tuning_that_later_work_spoilt_is_neither_claimed_nor_mends():
    done = ["tune-once", "string-mend"]
    proof = Proof(KNOWN["upright"], done)
    assert "tuning" not in proof.claims
    (gap,) = proof.gaps(["tune-once"])
    assert (gap.is_signed, gap.undone_by) == (True, "string-mend")
    again = Proof(KNOWN["upright"], [*done, "tune-once"])
    assert again.claims["tuning"].place == 2
    assert again.gaps(["tune-once"]) == []


def test_a_look_over_is_not_told_as_a_regulation():
    looked = Proof(KNOWN["grand"], ["action-out", "assemble", "regulate-check"])
    told = [words for words, claim in claims_told(looked) if claim.line == "regulation"]
    assert told == ["The regulation was looked over"]
    whole = Proof(KNOWN["grand"], ["action-out", "assemble", "regulate-1"])
    assert [words for words, _ in claims_told(whole)] == ["The action is regulated"]


def test_new_strings_answer_the_cleaning_of_the_old():
    proof = Proof(KNOWN["grand"], ["strings-off", "pins-out", "string-treble"])
    assert proof.gaps(["strings-clean"]) == []
    assert proof.is_whole("strings-clean")
    filled = Proof(KNOWN["grand"], ["crack-fill"])
    assert not filled.is_whole("crack-fill"), "one crack filled says nothing of the next"


def test_work_in_own_words_proves_that_it_was_signed_and_no_more():
    proof = Proof(KNOWN["grand"], ["our-own-polish", "tune-once"])
    assert proof.gaps(["our-own-polish"]) == []
    assert proof.gaps(["never-heard-of"])[0].code == "never-heard-of"
    assert proof.claims["tuning"].place == 1


def test_every_step_and_line_that_a_reading_depends_on_is_known():
    steps, lines = DATA["steps"], DATA["lines"]
    for code, reads in READS.items():
        assert reads.lines <= set(lines), code
        assert reads.parts <= set(DATA["words"]), code
        for line, names in (reads.steps or {}).items():
            assert names <= {"*", *steps[line]}, (code, line)
    assert not Reads().is_changed_by(KNOWN["grand"].work("strip"))
    assert set(itertools.chain(*(reads.steps or {} for reads in READS.values()))) <= set(steps)
