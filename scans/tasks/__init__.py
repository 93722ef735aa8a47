"""Job handlers: compute outside any transaction, store in a short one that re-checks the claim."""

from scans.tasks import measuring as measuring
from scans.tasks import tiles as tiles
