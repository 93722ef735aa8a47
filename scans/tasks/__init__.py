"""Job handlers: compute outside any transaction, store in a short one that re-checks the claim."""

from scans.tasks import calibrating as calibrating
from scans.tasks import checking as checking
from scans.tasks import measuring as measuring
from scans.tasks import publishing as publishing
from scans.tasks import tiles as tiles
from scans.tasks import trials as trials
