"""How many queries a page of the demo lab may take: 26 stocks, 47 rolls, 80 jobs; one file for all.

A budget is what the page was found to need, with one or two to spare; it is lowered with the page.
"""

from django.db import connection
from django.test.utils import CaptureQueriesContext

from labsite.accounts.models import User

MEMBER_PAGES = {
    "/bench/": 23,
    "/stocks/": 11,
    "/stocks/1/": 17,
    "/stocks/1/sheet/2-1/": 15,
    "/stocks/1/prices/": 7,
    "/rolls/": 11,
    "/rolls/45/": 18,
    "/rolls/new/": 7,
    "/rolls/45/strips/1/readings/": 11,
    "/rolls/45/strips/1/import/": 9,
    "/control/": 22,
    "/control/processes/": 6,
    "/control/processes/1/": 7,
    "/control/exposures/": 6,
    "/control/tablets/": 6,
    "/control/instruments/": 7,
    "/control/instruments/1/checks/": 7,
    "/control/spread/": 8,
    "/control/runs/": 8,
    "/control/runs/1/": 10,
    "/control/runs/14/": 10,
    "/control/runs/14/effects/": 13,
    "/control/strips/": 6,
    "/control/strips/aims/2/": 6,
    "/control/charts/": 10,
    "/control/instruments/1/findings/": 6,
    "/control/agreement/": 6,
    "/control/agreement/1/": 11,
    "/control/agreement/1/readings/": 7,
    "/control/instruments/2/corrections/": 6,
    "/control/corrections/1/": 12,
    "/control/safety-sheets/": 6,
    "/control/reference/": 8,
    "/compare/": 12,
    "/compare/?stock=2&stock=3&stock=4&stock=5&stock=6&stock=7": 12,
    "/compare/words/4/": 15,
    "/compare/data.csv": 10,
    "/compare/?view=panels&align=contrast": 12,
    "/compare/saved/": 6,
    "/compare/trade-offs/": 8,
    "/compare/trade-offs/?plot=sharpness&stocks=1.2.3": 8,
    "/stocks/for/?purpose=portrait&grain=15&contrast=medium": 8,
    "/compare/relatives/": 12,
    "/compare/colour-response/": 15,
    "/compare/side-by-side/": 7,
    "/rolls/45/patches/": 16,
    "/rolls/45/patches/import/": 10,
    "/coverage/": 10,
    "/stocks/17/relatives/": 14,
    "/lab/": 15,
    "/lab/jobs/": 9,
    "/scans/": 9,
    "/scans/upload/": 6,
    "/measures/": 4,
    "/help/": 4,
}
ADMIN_PAGES = {
    "/reviews/": 6,
    "/reviews/verdicts/": 6,
    "/lab/people/": 6,
    "/lab/history/": 8,
    "/lab/disk/": 9,
    "/lab/settings/": 5,
}


def test_no_page_takes_more_queries_than_its_budget(demo_lab, client_for):
    found = {}
    for username, pages in (("bram", MEMBER_PAGES), ("warden", ADMIN_PAGES)):
        client = client_for(User.objects.get(username=username))
        for address, budget in pages.items():
            with CaptureQueriesContext(
                connection,
            ) as queries:
                answer = client.get(address)
            assert answer.status_code == 200, address
            found[address] = (len(queries), budget)
    over = [
        f"{address}: {count}, budget {budget}" for address, (count, budget) in found.items() if count > budget
    ]
    assert not over, "\n".join(over)
    loose = [
        f"{address}: {count}, budget {budget}"
        for address, (count, budget) in found.items()
        if count < budget - 2
    ]
    assert not loose, "Lower these budgets:\n" + "\n".join(loose)
