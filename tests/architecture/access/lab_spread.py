"""Who gets what from the lab's own spread."""

PAGES = """
# method route                   thing            owner labmate admin open closed stranger
GET    spread                    -                200 200 200 200 302 302
GET    spread_values             -                200 200 200 302 302 302
"""

OPERATIONS = """
# method route                   thing            owner labmate admin open closed stranger
GET    api_lab_spread            -                200 200 200 200 401 401
"""

BODIES: dict = {}


def things(lab) -> tuple[dict, dict]:
    """Nothing beyond what the lab has."""
    return {}, {}
