"""How far a survey has come: group by group, what was said, found, and is still to be said."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from shopflow.catalogue.models import ComponentGroup
from shopflow.people.models import Person

from ..models import Finding, GroupLook, Instrument, Survey, SurveyDraft
from .findings import CurrentFinding, standing_of


class Standing(StrEnum):
    """Of one group in one survey. The last two are not words that anybody said."""

    GOOD = "good"
    FOUND = "found"
    PARTLY = "partly"
    NOT = "not"
    BEGUN = "begun"
    NONE = "none"

    @property
    def words(self) -> str:
        return _WORDS[self]


_WORDS = {
    Standing.GOOD: "good: nothing found",
    Standing.FOUND: "looked at, with findings",
    Standing.PARTLY: "only partly seen",
    Standing.NOT: "not inspected",
    Standing.BEGUN: "begun, not closed",
    Standing.NONE: "not yet looked at",
}


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One group as the overview shows it."""

    group: ComponentGroup
    look: GroupLook | None
    findings: int
    has_draft: bool
    is_touched: bool = False

    @property
    def standing(self) -> Standing:
        if self.look is not None:
            return Standing(self.look.word)
        return Standing.BEGUN if self.is_touched or self.has_draft else Standing.NONE

    @property
    def is_done(self) -> bool:
        return self.look is not None


@dataclass(frozen=True)
class Overview:
    """One survey of an instrument, whole."""

    survey: Survey
    lines: list[GroupLine]
    rows: list[Finding]
    earlier: list[CurrentFinding]
    drafts: list[SurveyDraft] = field(default_factory=list)

    @cached_property
    def done(self) -> int:
        return sum(line.is_done for line in self.lines)

    @cached_property
    def findings(self) -> list[Finding]:
        """Of this survey, standing; words about earlier findings are not new ones."""
        return [row for row in self.rows if row.taken_back_at is None and row.about_id is None]

    @cached_property
    def said(self) -> dict[int, Finding]:
        """This survey's word about an earlier finding, by that finding."""
        return {row.about_id: row for row in self.rows if row.about_id and row.taken_back_at is None}

    @cached_property
    def unanswered(self) -> list[CurrentFinding]:
        """Earlier findings that this survey is silent about; hidden ones first, they are why one looks."""
        open_ones = [one for one in self.earlier if one.pk not in self.said]
        return sorted(open_ones, key=lambda one: one.confidence != Finding.Confidence.HIDDEN)

    @cached_property
    def hidden(self) -> list[CurrentFinding]:
        return [one for one in self.unanswered if one.confidence == Finding.Confidence.HIDDEN]

    @cached_property
    def go_on(self) -> GroupLine | None:
        """Where one was: the group of the newest half-done form, else the first that is not closed."""
        named = next((group_named(draft.form) for draft in self.drafts if group_named(draft.form)), "")
        by_code = {line.group.code: line for line in self.lines}
        if named in by_code:
            return by_code[named]
        return next((line for line in self.lines if not line.is_done), None)

    def beside(self, code: str, step: int) -> GroupLine | None:
        """The group before (-1) or after (+1) this one; None at the ends."""
        place = [line.group.code for line in self.lines].index(code) + step
        return self.lines[place] if 0 <= place < len(self.lines) else None


def surveys_of(instrument: Instrument) -> list[Survey]:
    return list(instrument.surveys.select_related("by").order_by("number"))


def overview(survey: Survey, *, viewer: Person) -> Overview:
    """Everything the pages of one survey show, in five queries; drafts are only those of who looks."""
    groups = list(ComponentGroup.objects.all())
    looks = {look.group_id: look for look in survey.looks.select_related("by")}
    rows = instrument_rows(survey.instrument)
    drafts = list(survey.drafts.filter(by=viewer))
    own = [row for row in rows if row.survey_id == survey.pk]
    standing = [row for row in own if row.taken_back_at is None]
    counts = Counter(row.group_id for row in standing if row.verdict != Finding.Verdict.NOT_SO)
    touched = {row.group_id for row in standing}
    drafted = {group_named(draft.form) for draft in drafts}
    return Overview(
        survey=survey,
        lines=[
            GroupLine(
                group,
                looks.get(group.pk),
                counts[group.pk],
                group.code in drafted,
                group.pk in touched,
            )
            for group in groups
        ],
        rows=own,
        earlier=earlier_findings(survey, rows),
        drafts=drafts,
    )


def instrument_rows(instrument: Instrument) -> list[Finding]:
    """Every finding of every survey, struck ones too, in the order in which they were written."""
    found = instrument.findings.select_related("kind", "group", "survey", "by", "about")
    return list(found.order_by("number"))


def earlier_findings(survey: Survey, rows: Sequence[Finding]) -> list[CurrentFinding]:
    """What stood before this survey and is worth a word: what is mended already is not asked again."""
    before = [row for row in rows if row.survey.number < survey.number and row.taken_back_at is None]
    withdrawn_here = {
        row.about_id for row in rows if row.survey_id == survey.pk and row.verdict == Finding.Verdict.NOT_SO
    }
    for row in before:
        # Withdrawn in this very survey: it is still asked, so that the word can be changed.
        if row.pk in withdrawn_here and row.state == Finding.State.WITHDRAWN:
            row.state = Finding.State.OPEN
    return [one for one in standing_of(before) if one.state != Finding.State.MENDED]


def others_typing(survey: Survey, *, besides: Person) -> list[str]:
    """Who else has a half-done form in this survey: it would go away when the survey is finished."""
    drafts = survey.drafts.exclude(by=besides).order_by("by__name")
    return list(drafts.values_list("by__name", flat=True).distinct())


def group_named(form: str) -> str:
    """The group of a half-done form: its name begins with it ("board/finding-SB2")."""
    group, slash, _ = form.partition("/")
    return group if slash else ""
