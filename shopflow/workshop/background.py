"""What the workshop does by the clock."""

from __future__ import annotations

from shopflow.celery import app
from shopflow.workshop.services.bringing import keeping


@app.task
def forget_files() -> int:
    """Lists that somebody looked at and never brought in hold customers' names: gone after a day."""
    return keeping.forget_old()
