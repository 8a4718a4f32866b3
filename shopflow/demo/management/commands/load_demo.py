from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopflow.demo.services import SEED, NotEmpty, load_demo


class Command(BaseCommand):
    help = "Fill an empty shop with the invented Quillmere Piano Works and its last two years of work."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--seed", type=int, default=SEED, help="another seed gives another two years")

    def handle(self, *args: Any, seed: int, **options: Any) -> None:
        try:
            paper = load_demo(seed=seed, say=self.say)
        except NotEmpty as trouble:
            raise CommandError(str(trouble)) from trouble
        self.stdout.write(f"Everybody's way in stands in {paper}.")

    def say(self, words: str) -> None:
        """Said at once, for whoever watches a log: the play takes minutes."""
        self.stdout.write(f"  {words} ...")
        self.stdout.flush()
