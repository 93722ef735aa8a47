"""Where the lab keeps the safety data sheets of its chemicals: added, and taken off the list."""

from django.db import transaction

from curves.models import ProcessStandard, SafetySheet
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

NOT_AN_ADDRESS = "Give the whole address of the sheet, beginning with https:// or http://."


@transaction.atomic
def add_safety_sheet(
    *, actor, chemical: str, url: str, title: str = "", standard_id: int | None = None
) -> SafetySheet:
    """Link a product's safety data sheet, for the whole lab or for one process standard."""
    require_admin(actor)
    if standard_id is not None and not ProcessStandard.objects.filter(pk=standard_id).exists():
        raise InvalidInput("Choose a process standard of the list.", field="standard_id")
    sheet = SafetySheet(
        chemical=chemical.strip(),
        url=url.strip(),
        title=title.strip(),
        standard_id=standard_id,
        added_by=actor,
    )
    is_web = sheet.url.lower().startswith(("https://", "http://"))
    check_fields(
        sheet,
        "chemical",
        "url",
        "title",
        also=() if is_web else ({"field": "url", "message": NOT_AN_ADDRESS},),
    )
    sheet.save()
    record_audit(
        actor=actor,
        action="add safety sheet",
        subject=sheet,
        after={"chemical": sheet.chemical, "url": sheet.url},
    )
    return sheet


@transaction.atomic
def remove_safety_sheet(*, actor, sheet_id: int) -> SafetySheet:
    """Take a sheet off the list; the history keeps where it was."""
    require_admin(actor)
    sheet = SafetySheet.objects.select_for_update(of=("self",)).filter(pk=sheet_id).first()
    if sheet is None:
        raise NotFound("There is no such sheet.")
    if not sheet.is_active:
        raise WrongState("This sheet is off the list already.")
    sheet.is_active = False
    sheet.save(update_fields=["is_active"])
    record_audit(actor=actor, action="remove safety sheet", subject=sheet, before={"url": sheet.url})
    return sheet
