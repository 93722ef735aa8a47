"""Addresses of verdicts, and of stocks asked for by purpose."""

from django.urls import path

from curves.pages.stocks import finding, verdicts

VERDICT = "stocks/verdicts/<int:verdict_id>/"

urlpatterns = [
    path("stocks/for/", finding.stocks_for, name="stocks_for"),
    path("stocks/<int:stock_id>/verdicts/new/", verdicts.write, name="verdict_write"),
    path(VERDICT, verdicts.verdict, name="verdict"),
    path(f"{VERDICT}edit/", verdicts.rewrite, name="verdict_rewrite"),
    path(f"{VERDICT}withdraw/", verdicts.withdraw, name="verdict_withdraw"),
    path(f"{VERDICT}approve/", verdicts.approve, name="verdict_approve"),
    path(f"{VERDICT}decline/", verdicts.decline, name="verdict_decline"),
    path("reviews/verdicts/", verdicts.queue, name="verdict_queue"),
]
