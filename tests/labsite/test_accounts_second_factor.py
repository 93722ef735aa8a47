"""The second factor's services: every code is good once, and wrong ones are counted."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from labsite.accounts.models import AuditRecord, RecoveryCode, SecondFactor
from labsite.accounts.queries import has_second_factor, second_factor_of
from labsite.accounts.services import (
    begin_second_factor,
    confirm_second_factor,
    renew_recovery_codes,
    take_second_factor,
    turn_off_second_factor,
    verify_code,
)
from labsite.accounts.services import second_factor as module
from labsite.accounts.services.sign_in import LIMIT, TooManyTries
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from tests.factories.second_factors import PASSWORD, app_code, stale_code, turn_on_second_factor, wrong_code

ADDRESS = "192.0.2.7"


@pytest.fixture
def clock(monkeypatch):
    """A clock in the middle of a time step, that the test moves."""

    class Clock:
        now = timezone.now().replace(second=15, microsecond=0)

        def move(self, **by):
            self.now += timedelta(**by)

    clock = Clock()
    monkeypatch.setattr(module.timezone, "now", lambda: clock.now)
    return clock


@pytest.fixture
def codes(owner, clock):
    """The owner's recovery codes; the second factor is on, and the code that turned it on was long ago."""
    made = turn_on_second_factor(owner)
    clock.move(minutes=10)
    return made


def verify(user, code, address=ADDRESS):
    return verify_code(user=user, code=code, address=address)


def refused(user, code):
    with pytest.raises(InvalidInput) as refusal:
        verify(user, code)
    assert (refusal.value.field, refusal.value.code) == ("code", "wrong_code")
    return refusal.value.message


# --- Set up


def test_a_secret_changes_nothing_until_a_code_confirms_it(owner):
    factor = begin_second_factor(actor=owner)
    assert not has_second_factor(owner)
    with pytest.raises(InvalidInput, match="not the app's code"):
        confirm_second_factor(actor=owner, current_password=PASSWORD, code=wrong_code(owner))
    assert not has_second_factor(owner)
    assert factor.secret_in_groups.replace(" ", "") == factor.secret


def test_confirming_needs_the_password_too(owner):
    begin_second_factor(actor=owner)
    with pytest.raises(InvalidInput) as refusal:
        confirm_second_factor(actor=owner, current_password="wrong", code=app_code(owner))
    assert refusal.value.field == "current_password"
    assert not has_second_factor(owner)


def test_beginning_again_makes_another_secret(owner):
    first = begin_second_factor(actor=owner).secret
    assert begin_second_factor(actor=owner).secret != first
    assert SecondFactor.objects.count() == 1


def test_confirming_ends_other_sessions_and_gives_ten_codes(owner, client_for):
    other = client_for(owner)
    codes = turn_on_second_factor(owner)
    assert has_second_factor(owner) and len(codes) == 10
    assert other.get("/account/").status_code == 302
    assert not RecoveryCode.objects.filter(code_hash__in=codes).exists()


def test_the_history_tells_of_it_and_holds_no_secret(owner, codes):
    verify(owner, codes[0])
    actions = list(AuditRecord.objects.order_by("id").values_list("action", flat=True))
    assert actions == ["begin second factor", "turn on second factor", "use recovery code"]
    told = str(list(AuditRecord.objects.values()))
    assert second_factor_of(owner).secret not in told
    assert not any(code in told for code in codes)


def test_what_is_on_is_not_begun_or_confirmed_again(owner, codes):
    with pytest.raises(WrongState, match="on already"):
        begin_second_factor(actor=owner)
    with pytest.raises(WrongState, match="on already"):
        confirm_second_factor(actor=owner, current_password=PASSWORD, code=app_code(owner))


def test_nothing_is_confirmed_that_was_not_begun(owner):
    with pytest.raises(WrongState, match="Begin again"):
        confirm_second_factor(actor=owner, current_password=PASSWORD, code="123456")


def test_guessing_at_set_up_is_counted(owner):
    begin_second_factor(actor=owner)
    for _ in range(LIMIT):
        with pytest.raises(InvalidInput):
            confirm_second_factor(actor=owner, current_password=PASSWORD, code=wrong_code(owner))
    with pytest.raises(TooManyTries):
        confirm_second_factor(actor=owner, current_password=PASSWORD, code=app_code(owner))


