"""Labels are read back from the rasterised page by a reader that shares no code with the writer."""

from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdf
import pytest
import segno

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.label_stock import DOT_MM, PAGES_MM, STOCKS, LabelStock, module_mm
from fleetcare.domain.labels import normalise, verify_check
from fleetcare.reports import label_sheet
from fleetcare.reports.raster import Pages
from fleetcare.services import label_sheets, labelling, passports, summary
from fleetcare.services.identify import identify
from tests.kestrel import PEOPLE, Kestrel

MM = 72 / 25.4
PRINT_DPI = 203.2  # 8 dots a millimetre, the coarser of the usual label printers


def written(kestrel: Kestrel, stock: LabelStock, path: Path, *codes: str, copies: int = 1) -> int:
    labels = label_sheets.labels_for(kestrel.store, "pack", codes)
    return label_sheet.write(labels, stock, path, copies=copies, fleet_name="Kestrel Wharf", demo=False)


def picture(path: Path, number: int = 0, dpi: float = PRINT_DPI) -> "np.ndarray[Any, Any]":
    pages = Pages(path)
    made = pages.picture(number, dpi, grey=True)
    pages.close()
    return np.frombuffer(made.data, np.uint8).reshape(made.height, made.stride)[:, : made.width].copy()


def label_at(page: "np.ndarray[Any, Any]", stock: LabelStock, place: int) -> "np.ndarray[Any, Any]":
    dots = PRINT_DPI / 25.4
    left, top = (round(side * dots) for side in stock.place_mm(place))
    return page[top : top + round(stock.height_mm * dots), left : left + round(stock.width_mm * dots)]


def decoded(image: "np.ndarray[Any, Any]") -> str:
    framed = cv2.copyMakeBorder(image, 30, 30, 30, 30, cv2.BORDER_CONSTANT, value=255)
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(framed)
    return str(text)


@pytest.mark.parametrize("stock", STOCKS, ids=lambda s: s.name)
def test_every_listed_stock_is_read_back(kestrel: Kestrel, tmp_path: Path, stock: LabelStock) -> None:
    written(kestrel, stock, tmp_path / "l.pdf", "P-1001", "P-1304")
    for number, code in enumerate(("P-1001", "P-1304")):
        page, place = (0, number) if stock.page else (number, 0)
        text = decoded(label_at(picture(tmp_path / "l.pdf", page), stock, place))
        assert verify_check(text) and normalise(text) == code


@pytest.mark.parametrize("stock", STOCKS, ids=lambda s: s.name)
@pytest.mark.parametrize("corner", range(4))
def test_a_code_with_a_tenth_of_it_covered_is_still_read(
    kestrel: Kestrel, tmp_path: Path, corner: int, stock: LabelStock
) -> None:
    """A tenth of the code's area under a white or black patch, clear of the three finder patterns.

    Level H restores about 30 % of the code words (ISO/IEC 18004); no level restores a finder pattern.
    """
    codes = ("P-1001", "P-1002", "P-1008", "P-1301")
    written(kestrel, stock, tmp_path / "l.pdf", *codes)
    for number, code in enumerate(codes):
        page, place = (0, number) if stock.page else (number, 0)
        image = label_at(picture(tmp_path / "l.pdf", page), stock, place)
        dark = np.argwhere(image[:, : int(image.shape[1] * 0.45)] < 128)
        (top, left), side = dark.min(axis=0), 29 * round(module_mm(stock, 29) / 25.4 * PRINT_DPI)
        patch = round(side * 0.1**0.5) + 1
        low, middle = side - patch, side // 2 - patch // 2
        y, x = ((low, low), (middle, low), (low, middle), (middle, middle))[corner]
        for shade in (255, 0):
            covered = image.copy()
            covered[top + y : top + y + patch, left + x : left + x + patch] = shade
            text = decoded(covered)
            assert verify_check(text) and normalise(text) == code, (code, shade)


# ISO/IEC 18004: version v is 17 + 4 v modules a side; version 1-H holds 10 alphanumeric characters, 2-H 20.
@pytest.mark.parametrize(("text", "modules"), [("P-10010*AX"[:10], 21), ("P-100100*AX", 25)])
def test_the_size_of_the_code_follows_the_standard(text: str, modules: int) -> None:
    code = segno.make(text, error=label_sheet.CORRECTION, boost_error=False, micro=False)
    assert code.symbol_size(border=0) == (modules, modules) and code.mode == "alphanumeric"


