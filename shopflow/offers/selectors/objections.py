"""What a rebuilder would object to in an option: work against itself, needless work, work that is missing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from shopflow.compute.worknet import Knowledge
from shopflow.offers.models import Objection, Offer, Option

from .whole_job import Reckoner


@dataclass(frozen=True, slots=True)
class Objected:
    """One objection in words, and the office's answer to it, if it gave one."""

    option: Option
    words: str
    answer: Objection | None

    @property
    def stands(self) -> bool:
        return self.answer is None


def objections_to(offer: Offer, reckoner: Reckoner) -> list[Objected]:
    """By option, in the order of the offer: two queries beside those of the options' works."""
    rows = offer.options.prefetch_related("works__operation", "objections__by")
    return [one for option in rows for one in _objected(option, reckoner.knowledge)]


def _objected(option: Option, knowledge: Knowledge) -> list[Objected]:
    codes = [work.operation.code for work in option.works.all()]
    answers = {answer.words: answer for answer in option.objections.all()}
    said = dict.fromkeys(words_against(knowledge, codes))
    return [Objected(option, words, answers.get(words)) for words in said]


def words_against(knowledge: Knowledge, codes: Iterable[str]) -> Iterator[str]:
    """Everything that is wrong with this job as a whole, in words of at most 400 letters."""
    job = frozenset(codes) & knowledge.codes
    if not job:
        return
    yield from (sentence[:400] for _, _, sentence in knowledge.clashes(job))
    yield from _needless(knowledge, job)
    for rule in knowledge.unmet(job):
        named = " or ".join(f"“{knowledge.name(code)}”" for code in rule.adds)
        yield f"Something is missing: {rule.why}, so it takes {named}."[:400]


def questions_about(option: Option, knowledge: Knowledge) -> list[str]:
    """What contradicts itself only if the same bridge, panel or note is meant: asked, no more."""
    job = {work.operation.code for work in option.works.all()} & knowledge.codes
    return [f"{sentence} Is the same one meant?" for _, _, sentence in knowledge.questions(job)]


def _needless(knowledge: Knowledge, job: Collection[str]) -> Iterator[str]:
    """What other work of the job makes needless, and nothing in it asks for."""
    clashing = {code for pair in knowledge.clashes(job) for code in pair[:2]}
    # Two bridges may be meant, one capped and one new: that is a question.
    asked = {frozenset(pair[:2]) for pair in knowledge.questions(job)}
    for code in sorted(set(job) - clashing):
        instead = sorted(knowledge.instead_of(code) & set(job))
        instead = [other for other in instead if frozenset((code, other)) not in asked]
        if instead and not knowledge.dropping(job, code):
            yield f"“{knowledge.name(code)}” is needless: “{knowledge.name(instead[0])}” does it as well."[
                :400
            ]
