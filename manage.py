#!/usr/bin/env python3
"""The one entry point: makes its own .venv on first use, then hands over to Django's commands."""

import os
import sys

from labsite import bootstrap


def main():
    """Run one command; a fault of the set-up is one sentence and exit code 1."""
    bootstrap.prepare(sys.argv)
    settings = "tests.settings" if sys.argv[1:2] == ["test"] else "labsite.settings"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", settings)

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
