"""One group on a tablet beside the piano: what to look for, what was found, what was read."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q, QuerySet

from shopflow.catalogue import measures
from shopflow.catalogue.models import ComponentGroup, FindingKind, Kind, ReadingKind

from ..models import Finding, Survey, SurveyDraft, SurveyReading
from .findings import CurrentFinding
from .survey import Overview


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """A kind of reading with what is usual, and what was read of it in this survey."""

    kind: ReadingKind
    unit: str
    usual: str
    taken: list[ReadingShown]


@dataclass(frozen=True, slots=True)
class ReadingShown:
    reading: SurveyReading
    words: str
    usual: bool | None
    range: str

    @property
    def verdict(self) -> str:
        """Nothing where there is no usual range, or where the value lies in it."""
        if self.reading.measured_again:
            return "beyond what is possible, measured again"
        return "outside the usual" if self.usual is False else ""


@dataclass(frozen=True, slots=True)
class GroupPage:
    group: ComponentGroup
    built: str
    kinds: list[FindingKind]
    found: list[Finding]
    struck: list[Finding]
    earlier: list[tuple[CurrentFinding, Finding | None]]
    readings: list[ReadingLine]
    drafts: list[tuple[SurveyDraft, str]]


def group_page(whole: Overview, group: ComponentGroup, *, units: str) -> GroupPage:
    """Five queries more than the overview (photos among them)."""
    survey = whole.survey
    build = survey.instrument.kind
    kinds = list(kinds_of(group, build))
    own = [row.pk for row in whole.rows if row.group_id == group.pk and row.about_id is None]
    rows = list(with_photos(Finding.objects.filter(pk__in=own)))
    earlier = [one for one in whole.earlier if one.group.pk == group.pk]
    return GroupPage(
        group=group,
        built=group.grand if build == Kind.GRAND else group.upright,
        kinds=kinds,
        found=[row for row in rows if row.taken_back_at is None],
        struck=[row for row in rows if row.taken_back_at is not None],
        earlier=[(one, whole.said.get(one.pk)) for one in earlier],
        readings=reading_lines(survey, group, units=units),
        drafts=_begun(whole.drafts, group, kinds),
    )


def kinds_of(group: ComponentGroup, build: str) -> QuerySet[FindingKind]:
    """The library's findings of this group that this build can have."""
    return group.finding_kinds.in_use().filter(Q(only_for="") | Q(only_for=build))


def with_photos(rows: QuerySet[Finding]) -> QuerySet[Finding]:
    """Photos by the name of their relation: they live above this app."""
    return rows.select_related("kind", "group", "by").prefetch_related("photos").order_by("number")


def reading_kinds(group: ComponentGroup | None, build: str) -> QuerySet[ReadingKind]:
    kinds = ReadingKind.objects.filter(group=group)
    return kinds.filter(Q(only_for="") | Q(only_for=build)).order_by("position", "code")


def reading_lines(survey: Survey, group: ComponentGroup | None, *, units: str) -> list[ReadingLine]:
    taken: dict[int, list[ReadingShown]] = {}
    kinds = list(reading_kinds(group, survey.instrument.kind))
    standing = survey.readings.filter(taken_back_at=None, kind__in=kinds).order_by("pk")
    for reading in standing.select_related("kind"):
        taken.setdefault(reading.kind_id, []).append(shown(reading, units))
    return [
        ReadingLine(kind, measures.unit_of(kind, units), measures.usual(kind, units), taken.get(kind.pk, []))
        for kind in kinds
    ]


def shown(reading: SurveyReading, units: str) -> ReadingShown:
    return ReadingShown(
        reading,
        measures.in_words(reading.kind, reading.value, units),
        measures.is_usual(reading.kind, reading.value),
        measures.usual(reading.kind, units),
    )


def _begun(
    drafts: list[SurveyDraft], group: ComponentGroup, kinds: list[FindingKind]
) -> list[tuple[SurveyDraft, str]]:
    """Half-done findings of this group, each with what it is about and where to go on."""
    names = {f"{group.code}/finding-{kind.code}": kind for kind in kinds}
    own = f"{group.code}/finding-own"
    return [
        (
            draft,
            names[draft.form].name if draft.form in names else draft.fields.get("name") or "something else",
        )
        for draft in drafts
        if draft.form in names or draft.form == own
    ]
