"""Set up, use and give up one's second factor: codes of an app, and recovery codes for when it is lost.

A code is used up by a filtered update, so that of two requests with the same one only the first passes.
"""

import logging
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from labsite.accounts.models import RecoveryCode, SecondFactor, User
from labsite.accounts.models.one_time_codes import as_stored, matching_step, new_recovery_codes, new_secret
from labsite.accounts.models.secrets import hash_token
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.passwords import locked_account
from labsite.accounts.services.sign_in import account_key, address_key, code_key, counted_check
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, WrongState

WRONG_CODE = "That code is not right, or it was used already. Wait for the app's next one, and type that."

log = logging.getLogger("labsite.security")


@dataclass(frozen=True)
class NewCodes:
    """Recovery codes, which are known only now, and the account as it is since."""

    person: User
    codes: list[str]


@transaction.atomic
def begin_second_factor(*, actor: User) -> SecondFactor:
    """Make a secret for one's app, in the place of one that was never confirmed."""
    require_member(actor)
    person = locked_account(actor.pk)
    _refuse_second(person)
    SecondFactor.objects.filter(user=person).delete()
    factor = SecondFactor.objects.create(user=person, secret=new_secret())
    record_audit(actor=actor, action="begin second factor", subject=person)
    return factor


def confirm_second_factor(*, actor: User, current_password: str, code: str) -> NewCodes:
    """Turn the second factor on, as the app shows the right code; every other session ends.

    The password is asked for, so that nobody at a session left open shuts its owner out.
    """
    require_member(actor)
    with counted_check(account_key(actor.username), code_key(actor)):
        _check_password(actor, current_password)
        return _turn_on(actor, code)


def verify_code(*, user: User, code: str, address: str) -> User:
    """Let the second step of sign-in pass by a code of the app or a recovery code, or refuse it."""
    with counted_check(address_key(address), code_key(user)):
        _use_code(user, code)
    log.info("Second factor of account %s passed", user.pk)
    return user


def renew_recovery_codes(*, actor: User, current_password: str, code: str) -> NewCodes:
    """Make ten new recovery codes; those before them are worthless."""
    _prove(actor, current_password, code)
    with transaction.atomic():
        person = locked_account(actor.pk)
        factor = _own_factor(person)
        factor.recovery_codes.all().delete()
        codes = _give_codes(factor)
        after = {"recovery_codes": len(codes)}
        record_audit(actor=actor, action="renew recovery codes", subject=person, after=after)
    return NewCodes(person, codes)


def turn_off_second_factor(*, actor: User, current_password: str, code: str) -> User:
    """Give one's second factor up; every other session ends."""
    _prove(actor, current_password, code)
    with transaction.atomic():
        person = locked_account(actor.pk)
        _own_factor(person)
        remove_factor(person, actor=actor, action="turn off second factor")
    return person


def remove_factor(person: User, *, actor: User | None, action: str, reason: str = "") -> None:
    """Delete the secret and the codes of a locked account, and end its sessions."""
    SecondFactor.objects.filter(user=person).delete()
    _end_sessions(person)
    record_audit(
        actor=actor,
        action=action,
        subject=person,
        before={"second_factor": True},
        after={"second_factor": False},
        reason=reason,
    )


def _prove(actor: User, current_password: str, code: str) -> None:
    require_member(actor)
    _own_factor(actor)
    with counted_check(account_key(actor.username), code_key(actor)):
        _check_password(actor, current_password)
        _use_code(actor, code)


def _check_password(actor: User, current_password: str) -> None:
    if not actor.check_password(current_password):
        raise InvalidInput("That is not your present password.", field="current_password")


@transaction.atomic
def _turn_on(actor: User, code: str) -> NewCodes:
    person = locked_account(actor.pk)
    _refuse_second(person)
    factor = SecondFactor.objects.filter(user=person).first()
    if factor is None:
        raise WrongState("Nothing is being set up. Begin again.")
    now = timezone.now()
    step = matching_step(factor.secret, as_stored(code), now.timestamp())
    if step is None:
        message = "That is not the app's code now. Wait for its next one; is the phone's clock right?"
        raise InvalidInput(message, field="code", code="wrong_code")
    factor.confirmed_at, factor.last_step = now, step
    factor.save(update_fields=["confirmed_at", "last_step"])
    codes = _give_codes(factor)
    _end_sessions(person)
    record_audit(
        actor=actor,
        action="turn on second factor",
        subject=person,
        before={"second_factor": False},
        after={"second_factor": True, "recovery_codes": len(codes)},
    )
    return NewCodes(person, codes)


@transaction.atomic
def _use_code(user: User, code: str) -> None:
    factor = _own_factor(user)
    typed = as_stored(code)
    if not (_use_step(factor, typed) or _use_recovery_code(factor, typed)):
        log.warning("Second factor refused for account %s", user.pk)
        raise InvalidInput(WRONG_CODE, field="code", code="wrong_code")


def _use_step(factor: SecondFactor, typed: str) -> bool:
    step = matching_step(factor.secret, typed, timezone.now().timestamp())
    if step is None:
        return False
    unused = SecondFactor.objects.filter(pk=factor.pk, last_step__lt=step)
    return unused.update(last_step=step) == 1


def _use_recovery_code(factor: SecondFactor, typed: str) -> bool:
    unused = RecoveryCode.objects.filter(factor=factor, code_hash=hash_token(typed), used_at=None)
    if unused.update(used_at=timezone.now()) != 1:
        return False
    after = {"recovery_codes_left": factor.codes_left}
    record_audit(actor=factor.user, action="use recovery code", subject=factor.user, after=after)
    return True


def _give_codes(factor: SecondFactor) -> list[str]:
    codes = new_recovery_codes()
    rows = [RecoveryCode(factor=factor, code_hash=hash_token(as_stored(code))) for code in codes]
    RecoveryCode.objects.bulk_create(rows)
    return codes


def _own_factor(person: User) -> SecondFactor:
    factor = SecondFactor.objects.filter(user=person, confirmed_at__isnull=False).first()
    if factor is None:
        raise WrongState("This account has no second factor.")
    return factor


def _refuse_second(person: User) -> None:
    if SecondFactor.objects.filter(user=person, confirmed_at__isnull=False).exists():
        raise WrongState("Your second factor is on already. Turn it off first, then set it up anew.")


def _end_sessions(person: User) -> None:
    person.session_epoch += 1
    person.save(update_fields=["session_epoch"])
