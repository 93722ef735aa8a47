"""Whether the site is well, for container engines and monitors: the database answers."""

from django.db import DatabaseError, connection
from django.http import JsonResponse


def health(request):
    """200 when all is well, 503 and the reason otherwise; nothing that tells about the lab's work."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return JsonResponse({"status": "down", "database": "does not answer"}, status=503)
    return JsonResponse({"status": "ok", "database": "answers"})
