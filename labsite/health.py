"""Whether the site is well, for container engines and monitors; nothing that tells about the lab's work."""

from django.db import DatabaseError, connection
from django.http import JsonResponse

from labsite.jobs.queries import queue_health


def health(request):
    """200 when pages can be served; stalled jobs are said but no reason to take the pages away."""
    return _answer(needs_jobs=False)


def jobs_health(request):
    """200 when, besides, jobs are run: judged by the age of the last canary job that came through."""
    return _answer(needs_jobs=True)


def _answer(*, needs_jobs: bool) -> JsonResponse:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        jobs = queue_health()
    except DatabaseError:
        return JsonResponse({"database": "down"}, status=503)
    canary_age_s = None if jobs.canary_age_s is None else round(jobs.canary_age_s)
    body = {"database": "ok", "jobs": {"state": jobs.state, "canary_age_s": canary_age_s}}
    return JsonResponse(body, status=503 if needs_jobs and not jobs.is_well else 200)
