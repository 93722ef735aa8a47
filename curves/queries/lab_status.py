"""How the lab's own machinery stands: jobs, database, versions, and how much there is."""

from dataclasses import dataclass
from pathlib import Path

from django.db import connection

from curves.models import Analysis, FilmStock, PooledAnalysis, ProcessRun, Reading, Roll, RollState
from curves.sensitometry import ENGINE_VERSION
from labsite.accounts.models import User
from labsite.common.access import require_member
from labsite.jobs.queries import QueueHealth, queue_health

MIB = 1024 * 1024


@dataclass(frozen=True)
class LabStatus:
    """What a member may know of the machinery; ``counts`` are (what, how many)."""

    health: QueueHealth
    database: str
    database_size: str
    engine_version: str
    counts: tuple[tuple[str, int], ...]


def lab_status(user) -> LabStatus:
    """Return how the lab's machinery stands."""
    require_member(user)
    return LabStatus(
        health=queue_health(),
        database=_database_name(),
        database_size=f"{_database_bytes() / MIB:.1f} MiB",
        engine_version=ENGINE_VERSION,
        counts=(
            ("people", User.objects.filter(is_active=True).count()),
            ("stocks", FilmStock.objects.count()),
            ("rolls", Roll.objects.count()),
            ("accepted rolls", Roll.objects.filter(state=RollState.ACCEPTED).count()),
            ("process runs", ProcessRun.objects.count()),
            ("readings", Reading.objects.count()),
            ("fitted curves", Analysis.objects.count()),
            ("pooled results", PooledAnalysis.objects.count()),
        ),
    )


def _database_name() -> str:
    version = ".".join(str(part) for part in connection.get_database_version())
    return f"{connection.display_name} {version}"


def _database_bytes() -> int:
    """The size on disk; SQLite's log of the latest changes is counted as well."""
    if connection.vendor == "sqlite":
        main = Path(connection.settings_dict["NAME"])
        files = (main, main.with_name(f"{main.name}-wal"))
        return sum(file.stat().st_size for file in files if file.is_file())
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return cursor.fetchone()[0]
