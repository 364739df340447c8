"""The end of the papers: weight, receipt, waste chain; a quarantined pack leaves only with its six heads."""

import pytest

from fleetcare.domain.checks import LookItem, LookOver
from fleetcare.domain.disposing import Disposed, parse_weight
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.quarantine import Collected, TransportHead
from fleetcare.domain.status import PackState
from fleetcare.domain.wording import say
from fleetcare.services import disposal, quarantine, record, summary
from tests.kestrel import D, Kestrel


def keep(kestrel: Kestrel, pack: str = "P-1011", by: str = "ORMOND", badge: str = "B-05", **given: object) -> str:
    made = Disposed(pack, kestrel.now, **given)  # type: ignore[arg-type]
    return say(disposal.record_disposed(kestrel.store, kestrel.clock, kestrel.author(by), badge, made).message)


def test_a_worn_out_pack_leaves_with_carrier_consignment_and_weight_and_never_returns(kestrel: Kestrel) -> None:
    for given, words in (
        ({}, "carrier"), ({"carrier": "N"}, "consignment"), ({"carrier": "N", "consignment": "C"}, "weight"),
    ):  # fmt: skip
        with pytest.raises(EntryRefused, match=words):
            keep(kestrel, **given)
    whole = {"carrier": "Northfield", "consignment": "NC-9", "weight_kg": D("2.90")}
    with pytest.raises(NotAllowed):
        keep(kestrel, by="FARROW", badge="B-03", **whole)
    with pytest.raises(NotAllowed, match="own badge"):
        keep(kestrel, badge="B-01", **whole)
    assert "Still open: receipt, waste-chain reference" in keep(kestrel, **whole)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1011").status.state is PackState.RETIRED
    with pytest.raises(EntryRefused, match="never be used again"):
        with kestrel.store.view() as view:
            pack = view.thing("pack", "P-1011")
        from dataclasses import replace

        again = replace(pack, standing=type(pack.standing).IN_SERVICE)
        record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack", again))
    assert "They are whole" in keep(kestrel, receipt="R-5", plant="Plant", waste_chain="WT-9")
    page = disposal.disposal_page(kestrel.store)
    (line,) = page.lines
    assert (line.weight_kg, line.receipt, line.waste_chain, line.open) == (D("2.90"), "R-5", "WT-9", ())
    assert say(page.told) == "1 written off, 0 with papers still open, 2.90 kg on record."
    with pytest.raises(EntryRefused, match="what came in"):
        keep(kestrel)


def test_a_quarantined_pack_is_refused_here_and_its_papers_follow_its_collection(kestrel: Kestrel) -> None:
    look = LookOver("P-1009", kestrel.now, "EB-19", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)
    with pytest.raises(NotAllowed, match="six points"):
        keep(kestrel, "P-1009", carrier="N", consignment="C", weight_kg=D("3"))
    heads = tuple((head.value, "found") for head in TransportHead)
    gone = Collected("P-1009", kestrel.now, "Northfield", "NC-1", heads)
    quarantine.record_collection(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), "B-05", gone)
    (line,) = disposal.disposal_page(kestrel.store).lines
    assert line.open == ("weight", "receipt", "waste_chain") and line.consignment == "NC-1"
    assert "receipt, waste-chain" in keep(kestrel, "P-1009", weight_kg=D("3.1"))


@pytest.mark.parametrize(("typed", "weight"), [("2,9", "2.9"), (" 3.10 ", "3.10"), ("", None)])
def test_a_weight_is_kept_as_typed(typed: str, weight: str | None) -> None:
    assert parse_weight(typed) == (None if weight is None else D(weight))


@pytest.mark.parametrize("typed", ["0", "-1", "heavy", "nan", "1e999x"])
def test_no_weight_is_refused_beside_its_field(typed: str) -> None:
    with pytest.raises(EntryRefused, match="not a weight"):
        parse_weight(typed)
