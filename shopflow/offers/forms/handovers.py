"""What is typed of a handover report, and the verdicts of its final check."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from shopflow.common.forms import LineField, NoteField, WholeNumberField
from shopflow.common.text import clean, on_one_line
from shopflow.offers.models import Handover
from shopflow.offers.services.handovers import TEXTS

STATES = {"yes": "yes", "no": "no", "none": "does not apply"}
LONGEST_NOTE = 200


class ReportForm(forms.Form):
    words = NoteField(
        label="To the customer",
        max_length=2000,
        required=False,
        rows=4,
        help_text="a few words of your own at the head of the report",
    )
    materials = NoteField(
        label="For the next technician",
        max_length=2000,
        required=False,
        rows=4,
        help_text="finish, string scale, pin size, hammers: what one wants to know in ten years",
    )
    old_parts = NoteField(
        label="Old parts",
        max_length=500,
        required=False,
        rows=2,
        help_text="which were given back, which stayed with the shop",
    )
    care = NoteField(
        label="Care, in your own words",
        max_length=3000,
        required=False,
        rows=5,
        help_text="what follows from the work (air, new strings, new finish) is in the report already",
    )
    tunings = NoteField(
        label="Tuning visits, in your own words",
        max_length=500,
        required=False,
        rows=3,
        help_text="visits that are laid out as tasks are in the report already",
    )
    warranty = NoteField(label="Warranty, in the shop's words", max_length=2000, required=False, rows=4)
    edition = WholeNumberField(least=1, most=2_000_000_000, widget=forms.HiddenInput)

    @classmethod
    def showing(cls, handover: Handover) -> ReportForm:
        return cls(initial={name: getattr(handover, name) for name in (*TEXTS, "edition")})

    @property
    def texts(self) -> dict[str, str]:
        return {name: self.cleaned_data[name] for name in TEXTS}


class ReceiveForm(forms.Form):
    """Who took the piano and its report over, of the report that was looked at."""

    received_by = LineField(label="Who takes it over", max_length=80)
    seen = forms.RegexField(r"\A[0-9a-f]{64}\Z", widget=forms.HiddenInput)


def verdicts_in(posted: Mapping[str, Any], checks: list[dict[str, str]]) -> dict[str, dict[str, str]]:
    """What was ticked of each line of the check list; whatever is no verdict of ours counts as none given."""
    said = {}
    for line in checks:
        state = str(posted.get(f"state-{line['code']}", ""))
        note = on_one_line(clean(str(posted.get(f"note-{line['code']}", ""))))
        said[line["code"]] = {"state": state if state in STATES else "", "note": note[:LONGEST_NOTE]}
    return said
