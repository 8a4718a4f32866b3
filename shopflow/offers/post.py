"""Letters to customers by mail: plain words, with the paper where there is one.

They are sent while the sender looks on and not by a job: a job would have to keep the secret of the link.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from django.core.mail import EmailMessage

from shopflow.common import mail
from shopflow.common.mail import Went


@dataclass(frozen=True, slots=True)
class Letter:
    to: str
    subject: str
    body: str
    paper: Path | None = None
    paper_name: str = ""


def send(letter: Letter) -> Went:
    """What became of it. A mail server that is away or not named undoes nothing; the sender is told."""
    message = EmailMessage(subject=letter.subject, body=letter.body, to=[letter.to])
    if letter.paper is not None:
        message.attach(letter.paper_name, letter.paper.read_bytes(), "application/pdf")
    return mail.send(message)
