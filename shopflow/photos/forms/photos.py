"""What is said about photos when they are sent, and afterwards."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.conf import settings

from shopflow.common.forms import LineField
from shopflow.people import edits

from ..models import Photo
from ..services import facts_of

CAPTION = "the same words before and after put two photos side by side"


class BatchForm(forms.Form):
    """Beside the files. The batch makes a re-sent form the same photos, not more of them."""

    batch = forms.UUIDField(widget=forms.HiddenInput)

    @property
    def most_bytes(self) -> int:
        """The largest file that is taken: a tablet need not keep a larger one."""
        return int(settings.PHOTO_MAX_BYTES)


class SendForm(BatchForm):
    """What the photos show."""

    role = forms.ChoiceField(label="Taken", choices=Photo.Role.choices, widget=forms.RadioSelect)
    caption = LineField(label="What it shows", max_length=200, required=False, help_text=CAPTION)

    @classmethod
    def fresh(cls) -> SendForm:
        return cls(initial={"role": Photo.Role.DURING, "batch": uuid.uuid4()})


class FindingPhotoForm(BatchForm):
    """Beside the photos of a finding; what they show is the finding itself where nothing else is said."""

    caption = LineField(label="What it shows", max_length=200, required=False)

    @classmethod
    def fresh(cls, caption: str = "") -> FindingPhotoForm:
        return cls(initial={"batch": uuid.uuid4(), "caption": caption})


class PhotoForm(forms.Form):
    role = forms.ChoiceField(label="Taken", choices=Photo.Role.choices, widget=forms.RadioSelect)
    caption = LineField(label="What it shows", max_length=200, required=False, help_text=CAPTION)
    seen = forms.CharField(max_length=40, widget=forms.HiddenInput)

    @classmethod
    def showing(cls, photo: Photo) -> PhotoForm:
        return cls(initial=facts_of(photo) | {"seen": edits.mark_of(facts_of(photo))})

    def overtaken_by(self, photo: Photo) -> PhotoForm:
        """The same words once more, knowing now what someone else saved meanwhile."""
        data: Any = self.data.copy()  # type: ignore[attr-defined]
        data["seen"] = edits.mark_of(facts_of(photo))
        return PhotoForm(data)
