"""What a browser would send to the pages of rolls, and how their answers are read."""

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from tests.factories.rolls import reading_values


def text(response) -> str:
    """The page with every run of blanks made one."""
    return " ".join(response.content.decode().split())


def told(response) -> list[str]:
    """The messages of a page."""
    return [str(message) for message in response.context["messages"]]


def grid_post(roll, *, seed=1, **cells) -> dict:
    """What the grid's form sends for a whole strip, with some cells typed otherwise."""
    typed = {}
    for value in reading_values(roll, seed=seed):
        step = "unexposed" if value.step == 0 else value.step
        typed[f"d-{step}-{value.replicate}"] = f"{value.density:.2f}"
    return typed | {name.replace("_", "-"): value for name, value in cells.items()}


def upload(client, roll, content: str, name="strip.csv"):
    """Send a file of readings for the roll's first strip and follow to where that leads."""
    file = SimpleUploadedFile(name, content.encode())
    return client.post(reverse("roll_import", args=[roll.pk, 1]), {"file": file}, follow=True)
