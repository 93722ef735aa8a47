"""Writing: one verb a service, each in one transaction with its entry in the history."""

from labsite.accounts.services.audit import record_audit

__all__ = ["record_audit"]