def test_two_copies_each_on_sheets_of_the_right_size_and_the_first_place_is_kept_free(
    kestrel: Kestrel, tmp_path: Path
) -> None:
    stock = STOCKS[0]
    assert written(kestrel, stock, tmp_path / "l.pdf", copies=2) == 4  # 38 packs, 76 labels, 24 a page
    box = pypdf.PdfReader(tmp_path / "l.pdf").pages[0].mediabox
    assert (round(float(box.width) / MM), round(float(box.height) / MM)) == tuple(round(s) for s in PAGES_MM["A4"])
    labels = label_sheets.labels_for(kestrel.store, "pack", ["P-1001"])
    label_sheet.write(labels, stock, tmp_path / "m.pdf", copies=1, first=5, fleet_name="K", demo=True)
    page = picture(tmp_path / "m.pdf")
    assert label_at(page, stock, 3).min() == 255 and decoded(label_at(page, stock, 4)) == "P-1001*X"
    text = pypdf.PdfReader(tmp_path / "m.pdf").pages[0].extract_text()
    assert "DEMO" in text and "issue 1" in text and "P-1001*X" in text


def test_single_labels_are_pages_of_their_own_size(kestrel: Kestrel, tmp_path: Path) -> None:
    assert written(kestrel, STOCKS[4], tmp_path / "l.pdf", "P-1001", copies=2) == 2
    box = pypdf.PdfReader(tmp_path / "l.pdf").pages[0].mediabox
    assert (round(float(box.width) / MM), round(float(box.height) / MM)) == (50, 30)


def test_the_quiet_zone_is_four_modules_and_modules_are_whole_dots(kestrel: Kestrel, tmp_path: Path) -> None:
    for stock in STOCKS:
        module = module_mm(stock, 29)
        assert module % DOT_MM == pytest.approx(0) and (29 + 8) * module <= stock.height_mm - 2 + 1e-9
        assert module >= label_sheet.ROOMY_MODULE_MM
    stock = STOCKS[0]
    written(kestrel, stock, tmp_path / "l.pdf", "P-1001")
    label = label_at(picture(tmp_path / "l.pdf"), stock, 0)
    code_right = (1 + 33 * module_mm(stock, 29)) * PRINT_DPI / 25.4
    clear = label[:, round(code_right) + 2 : round(code_right + 4 * module_mm(stock, 29) * PRINT_DPI / 25.4) - 2]
    assert clear.min() == 255


def test_a_label_is_an_issue_of_an_identity(kestrel: Kestrel) -> None:
    author = kestrel.author()
    first = label_sheets.labels_for(kestrel.store, "pack", ["p-1001"])
    assert first[0].issue == 1
    label_sheets.record_labels(kestrel.store, kestrel.clock, author, first, 2)
    assert label_sheets.labels_for(kestrel.store, "pack", ["P-1001"]) == first, "printing again voids nothing"
    labelling.reissue_label(kestrel.store, kestrel.clock, author, "P-1001", "worn off")
    again = label_sheets.labels_for(kestrel.store, "pack", ["P-1001"])
    assert again[0].issue == 2 and again[0].text.startswith("P-1001/2*") and verify_check(again[0].text)
    with pytest.raises(EntryRefused, match="printed meanwhile"):
        label_sheets.record_labels(kestrel.store, kestrel.clock, author, first, 2)
    with pytest.raises(EntryRefused, match="label issue 1 of P-1001 is void"):
        identify(kestrel.store, first[0].text)
    assert identify(kestrel.store, again[0].text).code == "P-1001"
    bike = label_sheets.labels_for(kestrel.store, "vehicle", ["EB-12"])
    label_sheets.record_labels(kestrel.store, kestrel.clock, author, bike, 2)
    assert label_sheets.labels_for(kestrel.store, "vehicle", ["EB-12"])[0].issue == 2
    events = summary.pack_summary(kestrel.store, kestrel.clock, "P-1001").events
    assert any("issue" in str(one.text) for one in events) and kestrel.store.verify().good


def test_badges_come_from_people_and_every_class_can_be_labelled(kestrel: Kestrel) -> None:
    for thing_class in label_sheets.CLASSES:
        labels = label_sheets.labels_for(kestrel.store, thing_class, [])
        assert labels and all(verify_check(one.text) for one in labels)
    dunn = label_sheets.labels_for(kestrel.store, "person", ["DUNN"])[0]
    assert normalise(dunn.text) == PEOPLE["DUNN"].badge and dunn.line == "Dunn"


