"""The very same file once more: it is read as it was read before, or not at all."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fleetcare.domain.errors import FileRefused
from fleetcare.domain.oldrows import FIELDS, DateOrder
from fleetcare.domain.records import SheetImport
from fleetcare.domain.wording import Message, msg
from fleetcare.store.imported import imports
from fleetcare.store.view import Reader

if TYPE_CHECKING:
    from fleetcare.services.oldsheets import Plan


def as_before(view: Reader, digest: str, plan: Plan) -> Plan:
    """The plan with the answers of a standing import of the same bytes and sheet, where none were given now.

    Raises FileRefused where days and months or columns would be read otherwise: each row would come in a second time,
    as another reading.
    """
    for one in imports(view):
        before = one.body
        if not isinstance(before, SheetImport) or one.void_position is not None:
            continue
        if (before.sha256, before.sheet) != (digest, plan.sheet):
            continue
        answers, columns = dict(before.answers), dict(before.mapping)
        then = DateOrder(answers["order"]) if "order" in answers else None
        differs = [
            (_column(name, columns.get(name)), _column(name, plan.heading(name) if name in plan.columns else None))
            for name in FIELDS
            if columns.get(name) != (plan.heading(name) if name in plan.columns else None)
        ]
        if then is not None and plan.order not in (None, then):
            differs.append((msg(f"oldsheet.with_{then.value}"), msg(f"oldsheet.with_{plan.order.value}")))  # type: ignore[union-attr]
        if differs:
            raise FileRefused(
                "oldsheet.read_otherwise", brought_at=one.entered_at, person=one.by,
                before=tuple(was for was, _ in differs), now=tuple(now for _, now in differs),
            )  # fmt: skip
        milli = plan.millivolts
        if milli is None and "millivolts" in answers:
            milli = answers["millivolts"] == "yes"
        return replace(plan, order=plan.order or then, millivolts=milli)
    return plan


def _column(name: str, heading: str | None) -> Message:
    field = msg(f"oldsheet.field_{name}")
    return (
        msg("oldsheet.with_none", name=field) if heading is None else msg("oldsheet.with", name=field, heading=heading)
    )
