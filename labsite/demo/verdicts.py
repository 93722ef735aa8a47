"""Verdicts of the demo lab's members: invented texts, approved, declined and waiting."""

from curves.models import StockResult, Verdict
from curves.services.verdicts import approve_verdict, decline_verdict, write_verdict

#: Author, stock, purposes, what for, strengths, what to watch out for.
APPROVED = (
    (
        "bram",
        "Wrensfell 100",
        ("landscape", "portrait", "learning"),
        "Anything in daylight that wants an even scale.",
        "Speed as on the box, a short toe, highlights that keep apart to the end of the strip.",
        "Nothing hides a meter held wrongly: it shows what it was given.",
    ),
    (
        "odile",
        "Saltern 320",
        ("street", "low_light"),
        "Streets at dusk, hand-held.",
        "The long arc bears three stops too many without a block.",
        "Grain is plain to see beyond eight times; shadows want a full exposure.",
    ),
    (
        "piet",
        "Corvale Ortho 40",
        ("copy", "architecture", "big_prints"),
        "Drawings, stone and big prints from a tripod.",
        "Fine grain on a clear base; edges stay edges.",
        "Reds come out dark: no faces.",
    ),
    (
        "bram",
        "Quillon 160",
        ("portrait", "studio"),
        "Faces by a window.",
        "A soft arc without a shoulder keeps skin and white cloth apart.",
        "Contrast is easily too low on a dull day.",
    ),
    (
        "keeper",
        "Mossgarth 12",
        ("big_prints", "still_life"),
        "Still lifes for very big prints.",
        "No finer grain on the shelf.",
        "Times of seconds; a third of a stop decides whether shadows print.",
    ),
    (
        "odile",
        "Aldergate Pan 400",
        ("street", "action"),
        "Sport in the open.",
        "Fast for its grain.",
        "A shoulder begins early: do not overexpose.",
    ),
)
WAITING = (
    "piet",
    "Tindrel 100",
    ("landscape",),
    "Hills in haze.",
    "The long toe lets distance go soft.",
    "Shadows need a stop more than the box says.",
)
DECLINED = (
    "odile",
    "Pellam 50",
    ("portrait",),
    "The best film of all.",
    "Everything.",
    "",
)
WHY_DECLINED = "Please say what the sheet shows, and for which pictures."


def add_verdicts(*, people: dict) -> None:
    """Have members write on results that stand, and an admin decide on all but one."""
    for text in APPROVED:
        verdict = _write(people, text)
        admin = people["warden"] if text[0] != "warden" else people["keeper"]
        approve_verdict(actor=admin, verdict_id=verdict.pk)
    decline_verdict(actor=people["warden"], verdict_id=_write(people, DECLINED).pk, reason=WHY_DECLINED)
    _write(people, WAITING)


def _write(people: dict, text: tuple) -> Verdict:
    author, stock, purposes, what_for, strengths, watch_out = text
    result = StockResult.objects.filter(stock__name=stock).order_by("-process_revision__number").first()
    return write_verdict(
        actor=people[author],
        result_id=result.pooled_id,
        purposes=purposes,
        what_for=what_for,
        strengths=strengths,
        watch_out=watch_out,
    )
