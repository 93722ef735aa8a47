"""Publishing stock sheets: a new version whenever what stands has changed, and at an admin's wish."""

from django.db import transaction

from curves.models import FilmStock, SheetPicture, SheetVersion, StockResult
from curves.queries.sheet_changes import sheet_changes
from curves.queries.sheet_content import content_digest
from labsite.accounts.models import User
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job

LONGEST_REASON = 500


def request_sheet(
    *,
    stock_id: int,
    process_revision_id: int,
    exposure_revision_id: int,
    requested_by=None,
    reason: str = "",
) -> Job:
    """Submit the publishing of what stands for a stock under two standards, on commit."""
    subject = {
        "stock_id": stock_id,
        "process_revision_id": process_revision_id,
        "exposure_revision_id": exposure_revision_id,
    }
    key = f"publish_sheet:{stock_id}:{process_revision_id}:{exposure_revision_id}"
    name = FilmStock.objects.values_list("name", flat=True).get(pk=stock_id)
    return submit_job(
        kind="publish_sheet",
        subject=subject | ({"reason": reason} if reason else {}),
        label=f"Publish the sheet of {name}",
        requested_by=requested_by,
        # One that was asked for by hand has its own reason, which must not be lost in another's job.
        dedupe_key="" if reason else key,
        link=f"/stocks/{stock_id}/sheet/{process_revision_id}-{exposure_revision_id}/",
    )


def request_sheets_under(*, process_revision_id: int, exposure_revision_id: int, requested_by=None) -> None:
    """Have the sheets of all stocks under two standards published anew: their reference is another one."""
    pair = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    for stock_id in (
        StockResult.objects.filter(**pair).order_by("stock_id").values_list("stock_id", flat=True)
    ):
        request_sheet(stock_id=stock_id, **pair, requested_by=requested_by)


@transaction.atomic
def publish_sheet(
    *, actor, stock_id: int, process_revision_id: int, exposure_revision_id: int, reason: str
) -> Job:
    """Have a version published by hand, with what has come since: prices, scans, a newer reference."""
    require_admin(actor)
    pair = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    stocks = FilmStock.objects.filter(pk=stock_id)
    if not StockResult.objects.filter(stock__in=stocks, **pair).exists():
        raise NotFound(
            "No result stands for this stock under these standards, so there is nothing to publish."
        )
    reason = reason.strip()
    if not reason or len(reason) > LONGEST_REASON:
        raise InvalidInput(f"Say in up to {LONGEST_REASON} characters why it is published.", field="reason")
    return request_sheet(stock_id=stock_id, **pair, requested_by=actor, reason=reason)


@transaction.atomic
def store_sheet_version(
    *,
    result: StockResult,
    content: dict,
    png: bytes | None = None,
    reason: str = "",
    published_by_id: int | None = None,
) -> SheetVersion | None:
    """Keep a version, unless it says the same as the one before or its result stands no more.

    A result that was replaced meanwhile has a job of its own. None where nothing was kept.
    """
    FilmStock.objects.select_for_update(no_key=True).filter(pk=result.stock_id).first()
    if not StockResult.objects.filter(pk=result.pk, pooled=result.pooled_id).exists():
        return None
    versions = SheetVersion.objects.filter(
        stock=result.stock_id,
        process_revision=result.process_revision_id,
        exposure_revision=result.exposure_revision_id,
    )
    before = versions.order_by("-number").first()
    digest = content_digest(content)
    if before is not None and before.digest == digest:
        return None
    by_hand = User.objects.filter(pk=published_by_id).first() if reason else None
    version = SheetVersion.objects.create(
        stock_id=result.stock_id,
        process_revision_id=result.process_revision_id,
        exposure_revision_id=result.exposure_revision_id,
        number=before.number + 1 if before else 1,
        pooled_id=result.pooled_id,
        picture=_picture(content, png),
        content=content,
        changes=sheet_changes(before.content if before else None, content),
        digest=digest,
        reason=reason if by_hand else "",
        published_by=by_hand,
    )
    record_audit(
        actor=by_hand,
        action="publish sheet",
        subject=version,
        after={"number": version.number, "digest": digest, "result": version.pooled_id},
        reason=version.reason,
    )
    return version


def _picture(content: dict, png: bytes | None) -> SheetPicture | None:
    if content["crop"] is None or png is None:
        return None
    return SheetPicture.objects.get_or_create(digest=content["crop"]["picture"], defaults={"png": png})[0]
