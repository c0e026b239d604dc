"""Checks a file of one machine's sealed records. Stands alone: Python and `cryptography`.

python check_records.py FILE [public key of the depot's checkpoints, 64 hex digits]
"""

import hashlib
import json
import sys
import unicodedata

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey


def sha(data):
    return hashlib.sha256(data).hexdigest()


def need(is_so, what):
    if not is_so:
        sys.exit(f"NOT AS SEALED: {what}")


def record(line, chain, name, machine):
    need(line["seq"] == str(len(chain)), f"{name} is missing or out of order")
    if content := line.get("content"):
        told = json.loads(content)
        need((told["depot"], told["seq"]) == (line["depot"], line["seq"]), f"{name}: its number")
        need(told["machine"]["id"] == machine["id"], f"{name} is of another machine")
        need(told["texts"].keys() == line["texts"].keys(), f"{name}: its texts")
        for what, each in line["texts"].items():
            if "erased_at" not in each:
                words = unicodedata.normalize("NFC", each["text"]).encode()
                same = sha(bytes.fromhex(each["salt"]) + words) == told["texts"][what]
                need(same, f"{name}: its text {what}")
    digest = sha(content.encode()) if content else line["content_hash"]
    need(sha(b"\0" + bytes.fromhex(chain[-1] + digest)) == line["hash"], f"{name} is changed")
    chain.append(line["hash"])
    return bool(content)


def checkpoint(line, hashes, trusted):
    need(line["key"] == trusted, "a checkpoint is signed with another key")
    text, key = line["checkpoint"], Ed25519PublicKey.from_public_bytes(bytes.fromhex(trusted))
    key.verify(bytes.fromhex(line["signature"]), text.encode())
    for at in json.loads(text)["chains"]:
        if chain := hashes.get(at["depot"]):
            name = f"{at['depot']} {at['seq']}"
            need(int(at["seq"]) < len(chain), f"{name} is missing: a checkpoint names it")
            need(chain[int(at["seq"])] == at["hash"], f"{name}, or before: not as signed")


def check(path, trusted=""):
    with open(path, encoding="utf-8") as file:
        lines = [json.loads(line) for line in file]
    head, own, signed, known, machine = lines[0], 0, 0, trusted, ""
    hashes = {chain["depot"]: ["0" * 64] for chain in head["chains"]}
    for number, line in enumerate(lines[1:], 2):
        chain = hashes.get(line.get("depot"), [])
        name = f"{line['depot']} {len(chain)}" if chain else f"line {number}"
        try:
            if line["line"] == "record":
                if record(line, chain, name, head["machine"]):
                    # The head is not sealed: the machine is named as its last record has it.
                    own, machine = own + 1, json.loads(line["content"])["machine"]["number"]
            else:
                trusted, signed = trusted or line["key"], signed + 1
                checkpoint(line, hashes, trusted)
        except (KeyError, ValueError, TypeError, IndexError, InvalidSignature) as odd:
            need(False, f"{name} cannot be read, or its signature is wrong ({odd!r})")
    for at in head["chains"]:
        chain, name = hashes[at["depot"]], f"{at['depot']} {at['count']}"
        need(len(chain) - 1 == int(at["count"]), f"{at['depot']} {len(chain)} is missing")
        need(chain[-1] == at["hash"], f"{name} is not the last record that the head names")
    need(signed or not known, "no checkpoint is in the file, so the key says nothing")
    return f"AS SEALED: {own} records of {machine or 'no machine'}, {signed} checkpoints"


if __name__ == "__main__":
    print(check(*sys.argv[1:3]))
