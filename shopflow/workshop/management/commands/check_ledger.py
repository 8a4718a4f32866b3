from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopflow.instruments.services.crates import differences as crate_differences
from shopflow.workshop.services.moves import projection_differences
from shopflow.workshop.services.passages import passage_differences


class Command(BaseCommand):
    help = "Rebuild tasks, instruments' dates and crates from their ledgers and name each difference."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--mend", action="store_true", help="set what differs to what the ledger says")

    def handle(self, *args: Any, mend: bool, **options: Any) -> None:
        wrong = projection_differences(mend=mend) + passage_differences(mend=mend)
        wrong += crate_differences(mend=mend)
        for line in wrong:
            self.stdout.write(line)
        if wrong and not mend:
            raise CommandError(f"{len(wrong)} differences between ledger and projection.")
        self.stdout.write(f"{len(wrong)} differences mended." if wrong else "Ledger and projection agree.")
