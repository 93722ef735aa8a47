"""The demo lab as it is when built, kept for the run: built once, by whichever process needs it first."""

import fcntl
import os
import pickle
from datetime import date
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.core.management.color import no_style
from django.db import connection, transaction
from django.test import override_settings

from labsite.demo.build import build_demo_lab
from tests.factories.taken_back import taken_back

TODAY = date(2026, 11, 20)
#: Made by the site for itself, in each database before any test.
OF_THE_SITE = {"django_content_type", "auth_permission"}


def load_demo_lab() -> None:
    """Put the demo lab's rows into an empty database, and its files into the data folder.

    On SQLite its ids are those of a new database, whatever was in this one before.
    """
    kept = _kept_demo_lab()
    with transaction.atomic(), connection.cursor() as cursor:
        for table, (columns, rows) in kept["rows"].items():
            names = ", ".join(connection.ops.quote_name(name) for name in columns)
            places = ", ".join(["%s"] * len(columns))
            into = f"INSERT INTO {connection.ops.quote_name(table)} ({names}) VALUES ({places})"  # noqa: S608
            cursor.executemany(into, rows)
        for statement in connection.ops.sequence_reset_sql(no_style(), apps.get_models()):
            cursor.execute(statement)
    for name, content in kept["files"].items():
        file = Path(settings.DATA_DIR) / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)


def _kept_demo_lab() -> dict:
    folder = Path(os.environ["LABSITE_TEST_DIR"])
    file = folder / f"demo-lab-{connection.vendor}.pickle"
    with (folder / "demo-lab.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # the other test processes wait, rather than build it too
        if not file.exists():
            written = file.with_suffix(".part")
            written.write_bytes(pickle.dumps(_build(folder / f"demo-lab-{connection.vendor}")))
            written.rename(file)
    return pickle.loads(file.read_bytes())  # noqa: S301 - written above


def _build(folder: Path) -> dict:
    folder.mkdir()
    with override_settings(DATA_DIR=folder), taken_back(), connection.cursor() as cursor:
        _count_from_one(cursor)
        build_demo_lab(today=TODAY)
        rows = {}
        for table in set(connection.introspection.table_names(cursor)) - OF_THE_SITE:
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608
            if found := cursor.fetchall():
                rows[table] = ([column[0] for column in cursor.description], found)
    files = {str(file.relative_to(folder)): file.read_bytes() for file in folder.rglob("*") if file.is_file()}
    return {"rows": rows, "files": files}


def _count_from_one(cursor) -> None:
    if connection.vendor == "sqlite":
        cursor.execute("UPDATE sqlite_sequence SET seq = 0 WHERE name NOT IN (%s, %s)", list(OF_THE_SITE))