@pytest.mark.parametrize("who", ["stranger", "visitor"])
def test_only_members_have_one(request, who):
    person = request.getfixturevalue(who)
    with pytest.raises(NotAllowed):
        begin_second_factor(actor=person)
    for service in (confirm_second_factor, renew_recovery_codes, turn_off_second_factor):
        with pytest.raises(NotAllowed):
            service(actor=person, current_password=PASSWORD, code="123456")


# --- Codes of the app


def test_a_code_passes_once(owner, codes):
    code = app_code(owner)
    assert verify(owner, f" {code[:3]} {code[3:]} ") == owner
    assert "used already" in refused(owner, code)


def test_the_code_that_turned_it_on_is_used(owner, clock):
    begin_second_factor(actor=owner)
    code = app_code(owner)
    confirm_second_factor(actor=owner, current_password=PASSWORD, code=code)
    refused(owner, code)


@pytest.mark.parametrize("steps", [1, 0, -1])
def test_a_clock_that_is_a_step_off_passes(owner, codes, steps):
    verify(owner, stale_code(owner, steps=steps))


@pytest.mark.parametrize("steps", [2, -2, 20])
def test_old_and_coming_codes_do_not_pass(owner, codes, steps):
    refused(owner, stale_code(owner, steps=steps))


def test_no_code_before_the_one_that_passed_passes_afterwards(owner, codes):
    earlier, later = stale_code(owner, steps=1), stale_code(owner, steps=0)
    verify(owner, later)
    refused(owner, earlier)


@pytest.mark.parametrize("typed", ["", "12345", "1234567", "abcdef", "１２３４５６", "0" * 40, "\x00"])
def test_what_is_no_code_is_refused(owner, codes, typed):
    refused(owner, typed)


def test_another_persons_codes_are_worth_nothing(owner, labmate, codes):
    others = turn_on_second_factor(labmate)
    refused(owner, app_code(labmate))
    refused(owner, others[0])
    assert verify(labmate, others[0]) == labmate


def test_a_secret_that_was_never_confirmed_lets_nobody_in(owner):
    begin_second_factor(actor=owner)
    with pytest.raises(WrongState, match="no second factor"):
        verify(owner, app_code(owner))


# --- Recovery codes


def test_each_recovery_code_passes_once(owner, codes):
    for left, code in zip(range(9, -1, -1), codes, strict=True):
        verify(owner, code.upper().replace("-", " "))
        refused(owner, code)
        assert second_factor_of(owner).codes_left == left


def test_new_recovery_codes_end_the_old_ones(owner, codes, clock):
    new = renew_recovery_codes(actor=owner, current_password=PASSWORD, code=app_code(owner)).codes
    assert len({*new} - {*codes}) == 10
    refused(owner, codes[0])
    verify(owner, new[0])
    assert AuditRecord.objects.filter(action="renew recovery codes").count() == 1


# --- Password and code, before it is changed


@pytest.mark.parametrize("service", [renew_recovery_codes, turn_off_second_factor])
def test_changes_need_password_and_code(owner, codes, service):
    with pytest.raises(InvalidInput) as refusal:
        service(actor=owner, current_password="wrong", code=app_code(owner))
    assert refusal.value.field == "current_password"
    with pytest.raises(InvalidInput) as refusal:
        service(actor=owner, current_password=PASSWORD, code=wrong_code(owner))
    assert refusal.value.field == "code"
    assert second_factor_of(owner).codes_left == 10
    service(actor=owner, current_password=PASSWORD, code=app_code(owner))  # it was not used up


@pytest.mark.parametrize("service", [renew_recovery_codes, turn_off_second_factor])
def test_there_is_nothing_to_change_without_one(owner, service):
    with pytest.raises(WrongState, match="no second factor"):
        service(actor=owner, current_password=PASSWORD, code="123456")


def test_turning_off_deletes_the_secret_and_ends_other_sessions(owner, codes, client_for):
    other = client_for(owner)
    turn_off_second_factor(actor=owner, current_password=PASSWORD, code=codes[0])
    assert not SecondFactor.objects.exists() and not RecoveryCode.objects.exists()
    assert other.get("/account/").status_code == 302
    record = AuditRecord.objects.latest("id")
    assert (record.action, record.after) == ("turn off second factor", {"second_factor": False})


# --- Taken away by somebody else


