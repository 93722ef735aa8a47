"""Reading: the lab's settings, its people, invites and tokens, and who sees which."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Q, QuerySet

from labsite.accounts.models import ApiToken, AuditRecord, Invite, Lab, SecondFactor, User
from labsite.accounts.models.invites import Purpose
from labsite.accounts.models.secrets import hash_token
from labsite.common.access import ADMIN, is_admin, is_member
from labsite.common.errors import NotFound, WrongState

CLOSED_LINK = {
    "unknown": "This link is not one of ours. Check that the whole of it was copied.",
    "used": "This link was used already. Sign in, or ask an admin for another.",
    "revoked": "This link was withdrawn. Ask an admin for another.",
    "expired": "This link has expired. Ask for another.",
}


def current_lab() -> Lab:
    """Return the lab's settings; the defaults, unsaved, before anybody has changed them."""
    return Lab.objects.first() or Lab()


def may_read_accepted(user) -> bool:
    """Whether this person, perhaps a visitor, may read accepted results."""
    return is_member(user) or current_lab().is_open_to_visitors


def has_active_admin() -> bool:
    """Whether anybody can run this lab."""
    return User.objects.filter(is_active=True, role=ADMIN).exists()


def second_factor_of(user) -> SecondFactor | None:
    """Return a person's own second factor, confirmed or being set up."""
    return SecondFactor.objects.filter(user=user).first()


def has_second_factor(user) -> bool:
    """Whether sign-in asks this person for a code."""
    factor = second_factor_of(user)
    return factor is not None and factor.is_confirmed


def people_visible_to(user) -> QuerySet[User]:
    """Return the accounts of the lab, retired ones last: all of them for admins, none for others.

    Each says with ``has_factor`` whether sign-in asks for a code.
    """
    factors = SecondFactor.objects.filter(user=OuterRef("pk"), confirmed_at__isnull=False)
    people = User.objects.annotate(has_factor=Exists(factors))
    people = people.order_by("-is_active", "display_name", "id")
    return people if is_admin(user) else people.none()


def person_visible_to(user, person_id: int) -> User:
    """Return one account, or refuse."""
    person = people_visible_to(user).filter(pk=person_id).first()
    if person is None:
        raise NotFound("There is no such person in this lab.")
    return person


def invites_visible_to(user) -> QuerySet[Invite]:
    """Return the invites, newest first, with who made and who used them; none but for admins."""
    invites = Invite.objects.select_related("created_by", "used_by")
    return invites if is_admin(user) else invites.none()


def open_invite(token: str, purpose: Purpose) -> Invite:
    """Return the invite behind a link that still works for this, or say why it does not."""
    same_token = Invite.objects.select_related("person").filter(token_hash=hash_token(token))
    invite = same_token.filter(purpose=purpose).first()
    if invite is None:
        raise WrongState(CLOSED_LINK["unknown"], code="link_unknown")
    if invite.state != "open":
        raise WrongState(CLOSED_LINK[invite.state], code=f"link_{invite.state}")
    if purpose == Purpose.FIRST_ADMIN and has_active_admin():
        raise WrongState("This lab has an admin already. Ask them for an invite.", code="link_used")
    return invite


def tokens_of(user) -> QuerySet[ApiToken]:
    """Return a person's own access tokens, newest first."""
    return ApiToken.objects.filter(user=user)


@dataclass(frozen=True)
class HistoryFilter:
    """Which entries of the history are wanted; empty values want all."""

    person_id: int | None = None
    action: str = ""
    about: str = ""
    subject_type: str = ""
    subject_id: str = ""
    request_id: str = ""
    first_on: date | None = None
    last_on: date | None = None

    def condition(self) -> Q:
        """Return the filter as a condition on audit records."""
        wanted = {
            "actor_id": self.person_id,
            "action": self.action,
            "subject_label__icontains": self.about,
            "subject_type": self.subject_type,
            "subject_id": self.subject_id,
            "request_id": self.request_id,
            "at__date__gte": self.first_on,
            "at__date__lte": self.last_on,
        }
        return Q(**{name: value for name, value in wanted.items() if value})


def history_visible_to(user, wanted: HistoryFilter) -> QuerySet[AuditRecord]:
    """Return the lab's history, newest first; none but for admins."""
    records = AuditRecord.objects.select_related("actor").filter(wanted.condition())
    return records if is_admin(user) else records.none()


def actions_in_history() -> list[str]:
    """Return every action that the history knows, for a filter."""
    return list(AuditRecord.objects.order_by("action").values_list("action", flat=True).distinct())
