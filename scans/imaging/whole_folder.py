"""A folder that is there with all its files or not at all, however its making ends."""

from __future__ import annotations

import shutil
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ABANDONED_S = 3600
"""Age at which an unfinished folder is taken to be left by a killed process [seconds]."""
ATTEMPTS = 5


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """Make a folder beside its place and put it there when it is complete, in the place of an older one.

    Parameters
    ----------
    folder : Path
        Its parent is made where it is missing.

    Yields
    ------
    Path
        An empty folder to fill; thrown away when an error is raised.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    _clear_abandoned(folder)
    building = _beside(folder)
    building.mkdir()
    try:
        yield building
        _put(building, folder)
    finally:
        shutil.rmtree(building, ignore_errors=True)


def moved_aside(folder: Path) -> Path | None:
    """Move a folder out of its place in one step, so that removing it slowly harms no newer one there.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    Path or None
        Where it lies now, to be removed; None where there was none.
    """
    aside = _beside(folder)
    try:
        folder.rename(aside)
    except FileNotFoundError:
        return None
    return aside


def _beside(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}.{uuid.uuid4().hex}")


def _put(building: Path, folder: Path) -> None:
    """Rename into place; a folder that is not empty cannot be replaced in one step, so it is moved away."""
    for attempt in range(ATTEMPTS):
        old = _beside(folder)
        try:
            if folder.exists():
                folder.rename(old)
            building.rename(folder)
            return
        except OSError:  # another process put its own there in between
            if attempt == ATTEMPTS - 1:
                raise
        finally:
            shutil.rmtree(old, ignore_errors=True)


def _clear_abandoned(folder: Path) -> None:
    for left in folder.parent.glob(f".{folder.name}.*"):
        try:
            if time.time() - left.stat().st_mtime > ABANDONED_S:
                shutil.rmtree(left, ignore_errors=True)
        except FileNotFoundError:
            continue
