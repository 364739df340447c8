"""Identity: labels lost and twice, packs nobody can name, and commissioning.

Figures of the invented depot are fixtures.  The check character is ISO 7064 MOD 37,36 (see test_labels).
"""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.domain.checks import CheckKind, FoundIn, LookOver, Release, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Pack, PackStanding
from fleetcare.domain.status import PackState
from fleetcare.domain.wording import say
from fleetcare.services import commissioning, identify, labelling, record, summary
from tests.kestrel import MONDAY, Kestrel

D = Decimal
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 40


def state(kestrel: Kestrel, pack: str) -> PackState:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state


def reissue(kestrel: Kestrel, pack: str = "P-1011", serial: str = "2403-0611", by: str = "DUNN") -> str:
    done = labelling.reissue_label(kestrel.store, kestrel.clock, kestrel.author(by), pack, "worn off", serial)
    return say(done.message)


def test_a_pack_without_label_is_found_by_its_serial(kestrel: Kestrel) -> None:
    found = labelling.find_by_serial(kestrel.store, " 2403-0611 ")
    assert (found.pack.code, found.issue, found.model_name) == ("P-1011", 1, "K36-A")
    assert say(found.where) == "on shelf Store"


@pytest.mark.parametrize(("typed", "said"), [
    ("", "Type the serial"), ("2403-0161", r"Did you mean .*2403-0611 \(P-1011\)"), ("9999", "No pack on record"),
])  # fmt: skip
def test_a_serial_that_is_not_on_record_suggests_and_assumes_nothing(kestrel: Kestrel, typed: str, said: str) -> None:
    with pytest.raises(EntryRefused, match=said):
        labelling.find_by_serial(kestrel.store, typed)


def test_a_new_label_keeps_identity_and_history_and_voids_the_first(kestrel: Kestrel) -> None:
    before = summary.pack_summary(kestrel.store, kestrel.clock, "P-1011").checks
    assert "label issue 2" in reissue(kestrel) and "issue 1 is void" in say(
        summary.pack_summary(kestrel.store, kestrel.clock, "P-1011").events[0].text
    ).replace("issue 1 void", "issue 1 is void")
    label = labelling.label_of(kestrel.store, "P-1011")
    assert label.issue == 2 and label.text.startswith("P-1011/2*")
    assert identify.identify(kestrel.store, label.text).code == "P-1011"
    assert identify.identify(kestrel.store, "p-1011").code == "P-1011"
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1011").checks == before
    with pytest.raises(EntryRefused, match=r"Alarm: label issue 1 of P-1011 is void.*Two packs may claim"):
        identify.identify(
            kestrel.store, "P-1011*" + __import__("fleetcare.domain.labels", fromlist=["x"]).check_character("P-1011")
        )
    reissue(kestrel)
    assert labelling.label_of(kestrel.store, "P-1011").issue == 3


def test_a_label_is_not_made_for_another_serial_nor_without_reason_or_level(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="2403-0611, and 2405-0101 was read"):
        reissue(kestrel, serial="2405-0101")
    with pytest.raises(NotAllowed, match="may check"):
        reissue(kestrel, by="HALE")
    with pytest.raises(EntryRefused, match="why a new label"):
        labelling.reissue_label(kestrel.store, kestrel.clock, kestrel.author(), "P-1011", "  ")
    gone = Pack("P-1014", "K36-A", standing=PackStanding.WRITTEN_OFF)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack", gone))
    with pytest.raises(NotAllowed, match="written off"):
        reissue(kestrel, "P-1014", "")


def test_a_label_with_a_wrong_check_character_is_refused_as_damaged(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="check character does not fit"):
        identify.identify(kestrel.store, "P-1011*0")


def test_two_packs_with_one_label_are_both_held_and_neither_is_lost(kestrel: Kestrel) -> None:
    reissue(kestrel)
    done = labelling.report_twin(kestrel.store, kestrel.clock, kestrel.author("FARROW"), "P-1011", "2405-0101", "K36-A")
    assert "P-1011 and U-001 are both held" in say(done.message)
    assert state(kestrel, "P-1011") is PackState.HELD and state(kestrel, "U-001") is PackState.HELD
    twin = summary.pack_summary(kestrel.store, kestrel.clock, "U-001")
    assert twin.checks == () and twin.pack.serial == "2405-0101" and twin.vehicle is None and twin.shelf == ""


def test_the_twin_may_be_a_pack_on_record_and_is_not_entered_again(kestrel: Kestrel) -> None:
    done = labelling.report_twin(kestrel.store, kestrel.clock, kestrel.author(), "P-1011", "2403-0612", "K36-A")
    assert done.changed_packs == {"P-1011", "P-1012"} and state(kestrel, "P-1012") is PackState.HELD
    with pytest.raises(EntryRefused, match="this is P-1013 itself"):
        labelling.report_twin(kestrel.store, kestrel.clock, kestrel.author(), "P-1013", "2403-0613", "K36-A")


def test_a_pack_nobody_can_name_is_held_with_unknown_history_and_inherits_nothing(kestrel: Kestrel) -> None:
    take = labelling.take_in_unknown
    assert "U-001" in say(take(kestrel.store, kestrel.clock, kestrel.author("HALE"), "K36-A").message)
    assert "U-002" in say(take(kestrel.store, kestrel.clock, kestrel.author("HALE"), "K36-A").message)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "U-001")
    assert (
        page.status.state is PackState.HELD
        and page.checks == ()
        and "history unknown" in say(page.status.reasons[0].text)
    )
    with pytest.raises(EntryRefused, match="already recorded for P-1001"):
        take(kestrel.store, kestrel.clock, kestrel.author(), "K36-A", "2403-0501")
    with pytest.raises(EntryRefused, match="Choose the pack model"):
        take(kestrel.store, kestrel.clock, kestrel.author(), "")
    with pytest.raises(EntryRefused, match=r"cannot be fitted to EB-11.*history unknown"):
        record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), FoundIn("U-001", "EB-11", MONDAY))


