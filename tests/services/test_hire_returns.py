"""Back from hire: pictures before cleaning, unknown age counts as damaged, a warm return is looked at again.

"Treat every used or returned pack as damaged until there is reason to believe otherwise": Finnish guide akkuopas.fi,
warranty and service returns.  The hour is this program's proposal.
"""

import datetime as dt
import hashlib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import hire_return
from fleetcare.domain.checks import HoldClass, LookItem
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.hire_return import Damage, HireReturn, LookedAgain, Warmth
from fleetcare.domain.wording import say
from fleetcare.services import charging, hire_returns, summary
from tests.kestrel import MONDAY, Kestrel

PNG = b"\x89PNG\r\n\x1a\n" + b"picture of a scuffed corner"


def back(kestrel: Kestrel, **change: object) -> HireReturn:
    made = HireReturn("P-1007", "EB-17", kestrel.now, (), Damage.NONE, Warmth.COOL, charger="C-36-1")
    return replace(made, **change)


def keep(kestrel: Kestrel, *photos: bytes, **change: object) -> tuple[str, bool]:
    made = back(kestrel, **change)
    done, danger = hire_returns.record_return(kestrel.store, kestrel.clock, kestrel.author("HALE"), made, photos)
    return say(done.message), danger


def holds(kestrel: Kestrel) -> dict[str, HoldClass]:
    with kestrel.store.view() as view:
        return {h.reason.key: h.hold_class for h in view.open_holds(("pack", "P-1007"))}


def look(kestrel: Kestrel, warm: bool, by: str = "DUNN", badge: str = "") -> str:
    made = LookedAgain("P-1007", kestrel.now, warm)
    return say(hire_returns.look_again(kestrel.store, kestrel.clock, kestrel.author(by), made, badge).message)


def test_pictures_or_the_reason_come_before_cleaning_and_stay_as_they_were(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="before anything is cleaned"):
        keep(kestrel)
    said, danger = keep(kestrel, PNG)
    assert not danger and "1 pictures" in said and holds(kestrel) == {}
    (line,) = hire_returns.return_lines(kestrel.store)
    assert line.back.photos == (hashlib.sha256(PNG).hexdigest(),)
    assert hire_returns.photos_of(kestrel.store, line.back) == (PNG,)
    keep(kestrel, no_photo_reason="camera broken", cleaned_first=True)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1007")
    texts = [say(one.text) for one in page.events]
    assert any("cleaned before anybody took pictures" in text for text in texts)
    assert kestrel.store.verify().good


def test_damage_of_unknown_age_counts_as_damaged_and_known_age_waits_for_inspection(kestrel: Kestrel) -> None:
    with pytest.raises(EntryRefused, match="what the damage is"):
        keep(kestrel, PNG, damage=Damage.UNKNOWN)
    with pytest.raises(EntryRefused, match="since when"):
        keep(kestrel, PNG, damage=Damage.KNOWN, damage_what="scuffed corner")
    _said, danger = keep(kestrel, PNG, damage=Damage.KNOWN, damage_what="scuffed corner", damage_since="Sunday, rider")
    assert not danger and holds(kestrel) == {"returns.damaged": HoldClass.FAULT}
    said, danger = keep(kestrel, PNG, damage=Damage.UNKNOWN, damage_what="dent")
    assert danger and "counts as damaged" in said and HoldClass.DANGER in holds(kestrel).values()


def test_one_item_of_the_gate_asks_nothing_else(kestrel: Kestrel) -> None:
    _said, danger = keep(kestrel, dangers=(LookItem.CRACK,), place="Q-1", charger="")
    assert danger and holds(kestrel) == {"returns.gate": HoldClass.DANGER}


@pytest.mark.parametrize("warmth", [Warmth.NO_REASON, Warmth.TOO_HOT])
def test_heat_without_reason_or_too_hot_to_hold_is_a_danger(kestrel: Kestrel, warmth: Warmth) -> None:
    assert keep(kestrel, PNG, warmth=warmth)[1]


def test_a_summer_return_is_let_cool_and_looked_at_again(kestrel: Kestrel) -> None:
    said, danger = keep(kestrel, PNG, warmth=Warmth.SUN_OR_RIDE)
    assert not danger and "look again at 2 Nov 2026 07:30" in said
    assert [line.again_at for line in hire_returns.cooling_lines(kestrel.store)] == [MONDAY + dt.timedelta(hours=1)]
    told = charging.charge_warning(kestrel.store, kestrel.clock, "P-1007", "C-36-1")
    assert told is not None and "No charge before that" in say(told)
    kestrel.now = MONDAY + dt.timedelta(minutes=59)
    with pytest.raises(EntryRefused, match="59 minutes"):
        look(kestrel, False)
    kestrel.now = MONDAY + dt.timedelta(minutes=60)
    assert "somebody who may release" in look(kestrel, False, "FARROW").lower()
    assert holds(kestrel) == {"returns.cooling": HoldClass.ACTION_DUE}
    assert "their own badge or PIN" in look(kestrel, False)
    with pytest.raises(NotAllowed, match="own badge or PIN"):
        look(kestrel, False, badge="B-03")
    assert holds(kestrel) == {"returns.cooling": HoldClass.ACTION_DUE}
    assert "hold for warmth is ended" in look(kestrel, False, badge="B-01")
    assert holds(kestrel) == {} and hire_returns.cooling_lines(kestrel.store) == ()
    with pytest.raises(EntryRefused, match="not waiting"):
        look(kestrel, False, badge="B-01")


def test_still_warm_after_an_hour_is_hot_and_hotter_earlier_needs_no_hour(kestrel: Kestrel) -> None:
    keep(kestrel, PNG, warmth=Warmth.SUN_OR_RIDE)
    kestrel.now = MONDAY + dt.timedelta(minutes=20)
    with pytest.raises(NotAllowed, match="may not check"):
        look(kestrel, False, "HALE")
    assert "quarantined" in look(kestrel, True, "HALE")
    assert HoldClass.DANGER in holds(kestrel).values()


def test_an_unknown_charger_holds_for_inspection_beside_the_other_reasons(kestrel: Kestrel) -> None:
    keep(kestrel, PNG, charger="", charged_where="at home", warmth=Warmth.SUN_OR_RIDE)
    assert set(holds(kestrel)) == {"report.unknown_charger", "returns.cooling"}


@given(
    st.sampled_from(list(Damage)), st.sampled_from(list(Warmth)), st.booleans(),
    st.lists(st.sampled_from([LookItem.CRACK, LookItem.HOT]), max_size=2, unique=True),
)  # fmt: skip
def test_a_danger_stands_alone_and_nothing_is_lost_without_one(
    damage: Damage, warmth: Warmth, known: bool, dangers: list[LookItem]
) -> None:
    made = HireReturn(
        "P",
        None,
        MONDAY,
        tuple(dangers),
        damage,
        warmth,
        damage_what="x",
        damage_since="y",
        charger="C" if known else "",
    )
    classes = [ruling.hold_class for ruling in hire_return.rulings(made)]
    danger = bool(dangers) or warmth in (Warmth.NO_REASON, Warmth.TOO_HOT) or damage is Damage.UNKNOWN
    assert classes == [HoldClass.DANGER] if danger else HoldClass.DANGER not in classes
    if not danger:
        assert len(classes) == (damage is Damage.KNOWN) + (not known) + (warmth is Warmth.SUN_OR_RIDE)
