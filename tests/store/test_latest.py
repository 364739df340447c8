"""The newest check of a pack, kept step by step, is what reading its whole history would find."""

import datetime as dt
import sqlite3

from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
from fleetcare.domain.records import CheckJudged, Record
from fleetcare.domain.verdicts import Verdict, VerdictLevel
from fleetcare.domain.wording import msg
from fleetcare.store.derive import _RENEW_LATEST, derive, derive_checks
from fleetcare.store.schema import V001
from tests.kestrel import MONDAY, D

CHECKS = st.lists(
    st.tuples(st.integers(0, 4), st.booleans(), st.sampled_from(list(VerdictLevel)), st.booleans()), max_size=12
)


def record(number: int, hour: int, valid: bool, level: VerdictLevel, first_pack: bool) -> Record:
    at = MONDAY + dt.timedelta(hours=hour)
    pack = "P-1002" if first_pack else "P-1003"
    check = VoltageCheck(pack, CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41") + number, at, "M-01")
    verdict = _verdict(level, valid)
    return Record(
        "F", str(number), "voltage_check", at, at, "DUNN", "", "", "typed", CheckJudged(check, verdict, msg("x"), None)
    )


def _verdict(level: VerdictLevel, valid: bool) -> Verdict:
    made = object.__new__(Verdict)
    object.__setattr__(made, "level", level)
    object.__setattr__(made, "valid", valid)
    return made


@settings(max_examples=60, deadline=None)
@given(CHECKS, st.integers(1, 5))
def test_one_by_one_in_parts_and_from_the_whole_history_agree(made: list[tuple], part: int) -> None:  # type: ignore[type-arg]
    placed = [(n, record(n, *one)) for n, one in enumerate(made, start=1)]
    kept = []
    for way in ("one", "parts", "whole"):
        raw = sqlite3.connect(":memory:")
        for statement in V001:
            if "TRIGGER" not in statement:
                raw.execute(statement)
        if way == "parts":
            for start in range(0, len(placed), part):
                derive_checks(raw, placed[start : start + part])
        else:
            for position, one in placed:
                derive(raw, position, one)
        if way == "whole":
            raw.execute("DELETE FROM latest_check")
            raw.executemany(_RENEW_LATEST, [("P-1002",), ("P-1003",)])
        kept.append(sorted(raw.execute("SELECT * FROM latest_check").fetchall()))
        raw.close()
    assert kept[0] == kept[1] == kept[2]
