from __future__ import annotations

from functools import cache
from zoneinfo import available_timezones

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from shopflow.catalogue.models import Shop
from shopflow.common.text import TextField

from .base import LineField, SetUpForm

_NOT_A_PLACE = ("Etc/", "SystemV/", "posix/", "right/")


@cache
def time_zones() -> list[tuple[str, str]]:
    """The zones that name a place, and UTC, as the list of the IANA knows them."""
    names = (name for name in available_timezones() if "/" in name and not name.startswith(_NOT_A_PLACE))
    return [(name, name.replace("_", " ")) for name in ["UTC", *sorted(names)]]


class ShopForm(SetUpForm):
    time_zone = forms.ChoiceField(
        choices=time_zones, help_text="weeks, days and the clock on every page follow it"
    )

    class Meta:
        model = Shop
        fields = ["name", "town", "address", "time_zone", "units", "hands_on_share", "report_readers"]
        field_classes = {"name": LineField, "town": LineField, "address": TextField}
        help_texts = {"units": "bench sheets take both, and keep what was typed with its unit"}
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "report_readers": forms.Textarea(attrs={"rows": 3}),
        }

    def clean_report_readers(self) -> str:
        """One address a line; each must look like one."""
        readers = [line.strip() for line in self.cleaned_data["report_readers"].splitlines() if line.strip()]
        for reader in readers:
            try:
                validate_email(reader)
            except ValidationError:
                raise ValidationError(f"“{reader}” is not an e-mail address; write one a line.") from None
        return "\n".join(dict.fromkeys(readers))
