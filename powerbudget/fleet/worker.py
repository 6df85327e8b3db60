"""One process of a fleet: a job a line in, a row a line out.

A process of its own kind, not a copy of the caller's: a script that calls `fleet` is
not run again in it, and one that dies takes nobody's rows along.
"""

from __future__ import annotations

import dataclasses
import json
import os
import sys

from powerbudget.fleet.fleet import fleet_row


def main() -> None:
    """Answer jobs until there are no more."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # what a library prints is no row
    for line in sys.stdin.buffer:
        row = fleet_row(*json.loads(line))
        answers.write(json.dumps(dataclasses.asdict(row)) + "\n")
        answers.flush()


if __name__ == "__main__":
    main()
