"""Sentences about keeping records: backups, restores, exports."""

WORDS: dict[str, str] = {
    "window.keeping": "Backups and imports",
    "keeping.sign_in_first": "Sign in first; every import names who did it.",
    "backup.title": "Backups and moving",
    "backup.intro": "A backup is made by itself on each day something was recorded, while you work, and read through "
    "before it counts. Give a second place (another disk, a stick) so that one fire does not take both.",
    "backup.demo": "This is the demonstration: it is made anew at will and is not backed up by itself. “Back up now” backs it up.",
    "backup.now": "Back up now",
    "backup.folder": "Kept in {path}",
    "backup.second": "Second place",
    "backup.second_none": "none yet",
    "backup.choose_second": "Choose a second place …",
    "backup.name": "Backup",
    "backup.made_at": "Made",
    "backup.size": "Size",
    "backup.working": "Copying and reading through …",
    "backup.made": "Backup made and read through: {records} records, fingerprint {fingerprint}.",
    "backup.made_second": "The same copy is at {path}.",
    "backup.trouble": "The second place has no copy: {why}",
    "backup.network": "{path} is on a network drive ({kind}). Keep the fleet file on this PC's own disk and put "
    "backups there instead: on a share, file locks may fail and two PCs can damage the file.",
    "backup.not_good": "The copy at {path} does not verify: {why} Nothing was thinned out.",
    "backup.second_differs": "the copy at {path} differs from the first",
    "backup.differs": "it differs from the backup",
    "backup.restore_title": "Restore a backup",
    "backup.restore_note": "The backup is read through first and put in place as a new file; nothing is overwritten.",
    "backup.restore_file": "Backup file",
    "backup.restore_target": "Restore to",
    "backup.choose": "Choose …",
    "backup.printed": "Fingerprint from a printed sheet (if you have one)",
    "backup.look": "Look at it",
    "backup.restore": "Restore",
    "backup.reentry": "Print the re-entry list …",
    "backup.holds": "{fleet}: {records} records, the last entered {last_at}. Every record matches. Fingerprint "
    "{fingerprint}.",
    "backup.after": "Anything done after {last_at} is NOT in this backup. Enter it again from paper; the re-entry list "
    "helps.",
    "backup.equals_paper": "It equals the printed fingerprint {fingerprint}.",
    "backup.contains_paper": "It contains everything that the printed fingerprint {fingerprint} stands for; records added since: {count}.",
    "backup.not_paper": "It does not match the printed fingerprint; at that many records this file has {here}. It may be "
    "another fleet, or somebody changed one of the two.",
    "backup.older_than_paper": "The printed sheet covers {size} records: at least {missing} are missing from this "
    "backup and must be entered again.",
    "backup.printed_form": "“{typed}” is no fingerprint; type all of it, such as 1a2b 3c4d 5e6f 7a8b · 3,412.",
    "backup.damaged": "{path} is damaged and was not loaded. {why} Try an older backup.",
    "backup.contradicts": "Not restored: {why}",
    "backup.restored_here": "Restored to {path}: {records} records.",
    "backup.restored": "Restored to {path}: {records} records. Open it with “fleetcare window {path}”.",
    "backup.export": "Export everything …",
    "backup.exported": "Exported {records} records to {path} in open formats.",
    "backup.rebuilt": "Rebuilt {records} records at {path}; fingerprint {fingerprint}.",
    "backup.not_export": "{path} is no export of this program: {why}",
    "backup.reentry_title": "Re-entry list",
    "backup.reentry_note": "Not in the restored file: everything done after {last_at}. Go through the paper of those "
    "days and fill in a line for each check, trip, hold or move; enter them at the bench with the true time when done.",
    "backup.reentry_missing": "A printed fingerprint shows that at least {missing} records are missing.",
    "backup.reentry_last": "Last check here",
    "backup.reentry_new": "Done (date, time) · volts rested · loaded · amps · rest · meter · who",
    "backup.open_restored": "Open the restored fleet",
    "backup.open_beside": "Open the restored file",
    "backup.open_failed": "{path} could not be opened in a window of its own.",
    "backup.took_place": "The restored fleet is at {path}. The damaged file was not changed; it is kept as {kept}.",
    "window.restore": "Restore a backup",
    "export.readme": "Everything of the fleet “{fleet}”, {records} records, fingerprint {fingerprint}.\n\n"
    "records.jsonl holds one record a line, exactly the bytes that were hashed (UTF-8 JSON, sorted keys). The "
    "fingerprint is the Merkle tree head of RFC 6962 over these lines, SHA-256.\n"
    "people.csv holds the names of people, which stand outside the fingerprint.\n"
    "checks.csv is the voltage checks as a table, for reading; cells that a spreadsheet would take for a formula "
    "begin with an apostrophe.\nsources/ holds imported files as they were, named by their SHA-256.\n"
    "photos/ holds the pictures of packs, named likewise. pins.csv holds who has a PIN, as Argon2id hashes: keep this file "
    "as you would keep a backup.\n",
}
