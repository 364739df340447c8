"""The page in an exported history that says how it is checked by hand, and what verify says of one."""

WORDS: dict[str, str] = {
    "archive.by_hand": """How to check this maintenance history
=====================================

{title} of {fleet}, as of {at}
Fingerprint on paper: {short} records
All digits: {root}

What is in the archive
  history.pdf       the history, to be read
  records.jsonl     the same entries as they were recorded, one a line, each with its proof; line 1 is the head
  records.csv       the same entries as a table
  check_history.py  a program of one page that checks all of it; it needs Python 3.8 or newer and nothing else
  files.json        SHA-256 of the other files

What the fingerprint proves
  Every entry ever recorded by this fleet, {count} of them, is hashed together into one number. Whoever changes one
  digit of one entry gets another number. So: ask for a fingerprint that was printed or sent away BEFORE the event
  in question (a sheet in a drawer, a mail to the broker, a time stamp) and compare. A history that agrees only
  with the fingerprint in its own foot is consistent with itself, which is less.

The check in one minute
  1. Unpack the archive into a folder.
  2. Run:  python check_history.py     (on some PCs the command is python3)
     It names every line that was changed, or says that all match.
  3. Run:  python check_history.py --fingerprint "the digits and the number, as printed"
     when the number of records on your paper is {count}. When your paper is older, ask the fleet to run, while you
     watch,  fleetcare verify --fingerprint "the digits and the number"  on the fleet file: it says whether anything
     up to that day was altered, and what the record looked like then.

The check by hand, for one entry
  1. Take a line of records.jsonl. Take the text under "record" exactly (undo the backslashes of JSON), as UTF-8.
  2. Put one byte 00 before it and take the SHA-256. That is the entry's hash.
  3. Subtract 1 from "position" and call it A; call {count} - 1 B. For each hash H under "proof", in order:
       if A is odd or A equals B: the new hash is SHA-256(01, H, hash); then, while A is even and not 0, halve A and B;
       otherwise:                 the new hash is SHA-256(01, hash, H).
     Halve A and B (rounding down) after each.
  4. The last hash must be the fingerprint above. (RFC 6962, section 2.1.)

What it does not prove
  It does not show that no entry was left out of this archive; the positions show where others lie between. It does
  not show that what was entered was true: that is for the people named. Times are those of the fleet's own clock
  unless a time stamp was lodged. Names of people are kept beside the record, not in it.
""",
    "cli.history_needs": "Say what to write: --output HISTORY.pdf, --archive HISTORY.zip, or both.",
    "cli.history_written": "Written: {path} (pages: {pages}, entries: {lines}).",
    "archive.unreadable": "{path} cannot be read as an exported history: {why}",
}
