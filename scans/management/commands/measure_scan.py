"""Measure one scan: ``python3 manage.py measure_scan FILE --kind …``. Needs no site and no database."""

import argparse
import datetime
import json

from django.core.management.base import BaseCommand, CommandError

from curves.figures.saved import write_html
from scans.imaging.decode_child import decode_in_child
from scans.management.scan_figure import scan_figure
from scans.management.scan_files import (
    BadFileError,
    read_calibration,
    read_scanner_limits,
    read_tablet_densities,
)
from scans.management.scan_report import Request, scan_report
from scans.management.scan_text import scan_text

NOT_MEASURED, BAD_INPUT = 1, 2


def resolution(text: str) -> tuple[float, float]:
    """A resolution from the command line, the same both ways."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 100 <= value <= 20000:
        raise argparse.ArgumentTypeError(f"'{text}' is no scan's resolution; give 100 to 20000")
    return value, value


class Command(BaseCommand):
    """Prints what a scan says; exits with 1 when it can be read and not measured, with 2 on bad input."""

    help = (
        "Measure a scan: the steps of a tablet, the grain of an even field, or the sharpness of a slanted "
        "edge. FILE is a 16-bit TIFF or PNG. With --tablet and no --calibration the scanner is calibrated by "
        "that tablet; the report then holds the calibration, and may be given as --calibration for others."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser):
        """Declare the options."""
        parser.add_argument("file", metavar="FILE", help="the scan")
        parser.add_argument("--kind", choices=["tablet", "field", "edge"], required=True)
        parser.add_argument(
            "--resolution-ppi", type=resolution, metavar="N", help="pixels an inch, if the file does not say"
        )
        parser.add_argument("--tablet", metavar="TABLET.csv", help="columns step and density: calibrated")
        parser.add_argument("--calibration", metavar="FILE.json", help="of the same scanner and settings")
        parser.add_argument("--scanner", metavar="LIMITS.json", help="the scanner's own noise and MTF")
        parser.add_argument(
            "--steps", type=int, metavar="N", help="steps of the tablet; 11, 21 and 31 are tried by default"
        )
        parser.add_argument(
            "--film", action="store_true", help="a film exposed through a tablet: thin steps may look alike"
        )
        parser.add_argument("--format", choices=["table", "json"], default="table", help="default: table")
        parser.add_argument("--figure", metavar="OUT.html", help="also write a figure as one HTML file")

    def handle(self, *args, **options):
        """Read, measure, print."""
        try:
            request = self._request(options)
        except BadFileError as fault:
            raise CommandError(str(fault), returncode=BAD_INPUT) from fault
        outcome = decode_in_child(options["file"])
        if outcome.picture is None:
            raise CommandError(f"{options['file']}: {outcome.refusal.text}", returncode=BAD_INPUT)
        report = scan_report(options["file"], outcome.picture, request)
        if options["figure"]:
            self._write_figure(options["figure"], report)
        if options["format"] == "json":
            self.stdout.write(json.dumps(report, allow_nan=False))
        else:
            # A terminal that cannot show a sign gets a question mark for it, not a traceback.
            encoding = getattr(self.stdout, "encoding", None) or "utf-8"
            self.stdout.write(scan_text(report).encode(encoding, "replace").decode(encoding))
        if report["refusal"]:
            raise CommandError(f"{options['file']}: {report['refusal']['text']}", returncode=NOT_MEASURED)

    def _request(self, options) -> Request:
        steps = options["steps"]
        if steps is not None and not 6 <= steps <= 41:
            raise BadFileError("--steps: a tablet has between 6 and 41 steps.")
        tablet = read_tablet_densities(options["tablet"]) if options["tablet"] else None
        if tablet is not None and not 6 <= len(tablet) <= 41:
            raise BadFileError(f"{options['tablet']}: a tablet has between 6 and 41 steps.")
        return Request(
            kind=options["kind"],
            resolution_ppi=options["resolution_ppi"],
            tablet=tablet,
            calibration=read_calibration(options["calibration"]) if options["calibration"] else None,
            limits=read_scanner_limits(options["scanner"]) if options["scanner"] else None,
            steps=steps,
            is_film=options["film"],
            on=datetime.datetime.now(datetime.UTC).date(),
        )

    def _write_figure(self, path, report):
        try:
            write_html(scan_figure(report), path, report["file"])
        except OSError as error:
            fault = f"{path}: the figure cannot be written ({error.strerror or error})."
            raise CommandError(fault, returncode=BAD_INPUT) from error
