"""Letters to customers by mail: plain words, with the paper where there is one.

They are sent while the sender looks on and not by a job: a job would have to keep the secret of the link.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from pathlib import Path
from smtplib import SMTPException

from django.core.mail import EmailMessage

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Letter:
    to: str
    subject: str
    body: str
    paper: Path | None = None
    paper_name: str = ""


def send(letter: Letter) -> bool:
    """Whether it went out. A mail server that is away is told to the sender, and undoes nothing."""
    message = EmailMessage(subject=letter.subject, body=letter.body, to=[letter.to])
    if letter.paper is not None:
        message.attach(letter.paper_name, letter.paper.read_bytes(), "application/pdf")
    try:
        message.send()
    except (OSError, SMTPException):
        # The letter holds a secret: its words stay out of the log.
        log.exception("a letter (“%s”) could not be mailed", letter.subject)
        return False
    return True
