"""What a form needs so that its tap counts once and as its person's."""

from __future__ import annotations

import secrets
from typing import Any

from django import template

from shopflow.people.models import Person
from shopflow.people.whose_tap import mark_for

register = template.Library()


@register.simple_tag
def fresh_key() -> str:
    """{% fresh_key %}: a new key for one tap, 128 random bits."""
    return secrets.token_urlsafe(16)


@register.simple_tag(takes_context=True)
def hand_mark(context: dict[str, Any]) -> str:
    """{% hand_mark %}: the signed mark of who is here on which tablet; empty when nobody is signed in."""
    request = context["request"]
    return mark_for(request) if isinstance(request.user, Person) else ""
