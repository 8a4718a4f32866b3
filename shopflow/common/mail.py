"""Letters by mail, and what a shop without a mail server does instead: one line each, and the plain truth.

Nothing that was not handed to a mail server is ever called sent.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from enum import StrEnum
from smtplib import SMTPException

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

log = logging.getLogger(__name__)

NO_SERVER = "shopflow.common.mail.OneLineEach"
NAME_ONE = "Whoever runs the shop's computer can name a mail server: SHOPFLOW_EMAIL_HOST, see DEVELOPERS.md."


class Went(StrEnum):
    """What became of a letter."""

    OUT = "out"
    NOWHERE = "nowhere"
    REFUSED = "refused"

    def __bool__(self) -> bool:
        return self is Went.OUT


class OneLineEach(BaseEmailBackend):
    """Stands in where no mail server is named: tells who would have got what, and no word of it."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        for message in email_messages:
            log.info("not mailed, no mail server is named: %s", in_one_line(message))
        return 0


def goes_out() -> bool:
    """Whether a mail server is named at all."""
    return bool(settings.EMAIL_BACKEND != NO_SERVER)


def send(message: EmailMessage) -> Went:
    """Hand a letter to the mail server. A server that is away is noted here and undoes nothing elsewhere."""
    try:
        handed_over = message.send()
    except (OSError, SMTPException):
        # A letter may hold a secret: its words stay out of the log.
        log.exception("a letter could not be mailed: %s", in_one_line(message))
        return Went.REFUSED
    if not goes_out():
        return Went.NOWHERE
    return Went.OUT if handed_over else Went.REFUSED


def in_one_line(message: EmailMessage) -> str:
    """
    >>> letter = EmailMessage(subject="Our offer", body="secret", to=["agnes@quillmere.example"])
    >>> letter.attach("offer-311-1.pdf", b"...", "application/pdf")
    >>> in_one_line(letter)
    'to agnes@quillmere.example, “Our offer”, with offer-311-1.pdf'
    """
    names = [name for name in map(_name_of, message.attachments) if name]
    parts = [f"to {', '.join(message.recipients())}", f"“{message.subject}”"]
    parts += [f"with {', '.join(names)}"] if names else []
    return " ".join(", ".join(parts).split())


def what_to_do(went: Went | None, to: str) -> str:
    """For whoever made a link: what became of the letter with it (None: none was wanted), what to do now."""
    if went is Went.OUT:
        return f"It went by mail to {to}."
    if went is Went.NOWHERE:
        return f"Nothing was mailed: no mail server is named. Give the link to {to} yourself. {NAME_ONE}"
    if went is Went.REFUSED:
        return f"The mail to {to} did not go out. The link is good all the same: give it to them yourself."
    return "Nothing was mailed, as you wished: give the link to the customer yourself."


def nobody_got(what: str) -> str:
    """A line for the page of something that both sides get a paper of; empty where mail goes out."""
    if goes_out():
        return ""
    return f"No mail server is named, so {what} was mailed to nobody: give the customer the paper. {NAME_ONE}"


def _name_of(attachment: object) -> str:
    """Attachments are triples, or parts of a message made elsewhere."""
    if isinstance(attachment, tuple):
        return str(attachment[0] or "")
    named = getattr(attachment, "get_filename", None)
    return str(named() or "") if named else ""
