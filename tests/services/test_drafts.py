"""Drafts: kept as typed, offered by person and time, gone with the record they became."""

import datetime as dt
from dataclasses import replace

import pytest

from fleetcare.domain.checks import CheckKind, FoundIn, LookOver, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.wording import say
from fleetcare.services import drafts, record
from fleetcare.services.drafts import Typed
from tests.kestrel import MONDAY, D, Kestrel

TYPED = Typed("P-1012", "EB-13", "rested_full", "hours_1_3", "41,3", "39.", "8", "latch stiff", (), "M-01", "L-08", "18",
              (FoundIn("P-1003", None, MONDAY, shelf="Rack 2"),), 12)  # fmt: skip


def keep(kestrel: Kestrel, draft_id: str = "d1", person: str = "PIKE", typed: Typed = TYPED) -> None:
    drafts.keep(kestrel.store, person, "BENCH-1", draft_id, kestrel.now, typed)


def test_what_was_typed_comes_back_letter_by_letter(kestrel: Kestrel) -> None:
    keep(kestrel)
    (offer,) = drafts.offered(kestrel.store, "PIKE", dt.UTC)
    assert offer.typed == TYPED and offer.own
    assert say(offer.line) == ("P-1012, typed by Pike on 2 Nov 2026 06:30, never saved: looked over, rested 41,3 V, "
                               "loaded 39. V, “latch stiff”")  # fmt: skip


def test_ones_own_come_first_and_others_cannot_be_gone_on_with(kestrel: Kestrel) -> None:
    keep(kestrel, "d1", "DUNN")
    kestrel.now += dt.timedelta(minutes=1)
    keep(kestrel, "d2", "PIKE")
    mine, other = drafts.offered(kestrel.store, "DUNN", dt.UTC)
    assert (mine.draft_id, mine.own, other.draft_id, other.own) == ("d1", True, "d2", False)
    assert "Only Pike can go on with it" in say(other.line)


def test_a_draft_goes_in_the_same_transaction_as_its_record_and_stays_when_that_is_refused(kestrel: Kestrel) -> None:
    keep(kestrel, person="DUNN")
    author = replace(kestrel.author(), draft_id="d1")
    check = VoltageCheck("P-1003", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.5"), MONDAY, "M-09", "EB-13")
    with pytest.raises(EntryRefused):
        record.record_check(kestrel.store, kestrel.clock, author, check, LookOver("P-1003", MONDAY, "EB-13"))
    assert drafts.offered(kestrel.store, "DUNN", dt.UTC)
    record.record_check(kestrel.store, kestrel.clock, author, replace(check, meter="M-01"), LookOver("P-1003", MONDAY))
    assert drafts.offered(kestrel.store, "DUNN", dt.UTC) == ()


def test_only_its_person_or_who_may_release_throws_a_draft_away(kestrel: Kestrel) -> None:
    keep(kestrel)
    with pytest.raises(NotAllowed, match="Pike typed this"):
        drafts.discard(kestrel.store, kestrel.clock, kestrel.author("FARROW"), "d1")
    drafts.discard(kestrel.store, kestrel.clock, kestrel.author("DUNN"), "d1")
    with pytest.raises(EntryRefused, match="gone"):
        drafts.discard(kestrel.store, kestrel.clock, kestrel.author("DUNN"), "d1")


def test_a_draft_of_another_version_is_named_and_not_guessed(kestrel: Kestrel) -> None:
    with kestrel.store.transaction() as tx:
        tx.save_draft("d0", "PIKE", "BENCH-1", "P-1312", MONDAY, "{}")
    (offer,) = drafts.offered(kestrel.store, "PIKE", dt.UTC)
    assert offer.typed is None and "made by another version" in say(offer.line)


def test_a_draft_is_no_record(kestrel: Kestrel) -> None:
    with kestrel.store.view() as view:
        before = view.head()
    keep(kestrel)
    with kestrel.store.view() as view:
        assert view.head() == before
    assert kestrel.store.verify().good
