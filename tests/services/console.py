"""Stands for a page that submits jobs: reads one JSON object a line and answers with one.

Run as ``python -m tests.services.console`` with the settings of the drills.
"""

import json
import sys
import time

import django


def submit(count=1, **fields) -> dict:
    """Submit jobs, each in a transaction of its own; their ids and how long that took."""
    from labsite.jobs.services import submit_job

    began = time.monotonic()
    ids = [str(submit_job(label="Drill", **fields).pk) for _ in range(count)]
    return {"ids": ids, "took_s": time.monotonic() - began}


def main() -> None:
    """Answer until the input ends."""
    django.setup()
    print(json.dumps("ready"), flush=True)
    for line in sys.stdin:
        print(json.dumps(submit(**json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
