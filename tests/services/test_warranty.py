"""Purchase facts from the commissioning form to the claim file; what the clause, photos and gaps look like there."""

import io
import sqlite3
from pathlib import Path

import pypdf
import pytest
from PIL import Image

from fleetcare.domain.checks import CheckKind, LookItem, LookOver, RestBand, Trip, TripCause, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Pack
from fleetcare.domain.records import Record, ThingPut, decode, encode
from fleetcare.domain.wording import say
from fleetcare.reports import claim_sheet, history_sheet, plan_sheet
from fleetcare.services import commissioning, history, record
from fleetcare.services.claim_file import claim_file, clause_of
from fleetcare.services.commissioning import NewPack
from fleetcare.services.history_lines import Asked
from fleetcare.services.renewal import pair_told, renewal
from tests.kestrel import MONDAY, D, Kestrel

CLAUSE = "Two winters. <b>Not</b> for hire & =SUM(A1) \u202egnirts"


def picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), (200, 30, 30)).save(out, "PNG")
    return out.getvalue()


def new_pack(**changed: object) -> NewPack:
    values: dict[str, object] = {
        "code": "P-2001", "model": "K36-A", "serial": "2610-77", "marks": ("UN38.3",), "invoice": "F-9", "warranty_end": None,
        "warranty_clause": CLAUSE, "charger": "C-36-1", "photos": (picture(), b"\xff\xd8\xffnot a picture"), "shelf": "Store",
        "bought_on": "2026-10-01", "warranty_months": "24", "price": "418,50",
    }  # fmt: skip
    return NewPack(**(values | changed))  # type: ignore[arg-type]


def take_in(kestrel: Kestrel, **changed: object) -> None:
    check = VoltageCheck(
        "P-2001", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.70"), kestrel.now, "M-01", None, D("40.60"), D("8"), 10,
        D("20"), "L-08",
    )  # fmt: skip
    commissioning.commission(
        kestrel.store, kestrel.clock, kestrel.author(), new_pack(**changed), check, LookOver("P-2001", kestrel.now)
    )


@pytest.mark.parametrize(
    ("field", "typed"),
    [("bought_on", "1 Oct"), ("bought_on", "2026-12-01"), ("months", "24 months"), ("price", "dear")],
)
def test_a_slip_on_the_form_is_refused_beside_its_field_and_nothing_is_recorded(
    kestrel: Kestrel, field: str, typed: str
) -> None:
    with pytest.raises(EntryRefused) as refused:
        take_in(kestrel, **{{"months": "warranty_months"}.get(field, field): typed})
    assert refused.value.field == field
    with kestrel.store.view() as view:
        assert view.thing("pack", "P-2001") is None


def test_what_was_commissioned_is_found_again_in_the_claim_file(kestrel: Kestrel, tmp_path: Path) -> None:
    take_in(kestrel)
    record.record_trip(kestrel.store, kestrel.clock, kestrel.author(),
                       Trip("P-2001", None, MONDAY, TripCause.UNKNOWN, False, "on a kerb"))  # fmt: skip
    found = claim_file(kestrel.store, kestrel.clock, "P-2001")
    assert clause_of(kestrel.store, kestrel.clock, "P-2001").terms.clause == CLAUSE
    assert say(found.claim.time_left) == "699 days left, to 1 Oct 2028"
    lacks = {one.key for one in found.claim.lacks}
    assert lacks == {"finding", "confirmed", "trips", "charger"} and found.claim.terms.price == D("418.50")
    path = tmp_path / "claim.pdf"
    claim_sheet.write(found, path, page="A4", printed_by="Ormond", printed_at=MONDAY)
    reader = pypdf.PdfReader(path)
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert text.index("Warranty clause, as recorded") < text.index("Identity") < text.index("What the record holds")
    for said in ("<b>Not</b> for hire & =SUM(A1) [U+202E]gnirts", "F-9", "UN38.3", "1 Oct 2026", "41.70 V", "0.1375 Ω",
                 "on a kerb", "Photo 1, SHA-256", "kept, but cannot be drawn", "trips without a cause: 1",
                 "Missing: 4 of 13."):  # fmt: skip
        assert said in text, said
    assert sum(len(page.images) for page in reader.pages) == 1
    for blame in ("caused by", "fault of", "negligent", "defective cells"):
        assert blame not in text.lower()


