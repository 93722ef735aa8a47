"""The lab's safety data sheets, for a process or for everything."""

from django.db.models import Q, QuerySet

from curves.models import SafetySheet


def safety_sheets(user, *, standard_id: int | None = None) -> QuerySet[SafetySheet]:
    """Return the sheets that stand; for a process standard its own and those of the whole lab.

    They are nobody's secret, so everybody who sees a process sees them.
    """
    sheets = SafetySheet.objects.filter(is_active=True).select_related("standard")
    if standard_id is None:
        return sheets
    return sheets.filter(Q(standard_id=standard_id) | Q(standard__isnull=True))
