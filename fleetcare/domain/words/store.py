"""Sentences about fleet files: what was refused, why, and what to do."""

WORDS: dict[str, str] = {
    "file.exists": "{path} is there already. Choose another name; nothing was overwritten.",
    "file.missing": "There is no file {path}.",
    "file.is_folder": "{path} is a folder, not a fleet file.",
    "file.unreadable": "{path} cannot be opened: {why}.",
    "file.read_only": "{path} or its folder is read-only, so nothing could be recorded. Copy it to a folder that may be "
    "written to.",
    "file.not_writable": "{path} cannot be written: {why}. Choose another folder.",
    "file.foreign": "{path} is not a fleet file of this program. Nothing was changed.",
    "file.truncated": "{path} is cut short: {size} bytes where {need} belong. Restore a backup; nothing was changed.",
    "file.damaged": "{path} is damaged: {why}. Restore a backup; nothing was changed.",
    "file.log_damaged": "The log beside {path} is damaged: the last {deeds} deeds in it cannot be read. Nothing was changed. "
    "Restore a backup, or choose this file itself under “Restore a backup” to go on with what can be read.",
    "file.deeds_missing": "{path} holds {here} records, but {saved} were saved here; missing at the end: {missing}. Its log was "
    "removed or damaged, or an older copy was put in its place. Nothing was changed. Restore a backup, or choose this file "
    "itself under “Restore a backup” to go on without them.",
    "file.gone": "{path} is no longer there: it was removed or renamed while it was open. Nothing of this deed was saved. "
    "Put it back, or close Fleetcare, start it again and restore a backup.",
    "file.gone_rescued": "{path} is no longer there: it was removed or renamed while it was open. Nothing of this deed was "
    "saved; the {records} records before it were put into {copy}. Close Fleetcare, start it again and open that file.",
    "file.read_elsewhere": "{path} is no longer the file that was opened: it was removed, renamed or another was put in its place. What "
    "is shown is from before. Close Fleetcare and start it again.",
    "file.exchanged": "Another file was put in the place of {path} while it was open. Nothing of this deed was saved and "
    "nothing was overwritten. Close Fleetcare and start it again; it says whether the file that is there now is whole.",
    "file.newer": "{path} is of file version {file_version}; this program knows version {program_version}. Install the newer "
    "program; nothing was changed.",
    "file.no_founding": "{path} has no first record, so it is not a complete fleet file. Restore a backup.",
    "file.disk_full": "The disk is full; nothing of this deed was saved. Free some space and save again.",
    "file.locked": "{path} is locked by another program. Close it there and try again; nothing of this deed was saved.",
    "file.busy_here": "Fleetcare itself is still writing, for instance bringing in a large spreadsheet; nothing of this deed was "
    "saved. Try again when that has ended.",
    "file.disk_error": "The disk reported an error at {path}: {why}. Nothing of this deed was saved; check the disk.",
    "verify.gap": "Record {position} is missing.",
    "verify.unknown_kind": "Record {position} ({record}) is of a kind that this program does not know ({kind}). Its bytes match "
    "their hash: it was written by a newer program. Verify with that one.",
    "verify.unknown_field": "Record {position} ({record}) says something that this program does not know ({field}). Its bytes match "
    "their hash: it was written by a newer program. Verify with that one.",
    "verify.changed": "Record {position} ({record}) does not match its hash: it was changed.",
    "verify.index": "Record {position} ({record}) does not match its index columns.",
    "verify.other_fleet": "Record {position} ({record}) belongs to another fleet.",
    "verify.subtree": "Records {first} to {last} do not match the hash kept for them.",
    "verify.head": "The fingerprint covers {stored} records, but {counted} are there.",
    "verify.derived": "The table {table}, which is made from the records, does not agree with them: {row}",
    "verify.unreadable": "The file cannot be read through: {why}",
    "verify.unreadable_record": "Record {position} cannot be read: {why}",
    "verify.schema": "The file's own rule or table {name} is missing or was altered.",
    "verify.source": "The kept bytes of the imported file {digest}… do not match its record.",
    "verify.photo": "The kept picture {digest}… does not match its record.",
    "verify.good": "{count} records; all match. Fingerprint {fingerprint}.",
}
