"""Where the lab keeps the safety data sheets of its chemicals."""

from django.conf import settings
from django.db import models

from curves.models.processes import ProcessStandard


class SafetySheet(models.Model):
    """The address of one product's safety data sheet, for the whole lab or for one process standard."""

    chemical = models.CharField(max_length=120, help_text="The product as its bottle names it.")
    title = models.CharField(max_length=160, blank=True)
    url = models.URLField(max_length=500)
    standard = models.ForeignKey(
        ProcessStandard, on_delete=models.PROTECT, null=True, blank=True, related_name="safety_sheets"
    )
    is_active = models.BooleanField(default=True)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["chemical", "id"]

    def __str__(self) -> str:
        return self.title or self.chemical
