"""Instruments made through their service."""

from curves.models import Instrument
from curves.services.instruments import add_instrument


def make_instrument(admin, name="Bench densitometer", **values) -> Instrument:
    """A densitometer of visual diffuse density, unless said otherwise."""
    return add_instrument(actor=admin, name=name, **{"reading_sd": 0.01, "aperture_mm": 3.0} | values)
