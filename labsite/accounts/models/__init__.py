"""Rows of the accounts app, a noun a file."""

from labsite.accounts.models.history import AuditRecord
from labsite.accounts.models.invites import Invite
from labsite.accounts.models.lab import Lab
from labsite.accounts.models.people import User
from labsite.accounts.models.second_factor import RecoveryCode, SecondFactor
from labsite.accounts.models.sign_in import SignInLimit
from labsite.accounts.models.tokens import ApiToken

__all__ = [
    "ApiToken",
    "AuditRecord",
    "Invite",
    "Lab",
    "RecoveryCode",
    "SecondFactor",
    "SignInLimit",
    "User",
]
