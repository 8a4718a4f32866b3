"""Tablets: a code typed once gives a device a long secret, of which only a fingerprint is kept here."""

from __future__ import annotations

import hashlib
import secrets
from datetime import timedelta

from django.db import transaction
from django.http import HttpRequest, HttpResponse

from shopflow.common import clock

from . import access
from .models import Person, Tablet, TabletCode

COOKIE = "tablet"
YEARS = 5 * 365 * 24 * 3600
_SEEN_STEP = timedelta(minutes=1)


def fingerprint(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def tablet_of(request: HttpRequest) -> Tablet | None:
    secret = request.COOKIES.get(COOKIE, "")
    if not secret:
        return None
    found = Tablet.objects.select_related("department")
    return found.filter(token_hash=fingerprint(secret), revoked_at=None).first()


def tablet_here(request: HttpRequest) -> Tablet | None:
    """The tablet that the middleware found for this request."""
    return getattr(request, "tablet", None)


def note_seen(tablet: Tablet) -> None:
    """Remember that it is alive; at most one write a minute."""
    now = clock.now()
    if tablet.seen_at is None or now - tablet.seen_at > _SEEN_STEP:
        tablet.seen_at = now
        tablet.save(update_fields=["seen_at"])


@transaction.atomic
def code_for(*, tablet: Tablet, by: Person, minutes: int = 15) -> str:
    """A new code of eight digits for this tablet; typing it on a device makes that device the tablet."""
    access.require(by, access.Deed.PEOPLE)
    tablet.enrolled_by = by
    tablet.save(update_fields=["enrolled_by"])
    return make_code(tablet=tablet, minutes=minutes)


def make_code(*, tablet: Tablet, minutes: int) -> str:
    """A code in place of any that still waits to be typed: one tablet, one open code."""
    tablet.codes.filter(used_at=None).delete()
    code = f"{secrets.randbelow(10**8):08d}"
    TabletCode.objects.create(
        tablet=tablet,
        code_hash=fingerprint(code),
        expires_at=clock.now() + timedelta(minutes=minutes),
    )
    return code


@transaction.atomic
def enrol(*, code: str) -> tuple[Tablet, str] | None:
    """The tablet that the code stands for and its new secret; None for a wrong, used or stale code."""
    found = (
        TabletCode.objects.select_related("tablet")
        .select_for_update()
        .filter(code_hash=fingerprint(code), used_at=None, expires_at__gt=clock.now())
        .first()
    )
    if found is None:
        return None
    secret = secrets.token_urlsafe(32)
    found.used_at = clock.now()
    found.save(update_fields=["used_at"])
    tablet = found.tablet
    tablet.token_hash, tablet.enrolled_at, tablet.revoked_at = fingerprint(secret), clock.now(), None
    tablet.save(update_fields=["token_hash", "enrolled_at", "revoked_at"])
    return tablet, secret


def remember(response: HttpResponse, secret: str, *, secure: bool) -> None:
    response.set_cookie(COOKIE, secret, max_age=YEARS, httponly=True, samesite="Lax", secure=secure)


@transaction.atomic
def revoke(*, tablet: Tablet, by: Person) -> None:
    """A lost tablet opens nothing any more, from this moment."""
    access.require(by, access.Deed.PEOPLE)
    tablet.token_hash, tablet.revoked_at = None, clock.now()
    tablet.save(update_fields=["token_hash", "revoked_at"])
