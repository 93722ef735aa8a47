"""Writing: one verb a service, each in one transaction with its entry in the history."""

from labsite.accounts.services.access_tokens import issue_token, live_token, revoke_token
from labsite.accounts.services.audit import record_audit
from labsite.accounts.services.invites import (
    create_invite,
    create_password_link,
    first_admin_link,
    revoke_invite,
)
from labsite.accounts.services.joining import accept_invite, create_first_admin
from labsite.accounts.services.lab import mark_demo_lab, update_lab
from labsite.accounts.services.passwords import change_password, renew_password
from labsite.accounts.services.people import change_role, reactivate_user, retire_user
from labsite.accounts.services.profile import sign_out_everywhere, update_profile
from labsite.accounts.services.sign_in import TooManyTries, verify_sign_in

__all__ = [
    "TooManyTries",
    "accept_invite",
    "change_password",
    "change_role",
    "create_first_admin",
    "create_invite",
    "create_password_link",
    "first_admin_link",
    "issue_token",
    "live_token",
    "mark_demo_lab",
    "reactivate_user",
    "record_audit",
    "renew_password",
    "retire_user",
    "revoke_invite",
    "revoke_token",
    "sign_out_everywhere",
    "update_lab",
    "update_profile",
    "verify_sign_in",
]
