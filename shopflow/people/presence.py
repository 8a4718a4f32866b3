"""A person's presence on a device: it opens with a PIN or a password and ends by itself.

Every sign-in gets a new key. It ends twelve hours later whatever happens. On a shop tablet it ends also
fifteen minutes after the last thing a person did there, and at once when the tablet is another.
"""

from __future__ import annotations

from datetime import timedelta

from django.contrib.auth import SESSION_KEY, login, logout, update_session_auth_hash
from django.contrib.sessions.models import Session
from django.http import HttpRequest

from shopflow.common import clock

from . import held
from .models import Person
from .tablets import tablet_here

LONGEST = timedelta(hours=12)
IDLE_ON_A_TABLET = timedelta(minutes=15)
# Writing "still here" at every tap would cost a write each; the idle limit may be a minute off.
_SEEN_STEP = timedelta(minutes=1)

BY_PIN, TABLET, OPENED, SEEN = "by_pin", "tablet", "opened", "seen"
POLL = "X-Poll"


def begin(request: HttpRequest, person: Person, *, by_pin: bool) -> None:
    """Sign this person in under a key that nobody has seen before; whoever was here is gone."""
    kept = held.any_in(request)
    request.session.flush()
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    now = clock.now().timestamp()
    tablet = tablet_here(request)
    request.session.update({BY_PIN: by_pin, TABLET: tablet.pk if tablet else None, OPENED: now, SEEN: now})
    held.carry(kept, request)
    person.by_pin = by_pin


def end(request: HttpRequest) -> None:
    logout(request)


def end_everywhere(person: Person, *, but: str | None = None) -> None:
    """End every presence of this person now, on all devices (except the one with the key `but`)."""
    for row in Session.objects.filter(expire_date__gt=clock.now()).exclude(session_key=but):
        if row.get_decoded().get(SESSION_KEY) == str(person.pk):
            row.delete()


def only_here(request: HttpRequest, person: Person) -> None:
    """After a person changed a key of its own: this presence goes on under a new one, all others end."""
    update_session_auth_hash(request, person)
    end_everywhere(person, but=request.session.session_key)


def goes_on(request: HttpRequest) -> bool:
    """Asked once for each request of a signed-in person: False when the time is over."""
    if _is_over(request):
        return False
    if not _asked_by_itself(request):
        _still_here(request)
    return True


def _asked_by_itself(request: HttpRequest) -> bool:
    """A page that keeps itself fresh is not a person: marked polls, and streams, which cannot be marked."""
    return bool(request.headers.get(POLL)) or "text/event-stream" in request.headers.get("Accept", "")


def _is_over(request: HttpRequest) -> bool:
    tablet = tablet_here(request)
    opened_on = request.session.get(TABLET)
    if _older(request, OPENED, LONGEST):
        return True
    if opened_on is None:
        return bool(request.session.get(BY_PIN))
    return tablet is None or tablet.pk != opened_on or _older(request, SEEN, IDLE_ON_A_TABLET)


def _still_here(request: HttpRequest) -> None:
    if request.session.get(TABLET) is not None and _older(request, SEEN, _SEEN_STEP):
        request.session[SEEN] = clock.now().timestamp()


def _older(request: HttpRequest, key: str, age: timedelta) -> bool:
    # Only `begin` opens a presence, and it always writes these; what lacks them ends by its cookie's age.
    then = request.session.get(key)
    return then is not None and clock.now().timestamp() - then > age.total_seconds()
