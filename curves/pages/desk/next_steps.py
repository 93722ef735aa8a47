"""The one next step of a roll in a few words, with the address where it is taken."""

from django.urls import reverse

from curves.queries.desk import BenchRoll

#: Code of the step → what to do, and on which page; no page is the roll's own.
MINE = {
    "record_run": ("Record the process run", "roll_run"),
    "enter_readings": ("Enter the readings", "roll_readings"),
    "fit_again": ("Have the curve fitted again", ""),
    "wait_for_curve": ("See how the fit goes", ""),
    "mend": ("Mend what the review asks for", ""),
    "submit": ("Look at the curve, then submit", ""),
    "review": ("Review it: no other admin can", ""),
}
ELSEWHERE = {
    "wait_for_curve": "The curve is being fitted",
    "review": "Waits for a review",
}


def step_link(line: BenchRoll) -> tuple[str, str]:
    """Return words and address of the step that its member takes next."""
    words, page = MINE[line.step.code]
    if page == "roll_readings":
        return words, reverse(page, args=[line.roll.pk, line.first_strip])
    return words, reverse(page or "roll", args=[line.roll.pk])


def waiting_words(line: BenchRoll) -> str:
    """Return what a roll waits for when it is not its member's turn."""
    return ELSEWHERE[line.step.code]
