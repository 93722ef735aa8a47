"""Numbers as people and spreadsheets write them: decimal point or comma, never a guess."""

from __future__ import annotations

import re
from collections.abc import Iterable

from curves.importers.problems import shown

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+", re.ASCII)
_SEVERAL_MARKS = re.compile(r"[+-]?\d[\d.,'\s]*[.,'\s]\d+", re.ASCII)
_NO_NUMBER_WORDS = frozenset({"nan", "inf", "infinity", "1.#inf", "1.#nan", "#inf", "#nan"})

# Minus signs that word processors and spreadsheets put in place of the ASCII hyphen.
_MINUS_SIGNS = str.maketrans({"−": "-", "–": "-", "\u00a0": " ", "\u202f": " "})


def clean_number(text: str) -> str:
    """The text of a number without surrounding blanks and with an ASCII minus sign.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> clean_number(" −0,15 ")
    '-0,15'
    """
    return text.translate(_MINUS_SIGNS).strip()


def comma_is_decimal(texts: Iterable[str]) -> bool:
    """Whether the numbers of a file leave no doubt that a comma is their decimal mark.

    That is so when some number can only be read with a decimal comma (such as ``0,15``) and none is
    written with a decimal point. Then ``1,234`` in the same file is 1.234, too.

    Parameters
    ----------
    texts : iterable of str
        Cells of the number columns.

    Returns
    -------
    bool

    Examples
    --------
    >>> comma_is_decimal(["1,234", "0,15"]), comma_is_decimal(["1,234", "2,345"])
    (True, False)
    """
    found = False
    for text in map(clean_number, texts):
        if _NUMBER.fullmatch(text) is None:
            continue
        if "." in text:
            return False
        found = found or ("," in text and _THOUSANDS.fullmatch(text) is None)
    return found


def parse_number(
    text: str, *, comma: str = "refuse", comma_is_sure: bool = False
) -> tuple[float | None, str, str]:
    """Read one number, or say why it is none.

    Parameters
    ----------
    text : str
        Content of a cell, not empty.
    comma : {'refuse', 'decimal'}
        Whether a comma may be a decimal mark (it may not where it also separates the cells).
    comma_is_sure : bool
        What `comma_is_decimal` says of the whole file; settles numbers such as ``1,234``.

    Returns
    -------
    value : float or None, scalar [unit of the cell]
    code : str
        Empty, or a key of `curves.importers.PROBLEMS`.
    advice : str
        Empty, or why it was refused and what would be accepted.

    Examples
    --------
    >>> parse_number("0,15", comma="decimal")[0], parse_number("1,234", comma="decimal")[1]
    (0.15, 'AMBIGUOUS_NUMBER')
    """
    number = clean_number(text)
    if number.lstrip("+-").lower() in _NO_NUMBER_WORDS:
        return None, "NOT_FINITE", f"“{number}” stands for no number; leave a reading that was not taken out"
    if _NUMBER.fullmatch(number):
        return _settle_comma(number, comma, comma_is_sure)
    if _THOUSANDS.fullmatch(number) or _SEVERAL_MARKS.fullmatch(number):
        return None, "AMBIGUOUS_NUMBER", _ambiguous(number)
    return (
        None,
        "NOT_A_NUMBER",
        f"“{shown(number, limit=24)}” is not a number; write digits only, such as 0.53",
    )


def _settle_comma(number: str, comma: str, comma_is_sure: bool) -> tuple[float | None, str, str]:
    if "," in number:
        if _THOUSANDS.fullmatch(number) and not (comma == "decimal" and comma_is_sure):
            return None, "AMBIGUOUS_NUMBER", _ambiguous(number)
        if comma != "decimal":
            return (
                None,
                "DECIMAL_COMMA",
                f"“{number}” has a decimal comma, which is accepted only where semicolons or tabs separate "
                f"the columns; write {number.replace(',', '.')}",
            )
    return float(number.replace(",", ".")), "", ""


def _ambiguous(number: str) -> str:
    return (
        f"“{shown(number, limit=24)}” can be read as a decimal or as thousands; write it with a "
        "decimal point and no separator of thousands"
    )
