"""The passport that a pack carries by law: the text of the QR code on it, kept with the pack.

Packs of light means of transport that are put on the EU market from 18 Feb 2027 on carry one each
(Regulation (EU) 2023/1542).  The text is kept as it was read and never followed: nothing here goes online.
"""

from __future__ import annotations

from dataclasses import replace

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Level, Pack
from fleetcare.domain.wording import msg
from fleetcare.services.people import may
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View

MOST_LETTERS = 500
"""The longest text that is kept (proposal of this program; a QR code of 40-L holds 2 953 bytes, ISO/IEC 18004)."""


def passport_of(view: View, code: str) -> str:
    """The passport text of a pack, or ""; EntryRefused for a pack that is not on record."""
    return _known(view, code).passport


def record_passport(store: Store, clock: Clock, author: Author, code: str, text: str) -> Recorded:
    """Keep the text of the passport's QR code with a pack; "" takes it away.  Needs the level that may check.

    One passport belongs to one pack: EntryRefused when another pack carries the same text.
    """
    now = clock()
    tidy = text.strip()
    if len(tidy) > MOST_LETTERS or not tidy.isprintable():
        raise EntryRefused("passport.not_text", field="passport", have=len(tidy), most=MOST_LETTERS)
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_CHECK)
        pack = _known(tx, code)
        other = next((one.code for one in tx.things("pack").values() if tidy and one.passport == tidy), None)
        if other == pack.code or (not tidy and not pack.passport):
            raise EntryRefused("passport.nothing_new", field="passport", pack=pack.code)
        if other is not None:
            raise EntryRefused("passport.twin", field="passport", pack=other)
        writer = Writer(tx, author, now)
        writer.add_thing("pack", replace(pack, passport=tidy))
        return writer.recorded(msg("passport.kept", pack=pack.code))


def _known(view: View, code: str) -> Pack:
    pack: Pack | None = view.thing("pack", code.strip().upper())
    if pack is None:
        raise EntryRefused("entry.unknown_pack", field="passport_pack", code=code.strip())
    return pack
