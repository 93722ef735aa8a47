"""People with a second factor, made through the services as the pages make it."""

from django.utils import timezone

from labsite.accounts.models import SecondFactor, User
from labsite.accounts.models.one_time_codes import STEP_S, code_at
from labsite.accounts.services import begin_second_factor, confirm_second_factor

#: The password of everybody in the cast.
PASSWORD = "grey-card-18"


def turn_on_second_factor(user: User) -> list[str]:
    """Set it up and return its recovery codes; ``user`` is then as the database has it."""
    begin_second_factor(actor=user)
    codes = confirm_second_factor(actor=user, current_password=PASSWORD, code=app_code(user)).codes
    user.refresh_from_db()
    user.__dict__.pop("lacks_second_factor", None)  # known of this object from before
    return codes


def app_code(user: User) -> str:
    """What the person's app shows: the first code not used yet, of this time step or of the next."""
    factor = SecondFactor.objects.get(user=user)
    now = int(timezone.now().timestamp() // STEP_S)
    return code_at(factor.secret, max(now, factor.last_step + 1))


def stale_code(user: User, *, steps: int) -> str:
    """What the app showed some time steps ago."""
    now = int(timezone.now().timestamp() // STEP_S)
    return code_at(SecondFactor.objects.get(user=user).secret, now - steps)


def wrong_code(user: User) -> str:
    """Six digits that the app shows in none of the steps around now."""
    shown = {stale_code(user, steps=steps) for steps in range(-3, 4)}
    return next(code for n in range(10) if (code := f"{n:06d}") not in shown)
