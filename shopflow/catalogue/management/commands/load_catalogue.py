from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from shopflow.catalogue.services.trade import load_trade


class Command(BaseCommand):
    help = (
        "Give the shop the trade's usual departments, stages, operations, routes, rests and cautions. "
        "Only what is missing is added, by its code; nothing the shop has changed is touched. "
        "All hours and weeks are planning figures, to be replaced by the shop's own."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        added = load_trade()
        for kind, count in added.items():
            self.stdout.write(f"{kind}: {count} added" if count else f"{kind}: nothing was missing")
