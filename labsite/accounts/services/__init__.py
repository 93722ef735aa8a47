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
from labsite.accounts.services.people import (
    change_role,
    reactivate_user,
    retire_user,
    take_second_factor,
    take_second_factor_at_console,
)
from labsite.accounts.services.profile import sign_out_everywhere, update_profile
from labsite.accounts.services.second_factor import (
    begin_second_factor,
    confirm_second_factor,
    renew_recovery_codes,
    turn_off_second_factor,
    verify_code,
)
from labsite.accounts.services.sign_in import TooManyTries, verify_sign_in

__all__ = [
    "TooManyTries",
    "accept_invite",
    "begin_second_factor",
    "change_password",
    "change_role",
    "confirm_second_factor",
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
    "renew_recovery_codes",
    "retire_user",
    "revoke_invite",
    "revoke_token",
    "sign_out_everywhere",
    "take_second_factor",
    "take_second_factor_at_console",
    "turn_off_second_factor",
    "update_lab",
    "update_profile",
    "verify_code",
    "verify_sign_in",
]
