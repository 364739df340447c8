"""What a setting is called where it stands alone, and where its value comes from: on the overview and in a history."""

from __future__ import annotations

from fleetcare.domain.packs import PackModel, SiteRules
from fleetcare.domain.wording import Message, catalogue, msg

_CATALOGUE = catalogue()


def setting_named(name: str) -> Message:
    """The name of a setting as on its form; one whose label there leans on the field before it has one of its own.

    `name` is a field of the site's rules or a pack model, or a limit per cell group with `_v` behind it.
    """
    limit = f"limit.{name.removesuffix('_v')}"
    if name.endswith("_v") and limit in _CATALOGUE and f"setup.{name}" not in _CATALOGUE:
        return msg("setting.per_group", limit=msg(limit))
    for key in (f"setting.{name}", f"setup.{name}"):
        if key in _CATALOGUE:
            return msg(key)
    return msg("setting.plain", name=name.replace("_", " "))


def source_of(thing: SiteRules | PackModel, name: str) -> str:
    """The source that was typed for this value of a setting; "" where none is on record."""
    if isinstance(thing, SiteRules) and name in dict(thing.sources):
        return dict(thing.sources)[name]
    return {f"{limit}_v": source for limit, _, source in thing.limit_figures}.get(name, "")
