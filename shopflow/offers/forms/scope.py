"""What the estimator moves: the budget, and for each finding what the customer wants."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django import forms

from shopflow.common.forms import LineField
from shopflow.offers.selectors.scope import Weighing, Wishes
from shopflow.offers.selectors.scope.weighing import Weighed

from .money import MoneyField

WISH = "wish-"


class ScopeForm(forms.Form):
    """A budget and a wish for each finding that can be mended; read from an address or from a form."""

    budget = MoneyField(label="Budget")
    name = LineField(label="Name of this scope", max_length=80, required=False)

    def __init__(
        self, data: Mapping[str, Any] | None, *, weighing: Weighing, initial: Mapping[str, Any]
    ) -> None:
        super().__init__(data, initial=dict(initial))
        self.weighing = weighing
        for one in weighing.mendable:
            self.fields[f"{WISH}{one.pk}"] = forms.ChoiceField(
                label=f"{one.found.number}. {one.found.name}", choices=_wishes_for(one), required=False
            )

    @property
    def wishes(self) -> Wishes:
        """What was chosen for each finding; only what this form knows."""
        said = {one.pk: self._said(one) for one in self.weighing.mendable}
        insist = [
            str(pk) if wish == "must" else f"{pk}:{wish}" for pk, wish in said.items() if _insists(wish)
        ]
        return Wishes(tuple(insist), tuple(str(pk) for pk, wish in said.items() if wish == "leave"))

    def rows(self) -> Iterator[tuple[str, list[tuple[Weighed, forms.BoundField]]]]:
        """The wishes by component group, in the order of a survey."""
        groups: dict[tuple[int, str], list[tuple[Weighed, forms.BoundField]]] = {}
        for one in self.weighing.mendable:
            key = (one.found.group.position, one.found.group.name)
            groups.setdefault(key, []).append((one, self[f"{WISH}{one.pk}"]))
        for (_, name), rows in sorted(groups.items(), key=lambda item: item[0]):
            yield name, rows

    def _said(self, one: Weighed) -> str:
        name = f"{WISH}{one.pk}"
        if self.is_bound:
            return str(self.cleaned_data.get(name, ""))
        return str(self.get_initial_for_field(self.fields[name], name) or "")


def initial_of(wishes: Wishes, weighing: Weighing) -> dict[str, str]:
    """Wishes as the form shows them."""
    return {f"{WISH}{one.pk}": wishes.of(one) for one in weighing.mendable}


def _insists(wish: str) -> bool:
    return wish == "must" or wish.isdecimal()


def _wishes_for(one: Weighed) -> list[tuple[str, str]]:
    remedies = [(str(remedy.pk), f"by: {remedy.name}") for remedy in one.remedies]
    free = ("", "for safety; how is ours to choose" if one.is_required else "ours to choose")
    return [free, ("must", "must be done"), *remedies, ("leave", "leave it")]
