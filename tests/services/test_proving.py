"""Paper against the record: matches, plain noes, a re-hashed forgery, lodgings and their gaps."""

import datetime as dt
import shutil
import sqlite3
import subprocess
from pathlib import Path

import pytest

from fleetcare.domain import fingerprint as fp
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import say
from fleetcare.services import proving
from fleetcare.store.store import Store
from tests.kestrel import Kestrel


def head_of(kestrel: Kestrel) -> Head:
    with kestrel.store.view() as view:
        return view.head()


def test_paper_from_the_drawer_matches_the_record_of_its_day(kestrel: Kestrel) -> None:
    printed = head_of(kestrel)
    kestrel.check("P-1002", "41.50", vehicle="EB-12")
    answer = proving.compare_printed(kestrel.store, f"fingerprint {printed.short} records")
    assert answer.matches
    assert say(answer.statement).startswith(
        f"Yes: it matches the record as of 30 Oct 2026 06:30, {printed.size} records."
    )
    assert "Added since: 1." in say(answer.statement)


def test_a_wrong_digit_and_a_newer_paper_get_a_plain_no(kestrel: Kestrel) -> None:
    printed = head_of(kestrel)
    digit = "0" if printed.root_hex[0] != "0" else "1"
    wrong = proving.compare_printed(kestrel.store, digit + printed.short[1:])
    assert not wrong.matches and say(wrong.statement).startswith(f"No: at {printed.size} records")
    more = proving.compare_printed(kestrel.store, f"{printed.root_hex} {printed.size + 5}")
    assert not more.matches and f"covers {printed.size + 5} records" in say(more.statement)


@pytest.mark.parametrize(
    "typed", ["", "3f2a", "3f2a 9b1c 0d4e 77aa", "zzzz 9b1c 0d4e 77aa · 12", "12", "3f2a 9b1c · 12"]
)
def test_what_is_no_fingerprint_is_refused_with_the_form_that_is_wanted(kestrel: Kestrel, typed: str) -> None:
    with pytest.raises(EntryRefused, match="16 digits"):
        proving.compare_printed(kestrel.store, typed)


