"""Run the benchmarks of ``tests/benchmarks`` and print a row each: ours, the obvious way, the floor."""

import importlib
import json
import pkgutil

from django.core.management.base import BaseCommand, CommandError

HEADINGS = ("name", "ours_s", "obvious_s", "floor_s", "ratio", "peak_memory_mb", "note")


class Command(BaseCommand):
    """``manage.py benchmark [WORD …]``: rows whose module name holds one of the words; all without."""

    help = "Measure what is slow against the obvious way and the floor, side by side in one run."
    requires_system_checks = []

    def add_arguments(self, parser):
        """Which benchmarks, and how to print them."""
        parser.add_argument("words", nargs="*", help="Parts of module names, such as curves or pages.")
        parser.add_argument("--format", choices=("table", "json"), default="table")

    def handle(self, *, words, format, **options):
        """Run module by module, so that a row is seen as soon as it is measured."""
        modules = [name for name in _modules() if not words or any(word in name for word in words)]
        if not modules:
            raise CommandError(f"No benchmark is named like that; there are {', '.join(_modules())}.")
        found = []
        if format == "table":
            self._line(HEADINGS)
        for name in modules:
            for row in importlib.import_module(f"tests.benchmarks.{name}").rows():
                found.append(row)
                if format == "table":
                    self._line([_text(row.get(heading)) for heading in HEADINGS])
        if format == "json":
            self.stdout.write(json.dumps(found, indent=1))

    def _line(self, cells) -> None:
        name, *numbers, note = cells
        self.stdout.write(f"{name:<52}" + "".join(f"{cell:>16}" for cell in numbers) + f"  {note}")
        self.stdout.flush()


def _modules() -> list[str]:
    package = importlib.import_module("tests.benchmarks")
    return sorted(
        info.name for info in pkgutil.iter_modules(package.__path__) if info.name.startswith("bench_")
    )


def _text(value) -> str:
    """A number to three digits; a dash where a row has none."""
    if value is None:
        return "–"
    return value if isinstance(value, str) else f"{value:.3g}"
