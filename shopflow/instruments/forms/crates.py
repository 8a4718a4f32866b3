"""The forms behind each tap at a crate: few fields, large ones, and nothing that has to be typed twice."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, ClassVar, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import Http404

from shopflow.catalogue.models import Department
from shopflow.common.forms import LineField, OneOf, WholeNumberField
from shopflow.people.models import Person

from ..models import CrateLine
from ..models.crates import BIGGEST_NUMBER, MOST_PARTS
from ..services.crates import Part

_ONE_PART = re.compile(r"(?:([0-9]{1,4})\s*[x×]?\s+)?(.+)", re.ASCII)
MOST_LINES = 40


def _departments() -> Any:
    return Department.objects.in_use()


class DepartmentField(forms.ModelChoiceField):
    def __init__(self, *, label: str) -> None:
        super().__init__(
            Department.objects.none(),
            label=label,
            required=False,
            empty_label="none",
            widget=forms.RadioSelect,
        )

    def label_from_instance(self, obj: Any) -> str:
        return str(obj.name)


class WhereForm(forms.Form):
    """A place, a department, or both."""

    place = LineField(
        label="Place", max_length=60, required=False, widget=forms.TextInput({"list": "places"})
    )
    department = DepartmentField(label="Department")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast("forms.ModelChoiceField[Any]", self.fields["department"]).queryset = _departments()


class PartsField(LineField):
    """Parts as one says them, one kind a line: “2 lid hinges”."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.Textarea(attrs={"rows": 5, "placeholder": "2 lid hinges"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        lines = [super(PartsField, self).to_python(line) for line in str(value or "").splitlines()]
        lines = [line for line in lines if line]
        if len(lines) > MOST_LINES:
            raise ValidationError(f"Got {len(lines)} lines; allowed are {MOST_LINES}.")
        return [_part_of(line) for line in lines]

    def validate(self, value: Any) -> None:
        """Each line was looked at already."""

    def run_validators(self, value: Any) -> None:
        """They are meant for one text."""


def _part_of(line: str) -> Part:
    found = _ONE_PART.fullmatch(line)
    count, name = (found[1], found[2]) if found else (None, line)
    if len(name) > 60:
        raise ValidationError(f"“{name[:30]}…” has {len(name)} letters; allowed are 60.")
    if count is not None and not 1 <= int(count) <= MOST_PARTS:
        raise ValidationError(f"Got {count} × “{name[:30]}”; allowed is 1 to {MOST_PARTS}.")
    return Part(name=name, count=int(count or 1))


class MakeForm(WhereForm):
    """A crate and, one kind a line, what goes into it."""

    set_name = LineField(
        label="What kind of parts",
        max_length=40,
        help_text="crates of the same kind are counted: 1 of 3",
        widget=forms.TextInput({"list": "sets", "autocomplete": "off"}),
    )
    parts = PartsField(
        label="What is in it", required=False, help_text="one kind a line, its count first: 2 lid hinges"
    )
    number = WholeNumberField(
        label="Number of the tag",
        least=1,
        most=BIGGEST_NUMBER,
        required=False,
        help_text="empty: the next free one",
    )
    field_order = ["set_name", "parts", "department", "place", "number"]


class PackForm(forms.Form):
    name = LineField(label="Part", max_length=60, widget=forms.TextInput({"list": "part-names"}))
    count = WholeNumberField(label="How many", least=1, most=MOST_PARTS, initial=1)
    note = LineField(label="Note", max_length=200, required=False)

    @property
    def part(self) -> Part:
        return Part(**{name: self.cleaned_data[name] for name in ("name", "count", "note")})


class SeenForm(forms.Form):
    """Carries the last counting that the page showed."""

    seen = WholeNumberField(least=0, most=10**11, widget=forms.HiddenInput)


class CountForm(SeenForm):
    """A number for each kind of part. A number for a part that is not of this crate is a page not found."""

    def __init__(self, *args: Any, lines: Sequence[CrateLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = list(lines)
        for line in self.lines:
            self.fields[f"line-{line.pk}"] = self._number(line)
        self._refuse_strange_parts()

    every = True

    def _number(self, line: CrateLine) -> forms.Field:
        return WholeNumberField(label=line.name, least=0, most=MOST_PARTS, required=self.every)

    def _refuse_strange_parts(self) -> None:
        known = CrateLine.objects.filter(crate__in={line.crate_id for line in self.lines})
        sent = {name.removeprefix("line-") for name in self.data if name.startswith("line-")}
        strange = sent - {str(line.pk) for line in self.lines}
        # Parts of these crates that stopped being countable meanwhile are no strangers.
        if strange - {str(pk) for pk in known.values_list("pk", flat=True)}:
            raise Http404("There is no such part here.")

    @property
    def counts(self) -> dict[int, int]:
        said = {line.pk: self.cleaned_data.get(f"line-{line.pk}") for line in self.lines}
        return {pk: count for pk, count in said.items() if count is not None}

    @property
    def numbers(self) -> list[tuple[CrateLine, forms.BoundField, int]]:
        """Each kind of part with its field and the most there can be."""
        return [(line, self[f"line-{line.pk}"], self.most(line)) for line in self.lines]

    def most(self, line: CrateLine) -> int:
        return line.count - line.away


class SignedForm(CountForm):
    """Two names: the one who taps, and one more of the house or from outside."""

    one_of: ClassVar[OneOf] = (("second", "second_outside"),)
    second = forms.ModelChoiceField(
        label="Counted with",
        queryset=Person.objects.none(),
        required=False,
        empty_label="someone outside, named below",
    )
    second_outside = LineField(label="Name of someone outside", max_length=80, required=False)

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = Person.objects.working().exclude(pk=by.pk)
        cast("forms.ModelChoiceField[Person]", self.fields["second"]).queryset = others

    @property
    def names(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("second", "second_outside")}


class OutForm(SignedForm):
    every = False
    to = LineField(label="Goes to", max_length=60, widget=forms.TextInput({"list": "outside"}))

    def most(self, line: CrateLine) -> int:
        return line.here


class InForm(SignedForm):
    rest_follows = forms.BooleanField(label="What is not back is still there and follows", required=False)

    def most(self, line: CrateLine) -> int:
        return line.gone


class OverForm(CountForm):
    reason = LineField(label="Note", max_length=300, required=False)


class RightForm(forms.Form):
    count = WholeNumberField(label="Really belong here", least=0, most=MOST_PARTS)
    reason = LineField(label="Why the number was another one", max_length=300)


class FindForm(forms.Form):
    """What a hand types, or a scanner: the number of a crate or the address on its tag."""

    number = LineField(label="Number on the tag", max_length=200)
