"""Under which standards a stock's sheet is shown first, where it has several."""

from curves.models import SheetVersion
from curves.queries.sheet_content import content_digest
from curves.queries.sheets import newest_sheet_pair
from tests.factories.rolls import make_standards
from tests.factories.standards import make_exposure
from tests.factories.standing import result_row, stock_row


def test_the_standards_with_most_stocks_come_first_though_others_are_newer(owner, admin):
    process, daylight = make_standards(admin)
    tungsten = make_exposure(admin, "Lamplight", colour_temperature_k=3200)
    stock, other = stock_row(owner, name="Alder 100"), stock_row(owner, name="Birch 100")
    for exposure, stocks in ((daylight, (stock, other)), (tungsten, (stock,))):
        results = [result_row(each, process, exposure) for each in stocks]
        content = {"stock": {"name": stock.name}, "rolls": []}
        SheetVersion.objects.create(
            stock=stock,
            process_revision=process,
            exposure_revision=exposure,
            number=1,
            pooled=results[0].pooled,
            content=content,
            digest=content_digest(content),
        )
    assert newest_sheet_pair(owner, stock.pk) == f"{process.pk}-{daylight.pk}"
