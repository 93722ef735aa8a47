"""Fit one file of readings: ``python3 manage.py fit_readings FILE``. Needs no site and no database."""

import argparse
import json
import math

from django.core.management.base import BaseCommand, CommandError

from curves.figures.saved import write_html
from curves.management.fit_report import (
    BadFileError,
    analyse_table,
    fit_figure,
    fit_report,
    read_readings_file,
)
from curves.management.report_text import report_text
from curves.sensitometry import compare_with_reference

BAD_INPUT = 2


def box_speed(text: str) -> float:
    """An ISO arithmetic speed from the command line."""
    try:
        speed = float(text)
    except ValueError:
        speed = math.nan
    if not 0 < speed < 1e6:
        raise argparse.ArgumentTypeError(f"'{text}' is no speed; give an ISO arithmetic speed such as 400")
    return speed


class Command(BaseCommand):
    """Prints the measures, curve and flags of one film, or exits with 2 and a sentence on bad input."""

    help = (
        "Fit a characteristic curve to step-tablet readings and print its measures with 95 % intervals. "
        "FILE is CSV, XLSX or CGATS text with the columns log_exposure and density (gross), and optionally "
        "step, replicate and unexposed (1 marks base plus fog, whose log_exposure is empty)."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser):
        """Declare the options."""
        parser.add_argument("file", metavar="FILE", help="readings of one film")
        parser.add_argument(
            "--exposure",
            choices=["absolute", "relative"],
            default="relative",
            help="absolute: log_exposure is log10 of lux seconds, known from a calibrated light, so that an "
            "ISO speed can be stated. Default: relative, as nothing in a file proves the other.",
        )
        parser.add_argument(
            "--box-speed", type=box_speed, metavar="N", help="ISO speed on the box, to compare"
        )
        parser.add_argument("--reference", metavar="FILE2", help="readings of the film to compare with")
        parser.add_argument("--format", choices=["table", "json"], default="table", help="default: table")
        parser.add_argument("--figure", metavar="OUT.html", help="also write the curve as one HTML file")

    def handle(self, *args, **options):
        """Read, fit, print."""
        try:
            table = read_readings_file(options["file"])
            reference = self._reference(options)
        except BadFileError as fault:
            raise CommandError(str(fault), returncode=BAD_INPUT) from fault
        analysis = analyse_table(table, exposure=options["exposure"], box_speed=options["box_speed"])
        comparison = None if reference is None else compare_with_reference(analysis, reference)
        report = fit_report(table, analysis, comparison)
        if options["figure"]:
            self._write_figure(options["figure"], fit_figure(analysis, reference), title=options["file"])
        if options["format"] == "json":
            self.stdout.write(json.dumps(report, allow_nan=False))
        else:
            # A terminal that cannot show a sign gets a question mark for it, not a traceback.
            encoding = getattr(self.stdout, "encoding", None) or "utf-8"
            self.stdout.write(report_text(report).encode(encoding, "replace").decode(encoding))

    def _reference(self, options):
        if not options["reference"]:
            return None
        table = read_readings_file(options["reference"])
        return analyse_table(table, exposure=options["exposure"])

    def _write_figure(self, path, figure, *, title):
        try:
            write_html(figure, path, title)
        except OSError as error:
            fault = f"{path}: the figure cannot be written ({error.strerror or error})."
            raise CommandError(fault, returncode=BAD_INPUT) from error