def test_refusals_name_the_rule_and_the_number(kestrel: Kestrel, tmp_path: Path) -> None:
    with pytest.raises(EntryRefused, match="Z-1 is not on record among the packs"):
        label_sheets.labels_for(kestrel.store, "pack", ["Z-1"])
    with pytest.raises(NotAllowed, match="Hale is neither"):
        label_sheets.record_labels(kestrel.store, kestrel.clock, kestrel.author("HALE"), [], 1)
    with pytest.raises(EntryRefused, match=r"below 0\.375 mm hand scanners fail"):
        written(kestrel, LabelStock("x", 20, 10), tmp_path / "l.pdf", "P-1001")
    for typed, words in (
        ("", "not measures"), ("70", "not measures"), ("nan x 30", "not measures"), ("5x5", "at least 15"),
        ("70x37, 3x8, 0, 0.5, 60, 37, A4", "over one another"), ("70x37, 3x9, 0, 0.5, 70, 37, A4", "page has 210 × 297"),
        ("70x37, 0x8, 0, 0.5, 70, 37, A4", "at least one"), ("70x37, 3x8, 0, 0.5, 70, 37, A5", "not measures"),
    ):  # fmt: skip
        with pytest.raises(EntryRefused, match=words):
            label_sheets.parse_measures(typed)
    assert label_sheets.parse_measures("70×37, 3x8, 0, 0.5, 70, 37, a4").per_page == 24
    assert label_sheets.parse_measures("50x30").per_page == 1


@pytest.mark.parametrize("kind", label_sheets.CLASSES)
@pytest.mark.parametrize("stock", [one for one in STOCKS if one.page], ids=lambda s: s.name)
def test_nothing_stands_where_printers_do_not_print(
    kestrel: Kestrel, tmp_path: Path, stock: LabelStock, kind: str
) -> None:
    """Common practice, no source: 4 mm at the left and right edge of the paper are not printed by many office printers."""
    labels = label_sheets.labels_for(kestrel.store, kind, [])
    label_sheet.write(labels, stock, tmp_path / "l.pdf", copies=2, fleet_name="K" * 60, demo=True)
    page = picture(tmp_path / "l.pdf")
    blank = round(3.9 / 25.4 * PRINT_DPI)
    assert page[:, :blank].min() == 255 and page[:, -blank:].min() == 255


PASSPORT = "https://passport.example/b/21/0a1b2c3d-4e5f-6789-abcd-ef0123456789?Batch=7&x=%20Ä"


@pytest.mark.parametrize("stock", STOCKS, ids=lambda s: s.name)
def test_the_code_of_a_passport_is_copied_to_the_letter_and_is_no_issue_of_ours(
    kestrel: Kestrel, tmp_path: Path, stock: LabelStock
) -> None:
    author = kestrel.author()
    with pytest.raises(EntryRefused, match="no EU passports of packs on record"):
        label_sheets.labels_for(kestrel.store, "passport", [])
    passports.record_passport(kestrel.store, kestrel.clock, author, "P-1004", PASSPORT)
    with pytest.raises(EntryRefused, match="No passport text is kept with P-1005"):
        label_sheets.labels_for(kestrel.store, "passport", ["P-1004", "P-1005"])
    labels = label_sheets.labels_for(kestrel.store, "passport", [])
    assert [one.code for one in labels] == ["P-1004"]
    label_sheet.write(labels, stock, tmp_path / "l.pdf", copies=2, fleet_name="K", demo=False)
    for copy in range(2):
        page, place = (0, copy) if stock.page else (copy, 0)
        assert decoded(label_at(picture(tmp_path / "l.pdf", page), stock, place)) == PASSPORT
    text = pypdf.PdfReader(tmp_path / "l.pdf").pages[0].extract_text()
    assert "P-1004" in text and "issue" not in text and "EU passport, copy" in text
    before = kestrel.store.verify().records
    label_sheets.record_labels(kestrel.store, kestrel.clock, author, labels, 2)
    assert kestrel.store.verify().records == before


def test_a_passport_that_does_not_fit_is_refused_with_the_number(kestrel: Kestrel, tmp_path: Path) -> None:
    passports.record_passport(kestrel.store, kestrel.clock, kestrel.author(), "P-1004", "x" * 500)
    labels = label_sheets.labels_for(kestrel.store, "passport", ["p-1004"])
    with pytest.raises(EntryRefused, match=r"below 0\.375 mm hand scanners fail"):
        label_sheet.write(labels, STOCKS[0], tmp_path / "l.pdf", copies=1, fleet_name="K", demo=False)
    large = LabelStock("large", 100, 60)
    label_sheet.write(labels, large, tmp_path / "l.pdf", copies=1, fleet_name="K", demo=False)
    assert decoded(picture(tmp_path / "l.pdf")) == "x" * 500
