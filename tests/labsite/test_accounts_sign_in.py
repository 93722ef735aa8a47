"""Sign-in: one message for every failure, and at most twenty wrong tries an hour whatever the haste."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone

from labsite.accounts.models import SignInLimit
from labsite.accounts.services import sign_in as module
from labsite.accounts.services import verify_sign_in
from labsite.accounts.services.sign_in import LIMIT, TooManyTries, network_of
from labsite.common.errors import InvalidInput

RIGHT = "grey-card-18"
ADDRESS = "192.0.2.7"


@pytest.fixture
def clock(monkeypatch):
    """A clock that the test moves."""

    class Clock:
        now = timezone.now()

        def move(self, **by):
            self.now += timedelta(**by)

    clock = Clock()
    monkeypatch.setattr(module.timezone, "now", lambda: clock.now)
    return clock


def wrong_tries(count, username="owner", address=ADDRESS):
    for _ in range(count):
        with pytest.raises(InvalidInput):
            verify_sign_in(username=username, password="wrong", address=address)


def test_the_right_password_opens_the_account(owner):
    assert verify_sign_in(username=" Owner ", password=RIGHT, address=ADDRESS) == owner


def test_every_failure_reads_the_same(owner, stranger):
    messages = set()
    for username, password in [("owner", "wrong"), ("nobody", RIGHT), ("stranger", RIGHT), ("", "")]:
        with pytest.raises(InvalidInput) as refusal:
            verify_sign_in(username=username, password=password, address=ADDRESS)
        messages.add((refusal.value.message, refusal.value.code, refusal.value.field))
    assert len(messages) == 1


def test_the_twenty_first_wrong_try_is_not_looked_at_even_if_right(owner):
    wrong_tries(LIMIT)
    with pytest.raises(TooManyTries, match="Too many tries"):
        verify_sign_in(username="owner", password=RIGHT, address="192.0.2.8")


def test_unknown_names_are_limited_like_known_ones(db):
    wrong_tries(LIMIT, username="nobody")
    with pytest.raises(TooManyTries):
        verify_sign_in(username="nobody", password="wrong", address="192.0.2.8")


def test_an_address_is_limited_over_all_accounts(owner):
    for n in range(LIMIT):
        wrong_tries(1, username=f"guess{n}")
    with pytest.raises(TooManyTries):
        verify_sign_in(username="owner", password=RIGHT, address=ADDRESS)
    assert verify_sign_in(username="owner", password=RIGHT, address="192.0.2.8") == owner


def test_right_passwords_use_nothing_up(owner):
    for _ in range(LIMIT + 5):
        verify_sign_in(username="owner", password=RIGHT, address=ADDRESS)
    assert [row.checked_at_s for row in SignInLimit.objects.all()] == [[], []]


def test_a_right_password_does_not_forgive_wrong_ones(owner):
    wrong_tries(LIMIT - 1)
    verify_sign_in(username="owner", password=RIGHT, address=ADDRESS)
    wrong_tries(1)
    with pytest.raises(TooManyTries):
        verify_sign_in(username="owner", password=RIGHT, address=ADDRESS)


def test_the_hour_rolls_so_no_hour_has_more_than_twenty(owner, clock):
    wrong_tries(LIMIT - 1)
    clock.move(minutes=59)
    wrong_tries(1)
    clock.move(minutes=2)
    wrong_tries(LIMIT - 1)
    with pytest.raises(TooManyTries) as refusal:
        verify_sign_in(username="owner", password=RIGHT, address=ADDRESS)
    # The first of the tries still counted was 2 minutes ago, so it leaves the hour in 58.
    assert refusal.value.retry_at - clock.now == pytest.approx(
        timedelta(minutes=59), abs=timedelta(seconds=61)
    )
    clock.move(hours=1, seconds=1)
    assert verify_sign_in(username="owner", password=RIGHT, address=ADDRESS) == owner


def test_a_clock_set_back_locks_nobody_out(owner, clock):
    wrong_tries(LIMIT)
    clock.move(days=-1)
    assert verify_sign_in(username="owner", password=RIGHT, address=ADDRESS) == owner


def test_old_counts_are_deleted(owner, clock):
    wrong_tries(1, username="nobody")
    clock.move(hours=1, seconds=1)
    verify_sign_in(username="owner", password=RIGHT, address="192.0.2.8")
    assert SignInLimit.objects.count() == 2


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.0.2.7", "192.0.2.7/32"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("::ffff:192.0.2.7", "192.0.2.7/32"),
        ("", "unknown"),
        ("unix:", "unknown"),
    ],
)
def test_an_ipv6_client_cannot_change_its_network(address, network):
    assert network_of(address) == network


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("spread", ["addresses", "accounts"])
@pytest.mark.parametrize("tries", [60, pytest.param(200, marks=pytest.mark.full)])
def test_parallel_wrong_tries_reach_the_password_check_twenty_times(owner, monkeypatch, tries, spread):
    checked = []
    check = module.authenticate

    def counted(*args, **credentials):
        checked.append(credentials["username"])
        return check(*args, **credentials)

    def wrong_try(n):
        username, address = ("owner", f"198.51.100.{n}") if spread == "addresses" else (f"guess{n}", ADDRESS)
        try:
            verify_sign_in(username=username, password="wrong", address=address)
        except (TooManyTries, InvalidInput) as fault:
            return fault.code
        finally:
            connection.close()

    monkeypatch.setattr(module, "authenticate", counted)
    # PostgreSQL takes 100 connections as it comes, and each thread has its own.
    at_once = min(tries, 90) if connection.vendor == "postgresql" else tries
    with ThreadPoolExecutor(max_workers=at_once) as pool:
        codes = list(pool.map(wrong_try, range(tries)))
    assert len(checked) == LIMIT
    assert codes.count("wrong_sign_in") == LIMIT
    assert codes.count("too_many_tries") == tries - LIMIT
