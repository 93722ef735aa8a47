"""The lab itself: one row of settings that admins change on a page."""

from django.db import models


class Lab(models.Model):
    """Name and habits of this lab. There is one row; ``queries.current_lab`` finds it."""

    ONLY_ID = 1

    id = models.PositiveSmallIntegerField(primary_key=True, default=ONLY_ID, editable=False)
    name = models.CharField(max_length=80, default="Our lab")
    contact = models.CharField(max_length=200, blank=True)
    is_open_to_visitors = models.BooleanField(
        "open to visitors",
        default=False,
        help_text="People without an account may read accepted results, comparisons and stock sheets.",
    )
    admins_need_second_factor = models.BooleanField(
        "admins sign in with a second factor",
        default=False,
        help_text="Recommended. An admin without one may do only what a member may.",
    )
    is_demo = models.BooleanField("demo lab", default=False, editable=False)

    class Meta:
        verbose_name = "lab"
        constraints = [
            models.CheckConstraint(condition=models.Q(id=1), name="lab_is_one_row"),
        ]

    def __str__(self) -> str:
        return self.name
