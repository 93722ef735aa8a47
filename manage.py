#!/usr/bin/env python3
"""The one entry point: makes its own .venv on first use, then hands over to Django's commands."""

import os
import sys
from pathlib import Path

from labsite import bootstrap

SETTINGS = {"test": "tests.settings"}


def main():
    """Run one command; a fault of the set-up is one sentence and exit code 1."""
    bootstrap.prepare(sys.argv)
    command = sys.argv[1] if len(sys.argv) > 1 else ""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", SETTINGS.get(command, "labsite.settings"))
    if command == "demo":  # the invented lab is kept apart from your own
        os.environ.setdefault("LABSITE_DATA_DIR", str(Path(__file__).resolve().parent / ".data" / "demo"))

    from django.core.management import execute_from_command_line

    from labsite.env import EnvironmentFault

    try:
        execute_from_command_line(sys.argv)
    except EnvironmentFault as fault:
        sys.exit(str(fault))
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    main()
