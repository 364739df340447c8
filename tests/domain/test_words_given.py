"""Every sentence that the code asks for by key is in the catalogue, and is given the values that it names."""

import ast
import string
from collections.abc import Iterator
from pathlib import Path

import fleetcare
from fleetcare.domain import wording

ASKING = frozenset({"msg", "EntryRefused", "NotAllowed", "FileRefused"})


def asked() -> Iterator[tuple[str, str, set[str]]]:
    """Where a sentence is asked for by a literal key, the key, and the names of the values given."""
    root = Path(fleetcare.__file__).parent
    for path in sorted(root.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call) or not node.args or any(one.arg is None for one in node.keywords):
                continue
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called not in ASKING:
                continue
            key = node.args[0]
            either = (key.body, key.orelse) if isinstance(key, ast.IfExp) else (key,)
            for one in either:
                if isinstance(one, ast.Constant):
                    given = {word.arg for word in node.keywords if word.arg}
                    yield f"{path.relative_to(root)}:{node.lineno}", str(one.value), given


def test_no_sentence_lacks_its_key_or_a_value() -> None:
    found = list(asked())
    assert len(found) > 1500
    wrong = []
    for where, key, given in found:
        text = wording._WORDS.get(key)
        if text is None:
            wrong.append(f"{where}: no sentence {key}")
        else:
            needed = {name for _, name, _, _ in string.Formatter().parse(text) if name}
            if missing := needed - given:
                wrong.append(f"{where}: {key} is not given {sorted(missing)}")
    assert not wrong
