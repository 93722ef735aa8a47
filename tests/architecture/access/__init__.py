"""The access table, an area a module: ``PAGES``, ``OPERATIONS``, ``BODIES``, ``things(lab)`` where needed.

``things(lab)`` makes what the area's routes are asked for and returns (values known to every row, thing →
values); ``BODIES`` gives the body of a route that would otherwise be refused for what it lacks, ``FILES`` the
(name, content) of a file that one takes.
"""

import importlib
import pkgutil


def areas() -> list:
    """Every area's module, by name."""
    return [importlib.import_module(f"{__name__}.{found.name}") for found in pkgutil.iter_modules(__path__)]
