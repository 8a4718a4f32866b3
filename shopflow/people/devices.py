"""Which device a request comes from, for counting tries and for the log."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.http import HttpRequest

from .tablets import tablet_here


@dataclass(frozen=True, slots=True)
class Device:
    code: str
    is_tablet: bool

    def __str__(self) -> str:
        return self.code


def device_of(request: HttpRequest) -> Device:
    tablet = tablet_here(request)
    if tablet:
        return Device(f"tablet:{tablet.pk}", is_tablet=True)
    return Device(f"address:{_address(request)}"[:80], is_tablet=False)


def _address(request: HttpRequest) -> str:
    """Behind our own proxy the last entry is the one it wrote itself; what stands before may be invented."""
    forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "") if settings.HTTPS else ""
    return forwarded.rpartition(",")[2].strip() or request.META.get("REMOTE_ADDR", "")
