"""Whatever is sent to a page, it answers: a value that it can't use is refused, and never a fault of ours.

Every page of the access table is asked with odd values under each name that stands on it, with bodies that
are no forms, and by methods that it does not take. A new page falls under this by its line in that table.
The ordinary run sends every page the oddest values, at all its names at once; ``-m full`` sends every odd
value, and also at one name at a time.
"""

import re
import sys
from html.parser import HTMLParser

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.signals import got_request_exception
from django.db import connection, transaction
from django.test import Client

from tests.architecture.access import areas
from tests.architecture.access_lab import build_access_lab, rows_of

PAGE_ROWS = [row for area in areas() for row in rows_of(getattr(area, "PAGES", ""))]

#: Names that a page may read without showing them.
READ_BY_SOME = {"sort", "page", "export", "next", "order", "stock", "standards", "view", "version", "seen"}
FEW = (b"nul \x00 byte", "9" * 400)
ODDEST = ("", b"nul \x00 byte", "9" * 400, "x" * 9000, "٣")  # the last a digit to Python, if not to all
ODD = (
    *ODDEST,
    "0",
    "-1",
    "1e400",
    "nan",
    str(2**31),
    str(2**63),
    b"no \xed\xa0\x80 character",
    "%s{{ x }}'\"<b>;--",
    "2026-02-30",
    "--sort",
)
HUGE_IDS = ("0", str(2**31), str(2**63), "9" * 30)
OTHER_METHODS = ("put", "patch", "delete", "options", "trace")
NO_FORMS = (
    (b"[]", "application/json"),
    (b"\xff\xfe\x00", "application/x-www-form-urlencoded"),
    (b"--x\r\nnothing", "multipart/form-data; boundary=x"),
    (b"", "multipart/form-data"),
    (b"&".join(b"field%d=1" % number for number in range(1200)), "application/x-www-form-urlencoded"),
)


class Forms(HTMLParser):
    """The forms of a page: method and address each is sent to → name and value of what stands in it."""

    def __init__(self, address: str, page: str):
        super().__init__()
        self._address, self._select = address, ""
        self._fields: dict[str, str] = {}
        self.found: dict[tuple[str, str], dict[str, str]] = {}
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        """Take what a browser would send along."""
        given = dict(attrs)
        name, value = given.get("name"), given.get("value") or ""
        if tag == "form":
            to = (given.get("action") or self._address).partition("?")[0]
            self._fields = self.found.setdefault((given.get("method", "get"), to), {})
        elif tag in ("input", "button", "textarea") and name:
            self._fields[name] = value
        elif tag == "select" and name:
            self._select, self._fields[name] = name, ""
        elif tag == "option" and value and ("selected" in given or not self._fields[self._select]):
            self._fields[self._select] = value


@pytest.fixture
def lab(owner, labmate, admin, stranger):
    """Something of every kind."""
    return build_access_lab(owner, labmate, admin, stranger)


@pytest.fixture
def ask(lab):
    """``ask(who, method, address, …)``: send it, take back what it changed, remember what broke."""
    sessions, faults = {}, []

    def note(sender, **kwargs):
        faults.append(repr(sys.exc_info()[1])[:200])

    def send(who, method, address, *data, **how):
        if who not in sessions:
            first = Client()
            first.force_login(lab.people[who])
            sessions[who] = first.cookies
        client = Client(raise_request_exception=False)  # a new one: some pages end their session
        client.cookies = sessions[who].copy()
        point = transaction.savepoint()
        answer = getattr(client, method)(address, *data, **how)
        if answer.streaming:  # a file, which stays open until the answer is read
            answer.getvalue()
        connection.needs_rollback = False
        transaction.savepoint_rollback(point)
        if answer.status_code == 500:
            send.broken.append(f"{method} {address[:80]} {str(data or how)[:160]} as {who}: {faults[-1:]}")
        return answer

    send.broken = []
    got_request_exception.connect(note)
    yield send
    got_request_exception.disconnect(note)


@pytest.fixture
def places(lab) -> list[tuple[str, str]]:
    """Who asks for which address: an admin for all, and for a roll its member too."""
    addresses = sorted({lab.address(row) for row in PAGE_ROWS})
    theirs = [address for address in addresses if re.match(r"/(rolls/\d|imports/)", address)]
    return [*(("admin", address) for address in addresses), *(("owner", address) for address in theirs)]


