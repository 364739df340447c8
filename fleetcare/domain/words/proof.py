"""Words of the fingerprint: lodging it outside, and comparing paper with the record."""

WORDS: dict[str, str] = {
    "proof.event": "fingerprint {fingerprint} records lodged with {recipient} ({means})",
    "proof.means_mail": "mail",
    "proof.means_slip": "printed slip",
    "proof.means_time_stamp": "time stamp",
    "proof.not_a_fingerprint": "“{typed}” is not a fingerprint. Type the 16 digits (0 to 9, a to f) and then the number of "
    "records, as printed: 3f2a 9b1c 0d4e 77aa · 3,412.",
    "proof.matches": "Yes: it matches the record as of {at}, {count} records. Nothing up to there was altered. Added since: "
    "{after}.",
    "proof.differs": "No: at {count} records this record has the fingerprint {ours}, the paper says {theirs}. Something up to "
    "record {count} was altered, or the paper belongs to another fleet, or a digit was mistyped.",
    "proof.too_many": "No: the paper covers {count} records, this file holds {have}. The file is an older copy, or records were "
    "taken away.",
    "proof.broken": "No: this file does not match its own hashes. {fault}",
    "proof.consistent_only": "Consistent with itself, which is all that can be said without a fingerprint printed or lodged "
    "outside: compare one with --fingerprint, or in the window under Papers, Fingerprint.",
    "proof.lodging_wrong": "Record {position} says that {theirs} was lodged, but the record gives {ours} there.",
    "proof.needs_recipient": "Say who keeps the fingerprint: the broker, the solicitor, the time-stamp service.",
    "proof.manager_only": "Lodging the fingerprint is for a manager; {person} is not one on record.",
    "proof.nothing_new": "This fingerprint, at {count} records, was lodged with {recipient} already; nothing was recorded since.",
    "proof.lodged": "lodging of {fingerprint} records with {recipient} is on record",
    "proof.never_lodged": "The fingerprint was never lodged outside. Until it is, the record proves only that it is consistent "
    "with itself.",
    "proof.last_lodged": "Last lodged {last_date} with {recipient}; due again {due_date}.",
    "proof.lodging_due": "Last lodged {last_date} with {recipient}; due since {due_date}, {late_days} late.",
    "proof.gap": "No lodging between {from_date} and {to_date}: {long_days}, where every {every_days} is asked.",
    "proof.offer": "lodging due since {due_date} (Papers, Fingerprint)",
    "proof.offer_never": "never lodged outside (Papers, Fingerprint)",
    "proof.mail_subject": "Fingerprint of the battery record of {fleet}, {at}",
    "proof.mail_body": "Please keep this message; nothing has to be done with it.\n\nFleet: {fleet}\nFleet identifier: {fleet_id}\n"
    "Records: {count}\nFingerprint (RFC 6962, SHA-256): {root}\nOn paper: {short} records\nAs of: {at}\n\nIf the history of "
    "this fleet is ever asked for, the fingerprint shows whether anything recorded up to this moment was altered "
    "afterwards.\n",
    "proof.slip_title": "Fingerprint to keep",
    "proof.slip_text": "Keep this slip outside the depot. If the history of this fleet is ever asked for, type the line below under "
    "Papers, Fingerprint, or give it to fleetcare verify --fingerprint: it shows whether anything recorded up to this moment was "
    "altered afterwards.",
    "proof.slip_full": "All digits",
    "proof.slip_records": "Records",
    "proof.slip_fleet": "Fleet identifier",
    "proof.screen": "Fingerprint",
    "proof.now": "Fingerprint now",
    "proof.head": "{fingerprint} records",
    "proof.copy_mail": "Copy mail text",
    "proof.make_slip": "Print a slip …",
    "proof.make_time_stamp": "Make a time-stamp request …",
    "proof.mail_copied": "Mail text copied. Paste it into a message to whoever keeps it, send it, then record the lodging.",
    "proof.time_stamp_made": "Written: {path}. Send it to a time-stamp service (RFC 3161), keep the answer with the file beside "
    "it, then record the lodging.",
    "proof.recipient": "Kept by",
    "proof.means": "By",
    "proof.record_lodging": "Record the lodging",
    "proof.compare": "Compare a printed fingerprint",
    "proof.typed": "Fingerprint as printed",
    "proof.do_compare": "Compare",
    "proof.checking": "Every record is being hashed again …",
    "proof.lodgings": "Lodgings",
    "proof.who_first": "Sign in first; a lodging is recorded under a name.",
    "proof.column_records": "Records",
    "proof.column_fingerprint": "Fingerprint",
}
