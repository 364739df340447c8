"""What the safety signs say, in the words of the public list of ISO 7010."""

WORDS: dict[str, str] = {
    "sign.W001": "general warning",
    "sign.W012": "electricity",
    "sign.P003": "no open flame",
    "sign.M004": "wear eye protection",
    "sign.M009": "wear gloves",
    "sign.M021": "disconnect first",
    "sign.note": "Signs after ISO 7010, drawn by this program from their description; where your own edition differs, it wins.",
}
