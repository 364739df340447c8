"""Check an exported maintenance history.  Needs Python 3.8 or newer and nothing else.

    python check_history.py [FOLDER or ARCHIVE.zip] [--fingerprint "3f2a 9b1c 0d4e 77aa · 3,412"]

It hashes every record again, follows its proof to the fingerprint, compares the table line by line
with the records, and names every line that does not match.  Exit code 0: everything matches; 1:
something differs.  Without a fingerprint from paper or from somebody outside who kept it, the answer
is only that the history is consistent with itself.
"""

import csv
import hashlib
import io
import json
import re
import sys
import zipfile
from pathlib import Path

RECORDS = "records.jsonl"
TABLE = "records.csv"
FILES = "files.json"
HEADINGS = ("position", "kind", "done", "entered", "by", "level", "station", "source", "record id", "content")
_RISKY = ("=", "+", "-", "@", "\t", "\r")


def leaf_hash(data):
    """SHA-256 of 0x00 and the record's bytes (RFC 6962 section 2.1)."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left, right):
    """SHA-256 of 0x01 and two hashes."""
    return hashlib.sha256(b"\x01" + left + right).digest()


def root_from(leaf, position, size, path):
    """The fingerprint that a proof leads to from `leaf`, or None when the proof has the wrong length."""
    at, last, found = position - 1, size - 1, leaf
    for sibling in path:
        if last == 0:
            return None
        if at & 1 or at == last:
            found = node_hash(sibling, found)
            while not at & 1 and at:
                at, last = at >> 1, last >> 1
        else:
            found = node_hash(found, sibling)
        at, last = at >> 1, last >> 1
    return found if last == 0 else None


def cell(value):
    """A cell that no spreadsheet takes for a formula, with what cannot be printed made visible."""
    text = "".join(
        f"[U+{ord(c):04X}]" if ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or 0xD800 <= ord(c) < 0xE000
        or 0x202A <= ord(c) <= 0x202E or 0x2066 <= ord(c) <= 0x2069 else c
        for c in str(value)
    )  # fmt: skip
    return "'" + text if text.startswith(_RISKY) else text


def table_row(position, text):
    """The line of the table for one record."""
    plain = json.loads(text)
    body = json.dumps(plain["body"], ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    values = (position, plain["kind"], plain["done"], plain["entered"], plain["by"], plain["level"], plain["station"],
              plain["source"], plain["id"], body)  # fmt: skip
    return [cell(one) for one in values]


def table_line(row):
    """One line of CSV as RFC 4180 has it, ended by CR LF."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerow(row)
    return out.getvalue()


