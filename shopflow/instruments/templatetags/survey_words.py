"""Small answers that the pages of a survey need."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from django import template
from django.forms import Form

register = template.Library()


@register.simple_tag
def fresh_batch() -> str:
    """{% fresh_batch %}: with it a photo sent twice is one photo."""
    return str(uuid.uuid4())


@register.filter
def at(rows: Mapping[str, Any] | None, key: str) -> Any:
    """What stands under this key, else nothing."""
    return (rows or {}).get(key, {})


@register.filter
def draft_kind(form: str) -> str:
    """The kind of finding that a half-done form is about.

    >>> draft_kind("board/finding-SB2")
    'SB2'
    """
    return form.rpartition("/finding-")[2]


@register.filter
def is_for(form: Any, code: str) -> bool:
    """Whether this form, sent back, was that of this kind of reading."""
    return isinstance(form, Form) and form.data.get("kind") == code
