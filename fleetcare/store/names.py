"""People's names as they are printed.  They stand outside the records, and so outside the fingerprint."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fleetcare.domain.identity import NameWithheld, initials

if TYPE_CHECKING:
    from fleetcare.store.store import Store


class Names:
    """The part of a reader that gives names."""

    _store: Store
    _raw: Any

    def person_names(self) -> dict[str, str]:
        """Names of people by code, as they are printed: initials of those whose name is withheld today.

        They stand outside the fingerprint.
        """
        names: dict[str, str] = dict(self._raw.execute("SELECT code, name FROM person_name").fetchall())
        return names | {code: initials(names[code]) for code in self.withheld() if code in names}

    def withheld(self) -> dict[str, NameWithheld]:
        """Whose name is printed as initials, by code.  The newest choice counts, whatever position is read at."""
        newest: dict[str, NameWithheld] = {}
        for (data,) in self._raw.execute(
            "SELECT r.bytes FROM subject_event e JOIN record r ON r.position = e.position"
            " WHERE e.subject_class = 'person' AND r.kind = 'name_withheld' ORDER BY e.position"
        ):
            body = self._store.decoded(data).body
            assert isinstance(body, NameWithheld)
            newest[body.person] = body
        return {code: one for code, one in newest.items() if one.withheld}