def check(files, typed=None):
    """(everything matches, sentences) for `files`, a mapping of names to bytes."""
    wrong = [f"{name} is missing from the archive." for name in (RECORDS, TABLE, FILES) if name not in files]
    if wrong:
        return False, wrong
    lines = files[RECORDS].decode("utf-8", "replace").split("\n")
    if lines[-1:] == [""]:
        lines.pop()
    try:
        head = json.loads(lines[0])
        size, root, fleet = int(head["records"]), bytes.fromhex(head["fingerprint"]), head["fleet"]
    except (ValueError, KeyError, TypeError, IndexError):
        return False, [f"{RECORDS}, line 1: the head cannot be read."]
    rows = [list(HEADINGS)]
    before = 0
    for number, line in enumerate(lines[1:], start=2):
        try:
            one = json.loads(line)
            position, text = one["position"], one["record"]
            path = [bytes.fromhex(part) for part in one["proof"]]
            found = root_from(leaf_hash(text.encode("utf-8", "surrogatepass")), position, size, path)
            rows.append(table_row(position, text))
            told = json.loads(text)["fleet"]
        except (ValueError, KeyError, TypeError, AttributeError):
            wrong.append(f"{RECORDS}, line {number}: cannot be read; it was changed.")
            rows.append(None)
            continue
        if found != root or told != fleet:
            wrong.append(
                f"{RECORDS}, line {number} (record {position}): does not lead to the fingerprint; it was changed."
            )
        if position <= before:
            wrong.append(f"{RECORDS}, line {number} (record {position}): out of order.")
        before = position
    wrong += _check_table(files[TABLE].decode("utf-8", "replace"), rows)
    wrong += _check_files(files)
    if len(lines) - 1 != head.get("lines"):
        wrong.append(f"{RECORDS}: {len(lines) - 1} records are there, the head says {head.get('lines')}.")
    said = [f"{len(lines) - 1} records, fingerprint {printed(head)}, as of {head.get('as_of')}."]
    if wrong:
        return False, wrong + said
    if typed is None:
        said.append("Consistent with itself. To know more, compare the fingerprint with one that was kept outside.")
        return True, said
    for text in (typed, re.sub("(?<=[0-9]),(?=[0-9]{3}(?![0-9A-Za-z]))", "", typed)):
        words = re.sub("fingerprint|records?", " ", text.lower())
        parts = [one for one in re.split("[^0-9a-z]+", words) if one]
        digits, count = "".join(parts[:-1]), (parts or [""])[-1]
        if len(digits) in (16, 64):
            break
    if len(digits) not in (16, 64) or not count.isdigit():
        return False, ["Type the 16 digits and then the number of records, as printed: 3f2a 9b1c 0d4e 77aa · 3,412."]
    if int(count) == size and head["fingerprint"].startswith(digits):
        return True, ["Yes: every record here leads to the fingerprint that was typed.", *said]
    if int(count) != size:
        return False, [
            f"This history was exported at {size} records, the paper is of {count}. Ask the fleet for `verify "
            "--fingerprint`, which compares the two.",
            *said,
        ]
    return False, ["No: the fingerprint that was typed is another one.", *said]


def head_of(files):
    """All digits of the fingerprint and the number of records of a history that was checked."""
    head = json.loads(files[RECORDS].decode("utf-8").split("\n")[0])
    return head["fingerprint"], head["records"]


def printed(head):
    """The fingerprint as it stands on paper."""
    digits = head["fingerprint"][:16]
    return "{} · {:,}".format(" ".join(digits[i : i + 4] for i in range(0, 16, 4)), head["records"])


def _check_table(text, rows):
    made = [None if row is None else table_line(row) for row in rows]
    found = text.split("\r\n")
    if found[-1:] == [""]:
        found.pop()
    wrong = [
        f"{TABLE}, line {number}: differs from its record."
        for number, (line, row) in enumerate(zip(found, made), start=1)  # noqa: B905
        if row is not None and line + "\r\n" != row
    ]
    if len(found) != len(made):
        wrong.append(f"{TABLE}: its number of lines is {len(found)}, {len(made)} belong there.")
    return wrong


def _check_files(files):
    try:
        kept = json.loads(files[FILES])
    except ValueError:
        return [f"{FILES} cannot be read."]
    wrong = []
    for name, digest in sorted(kept.items()):
        if name not in files:
            wrong.append(f"{name} is missing from the archive.")
        elif hashlib.sha256(files[name]).hexdigest() != digest:
            wrong.append(f"{name} was changed after the export.")
    return wrong


def load(where):
    """The files of a folder or an archive."""
    where = Path(where)
    if where.is_dir():
        return {one.name: one.read_bytes() for one in where.iterdir() if one.is_file()}
    with zipfile.ZipFile(where) as archive:
        return {name.rsplit("/", 1)[-1]: archive.read(name) for name in archive.namelist()}


def main(words):
    """The command; returns the exit code."""
    typed = None
    if "--fingerprint" in words:
        at = words.index("--fingerprint")
        typed = words[at + 1] if at + 1 < len(words) else ""
        words = words[:at] + words[at + 2 :]
    where = words[0] if words else Path(__file__).resolve().parent
    try:
        files = load(where)
    except Exception as error:  # a damaged archive can break its reader in any way
        print(f"{where} cannot be read: {error}")
        return 1
    good, said = check(files, typed)
    print("\n".join(said))
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
