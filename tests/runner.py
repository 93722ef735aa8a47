"""Django's ``test`` command, run by pytest: ``python3 manage.py test [paths] [-k …] [-m …]``."""

import os
import shlex

import pytest

LEFT_OUT = "not full"


class PytestRunner:
    """What ``manage.py test`` hands over to."""

    def __init__(self, *, verbosity=1, failfast=False, **options):
        self.verbosity = verbosity
        self.failfast = failfast
        self.keyword = options.get("keyword") or ""
        self.marker = options.get("marker") or LEFT_OUT
        self.processes = options.get("processes")
        self.pytest_args = options.get("pytest_args") or ""

    @classmethod
    def add_arguments(cls, parser):
        """Add the options of pytest that are wanted most; any other goes into --pytest-args."""
        parser.add_argument("-k", dest="keyword", metavar="WORDS", help="Only tests whose names match.")
        parser.add_argument("-m", dest="marker", metavar="MARKS", help=f"Default: '{LEFT_OUT}'.")
        # No more: drills and journeys start programs of their own, which would be starved of their time.
        parser.add_argument(
            "-n", dest="processes", type=int, default=os.cpu_count() or 1, help="Default: one a core."
        )
        parser.add_argument("--pytest-args", metavar="'…'", help="More for pytest: --pytest-args='--lf -x'.")

    def run_tests(self, test_labels, **kwargs):
        """Run pytest; returns its exit code, so that no test at all counts as a failure."""
        arguments = [*(test_labels or []), "-m", self.marker, *shlex.split(self.pytest_args)]
        if self.processes and self.processes > 1:
            arguments += ["-n", str(self.processes), "--dist", "loadgroup"]
        if self.keyword:
            arguments += ["-k", self.keyword]
        if self.failfast:
            arguments.append("-x")
        if self.verbosity != 1:
            arguments.append("-" + ("v" * (self.verbosity - 1) if self.verbosity > 1 else "q"))
        code = pytest.main(arguments)
        if self.marker == LEFT_OUT:
            print("Left out: tests marked 'full' (long drills); run them with -m full.")
        return int(code)
