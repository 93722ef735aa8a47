"""Who and what is in the invented lab. Every name is made up; so is every number."""

from dataclasses import dataclass, field
from math import log10

from labsite.demo.emulsions import Emulsion

LAB_NAME = "Ropewalk Film Club"
CONTACT = "Ask for the warden on club nights."


@dataclass(frozen=True)
class Person:
    """One member of the club."""

    username: str
    display_name: str
    initials: str
    role: str = "member"


PEOPLE = (
    Person("warden", "Tamsel Orrin", "TO", "admin"),
    Person("keeper", "Ysolde Quarry", "YQ", "admin"),
    Person("bram", "Bram Hollowell", "BH"),
    Person("odile", "Odile Farrow", "OF"),
    Person("piet", "Piet Lanterly", "PL"),
)


@dataclass(frozen=True)
class Stock:
    """One stock of the scenario: what is on the box, what is in it, and how many rolls were tested.

    ``rolls_before`` were developed under the first revision of the process, ``rolls_now`` under the
    second, which is in force.
    """

    name: str
    maker: str
    box_speed: int
    emulsion: Emulsion
    rolls_before: int = 0
    rolls_now: int = 1
    sensitisation: str = "panchromatic"
    formats: tuple[str, ...] = ("35 mm", "120")
    base_material: str = "grey triacetate"
    is_in_production: bool = True
    notes: str = field(default="")


def _film(true_speed: float, gradient: float, toe: float, base_fog: float = 0.27, **shape) -> Emulsion:
    """An emulsion by its true speed 0.8/H (ISO 6), which need not be the one on its box."""
    return Emulsion(
        base_fog=base_fog, speed_log_h=log10(0.8 / true_speed), gradient=gradient, toe=toe, **shape
    )


_CORDWAIN_100 = _film(88, 0.63, 0.22, 0.29, reach=2.3, shoulder=0.35)

STOCKS = (
    Stock(
        "Wrensfell 100",
        "Wrensfell",
        100,
        _film(100, 0.645, 0.20, 0.26, reach=2.6, shoulder=0.4),
        1,
        2,
        notes="The house reference: bought by the case and kept cold.",
    ),
    Stock("Wrensfell 25", "Wrensfell", 25, _film(24, 0.70, 0.14, 0.24), 1, 1),
    Stock("Wrensfell 50", "Wrensfell", 50, _film(50, 0.67, 0.17, 0.25), 1, 1),
    Stock("Wrensfell 400", "Wrensfell", 400, _film(330, 0.61, 0.27, 0.30, reach=2.4, shoulder=0.45), 1, 2),
    Stock("Aldergate Pan 125", "Aldergate", 125, _film(120, 0.64, 0.34, 0.28), 1, 1),
    Stock("Aldergate Pan 400", "Aldergate", 400, _film(390, 0.62, 0.24, 0.31, reach=2.1, shoulder=0.3), 1, 1),
    Stock("Aldergate Dusk 1250", "Aldergate", 1250, _film(1150, 0.58, 0.30, 0.36), 0, 1, formats=("35 mm",)),
    Stock(
        "Corvale Ortho 40",
        "Corvale",
        40,
        _film(36, 0.78, 0.13, 0.12),
        0,
        2,
        "orthochromatic",
        ("120", "sheet"),
        "clear polyester",
    ),
    Stock("Corvale 200", "Corvale", 200, _film(160, 0.63, 0.30, 0.24, reach=1.7, shoulder=0.35), 1, 1),
    Stock(
        "Corvale Survey 160",
        "Corvale",
        160,
        _film(150, 0.72, 0.16, 0.09),
        0,
        1,
        "extended_red",
        ("120",),
        "clear polyester",
    ),
    Stock("Saltern 64", "Saltern Works", 64, _film(58, 0.66, 0.23, 0.25), 0, 1),
    Stock("Saltern 320", "Saltern Works", 320, _film(250, 0.70, 0.20, 0.33, reach=2.9, is_arc=True), 1, 1),
    Stock(
        "Saltern Copy 6",
        "Saltern Works",
        6,
        _film(6.5, 0.95, 0.10, 0.08),
        0,
        1,
        "blue",
        ("sheet",),
        "clear polyester",
    ),
    Stock("Tindrel 100", "Tindrel", 100, _film(78, 0.60, 0.38, 0.27), 0, 2),
    Stock("Tindrel 250", "Tindrel", 250, _film(200, 0.60, 0.28, 0.29, reach=2.0, shoulder=0.5), 0, 1),
    Stock(
        "Tindrel 640",
        "Tindrel",
        640,
        _film(480, 0.57, 0.31, 0.34, reach=2.2, shoulder=0.5),
        0,
        1,
        is_in_production=False,
    ),
    Stock("Cordwain 100", "Cordwain", 100, _CORDWAIN_100, 0, 2),
    Stock(
        "Skylark 100",
        "Skylark Photo",
        100,
        _CORDWAIN_100,
        0,
        2,
        notes="Sold only by mail; the edge print looks familiar.",
    ),
    Stock("Cordwain 80", "Cordwain", 80, _film(80, 0.66, 0.18, 0.23), 0, 1),
    Stock("Quillon 32", "Quillon", 32, _film(30, 0.73, 0.12, 0.22, reach=1.9, shoulder=0.25), 0, 1),
    Stock("Quillon 160", "Quillon", 160, _film(125, 0.65, 0.20, 0.26, reach=3.0, is_arc=True), 0, 1),
    Stock("Quillon 500", "Quillon", 500, _film(400, 0.59, 0.26, 0.32), 0, 1),
    Stock("Mossgarth 12", "Mossgarth", 12, _film(13, 0.80, 0.11, 0.21), 0, 1, formats=("35 mm",)),
    Stock(
        "Mossgarth 125",
        "Mossgarth",
        125,
        _film(110, 0.62, 0.21, 0.62),
        0,
        1,
        base_material="dense grey triacetate",
        notes="A base so dense that prints need half as long again.",
    ),
    Stock("Pellam 50", "Pellam Coating", 50, _film(44, 0.64, 0.25, 0.28), 0, 1),
    Stock("Pellam 400", "Pellam Coating", 400, _film(300, 0.64, 0.19, 0.30, reach=1.9, shoulder=0.3), 0, 1),
)

#: The stock that all others are held against.
REFERENCE = "Wrensfell 100"
