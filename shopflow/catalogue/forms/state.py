"""The state of an operation, line by line in the shop's words; lines and steps themselves."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms

from shopflow.catalogue.models import KeptPart, Operation, StateLine, StepLine, WorkSort
from shopflow.common.text import TextField

from .base import SEEN, LineField, SetUpForm

State = dict[str, Any]
PARTS = [
    ("body", "body: rim or back, with board, strings and plate in place"),
    ("loose", "loose case parts: lid, legs, doors, desk, fall"),
    ("plate", "plate, also when it is out"),
    ("hardware", "hardware"),
    ("hammers", "hammers and shanks"),
    ("wippens", "wippens"),
    ("dampers", "dampers"),
    ("keys", "keys"),
    ("keyframe", "key frame"),
    ("pedals", "pedals and trapwork"),
    ("desk", "only paper: others can go on working"),
]
ASKS = ("at most", "at least", "still")
VERBS = ("opens", "spoils", "leaves", "lifts_from")
LISTS = ("covers", "serves_for", "also", "after")
KEPT_AS_IT_IS = ("by_kind", "rest_as", "halves")


@dataclass(frozen=True, slots=True)
class LineRow:
    """The fields of one line of state, side by side."""

    line: StateLine
    fields: list[forms.BoundField]

    @property
    def is_used(self) -> bool:
        return any(field.value() for field in self.fields)


class StateForm(forms.Form):
    """What one operation holds, needs, opens, leaves, spoils, keeps and renews."""

    at_upright = forms.MultipleChoiceField(
        label="In an upright it holds", choices=PARTS, required=False, widget=forms.CheckboxSelectMultiple
    )
    at_grand = forms.MultipleChoiceField(
        label="In a grand it holds", choices=PARTS, required=False, widget=forms.CheckboxSelectMultiple
    )
    rest_holds = forms.BooleanField(label="while it rests nobody else may have these parts", required=False)
    each = forms.BooleanField(
        label="it is one of several: a bridge, a panel, a family of centres", required=False
    )
    work = forms.ChoiceField(label="Sort of work")
    instead = LineField(label="One of a group, of which a job has only one", max_length=20, required=False)
    covers = forms.MultipleChoiceField(label="Makes needless", required=False)
    serves_for = forms.MultipleChoiceField(label="Answers as well as", required=False)
    also = forms.MultipleChoiceField(label="Our own wish: always together with", required=False)
    after = forms.MultipleChoiceField(label="Our own wish: comes after", required=False)
    anyway = forms.BooleanField(label="Keep it although routes change", required=False)

    def __init__(self, data: Any = None, *, operation: Operation) -> None:
        self.operation = operation
        self.lines = list(StateLine.objects.all())
        self.orders = list(StepLine.objects.all())
        self.parts = list(KeptPart.objects.all())
        super().__init__(data, initial=_initial(operation.state or {}))
        self._choices("work").choices = [(sort.code, sort.name) for sort in WorkSort.objects.all()]
        others = Operation.objects.in_use().exclude(pk=operation.pk).values_list("code", "name")
        named = set().union(*(operation.state.get(name, ()) for name in LISTS)) if operation.state else set()
        gone = Operation.objects.exclude(retired_at=None).filter(code__in=named).values_list("code", "name")
        for name in LISTS:
            self._choices(name).choices = [*others, *gone]
        self.fields |= dict(self._line_fields()) | dict(self._step_fields()) | dict(self._part_fields())

    def _choices(self, name: str) -> Any:
        return self.fields[name]

    def _line_fields(self) -> Iterable[tuple[str, forms.Field]]:
        for line in self.lines:
            said = [(level, line.said(level)) for level in line.levels]
            asked = [(f"{ask} {level}", f"{ask}: {words}") for ask in ASKS for level, words in said]
            yield f"needs.{line.code}", _select(f"{line.name}: needs", asked)
            for verb in VERBS:
                yield f"{verb}.{line.code}", _select(f"{line.name}: {verb.replace('_', ' ')}", said)

    def _step_fields(self) -> Iterable[tuple[str, forms.Field]]:
        for order in self.orders:
            yield f"step.{order.code}", _select(order.name, [(step, step) for step in order.steps])

    def _part_fields(self) -> Iterable[tuple[str, forms.Field]]:
        for part in self.parts:
            choices = [("keeps", "works on the old one"), ("renews", "throws the old one away")]
            yield f"part.{part.code}", _select(str(part), choices)

    def line_rows(self) -> list[LineRow]:
        names = ("needs", *VERBS)
        return [LineRow(line, [self[f"{name}.{line.code}"] for name in names]) for line in self.lines]

    def used_lines(self) -> list[LineRow]:
        return [row for row in self.line_rows() if row.is_used]

    def other_lines(self) -> list[LineRow]:
        return [row for row in self.line_rows() if not row.is_used]

    def step_fields(self) -> list[forms.BoundField]:
        return [self[f"step.{order.code}"] for order in self.orders]

    def part_fields(self) -> list[forms.BoundField]:
        return [self[f"part.{part.code}"] for part in self.parts]

    @property
    def fingerprint(self) -> str:
        """What the operation says now, in one short word for the page to carry."""
        said = json.dumps(self.operation.state, sort_keys=True)
        return hashlib.sha256(said.encode()).hexdigest()[:32]

    @property
    def moved_on(self) -> bool:
        """Whether someone else changed it since this page was drawn."""
        return self.is_bound and self.data.get(SEEN) != self.fingerprint

    @property
    def both_versions(self) -> list[tuple[str, str, str]]:
        """Label, what it says now and what was typed, wherever the two differ."""
        rows = []
        for name, field in self.fields.items():
            now, typed = self.get_initial_for_field(field, name), self[name].value()
            if (now or "") != (typed or "") and name != "anyway":
                rows.append((str(self[name].label), _said(field, now), _said(field, typed)))
        return rows

    @property
    def state(self) -> State:
        """What was typed, in the shape in which it is kept."""
        typed = self.cleaned_data
        old = self.operation.state or {}
        state: State = {"at": _at(typed["at_upright"], typed["at_grand"]), "work": typed["work"]}
        for verb in ("needs", *VERBS):
            state[verb] = self._by_code(f"{verb}.", typed)
        state["step"] = self._by_code("step.", typed)
        parts = self._by_code("part.", typed)
        for verb in ("keeps", "renews"):
            state[verb] = [part for part, chosen in parts.items() if chosen == verb]
        for name in (*LISTS, "instead", "each", "rest_holds"):
            state[name] = typed[name]
        kept = {name: old[name] for name in KEPT_AS_IT_IS if name in old}
        return {name: given for name, given in state.items() if given} | kept

    def _by_code(self, prefix: str, typed: State) -> dict[str, str]:
        return {
            name.removeprefix(prefix): chosen
            for name, chosen in typed.items()
            if name.startswith(prefix) and chosen
        }


class LineForm(SetUpForm):
    """A line of state: its name, and its levels each with the words in which they are said."""

    levels = TextField(
        label="Levels from least to most, one a line: level = how it is said",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 7}),
    )

    class Meta:
        model = StateLine
        fields = ["name", "found", "goal"]
        field_classes = dict.fromkeys(fields, LineField)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        line: StateLine = kwargs["instance"]
        rows = [f"{level} = {line.said(level)}" for level in line.levels]
        kwargs["initial"] = {"levels": "\n".join(rows)}
        super().__init__(*args, **kwargs)

    def clean_levels(self) -> list[tuple[str, str]]:
        rows = [row.partition("=") for row in self.cleaned_data["levels"].splitlines() if row.strip()]
        levels = [(level.strip(), said.strip()) for level, _, said in rows]
        if any(not level or not said or len(level) > 20 or len(said) > 60 for level, said in levels):
            raise forms.ValidationError(
                "Write each level as: level = how it is said. At most 20 and 60 letters. Nothing was saved."
            )
        if len(levels) > 12:
            raise forms.ValidationError(f"At most 12 levels, you typed {len(levels)}.")
        return levels


class StepsForm(SetUpForm):
    steps = TextField(
        label="Steps, the first one first, one a line",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 12}),
    )

    class Meta:
        model = StepLine
        fields = ["name"]
        field_classes = {"name": LineField}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"steps": "\n".join(kwargs["instance"].steps)}
        super().__init__(*args, **kwargs)

    def clean_steps(self) -> list[str]:
        steps = [row.strip() for row in self.cleaned_data["steps"].splitlines() if row.strip()]
        if len(steps) > 30 or any(len(step) > 30 for step in steps):
            raise forms.ValidationError("At most 30 steps of at most 30 letters each. Nothing was saved.")
        return steps


def _select(label: str, choices: list[tuple[str, str]]) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[("", "–"), *choices], required=False)


def _initial(state: State) -> dict[str, Any]:
    at = state.get("at", [])
    by_kind = at if isinstance(at, dict) else {"upright": at, "grand": at}
    initial: dict[str, Any] = {f"at_{kind}": by_kind.get(kind, []) for kind in ("upright", "grand")}
    for verb in ("needs", *VERBS, "step"):
        initial |= {f"{verb}.{code}": given for code, given in state.get(verb, {}).items()}
    for verb in ("keeps", "renews"):
        initial |= {f"part.{code}": verb for code in state.get(verb, ())}
    initial |= {name: state.get(name, []) for name in LISTS}
    initial |= {name: bool(state.get(name)) for name in ("each", "rest_holds")}
    return initial | {"instead": state.get("instead", ""), "work": state.get("work", "repair")}


def _at(upright: list[str], grand: list[str]) -> Any:
    return upright if upright == grand else {"upright": upright, "grand": grand}


def _said(field: Any, value: Any) -> str:
    if isinstance(field, forms.BooleanField):
        return "yes" if value else "no"
    labels = dict(getattr(field, "choices", ()))
    chosen = value if isinstance(value, list | tuple) else [value]
    return ", ".join(str(labels.get(one, one)) for one in chosen if one) or "nothing"