def rehashed_forgery(path: Path, old: bytes, new: bytes) -> None:
    """Alter readings and hash everything anew, as somebody with the program's source could."""
    with sqlite3.connect(path, isolation_level=None) as db:
        triggers = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            db.execute(f"DROP TRIGGER {name}")
        edge: list[bytes] = []
        leaves: list[bytes] = []
        for position, data in db.execute("SELECT position, bytes FROM record ORDER BY position").fetchall():
            data = data.replace(old, new)
            leaf = fp.leaf_hash(data)
            leaves.append(leaf)
            db.execute("UPDATE record SET bytes = ?, leaf = ? WHERE position = ?", (data, leaf, position))
            fp.append(edge, position - 1, leaf)
        for number in range(len(leaves) // 256):
            whole = fp.root(leaves[number * 256 : number * 256 + 256])
            db.execute("UPDATE subtree SET hash = ? WHERE number = ?", (whole, number))
        db.execute("UPDATE tree SET edge = ?", (b"".join(edge),))
        for _, sql in triggers:
            db.execute(sql)


def test_a_forgery_hashed_anew_is_consistent_with_itself_and_fails_against_paper(kestrel: Kestrel) -> None:
    for number in range(130):
        kestrel.check("P-1002", f"41.{number % 60:02d}", vehicle="EB-12")
    printed = head_of(kestrel)
    kestrel.store.close()
    rehashed_forgery(kestrel.store.path, b'"rested_v":"41.07"', b'"rested_v":"41.57"')
    forged = Store.open(kestrel.store.path)
    forged.rebuild()
    assert printed.size > 256 and forged.verify().good
    assert not proving.compare_printed(forged, printed.short).matches
    forged.close()


def test_altered_bytes_under_kept_hashes_are_found_by_the_comparison(kestrel: Kestrel) -> None:
    printed = head_of(kestrel)
    kestrel.store.close()
    with sqlite3.connect(kestrel.store.path, isolation_level=None) as db:
        db.execute("DROP TRIGGER record_no_update")
        db.execute(
            "UPDATE record SET bytes = CAST(replace(CAST(bytes AS TEXT), '41.60', '41.90') AS BLOB) WHERE position = 140"
        )
    store = Store.open(kestrel.store.path)
    answer = proving.compare_printed(store, printed.short)
    assert not answer.matches and "Record 140" in say(answer.statement)
    store.close()


def test_a_lodging_is_recorded_due_after_a_week_and_its_gaps_are_told(kestrel: Kestrel) -> None:
    before = proving.lodgings(kestrel.store, kestrel.clock)
    assert before.due and "never lodged" in say(before.statement)
    assert [say(gap) for gap in before.gaps] == [
        "No lodging between 3 Sep 2026 and 2 Nov 2026: 60 days, where every 7 days is asked."
    ]
    author = kestrel.author("ORMOND")
    proving.lodge(kestrel.store, kestrel.clock, author, before.head, "mail", " the broker ")
    after = proving.lodgings(kestrel.store, kestrel.clock)
    assert not after.due and say(after.statement) == "Last lodged 2 Nov 2026 with the broker; due again 9 Nov 2026."
    kestrel.now += dt.timedelta(days=7)
    assert proving.lodgings(kestrel.store, kestrel.clock).due
    assert len(proving.lodgings(kestrel.store, kestrel.clock).gaps) == 1
    assert proving.lodging_faults(kestrel.store) == () and kestrel.store.verify().good


def test_a_lodging_needs_a_manager_a_keeper_and_a_head_of_this_record(kestrel: Kestrel) -> None:
    head, manager = head_of(kestrel), kestrel.author("ORMOND")
    with pytest.raises(NotAllowed, match="for a manager; Dunn"):
        proving.lodge(kestrel.store, kestrel.clock, kestrel.author("DUNN"), head, "slip", "broker")
    with pytest.raises(EntryRefused, match="Say who keeps") as refused:
        proving.lodge(kestrel.store, kestrel.clock, manager, head, "slip", "  ")
    assert refused.value.field == "recipient"
    with pytest.raises(EntryRefused, match="No: at"):
        proving.lodge(kestrel.store, kestrel.clock, manager, Head(head.size, "0" * 64), "slip", "broker")
    proving.lodge(kestrel.store, kestrel.clock, manager, head, "slip", "broker")
    with pytest.raises(EntryRefused, match="already"):
        proving.lodge(kestrel.store, kestrel.clock, manager, head, "mail", "broker")


def test_the_mail_text_holds_all_digits_and_the_printed_form(kestrel: Kestrel) -> None:
    head = head_of(kestrel)
    subject, body = proving.mail_text(kestrel.store, head, kestrel.now)
    assert (
        "Kestrel Wharf" in subject and head.root_hex in body and head.short in body and kestrel.store.fleet_id in body
    )


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl reads the request independently")
def test_an_independent_reader_takes_the_time_stamp_request(tmp_path: Path) -> None:
    # RFC 3161 section 2.4.1, read back by openssl; SHA-256("abc") is FIPS 180-4's worked example.
    (tmp_path / "a.tsq").write_bytes(proving.time_stamp_request(b"abc", nonce=0x80FF))
    said = subprocess.run(
        ["openssl", "ts", "-query", "-in", str(tmp_path / "a.tsq"), "-text"], capture_output=True, text=True, check=True
    ).stdout
    assert "Version: 1" in said and "Hash Algorithm: sha256" in said and "Certificate required: yes" in said
    assert "Nonce: 0x80FF" in said
    digest = "".join(
        part for line in said.splitlines() if line.strip().startswith("00") for part in line[11:60].split()
    )
    assert digest.replace("-", "").startswith("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad")
