"""Codes by the clock against the published values, and the form of secrets and recovery codes."""

import base64
from urllib.parse import parse_qs, unquote, urlparse

import pytest

from labsite.accounts.models.one_time_codes import (
    RECOVERY_CODES,
    app_address,
    as_stored,
    code_at,
    matching_step,
    new_recovery_codes,
    new_secret,
)
from labsite.accounts.pages.qr import QUIET, qr_picture

# RFC 6238, Appendix B: the table for SHA-1, with the secret of RFC 4226, Appendix D. It has eight digits;
# six are the last six of them, as both are remainders of one number (RFC 4226, section 5.3).
PUBLISHED_SECRET = base64.b32encode(b"12345678901234567890").decode()
PUBLISHED = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]
# RFC 4226, Appendix D: the six digits of the first ten counts, which are the first ten time steps here.
PUBLISHED_COUNTS = (
    "755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489",
)  # fmt: skip


@pytest.mark.parametrize(("at_s", "eight"), PUBLISHED)
def test_codes_are_the_published_ones(at_s, eight):
    assert code_at(PUBLISHED_SECRET, at_s // 30) == eight[-6:]
    assert matching_step(PUBLISHED_SECRET, eight[-6:], at_s) == at_s // 30


def test_counts_are_the_published_ones():
    assert tuple(code_at(PUBLISHED_SECRET, step) for step in range(10)) == PUBLISHED_COUNTS


@pytest.mark.parametrize(("off_s", "passes"), [(-60, False), (-30, True), (0, True), (30, True), (60, False)])
def test_a_clock_may_be_a_step_off_and_no_more(off_s, passes):
    now_s = 1_900_000_015
    code = code_at(PUBLISHED_SECRET, (now_s + off_s) // 30)
    assert (matching_step(PUBLISHED_SECRET, code, now_s) is not None) == passes


@pytest.mark.parametrize("typed", ["", "28708", "2870820", "94287082", "２８７０８２", "abcdef", "\x00"])
def test_what_is_no_code_matches_no_step(typed):
    assert matching_step(PUBLISHED_SECRET, typed, 59) is None


def test_a_clock_before_1970_ends_in_no_fault():
    assert matching_step(PUBLISHED_SECRET, "755224", 5) == 0
    assert matching_step(PUBLISHED_SECRET, "755224", -40) is None


def test_secrets_have_160_bits_and_differ():
    made = {new_secret() for _ in range(50)}
    assert len(made) == 50
    assert {len(base64.b32decode(secret)) for secret in made} == {20}


def test_recovery_codes_are_ten_that_differ_and_have_no_letter_that_is_misread():
    codes = new_recovery_codes()
    assert len({*codes}) == RECOVERY_CODES == 10
    assert {tuple(map(len, code.split("-"))) for code in codes} == {(4, 4, 4, 4)}
    assert not {*"".join(codes)} & {*"ilo01"}


@pytest.mark.parametrize("typed", ["abcd-efgh-jkmn-pqrs", " ABCD EFGH JKMN PQRS ", "abcdefghjkmnpqrs\t"])
def test_what_people_put_between_groups_does_not_count(typed):
    assert as_stored(typed) == "abcdefghjkmnpqrs"


def test_the_address_names_lab_and_account_and_leaves_the_usual_parameters_out():
    address = urlparse(app_address(PUBLISHED_SECRET, account="ola", issuer="Quay: Darkroom"))
    asked = parse_qs(address.query)
    assert (address.scheme, address.netloc) == ("otpauth", "totp")
    assert unquote(address.path) == "/Quay: Darkroom:ola"
    assert asked == {"secret": [PUBLISHED_SECRET], "issuer": ["Quay: Darkroom"]}


def test_the_picture_has_its_three_finders_and_four_white_modules_around():
    picture = qr_picture("otpauth://totp/Lab:ola?secret=ABC")
    dark = {tuple(map(int, part.split("h")[0].split())) for part in picture.outline.split("M")[1:]}
    inside = picture.edge - 2 * QUIET
    assert inside % 4 == 1 and inside >= 21  # 17 + 4 × version, from ISO/IEC 18004
    assert {x for x, _ in dark} | {y for _, y in dark} <= set(range(QUIET, QUIET + inside))
    ring = {(x, y) for x in range(7) for y in range(7) if x in (0, 6) or y in (0, 6)}
    for left, top in [(0, 0), (inside - 7, 0), (0, inside - 7)]:
        assert {(QUIET + left + x, QUIET + top + y) for x, y in ring} <= dark
