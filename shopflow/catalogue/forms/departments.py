from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shopflow.catalogue.models import Department, Stage
from shopflow.common.materials import MATERIALS

from .base import LineField, SetUpForm, limit

_TWO_LETTERS = re.compile(r"[^\W\d_]{2}")


class DepartmentForm(SetUpForm):
    mark = forms.CharField(
        label="Mark",
        max_length=2,
        help_text="two letters by which it is told from afar, like RF",
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
    )
    material = forms.ChoiceField(
        choices=[(slug, slug) for slug in MATERIALS],
        help_text="its pattern and colour on every page; name and mark say the same",
    )

    class Meta:
        model = Department
        fields = ["name", "mark", "material", "rate"]
        field_classes = {"name": LineField}
        help_texts = {"rate": "wages and what goes with them, for one hands-on hour; no customer sees it"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        limit(self.fields["rate"], least=0, most=99_999)

    def clean_mark(self) -> str:
        mark = self.cleaned_data["mark"]
        if not _TWO_LETTERS.fullmatch(mark):
            raise ValidationError(f"“{mark}” is not a mark: two letters, without digits or signs.")
        return mark.upper()


class StageForm(SetUpForm):
    class Meta:
        model = Stage
        fields = ["name", "kind", "needs_photo", "needs_reading", "needs_second_eyes", "cautions"]
        field_classes = {"name": LineField}
        help_texts = {
            "needs_reading": "asked only of operations that have a bench sheet",
            "cautions": "shown while a task stands here, besides those of its operation",
        }
        widgets = {"cautions": forms.CheckboxSelectMultiple}


class NewStageForm(StageForm):
    for_all = forms.BooleanField(
        label="every operation of this department passes it",
        required=False,
        help_text="or choose it operation by operation later",
    )
