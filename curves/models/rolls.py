"""Test rolls and the tablet exposures (strips) on them."""

from django.conf import settings
from django.db import models

from curves.models.exposures import ExposureRevision
from curves.models.films import Batch
from curves.models.instruments import TabletRevision
from curves.models.processes import ControlState, ProcessRevision, ProcessRun


class RollState(models.TextChoices):
    """draft → submitted → accepted or returned (→ submitted …); accepted → withdrawn or void."""

    DRAFT = "draft", "draft"
    SUBMITTED = "submitted", "submitted"
    RETURNED = "returned", "returned"
    ACCEPTED = "accepted", "accepted"
    WITHDRAWN = "withdrawn", "withdrawn"
    VOID = "void", "void"


EDITABLE_STATES = (RollState.DRAFT, RollState.RETURNED)
#: What nobody has decided on yet: its curve follows whatever it is computed from.
UNDECIDED_STATES = (*EDITABLE_STATES, RollState.SUBMITTED)


class Roll(models.Model):
    """A piece of film that was exposed and processed to learn what its stock does."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="rolls")
    exposure_revision = models.ForeignKey(ExposureRevision, on_delete=models.PROTECT, related_name="rolls")
    process_revision = models.ForeignKey(ProcessRevision, on_delete=models.PROTECT, related_name="rolls")
    run = models.ForeignKey(ProcessRun, on_delete=models.PROTECT, null=True, blank=True, related_name="rolls")
    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="rolls")
    state = models.CharField(max_length=10, choices=RollState.choices, default=RollState.DRAFT)
    exposed_on = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True)
    control_override_reason = models.TextField(
        blank=True, help_text="Why an admin lets it into comparisons although its run was out of control."
    )
    hold_reason = models.TextField(
        blank=True, help_text="What was found wrong with what it rests on, apart from its run."
    )
    hold_override_reason = models.TextField(
        blank=True, help_text="Why an admin lets it into comparisons although that was found."
    )
    current_analysis = models.ForeignKey(
        "curves.Analysis", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)
    submitted_at = models.DateTimeField(null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["state", "process_revision", "exposure_revision"], name="roll_standing")
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def code(self) -> str:
        """The name by which people call the roll."""
        return f"R-{self.pk:04d}" if self.pk else "new roll"

    @property
    def is_editable(self) -> bool:
        """Whether its member may still change it."""
        return self.state in EDITABLE_STATES

    @property
    def is_held_back(self) -> bool:
        """Whether its run, or what was found wrong with its readings, keeps it out of comparisons."""
        return self._is_held_by_run or self._is_held_by_finding

    @property
    def held_back_by(self) -> str:
        """What keeps it out in words; empty where nothing does."""
        reasons = []
        if self._is_held_by_run:
            state = "is" if self.run.is_void else "was out of control:"
            reasons.append(f"its run {state} {self.run.control_reason}")
        if self._is_held_by_finding:
            reasons.append(self.hold_reason)
        return "; ".join(reasons)

    @property
    def _is_held_by_run(self) -> bool:
        return self.is_run_out_of_control and not self.control_override_reason

    @property
    def _is_held_by_finding(self) -> bool:
        return bool(self.hold_reason) and not self.hold_override_reason

    @property
    def override_reasons(self) -> tuple[str, ...]:
        """Why an admin let it in all the same; told wherever its result is."""
        given = []
        if self.is_run_out_of_control and self.control_override_reason:
            given.append(self.control_override_reason)
        if self.hold_reason and self.hold_override_reason:
            given.append(self.hold_override_reason)
        return tuple(given)

    @property
    def is_run_out_of_control(self) -> bool:
        """Whether its run was found out of control, or is void."""
        return self.run is not None and self.run.control_state == ControlState.OUT_OF_CONTROL


class Strip(models.Model):
    """One exposure of the step tablet on a roll."""

    roll = models.ForeignKey(Roll, on_delete=models.CASCADE, related_name="strips")
    number = models.PositiveSmallIntegerField(default=1)
    tablet_revision = models.ForeignKey(TabletRevision, on_delete=models.PROTECT, related_name="strips")

    class Meta:
        ordering = ["roll", "number"]
        constraints = [models.UniqueConstraint("roll", "number", name="strip_number_unique")]

    def __str__(self) -> str:
        return f"strip {self.number}"