def test_a_pack_held_for_danger_has_its_claim_file_and_its_line_in_the_plan(kestrel: Kestrel) -> None:
    look = LookOver("P-1009", kestrel.now, "EB-19", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)
    finding = claim_file(kestrel.store, kestrel.clock, "P-1009").claim.finding
    assert finding is not None and "held for danger since" in say(finding) and "smell" in say(finding)
    assert renewal(kestrel.store, kestrel.clock).pairs


def test_a_photo_whose_bytes_are_gone_is_said_on_the_claim_file_and_no_history_fails(
    kestrel: Kestrel, tmp_path: Path
) -> None:
    take_in(kestrel)
    with sqlite3.connect(kestrel.store.path) as raw:
        raw.execute("DELETE FROM photo")
    path = tmp_path / "claim.pdf"
    found = claim_file(kestrel.store, kestrel.clock, "P-2001")
    claim_sheet.write(found, path, page="A4", printed_by="Ormond", printed_at=MONDAY)
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())
    assert "on record, but the picture itself is not in this file" in text
    asked = Asked("pack", "P-2001", MONDAY.date(), MONDAY.date())
    with history.reading(kestrel.store, kestrel.clock, asked) as reading:
        whole = reading.whole()
        told = [line for line in reading.lines() if "photos kept" in line.text]
        history_sheet.write(reading, whole, tmp_path / "h.pdf", page="A4", printed_by="Ormond", printed_at=MONDAY)
    assert told and any("is not in this file" in note for note in told[0].notes)


def test_a_claim_file_is_written_without_any_fact_and_says_what_is_not_on_record(
    kestrel: Kestrel, tmp_path: Path
) -> None:
    path = tmp_path / "claim.pdf"
    claim_sheet.write(
        claim_file(kestrel.store, kestrel.clock, "P-1001"), path, page="Letter", printed_by="", printed_at=MONDAY
    )
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())
    assert "No clause is on record" in text and text.count("not on record") >= 6 and "none recorded" in text
    with pytest.raises(EntryRefused):
        claim_file(kestrel.store, kestrel.clock, "P-9999")


def test_the_plan_says_on_paper_what_the_page_says(kestrel: Kestrel, tmp_path: Path) -> None:
    kestrel.check("P-1004", "38.10", vehicle="EB-14")
    found = renewal(kestrel.store, kestrel.clock)
    path = tmp_path / "plan.pdf"
    plan_sheet.write(
        found, [pair_told(pair) for pair in found.pairs], path, page="A4", printed_by="Ormond", printed_at=MONDAY
    )
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())
    for said in (say(found.total), "P-1004", "100 %", "pulled at the check of 2 Nov 2026 06:30", say(found.kept_told),
                 "no price is on record for this model", "Decided by"):  # fmt: skip
        assert said in text, said


def test_bytes_of_packs_and_models_from_before_stay_as_they_were() -> None:
    def recorded(thing: Pack) -> Record:
        return Record("f", "r", "thing", MONDAY, MONDAY, "ORMOND", "none", "S", "typed", ThingPut("pack", thing))

    plain = encode(recorded(Pack("P-1", "K36-A", "s")))
    assert b"warranty" not in plain and b"bought" not in plain and b"invoice" not in plain
    full = Pack(
        "P-1", "K36-A", "s", warranty_months=24, warranty_clause="c", invoice="i", price_paid=D("420"), currency="GBP"
    )
    again = decode(encode(recorded(full)))
    assert again.body.thing == full and encode(again) == encode(recorded(full))


@pytest.mark.parametrize("written", ["none", "“None”", " none. "])
def test_a_pack_of_which_none_is_noted_is_not_under_warranty(kestrel: Kestrel, written: str) -> None:
    take_in(kestrel, warranty_clause=written, warranty_months="", bought_on="")
    page = renewal(kestrel.store, kestrel.clock)
    assert "P-2001" not in [claim.pack for claim in page.claims]


def test_a_pack_with_a_clause_is_listed_beside_it(kestrel: Kestrel) -> None:
    take_in(kestrel, warranty_months="", bought_on="")
    assert "P-2001" in [claim.pack for claim in renewal(kestrel.store, kestrel.clock).claims]
