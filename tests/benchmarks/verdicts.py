"""Verdicts a second on one core, over the catalogue's own examples, beside a floor measured in the same run.

    uv run python -m tests.benchmarks.verdicts [rounds]

The floor only decodes each example's measurements from JSON: less than any verdict on a posted record can do.
"""

import sys
import time
from datetime import date

import msgspec

from compliance.protocols import Setting, verdict
from compliance.protocols.registry import ACTIVITIES, MONITORING
from equipment.activities.catalogue import catalogue

SETTING = Setting(on=date(2026, 3, 4), jurisdictions=("us-federal", "us-ca"))


def main(rounds: int) -> None:
    posted = [(slug, msgspec.json.encode(catalogue()[slug].example)) for slug in (*ACTIVITIES, *MONITORING)]
    verdict("spill-bucket-test", {}, None, setting=SETTING)

    began = time.perf_counter()
    for _ in range(rounds):
        for _, body in posted:
            msgspec.json.decode(body)
    floor = time.perf_counter() - began

    began = time.perf_counter()
    for _ in range(rounds):
        for slug, body in posted:
            verdict(slug, msgspec.json.decode(body), "pass", setting=SETTING)
    took = time.perf_counter() - began

    count = rounds * len(posted)
    print(f"{count} verdicts in {took:.2f} s: {count / took:.0f} a second on one core")
    print(f"floor (decoding alone): {count / floor:.0f} a second")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