def test_an_admin_takes_it_away_with_a_reason_and_the_sessions_end(admin, owner, codes, client_for):
    session = client_for(owner)
    with pytest.raises(InvalidInput) as refusal:
        take_second_factor(actor=admin, person_id=owner.pk, reason=" ")
    assert refusal.value.field == "reason"
    take_second_factor(actor=admin, person_id=owner.pk, reason="lost phone")
    assert not has_second_factor(owner)
    assert session.get("/account/").status_code == 302
    record = AuditRecord.objects.latest("id")
    assert (record.actor, record.action, record.reason) == (admin, "take second factor away", "lost phone")
    assert (record.subject_id, record.before) == (str(owner.pk), {"second_factor": True})
    with pytest.raises(WrongState, match="no second factor"):
        take_second_factor(actor=admin, person_id=owner.pk, reason="lost phone")


def test_nobody_takes_their_own_away(admin, clock):
    turn_on_second_factor(admin)
    with pytest.raises(WrongState, match="Turn your own off"):
        take_second_factor(actor=admin, person_id=admin.pk, reason="lost phone")
    with pytest.raises(NotFound):
        take_second_factor(actor=admin, person_id=admin.pk + 99, reason="lost phone")
    assert has_second_factor(admin)


@pytest.mark.parametrize("who", ["owner", "labmate", "stranger", "visitor"])
def test_only_admins_take_it_away(request, owner, codes, who):
    with pytest.raises(NotAllowed):
        take_second_factor(actor=request.getfixturevalue(who), person_id=owner.pk, reason="lost phone")
    assert has_second_factor(owner)


def test_whoever_has_the_machine_takes_it_away_at_the_console(admin, clock, capsys):
    turn_on_second_factor(admin)
    call_command("take_second_factor", "Admin", reason="phone and codes lost")
    assert "by password alone" in capsys.readouterr().out
    assert not has_second_factor(admin)
    record = AuditRecord.objects.latest("id")
    assert (record.actor, record.reason) == (None, "phone and codes lost")
    with pytest.raises(CommandError, match="no second factor"):
        call_command("take_second_factor", "admin")
    with pytest.raises(CommandError, match="Nobody signs in"):
        call_command("take_second_factor", "nobody")


# --- The limit, and many requests at once


def test_the_twenty_first_wrong_code_is_not_looked_at_even_if_right(owner, codes):
    for n in range(LIMIT):
        with pytest.raises(InvalidInput):
            verify(owner, wrong_code(owner), address=f"198.51.100.{n}")
    with pytest.raises(TooManyTries):
        verify(owner, app_code(owner), address="198.51.100.99")
    with pytest.raises(TooManyTries):
        turn_off_second_factor(actor=owner, current_password=PASSWORD, code=codes[0])


def test_an_address_is_limited_over_all_accounts(owner, labmate, codes):
    turn_on_second_factor(labmate)
    for _ in range(LIMIT):
        refused(owner, wrong_code(owner))
    with pytest.raises(TooManyTries):
        verify(labmate, app_code(labmate))


def test_right_codes_use_nothing_up(owner, codes, clock):
    for _ in range(LIMIT + 5):
        verify(owner, app_code(owner))
        clock.move(seconds=30)


def at_once(tries, one_try):
    """What each of as many parallel tries came to; each thread has a connection of its own."""

    def closing(n):
        try:
            return one_try(n)
        except (TooManyTries, InvalidInput) as fault:
            return fault.code
        finally:
            connection.close()

    with ThreadPoolExecutor(max_workers=tries) as pool:
        return list(pool.map(closing, range(tries)))


@pytest.mark.django_db(transaction=True)
def test_parallel_wrong_codes_are_looked_at_twenty_times(owner, codes, monkeypatch):
    looked_at, look = [], module.matching_step
    monkeypatch.setattr(module, "matching_step", lambda *given: looked_at.append(1) or look(*given))
    wrong = wrong_code(owner)
    outcomes = at_once(60, lambda n: verify(owner, wrong, address=f"198.51.100.{n}"))
    assert len(looked_at) == LIMIT
    assert (outcomes.count("wrong_code"), outcomes.count("too_many_tries")) == (LIMIT, 60 - LIMIT)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("kind", ["app", "recovery"])
def test_of_parallel_uses_of_one_code_one_passes(owner, codes, kind):
    code = app_code(owner) if kind == "app" else codes[0]
    outcomes = at_once(12, lambda n: verify(owner, code, address=f"198.51.100.{n}"))
    assert outcomes.count(owner) == 1
    assert outcomes.count("wrong_code") == 11
