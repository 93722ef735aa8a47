"""Labs for the drills: one with short waiting times, one with the real ones for the full counts."""

import pytest

from tests.services.drill_lab import DrillLab

#: Waiting times are divided by this in the ordinary run: a lease of 3 s, a sweep every 0.75 s.
QUICK = 20


@pytest.fixture(scope="session")
def quick_lab(private_postgres, private_redis, tmp_path_factory):
    """A lab whose leases and sweeps are short."""
    yield from _lab(private_postgres, private_redis, tmp_path_factory.mktemp("quick-lab"), QUICK)


@pytest.fixture(scope="session")
def real_lab(private_postgres, private_redis, tmp_path_factory):
    """A lab with the times of the product."""
    yield from _lab(private_postgres, private_redis, tmp_path_factory.mktemp("real-lab"), 1)


@pytest.fixture
def lab(request):
    """The lab of the drill, with its worker running: the real times for those marked ``full``."""
    name = "real_lab" if request.node.get_closest_marker("full") else "quick_lab"
    lab = request.getfixturevalue(name)
    lab.start_worker(children=4)
    yield lab
    if name == "real_lab":
        lab.kill_worker()


def _lab(postgres, redis, folder, speed):
    lab = DrillLab(postgres, redis.url, folder, speed=speed)
    try:
        yield lab
    finally:
        lab.close()
