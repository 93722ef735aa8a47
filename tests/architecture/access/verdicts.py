"""Who gets what of members' verdicts, and of stocks asked for by purpose."""

from curves.services.verdicts import approve_verdict, write_verdict

TEXT = {
    "purposes": ["portrait"],
    "what_for": "Portraits in soft light.",
    "strengths": "Long scale.",
    "watch_out": "",
}
PAGES = """
GET   stocks_for                 -              200 200 200 200 302 302
GET   verdict_write              -              200 200 200 302 302 302
POST  verdict_write              -              400 400 400 403 403 403
GET   verdict                    waiting        200 404 200 404 302 302
GET   verdict                    approved       200 200 200 200 302 302
GET   verdict_rewrite            approved       403 200 403 302 302 302
POST  verdict_rewrite            approved       403 400 403 403 403 403
GET   verdict_withdraw           waiting        302 302 302 302 302 302
POST  verdict_withdraw           waiting        302 404 403 403 403 403
POST  verdict_approve            waiting        403 403 302 403 403 403
GET   verdict_approve            waiting        302 302 302 302 302 302
POST  verdict_decline            waiting        403 403 400 403 403 403
GET   verdict_decline            waiting        302 302 302 302 302 302
GET   verdict_queue              -              403 403 200 302 302 302
"""
OPERATIONS = """
GET    api_verdicts              -              200 200 200 200 401 401
POST   api_verdicts              -              400 400 400 401 401 401
GET    api_verdicts_waiting      -              403 403 200 401 401 401
GET    api_verdict               waiting        200 404 200 404 401 401
GET    api_verdict               approved       200 200 200 200 401 401
POST   api_verdict_rewrite       approved       400 400 400 401 401 401
POST   api_verdict_withdraw      waiting        200 404 403 401 401 401
POST   api_verdict_approve       waiting        403 403 200 401 401 401
POST   api_verdict_decline       waiting        403 403 400 401 401 401
GET    api_stocks_for            -              200 200 200 200 401 401
"""


def things(lab):
    """The owner's verdict that waits, and the labmate's that an admin approved."""
    waiting, approved = (
        write_verdict(actor=lab.people[name], result_id=lab.known["result_id"], **TEXT)
        for name in ("owner", "labmate")
    )
    approve_verdict(actor=lab.people["admin"], verdict_id=approved.pk)
    return {}, {"waiting": {"verdict_id": waiting.pk}, "approved": {"verdict_id": approved.pk}}
