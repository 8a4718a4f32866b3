from __future__ import annotations

from decimal import Decimal
from typing import Any, cast

from django import forms
from django.db.models import Q

from shopflow.catalogue.models import Department, MaterialBand, Operation
from shopflow.catalogue.services.operations import HOURS, Hours, Ties, Words
from shopflow.common.text import TextField

from .base import LineField, SetUpForm, limit

MATERIALS = [
    ("", "not said"),
    ("M0", "M0: under 20"),
    ("M1", "M1: 20 to 100"),
    ("M2", "M2: 100 to 300"),
    ("M3", "M3: 300 to 1,000"),
    ("M4", "M4: 1,000 to 3,000"),
    ("M5", "M5: above"),
]


class OperationForm(SetUpForm):
    materials = forms.ChoiceField(
        label="Materials, in units of the shop’s money", choices=MATERIALS, required=False
    )

    class Meta:
        model = Operation
        fields = [
            "name",
            "what",
            *HOURS,
            "materials",
            "rest",
            "if_left",
            "evidence",
            "sheet",
            "at_the_owners",
            "stages",
            "outside_cost",
            "in_every_job",
            "cautions",
        ]
        field_classes = {"name": LineField} | dict.fromkeys(["what", "if_left", "evidence"], TextField)
        widgets = {
            "what": forms.Textarea(attrs={"rows": 2}),
            "if_left": forms.Textarea(attrs={"rows": 2}),
            "evidence": forms.Textarea(attrs={"rows": 2}),
            "stages": forms.CheckboxSelectMultiple,
            "cautions": forms.CheckboxSelectMultiple,
        }

    def __init__(self, *args: Any, department: Department, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in HOURS:
            limit(self.fields[name], least=Decimal("0.1"), most=1000)
        chosen = [stage.pk for stage in self.as_it_is.get("stages") or []]
        self._choice("stages").queryset = department.stages.filter(Q(retired_at=None) | Q(pk__in=chosen))
        self._choice("stages").label_from_instance = _stage_label  # type: ignore[assignment, method-assign]
        limit(self.fields["outside_cost"], least=0, most=99_999)
        bands = [(b.code, f"{b.code}: {b.low:,.0f} to {b.high:,.0f}") for b in MaterialBand.objects.all()]
        if bands:
            self.fields["materials"].choices = [MATERIALS[0], *bands]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for side in ("upright", "grand"):
            figures = [cleaned.get(f"{side}_{step}") for step in ("low", "likely", "high")]
            if None in figures and any(figure is not None for figure in figures) and not self.errors:
                self.add_error(
                    f"{side}_low", f"Give all three hours for {side}s, or none where it is not done."
                )
        return cleaned

    def _choice(self, name: str) -> forms.ModelMultipleChoiceField:
        return cast(forms.ModelMultipleChoiceField, self.fields[name])

    @property
    def words(self) -> Words:
        return Words(**{name: self.cleaned_data[name] for name in Words.__dataclass_fields__})

    @property
    def ties(self) -> Ties:
        return Ties(**{name: self.cleaned_data[name] for name in Ties.__dataclass_fields__})

    def hours(self, side: str) -> Hours:
        low, likely, high = (self.cleaned_data[f"{side}_{step}"] for step in ("low", "likely", "high"))
        return None if low is None else (low, likely, high)


def _stage_label(stage: Any) -> str:
    kind = "" if stage.name == stage.kind else f" ({stage.kind})"
    return f"{stage.name}{kind}{', retired' if stage.retired_at else ''}"
