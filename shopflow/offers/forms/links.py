"""What is asked when a private link is made."""

from __future__ import annotations

from typing import Any

from django import forms

from shopflow.common.forms import LineField, WholeNumberField
from shopflow.customers.services.links import MOST_DAYS, USUAL_DAYS


class LinkForm(forms.Form):
    key = forms.RegexField(r"^[A-Za-z0-9_\-]{8,64}\Z", widget=forms.HiddenInput)
    for_whom = LineField(label="For whom", max_length=80, required=False)
    days = WholeNumberField(label="Good for, days", least=1, most=MOST_DAYS, initial=USUAL_DAYS)
    mail_to = forms.EmailField(
        label="Send it by mail to",
        max_length=254,
        required=False,
        help_text="Empty: it is only shown here, for you to pass on.",
    )

    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("for_whom", "days", "key")}
