"""PINs: six digits for a shared tablet. They open nothing elsewhere, and the obvious ones are not taken.

There are only a million PINs, so no hash alone can keep them. Each is first keyed with the shop's secret key,
which is not in the database: a stolen copy of the database says nothing about any PIN.
"""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.utils.crypto import salted_hmac

LENGTH = 6
_PURPOSE = "shopflow.people.pins"
_RUN = "0123456789" * 2
# Paths of a finger over the keypad that everybody thinks of first (from memory, no source).
_PATHS = frozenset(
    {"147258", "258369", "147369", "159357", "357159", "159753", "142536", "789456", "456123", "123654"}
)


class PinRefused(ValueError):
    """This PIN may not be chosen; the text says why."""


class _KeyedArgon2(Argon2PasswordHasher):
    """Argon2id with the lesser memory that is enough under a key, so that a tablet opens without a wait."""

    algorithm = "argon2pin"
    time_cost, memory_cost, parallelism = 2, 19_456, 1


_hasher = _KeyedArgon2()


def check_choice(pin: str) -> None:
    """Refuse what is not six digits, and what a colleague would try first.

    >>> check_choice("407915")
    >>> check_choice("123456")
    Traceback (most recent call last):
    shopflow.people.pins.PinRefused: 123456 is easy to guess (a run of digits). Choose another.
    """
    if not is_six_digits(pin):
        raise PinRefused("A PIN is six digits, 0 to 9.")
    reason = _why_easy(pin)
    if reason:
        raise PinRefused(f"{pin} is easy to guess ({reason}). Choose another.")


def is_six_digits(pin: str) -> bool:
    return len(pin) == LENGTH and pin.isascii() and pin.isdecimal()


def _why_easy(pin: str) -> str:
    if len(set(pin)) <= 2:
        return "only one or two different digits"
    if pin in _RUN or pin[::-1] in _RUN:
        return "a run of digits"
    if pin[:3] == pin[3:] or pin[:2] * 3 == pin:
        return "it repeats itself"
    if pin == pin[::-1] or (pin[::2] == pin[1::2] and pin[::2] in _RUN):
        return "it mirrors or doubles itself"
    if pin in _PATHS:
        return "a straight path over the keys"
    if any(1930 <= int(part) <= 2029 for part in (pin[:4], pin[2:])):
        return "it holds a year"
    return ""


def make(pin: str) -> str:
    """What is kept of a PIN."""
    return str(_hasher.encode(_keyed(pin, settings.SECRET_KEY), _hasher.salt()))


def matches(pin: str, kept: str, *, renew: Callable[[str], None] | None = None) -> bool:
    """Whether this is the PIN. `renew` gets a fresh hash when the PIN was kept under an older secret key."""
    if not kept or not is_six_digits(pin):
        return False
    if _hasher.verify(_keyed(pin, settings.SECRET_KEY), kept):
        return True
    if not any(_hasher.verify(_keyed(pin, old), kept) for old in settings.SECRET_KEY_FALLBACKS):
        return False
    if renew:
        renew(make(pin))
    return True


def _keyed(pin: str, secret: str) -> str:
    return salted_hmac(_PURPOSE, pin, secret=secret, algorithm="sha256").hexdigest()
