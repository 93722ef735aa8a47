"""Process standards in revisions, and the runs that were made under them."""

from django.conf import settings
from django.db import models

from curves.models.revisions import Revision, RevisionState


class ProcessStandard(models.Model):
    """The name under which a way of processing is kept; what it fixes is in its revisions."""

    name = models.CharField(max_length=80, unique=True)
    purpose = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class TimeRule(models.TextChoices):
    """How the developing time is chosen."""

    FIXED = "fixed", "one fixed time for every stock"
    RECOMMENDED = "recommended", "each stock's recommended time"
    AIM_CONTRAST = "aim_contrast", "the time that gives the aim contrast"


class ProcessRevision(Revision):
    """Everything that is held the same while stocks are compared."""

    standard = models.ForeignKey(ProcessStandard, on_delete=models.PROTECT, related_name="revisions")
    developer = models.CharField(max_length=120)
    dilution = models.CharField(max_length=60, blank=True)
    temperature_c = models.FloatField()
    temperature_tolerance_c = models.FloatField()
    time_rule = models.CharField(max_length=14, choices=TimeRule.choices, default=TimeRule.FIXED)
    development_time_s = models.PositiveIntegerField(
        null=True, blank=True, help_text="In seconds; needed for a fixed time."
    )
    time_tolerance_s = models.PositiveIntegerField(default=10)
    aim_contrast = models.FloatField(
        null=True,
        blank=True,
        help_text="Average gradient to aim at, such as 0.58; needed for an aim contrast.",
    )
    agitation = models.CharField(max_length=200)
    # The same in numbers, for the timer; empty where the words are all there is.
    agitation_initial_s = models.PositiveIntegerField(
        null=True, blank=True, help_text="Seconds of agitation at the start."
    )
    agitation_every_s = models.PositiveIntegerField(
        null=True, blank=True, help_text="Seconds from one agitation to the next."
    )
    agitation_for_s = models.PositiveIntegerField(
        null=True, blank=True, help_text="Seconds that each agitation lasts."
    )
    developer_keeps_days = models.PositiveIntegerField(
        null=True, blank=True, help_text="Days after which a batch of developer is due to be mixed anew."
    )
    developer_films = models.PositiveIntegerField(
        null=True, blank=True, help_text="Films after which a batch of developer is due to be mixed anew."
    )
    stop_s = models.PositiveIntegerField(null=True, blank=True, help_text="Seconds in the stop bath.")
    fix_s = models.PositiveIntegerField(null=True, blank=True, help_text="Seconds in the fixer.")
    wash_s = models.PositiveIntegerField(null=True, blank=True, help_text="Seconds of washing.")
    stop_bath = models.CharField(max_length=120, blank=True)
    fixer = models.CharField(max_length=120, blank=True)
    wash = models.CharField(max_length=120, blank=True)
    cautions = models.TextField(blank=True)

    class Meta:
        ordering = ["standard", "-number"]
        constraints = [
            models.UniqueConstraint("standard", "number", name="process_revision_number_unique"),
            models.UniqueConstraint(
                "standard",
                condition=models.Q(state=RevisionState.IN_FORCE),
                name="process_revision_one_in_force",
            ),
            models.CheckConstraint(
                condition=models.Q(temperature_tolerance_c__gt=0), name="process_revision_tolerance_positive"
            ),
            models.CheckConstraint(
                condition=~models.Q(time_rule=TimeRule.FIXED) | models.Q(development_time_s__gt=0),
                name="process_revision_fixed_time_given",
            ),
            models.CheckConstraint(
                condition=~models.Q(time_rule=TimeRule.AIM_CONTRAST) | models.Q(aim_contrast__gt=0),
                name="process_revision_aim_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.standard}, revision {self.number}"


class ControlState(models.TextChoices):
    """Whether a run was shown to be like the others."""

    UNPROVEN = "unproven", "unproven"
    IN_CONTROL = "in_control", "in control"
    OUT_OF_CONTROL = "out_of_control", "out of control"


class ProcessRun(models.Model):
    """One tank or machine load under one revision, as it really went."""

    revision = models.ForeignKey(ProcessRevision, on_delete=models.PROTECT, related_name="runs")
    ran_on = models.DateField()
    operator = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="process_runs"
    )
    temperature_start_c = models.FloatField()
    temperature_end_c = models.FloatField(null=True, blank=True)
    development_time_s = models.PositiveIntegerField()
    developer_batch = models.CharField(max_length=80, blank=True)
    films_through = models.PositiveIntegerField(
        default=0, help_text="Films developed in this developer batch before this run."
    )
    control_state = models.CharField(
        max_length=16, choices=ControlState.choices, default=ControlState.UNPROVEN
    )
    control_reason = models.TextField(
        blank=True, help_text="Which rule was broken, or what showed it in control."
    )
    notes = models.TextField(blank=True)
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    void_reason = models.TextField(blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-ran_on", "-id"]
        constraints = [
            # Whatever asks for a run out of control holds its rolls back, so it holds for a void run too.
            models.CheckConstraint(
                condition=models.Q(voided_at__isnull=True)
                | (models.Q(control_state="out_of_control") & ~models.Q(void_reason="")),
                name="process_run_void_is_out_of_control",
            ),
            models.CheckConstraint(
                condition=models.Q(control_state=ControlState.UNPROVEN) | ~models.Q(control_reason=""),
                name="process_run_control_reason_given",
            ),
            models.CheckConstraint(
                condition=models.Q(development_time_s__gt=0), name="process_run_time_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"run {self.pk} of {self.ran_on:%Y-%m-%d}"

    @property
    def is_void(self) -> bool:
        """Whether an admin declared it wrong, so that nothing rests on it any more."""
        return self.voided_at is not None
