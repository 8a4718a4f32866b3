"""A department's mark: its two letters beside a patch of its material, like a tag on a sample."""

from __future__ import annotations

from typing import Protocol

from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from shopflow.common.materials import material, patch


class Marked(Protocol):
    """What a mark needs of a department."""

    @property
    def name(self) -> str: ...

    @property
    def mark(self) -> str: ...

    @property
    def material(self) -> str: ...


def mark_svg(letters: str, slug: str) -> SafeString:
    """The mark alone; decoration wherever the name stands beside it.

    >>> "RF" in mark_svg("RF", "walnut")
    True
    """
    made = material(slug)
    tag = (
        '<rect x=".8" y=".8" width="42.4" height="22.4" rx="2" fill="#fffdf6" '
        f'stroke="{made.colour}" stroke-width="1.6"/>'
    )
    words = (
        f'<text x="28.5" y="17.2" text-anchor="middle" font-size="15" font-weight="600" fill="#231b13">'
        f"{escape(letters[:2].upper())}</text>"
    )
    return mark_safe(
        '<svg viewBox="0 0 44 24" width="44" height="24" aria-hidden="true" focusable="false">'
        f"{tag}{patch(slug, 1.6, 1.6, 12.8, 20.8)}{words}</svg>"
    )


def mark_with_name(department: Marked, *, show_name: bool = True) -> SafeString:
    """Mark and name; without a visible name the name is still there for a reader."""
    made = material(department.material)
    shown = "mark-name" if show_name else "hush"
    return format_html(
        '<span class="mark {}">{}<span class="{}">{}</span></span>',
        made.css_class,
        mark_svg(department.mark, made.slug),
        shown,
        department.name,
    )
