"""Whatever is sent to a page, it answers: a value that it can't use is refused, and never a fault of ours.

Every page of the access table is asked with odd values under each name that stands on it, with bodies that
are no forms, and by methods that it does not take. A new page falls under this by its line in that table.
The ordinary run sends every page the oddest values, at all its names at once; ``-m full`` sends every odd
value, and also at one name at a time.
"""

import re
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from html.parser import HTMLParser
from http.cookies import SimpleCookie

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.signals import got_request_exception
from django.db import connection, transaction
from django.test import Client

from tests.architecture.access import areas
from tests.architecture.access_lab import AccessLab, rows_of

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


class Asker:
    """``asker(who, method, address, …)``: send it, take back what it changed, remember what broke."""

    def __init__(self, lab: AccessLab):
        self.broken: list[str] = []
        self._lab, self._faults, self._sessions = lab, [], {}
        self._client = Client(raise_request_exception=False)  # one, since each sets the middleware up

    def note(self, sender, **kwargs):
        """Remember what the site was about to answer 500 for."""
        self._faults.append(repr(sys.exc_info()[1])[:200])

    def __call__(self, who, method, address, *data, **how):
        """The answer."""
        if who not in self._sessions:
            self._sessions[who] = self._lab.session_of(who)
        self._client.cookies = SimpleCookie(self._sessions[who])  # anew: some pages end their session
        point = transaction.savepoint()
        answer = getattr(self._client, method)(address, *data, **how)
        if answer.streaming:  # a file, which stays open until the answer is read
            answer.getvalue()
        connection.needs_rollback = False
        transaction.savepoint_rollback(point)
        if answer.status_code == 500:
            told = f"{method} {address[:80]} {str(data or how)[:160]} as {who}: {self._faults[-1:]}"
            self.broken.append(told)
        return answer


@contextmanager
def asking(lab: AccessLab):
    """Somebody to send requests, who hears what breaks."""
    asker = Asker(lab)
    got_request_exception.connect(asker.note)
    yield asker
    got_request_exception.disconnect(asker.note)


@pytest.fixture
def ask(access_lab, db):
    """Send requests in the test's own transaction."""
    with asking(access_lab) as asker:
        yield asker


@pytest.fixture(scope="module")
def places(access_lab) -> list[tuple[str, str]]:
    """Who asks for which address: an admin for all, and for a roll its member too."""
    addresses = sorted({access_lab.address(row) for row in PAGE_ROWS})
    theirs = [address for address in addresses if re.match(r"/(rolls/\d|imports/)", address)]
    return [*(("admin", address) for address in addresses), *(("owner", address) for address in theirs)]


@dataclass(frozen=True)
class Crawl:
    """What the pages hold as they stand."""

    #: Method and address → name and value of all that some page sends there.
    forms: dict[tuple[str, str], dict[str, str]]
    #: Who asked for which address → the status of the answer.
    statuses: dict[tuple[str, str], int]


@pytest.fixture(scope="module")
def crawl(access_lab, places) -> Crawl:
    """Each page got once."""
    made = Crawl({}, {})
    with asking(access_lab) as ask:
        for who, address in places:
            answer = ask(who, "get", address)
            made.statuses[who, address] = answer.status_code
            if answer.get("Content-Type", "").startswith("text/html"):
                for place, fields in Forms(address, answer.content.decode()).found.items():
                    made.forms.setdefault(place, {}).update(fields)
        assert not ask.broken, "\n".join(ask.broken)
    return made


@pytest.fixture
def forms(crawl) -> dict[tuple[str, str], dict[str, str]]:
    """The forms of all pages."""
    return crawl.forms


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


def test_every_page_answers_head_as_get(ask, crawl, access_lab):
    """Monitors and link checkers ask so."""
    pages = {access_lab.address(row) for row in PAGE_ROWS if row.method == "GET"}
    shown = [place for place in crawl.statuses if place[1] in pages and not place[1].startswith("/api/")]
    assert len(shown) > 60
    answers = {
        (who, address): (ask(who, "head", address).status_code, crawl.statuses[who, address])
        for who, address in shown
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
