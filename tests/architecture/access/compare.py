"""Who gets what from the Compare area: what is kept, what is frozen, near relatives, margins."""

from curves.services.comparisons import freeze_comparison, save_comparison

PAGES = """
# method route                   thing        owner labmate admin open closed stranger
GET   compare_data_json          -              200 200 200 200 302 302
GET   compare_data_xlsx          -              200 200 200 200 302 302
GET   compare_words              -             200 200 200 200 302 302
GET   compare_kept               -              200 200 200 200 302 302
GET   compare_save               -              200 200 200 302 302 302
POST  compare_save               -              400 400 400 403 403 403
GET   compare_saved_rename       -              200 200 200 302 302 302
POST  compare_saved_rename       -              400 400 400 403 403 403
GET   compare_saved_delete       -              200 200 200 302 302 302
POST  compare_saved_delete       -              302 403 403 403 403 403
GET   compare_freeze             -              200 200 200 302 302 302
POST  compare_freeze             -              400 400 400 403 403 403
GET   compare_frozen             -              200 200 200 200 302 302
GET   compare_frozen_file        -              200 200 200 200 302 302
GET   compare_trade_offs         -              200 200 200 200 302 302
GET   compare_relatives          -              200 200 200 200 302 302
GET   compare_margins            -              403 403 200 302 302 302
POST  compare_margins            -              403 403 400 403 403 403
GET   stock_relatives            -              200 200 200 200 302 302
"""
OPERATIONS = """
GET    api_trade_offs            -              200 200 200 200 401 401
GET    api_saved_comparisons     -              200 200 200 401 401 401
POST   api_saved_comparisons     -              400 400 400 401 401 401
GET    api_saved_comparison      -              200 200 200 401 401 401
PATCH  api_saved_comparison      -              200 403 403 401 401 401
DELETE api_saved_comparison      -              204 403 403 401 401 401
GET    api_frozen_comparisons    -              200 200 200 200 401 401
POST   api_frozen_comparisons    -              400 400 400 401 401 401
GET    api_frozen_comparison     -              200 200 200 200 401 401
"""
BODIES = {"api_saved_comparison": {"name": "Slower films"}}


def things(lab) -> tuple[dict, dict]:
    """Make a saved and a frozen comparison of the owner's."""
    owner = lab.people["owner"]
    saved = save_comparison(actor=owner, name="Slow films", query="view=panels")
    line = {
        "stock_id": lab.known["stock_id"],
        "stock": "Alder 100",
        "maker": "Fenwick Works",
        "box_speed": 100,
        "is_reference": True,
        "rolls": 1,
        "rolls_left_out": 0,
        "result": lab.known["result_id"],
        "engine_version": "1.0",
        "standards": "as in force",
        "is_mixed_in": False,
        "overrides": [],
        "measures": {},
        "differences": {},
        "sentences": [],
    }
    document = {
        "format": 1,
        "standards": "as in force",
        "reference": None,
        "is_mixed": False,
        "stocks": [line],
    }
    pair = {name: lab.known[name] for name in ("process_revision_id", "exposure_revision_id")}
    frozen = freeze_comparison(actor=owner, title="Slow films", query="", pair_ids=pair, document=document)
    return {"comparison_id": saved.pk, "frozen_code": frozen.code, "file_kind": "csv"}, {}
