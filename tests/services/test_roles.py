"""Every deed by every role and level: allowed or refused as the table says, and a refused one leaves nothing."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from fleetcare.domain.errors import NotAllowed
from fleetcare.domain.packs import Level, Person, Role
from fleetcare.domain.wording import say
from fleetcare.services import record
from fleetcare.services.session import Author
from fleetcare.store.store import Store, Transaction
from tests.kestrel import Kestrel, build
from tests.role_table import EVERYBODY, TABLE, Deed, deeds_in_services, page, with_everybody

DOCS = Path(__file__).parents[2] / "docs"
WHO_MAY = re.compile(r"may (check|reset and release)|manager", re.IGNORECASE)
"""A refusal says who may."""


class Rehearsed(BaseException):
    """The deed came to its end and is taken back."""


@pytest.fixture(scope="module")
def depot(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A depot file with everybody in it."""
    path = tmp_path_factory.mktemp("roles") / "depot.fleet"
    with_everybody(build(path)).store.close()
    yield path


@pytest.fixture
def kestrel(depot: Path, tmp_path: Path) -> Iterator[Kestrel]:
    """The depot, for one deed."""
    path = tmp_path / "depot.fleet"
    path.write_bytes(depot.read_bytes())
    made = Kestrel(Store.open(path))
    yield made
    made.store.close()


def test_every_deed_of_the_services_stands_in_the_table() -> None:
    assert deeds_in_services() == {deed.function for deed in TABLE}


def outcome(made: Kestrel, deed: Deed, person: Person, ready: object) -> str:
    """Do it up to the commit and take it back: "done", "nothing kept" or the refusal."""
    kept = made.store.transaction
    grew = []

    @contextmanager
    def rehearsal(*patience: float) -> Iterator[Transaction]:
        with kept(*patience) as tx:
            before = tx.position
            yield tx
            grew.append(tx.position > before)
            raise Rehearsed

    made.store.transaction = rehearsal  # type: ignore[method-assign]
    try:
        deed.do(made, Author(person, "BENCH-1"), ready)
    except Rehearsed:
        pass
    except NotAllowed as refused:
        assert not any(grew)
        return say(refused.message)
    finally:
        made.store.transaction = kept  # type: ignore[method-assign]
    return "done" if any(grew) else "nothing kept"


@pytest.mark.parametrize("deed", TABLE, ids=lambda d: d.words)
def test_a_deed_is_allowed_or_refused_as_the_table_says(kestrel: Kestrel, tmp_path: Path, deed: Deed) -> None:
    ready = deed.prepare(kestrel, tmp_path)
    with kestrel.store.view() as view:
        before = view.head()
    for person in EVERYBODY:
        said = outcome(kestrel, deed, person, ready)
        if deed.who.allows(person):
            assert said == ("done" if deed.keeps_record else "nothing kept"), f"{person.name}: {said}"
        else:
            assert WHO_MAY.search(said), f"{person.name}: {said}"
    with kestrel.store.view() as view:
        assert view.head() == before
    _taken_away(kestrel, deed, ready)


def _taken_away(kestrel: Kestrel, deed: Deed, ready: object) -> None:
    """Somebody signed in with every right, and the record now says otherwise."""
    signed_in = Person("ALL", "Was allowed", tuple(Role), Level.MAY_RELEASE, badge="B-800")
    record.put_things(
        kestrel.store, kestrel.clock, kestrel.author("ORMOND"),
        ("person", replace(signed_in, roles=(Role.MECHANIC,), level=Level.NONE)),
    )  # fmt: skip
    said = outcome(kestrel, deed, signed_in, ready)
    nobody = Person("", "", (Role.MECHANIC,))
    assert (said in ("done", "nothing kept")) is deed.who.allows(nobody), said


def test_the_page_of_the_manual_says_what_the_table_says() -> None:
    assert (DOCS / "roles.md").read_text("utf-8") == page(), "run: python -m tests.role_table"
