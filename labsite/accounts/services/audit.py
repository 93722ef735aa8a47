"""The history's only writer."""

from django.db import models, transaction

from labsite.accounts.models import AuditRecord, User
from labsite.common.request_id import current_request_id


def record_audit(
    *,
    actor: User | None,
    action: str,
    subject: models.Model,
    before: dict | None = None,
    after: dict | None = None,
    reason: str = "",
) -> AuditRecord:
    """Remember one change, in the transaction that makes it; ``actor`` is None for the site itself.

    ``action`` is a verb and a noun in plain words ("accept roll"); ``before`` and ``after`` hold the
    changed fields only, and never a secret.
    """
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError("History is written in the transaction of its change.")
    label = str(subject)
    return AuditRecord.objects.create(
        actor=actor if actor is not None and actor.is_authenticated else None,
        action=action,
        subject_type=subject._meta.label_lower,
        subject_id=str(subject.pk),
        subject_label=label if len(label) <= 200 else label[:199] + "…",
        before=before,
        after=after,
        reason=reason.strip(),
        request_id=current_request_id(),
    )