@pytest.fixture
def forms(ask, places) -> dict[tuple[str, str], dict[str, str]]:
    """Method and address → name and value of all that some page sends there."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    for who, address in places:
        answer = ask(who, "get", address)
        if answer.get("Content-Type", "").startswith("text/html"):
            for place, fields in Forms(address, answer.content.decode()).found.items():
                found.setdefault(place, {}).update(fields)
    return found


def distinct(fields: dict[str, str]) -> list[str]:
    """Of names alike but for their numbers, such as the cells of a grid, one."""
    return list({re.sub(r"\d+", "#", name): name for name in fields}.values())


def test_the_forms_are_found(forms):
    """Or the tests below would send nothing that any page reads."""
    assert len(forms) > 30
    assert {"name", "reason", "days", "temperature_start_c", "density_type", "d-1-1"} <= {
        name for fields in forms.values() for name in fields
    }


@pytest.mark.parametrize("values", [FEW, pytest.param(ODD, marks=pytest.mark.full)], ids=["few", "all"])
def test_no_odd_query_breaks_a_page(ask, places, forms, values):
    for who, address in places:
        fields = forms.get(("get", address), {})
        for value in values:
            if ask(who, "get", address, dict.fromkeys({*fields, *READ_BY_SOME}, value)).status_code == 405:
                break
            for name in fields if values is ODD else ():
                ask(who, "get", address, {name: value})
    assert not ask.broken, "\n".join(ask.broken)


@pytest.mark.parametrize("values", [FEW, pytest.param(ODD, marks=pytest.mark.full)], ids=["few", "all"])
def test_no_odd_form_breaks_a_page(ask, places, forms, values):
    for who, address in places:
        fields = forms.get(("post", address), {})
        for value in values:
            if ask(who, "post", address, dict.fromkeys({*fields, *READ_BY_SOME}, value)).status_code == 405:
                break
        else:
            for name in distinct(fields):
                for value in ODDEST if values is ODD else FEW[:1]:
                    ask(who, "post", address, fields | {name: value})
                if values is FEW:
                    continue
                ask(who, "post", address, {other: text for other, text in fields.items() if other != name})
                ask(who, "post", address, fields | {name: SimpleUploadedFile("\x00.csv", b"\x00\xff,1\n")})
    assert not ask.broken, "\n".join(ask.broken)


@pytest.mark.parametrize("bodies", [NO_FORMS[1:3], pytest.param(NO_FORMS, marks=pytest.mark.full)])
def test_no_body_that_is_no_form_breaks_a_page(ask, places, bodies):
    for who, address in places:
        for body, kind in bodies:
            ask(who, "generic", "POST", address, body, content_type=kind)
    assert not ask.broken, "\n".join(ask.broken)


def test_no_other_method_breaks_a_page(ask, places):
    for who, address in places:
        for method in OTHER_METHODS:
            ask(who, method, address)
    assert not ask.broken, "\n".join(ask.broken)


def test_every_page_answers_head_as_get(ask, lab):
    """Monitors and link checkers ask so."""
    pages = {lab.address(row) for row in PAGE_ROWS if row.method == "GET"}
    shown = sorted(address for address in pages if not address.startswith("/api/"))
    assert len(shown) > 60
    answers = {
        (who, address): [ask(who, method, address).status_code for method in ("head", "get")]
        for address in shown
        for who in (("admin", "owner") if address.startswith(("/rolls/", "/imports/")) else ("admin",))
    }
    assert {place: codes for place, codes in answers.items() if codes[0] != codes[1]} == {}


@pytest.mark.parametrize("numbers", [HUGE_IDS[2:3], pytest.param(HUGE_IDS, marks=pytest.mark.full)])
def test_no_number_in_an_address_breaks_a_page(ask, places, numbers):
    numbered = [place for place in places if re.search(r"/\d+/", place[1])]
    assert len(numbered) > 60
    for who, address in numbered:
        for number in numbers:
            for method in ("get", "post"):
                ask(who, method, re.sub(r"(?<=/)\d+(?=/)", number, address))
    assert not ask.broken, "\n".join(ask.broken)
