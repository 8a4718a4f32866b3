#!/usr/bin/env python3
"""The shop's one command: `python3 manage.py up` runs everything, `python3 manage.py test` proves it."""

import os
import sys

OLDEST = (3, 11)


def main() -> None:
    """Refuse an old Python in plain words, step into the shop's own environment, do what was asked."""
    # Only what any Python 3 understands may stand in this file, or an old one dies before it can say why.
    if sys.version_info < OLDEST:
        sys.exit("Python 3.11 or newer is needed; this is Python %d.%d." % sys.version_info[:2])  # noqa: UP031
    from shopflow.common import bootstrap

    bootstrap.enter_environment()
    if sys.argv[1:2] == ["test"]:
        bootstrap.run_tests(sys.argv[2:])
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
