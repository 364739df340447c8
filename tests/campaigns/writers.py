"""Several processes write to one file at once: none is lost and the chain is whole.

python -m tests.campaigns.writers 10000
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
import traceback
from pathlib import Path

from fleetcare.store.store import Store
from tests.kestrel import Kestrel, build

PROCESSES = 4


def run(count: int) -> float:
    """`count` checks by four processes; returns the seconds it took."""
    each = count // PROCESSES
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "depot.fleet"
        build(path).store.close()
        began = time.perf_counter()
        children = [_writer(path, number, each) for number in range(PROCESSES)]
        codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        took = time.perf_counter() - began
        assert codes == [0] * PROCESSES, codes
        store = Store.open(path)
        with store.view() as view:
            kept = [line.check.remark for pack in _packs() for line in view.checks_of(pack)]
        assert store.verify().good
        store.close()
        wanted = {f"{number}-{n}" for number in range(PROCESSES) for n in range(each)}
        assert wanted <= set(kept) and len([k for k in kept if k]) == len(wanted)
    return took


def _packs() -> list[str]:
    return [f"P-10{1 + number:02d}" for number in range(PROCESSES)]


def _writer(path: Path, number: int, each: int) -> int:
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        from decimal import Decimal

        from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
        from fleetcare.services import record

        kestrel = Kestrel(Store.open(path))
        for n in range(each):
            check = VoltageCheck(
                _packs()[number], CheckKind.RESTED_FULL, RestBand.HOURS_1_3, Decimal("41.50"), kestrel.now, "M-01",
                remark=f"{number}-{n}",
            )  # fmt: skip
            record.record_check(kestrel.store, kestrel.clock, kestrel.author(), check)
        code = 0
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(code)


def main() -> None:
    """Run and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    took = run(count)
    print(
        f"{count} checks by {PROCESSES} processes in {took:.0f} s ({count / took:.0f} a second): none lost, chain whole"
    )


if __name__ == "__main__":
    main()
