"""The very tests that ran on SQLite, once more on a real PostgreSQL."""

import os
import re
import subprocess
import sys

import pytest

from tests.architecture.sources import ROOT

#: So many runs, which test processes may share out among them; each has a module in so many.
PARTS = 5
#: More than the tests of the first issues; a selection that finds nothing must not pass for a success.
FEWEST = 100
MODULES = sorted(
    str(path.relative_to(ROOT))
    for area in ("curves", "labsite", "scans")
    for path in ROOT.glob(f"tests/{area}/test_*.py")
)


@pytest.mark.services
@pytest.mark.parametrize("part", range(PARTS))
def test_everything_that_touches_the_database_passes_on_postgresql_too(private_postgres, part):
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    environment.pop("LABSITE_TEST_DIR", None)  # the inner run makes, and removes, a folder of its own
    environment["LABSITE_TEST_DATABASE_URL"] = private_postgres.url
    command = [sys.executable, "-m", "pytest", *MODULES[part::PARTS], "-q", "-p", "no:cacheprovider"]
    command += ["-m", "not journey and not services and not full"]
    result = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout[-8000:] + result.stderr[-2000:]
    passed = re.search(r"(\d+) passed", result.stdout.splitlines()[-1])
    assert int(passed.group(1)) >= FEWEST
