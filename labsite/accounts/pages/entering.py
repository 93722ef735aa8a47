"""The way in after a right password or link: at once, or past the second factor first.

Between the two steps nobody is signed in. The session only remembers, for five minutes, whose password
was right; the signature with it ends that when the password or the account's sessions change.
"""

from django.contrib import auth, messages
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from labsite.accounts.models import User
from labsite.accounts.queries import has_second_factor

HALF_WAY = "half_way_in"
HALF_WAY_S = 300


def enter(request, user: User, next_path: str):
    """Sign the person in, or lead on to the page that asks for a code."""
    if not has_second_factor(user):
        return finish(request, user, next_path)
    # A key that somebody planted before is worth nothing afterwards.
    request.session.cycle_key()
    request.session[HALF_WAY] = {
        "person_id": user.pk,
        "signature": user.get_session_auth_hash(),
        "at_s": timezone.now().timestamp(),
        "next": next_path,
    }
    return redirect("accounts:sign_in_code")


def person_half_way(request) -> User | None:
    """Return whose code is awaited; None when nobody's is, or not any more."""
    state = request.session.get(HALF_WAY)
    if state is None or abs(timezone.now().timestamp() - state["at_s"]) >= HALF_WAY_S:
        return None
    user = User.objects.filter(pk=state["person_id"], is_active=True).first()
    if user is None or not constant_time_compare(state["signature"], user.get_session_auth_hash()):
        return None
    return user


def path_half_way(request) -> str:
    """Return where the person half-way in wanted to go."""
    return request.session.get(HALF_WAY, {}).get("next", "/")


def forget_half_way(request) -> None:
    """Leave nobody half-way in."""
    request.session.pop(HALF_WAY, None)


def finish(request, user: User, next_path: str):
    """Sign the person in; an admin who has yet to set up a second factor is led there."""
    forget_half_way(request)
    auth.login(request, user)
    if user.lacks_second_factor:
        messages.warning(request, "This lab asks its admins for a second factor. Please set yours up now.")
        return redirect("accounts:second_factor")
    return redirect(next_path)
