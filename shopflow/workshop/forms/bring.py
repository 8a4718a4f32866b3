"""The file that somebody brings."""

from __future__ import annotations

from typing import Any

from django import forms

from shopflow.workshop.services.bringing.reading import MOST_BYTES


class BringForm(forms.Form):
    file = forms.FileField(
        label="The file",
        help_text=(
            "CSV as any spreadsheet writes it, or the first sheet of an .xlsx workbook; "
            "at most 5 MB and 20,000 rows"
        ),
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
        error_messages={
            "required": "Choose a file first.",
            "empty": "This file is empty.",
            "missing": "Choose a file first.",
        },
        max_length=None,
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            allowed = MOST_BYTES / 1e6
            raise forms.ValidationError(
                f"This file has {file.size / 1e6:.1f} MB; allowed are {allowed:.0f} MB.", code="too-large"
            )
        return file