NEW = commissioning.NewPack(
    "P-1015", "K36-A", "2609-0001", ("EN 62133-2", "UN 38.3"), "INV-2211", dt.date(2028, 11, 2), "not for hire use",
    "C-36-1", (PNG,), shelf="Store",
)  # fmt: skip
FIRST = VoltageCheck(
    "P-1015",
    CheckKind.RESTED_FULL,
    RestBand.HOURS_1_3,
    D("41.70"),
    MONDAY,
    "M-01",
    None,
    D("40.50"),
    D("8"),
    10,
    D("20"),
)


def commission(kestrel: Kestrel, by: str = "DUNN", check: VoltageCheck = FIRST, **change: object) -> str:
    new = replace(NEW, **change)  # type: ignore[arg-type]
    check = replace(check, pack=new.code)
    done = commissioning.commission(
        kestrel.store, kestrel.clock, kestrel.author(by), new, check, LookOver(new.code, MONDAY)
    )
    return say(done.message)


def test_a_new_pack_with_everything_and_a_pass_may_be_fitted(kestrel: Kestrel) -> None:
    assert "may be fitted" in commission(kestrel)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1015")
    assert page.status.state is PackState.READY and page.shelf == "Store" and page.checks[0].resistance_ohm == D("0.15")
    told = " ".join(say(event.text) for event in page.events)
    for part in ("EN 62133-2", "INV-2211", "2 Nov 2028", "not for hire use", "C-36-1", "photos kept: 1"):
        assert part in told
    with kestrel.store.view() as view:
        body = next(e.body for e in view.events_of("pack", "P-1015") if e.kind == "commissioned")
        assert view.photo(body.photos[0]) == ("image/png", PNG)  # type: ignore[attr-defined]
    moved = FoundIn("P-1003", None, MONDAY, shelf="Store")
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), moved, FoundIn("P-1015", "EB-13", MONDAY))
    assert kestrel.store.verify().good


@pytest.mark.parametrize(("change", "field"), [
    ({"code": "1015"}, "code"), ({"code": "P-1001"}, "code"), ({"model": ""}, "model"), ({"model": "X"}, "model"),
    ({"serial": " "}, "serial"), ({"serial": "2403-0501"}, "serial"), ({"marks": (" ",)}, "marks"), ({"invoice": ""}, "invoice"),
    ({"warranty_clause": ""}, "warranty_clause"), ({"charger": ""}, "charger"), ({"charger": "C-99"}, "charger"),
    ({"charger": "C-48-1"}, "charger"), ({"photos": ()}, "photo"), ({"photos": (b"GIF89a",)}, "photo"),
])  # fmt: skip
def test_whatever_is_missing_or_taken_is_said_beside_its_field_and_nothing_is_written(
    kestrel: Kestrel, change: dict[str, object], field: str
) -> None:
    with kestrel.store.view() as view:
        before = view.position
    with pytest.raises(EntryRefused) as refused:
        commission(kestrel, **change)
    assert refused.value.field == field
    with kestrel.store.view() as view:
        assert view.position == before


def test_a_photo_or_a_reason_why_there_is_none_and_a_loaded_reading_are_needed(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="loaded reading"):
        commission(kestrel, check=replace(FIRST, loaded_v=None, load_a=None, hold_s=None))
    assert "may be fitted" in commission(kestrel, photos=(), no_photo_reason="camera broken")
    with pytest.raises(NotAllowed, match="may check"):
        commission(kestrel, "HALE", code="P-1016", serial="2609-0002")


@pytest.mark.parametrize("rested", ["40.50", "39.50"])
def test_without_a_pass_it_is_held_and_not_fitted_until_it_passes_and_is_released(
    kestrel: Kestrel, rested: str
) -> None:
    low = replace(FIRST, rested_v=D(rested), loaded_v=D(rested) - 1, rest=RestBand.UNDER_15_MIN)
    assert "cannot be fitted before a pass" in commission(kestrel, check=low)
    moved = FoundIn("P-1003", None, MONDAY, shelf="Store")
    fit = FoundIn("P-1015", "EB-13", MONDAY)
    with pytest.raises(EntryRefused, match="cannot be fitted to EB-13"):
        record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), moved, fit)
    kestrel.now += dt.timedelta(hours=3)
    kestrel.check("P-1015", "41.70", loaded="40.50")
    for reason in summary.pack_summary(kestrel.store, kestrel.clock, "P-1015").status.reasons:
        assert reason.hold_id is not None
        release = Release(reason.hold_id, kestrel.now, "charged fully, passed")
        record.release_hold(kestrel.store, kestrel.clock, kestrel.author(), release)
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), moved, fit)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1015").vehicle == "EB-13"


@pytest.mark.parametrize("text", ["P-1002/x", "P-1002/`*K", "P-1002/", "P-1002/0", "P-1002/1/2", "P 1002*K"])
def test_what_only_begins_like_a_code_is_no_code(kestrel: Kestrel, text: str) -> None:
    with pytest.raises(EntryRefused, match="is not a code"):
        identify.identify(kestrel.store, text)
    assert not identify.is_known(kestrel.store, text)
