"""The job that publishes a stock's sheet: what readings tell and what scans tell, put together and frozen."""

from curves.models import StockResult
from curves.queries.sheet_content import sheet_content
from curves.services.sheets import store_sheet_version
from labsite.jobs.registry import JobRun, job_handler
from scans.queries.sheet_pictures import sheet_pictures


@job_handler("publish_sheet", time_limit_s=120)
def publish_sheet(run: JobRun) -> dict:
    """Publish what stands for a stock under two standards, if it says anything new."""
    names = ("stock_id", "process_revision_id", "exposure_revision_id")
    found = StockResult.objects.filter(**{name: run.subject[name] for name in names}).select_related(
        "stock", "pooled", "process_revision__standard", "exposure_revision__standard"
    )
    result = found.first()
    if result is None:
        return {"published": False, "why": "No result stands any more."}
    run.progress(10, "Looking at scans")
    pictures = sheet_pictures(result)
    run.progress(50, "Putting the sheet together")
    content = sheet_content(result, pictures=pictures.documents)
    with run.storing():
        version = store_sheet_version(
            result=result,
            content=content,
            png=pictures.png,
            reason=run.subject.get("reason", ""),
            published_by_id=run.requested_by_id,
        )
    if version is None:
        return {"published": False, "why": "Nothing has changed since the version before."}
    return {"published": True, "number": version.number}
