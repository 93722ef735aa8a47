"""What drill jobs leave behind. Nothing here is unique, so that doubles show."""

from django.db import models


class DrillStart(models.Model):
    """One attempt began."""

    job_id = models.UUIDField()
    attempt = models.PositiveSmallIntegerField()
    pid = models.PositiveIntegerField()
    started_at = models.DateTimeField(auto_now_add=True)

    def __str__(self):
        return f"attempt {self.attempt} at {self.job_id}"


class DrillResult(models.Model):
    """One result was stored."""

    job_id = models.UUIDField()
    attempt = models.PositiveSmallIntegerField()
    stored_at = models.DateTimeField(auto_now_add=True)

    def __str__(self):
        return f"result of {self.job_id}"


class DrillPair(models.Model):
    """One half of something that is whole only with both."""

    number = models.PositiveIntegerField()
    half = models.PositiveSmallIntegerField()

    def __str__(self):
        return f"half {self.half} of {self.number}"
