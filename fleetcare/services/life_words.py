"""One sentence for each record along a pack's life: parts, water, returns, away, vans, disposal, bays."""

from __future__ import annotations

from fleetcare.domain.away import BackAs, CameBack, MissingNoted, Recovered, SentToMaker, WentMissing
from fleetcare.domain.bays import BayCover, PackStuck
from fleetcare.domain.disposing import Disposed
from fleetcare.domain.hire_return import HireReturn, LookedAgain
from fleetcare.domain.parts import PartMoved
from fleetcare.domain.replacing import PartReplaced
from fleetcare.domain.vans import VanArrived, VanLoaded
from fleetcare.domain.water import Dried, Wetted
from fleetcare.domain.wording import Message, msg


def life_text(body: object) -> Message | None:
    """What a record along a pack's life says, or None for any other kind."""
    match body:
        case PartMoved():
            where = body.pack or body.vehicle or msg("event.not_known")
            return msg(
                f"parts.text_{body.move.value}", part=body.part, pieces=body.pieces, where=where, before=body.before,
                reason=body.reason or "—", supplier=body.supplier or "—", number=body.part_number,
            )  # fmt: skip
        case PartReplaced():
            return replaced_text(body)
        case Wetted():
            key = "event.wetted_inside" if body.inside else "event.wetted"
            return msg(key, subject=body.pack or body.vehicle, kind=msg(f"water_kind.{body.kind.value}"))
        case Dried():
            return msg("event.dried", pack=body.pack)
        case HireReturn():
            return _returned(body)
        case LookedAgain():
            return msg("event.looked_again_warm" if body.still_warm else "event.looked_again", pack=body.pack)
        case WentMissing() | MissingNoted():
            return _missing(body)
        case Recovered():
            return msg("event.recovered", code=body.pack or body.vehicle, place=body.place)
        case SentToMaker():
            return msg(
                "event.sent_to_maker", pack=body.pack, maker=body.maker, return_number=body.return_number,
                carrier=body.carrier, expected_date=body.expected_on,
            )  # fmt: skip
        case CameBack(outcome=BackAs.REPLACED):
            return msg(
                "event.came_back_as", pack=body.pack, replacement=body.replacement, serial=body.replacement_serial,
                report=body.report,
            )  # fmt: skip
        case CameBack():
            outcome = msg(f"back_as.{body.outcome.value}")
            return msg("event.came_back", pack=body.pack, outcome=outcome, report=body.report, work=body.work or "—")
        case VanLoaded():
            return msg(
                "event.van_loaded", number=body.number, from_depot=body.from_depot, to_depot=body.to_depot,
                count=len(body.lines), vehicles=len(body.vehicles),
            )  # fmt: skip
        case VanArrived(missing=()):
            return msg("event.van_arrived", number=body.number, count=len(body.packs))
        case VanArrived():
            return msg("event.van_missing", number=body.number, count=len(body.packs), missing=body.missing)
        case Disposed():
            weight = "—" if body.weight_kg is None else str(body.weight_kg)
            return msg(
                "event.disposed", pack=body.pack, weight=weight, receipt=body.receipt or "—", plant=body.plant or "—",
                waste_chain=body.waste_chain or "—",
            )  # fmt: skip
        case BayCover():
            return msg("event.bay_covered" if body.covered else "event.bay_open", bay=body.bay, vehicle=body.vehicle)
        case PackStuck():
            return msg("event.pack_stuck", pack=body.pack, vehicle=body.vehicle, why=msg(f"stuck.{body.why.value}"))
    return None


def replaced_text(work: PartReplaced) -> Message:
    """One replacement in words."""
    where = " / ".join(one for one in (work.pack, work.vehicle) if one)
    fitted = tuple(msg("event.fitted_part", part=one.part, part_number=one.part_number) for one in work.parts)
    return msg(
        "event.part_replaced", what=msg(f"replaced.{work.what.value}"), where=where, parts=fitted, before_v=work.before_v,
        after_v=work.after_v, seal=work.seal,
    )  # fmt: skip


def _returned(body: HireReturn) -> Message:
    photos = (
        msg("event.photos", count=len(body.photos))
        if body.photos
        else msg("event.no_photo", reason=body.no_photo_reason or "—")
    )
    key = "event.hire_return_cleaned" if body.cleaned_first else "event.hire_return"
    return msg(
        key,
        pack=body.pack,
        damage=msg(f"damage.{body.damage.value}"),
        warmth=msg(f"warmth.{body.warmth.value}"),
        photos=photos,
    )


def _missing(body: WentMissing | MissingNoted) -> Message:
    values = {"code": body.pack or body.vehicle, "police": body.police or "—", "insurer": body.insurer or "—"}
    if isinstance(body, WentMissing):
        return msg("event.went_missing", kind=msg(f"missing.{body.kind.value}"), **values)
    return msg("event.missing_noted", **values)
