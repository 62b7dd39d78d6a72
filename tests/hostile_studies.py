"""A hundred bodies that somebody could send as a study to do harm, or by mistake.

Each is a name, a content type and the bytes. None may be stored, and each gets an answer of the
four hundreds that says what is wrong.
"""

import gzip
import json
import pickle
from collections.abc import Iterator

from tests.commands import study_text

Body = tuple[str, str, bytes]

TOML, TEXT, JSON = "application/toml", "text/plain", "application/json"
_CYCLE = 'cycle = "wltc_3b"'
_NAME = 'name = "island-post-van"'
_LENGTH = "stack_length_mm = { low = 100, high = 180, start = 150 }"
_VOLTAGE = "dc_voltage_v = 350 "
_PATHS = (
    "../../../../etc/passwd", "/etc/passwd", "..\\..\\windows\\win.ini", "file:///etc/passwd",
    "/proc/self/environ", "~/.ssh/id_rsa", "//server/share/x.csv", "http://127.0.0.1:1/x.csv",
    "island-post-van.toml", "tokens.json", "runs.sqlite", "/dev/zero", "/dev/stdin",
    "cycle.csv\u0000.txt", "con", "a/../../b.csv", "%2e%2e%2fetc%2fpasswd",
)  # fmt: skip
_NAMES = (
    "../../etc/cron.d/x", "a/b", "a\\\\b", ".", "..", "", "x" * 1000, "a b", "a\\nb", "a;rm -rf /",
    "$(id)", "`id`", "'; DROP TABLE runs; --", "<script>alert(1)</script>", "{{7*7}}",
    "\u202egnp.exe", "e\u0301tude", "na\u200bme", "\U0001f4a3", "%s%n", "${jndi:ldap://x}",
)  # fmt: skip
_LENGTHS = (
    "{ low = 180, high = 100 }", "{ low = nan, high = nan }", "{ low = -inf, high = inf }",
    "{ low = 100, high = 100 }", "{ low = 100 }", "{ low = 100, high = 180, start = 500 }",
    "{ low = 1e308, high = 1e309 }", "{ low = true, high = false }", "{ choices = [] }",
    "{ low = 1979-05-27, high = 1980-01-01 }", "{ low = 100, high = 180, step = -1 }",
    '"150 kg"', '"150 mm + 1"', '"9**9**9 mm"', '"__import__(\'os\').getpid() mm"', "[150]",
    "{ low = 100, high = 180, levels = 9 }", '"1e400 mm"', f"{10**400}",
    '{ choices = ["150"] }', "{ low = 100, high = 180, __class__ = 1 }",
)  # fmt: skip
_SEARCHES = (
    "budget = 1000000000", "budget = 0", "budget = -1", "budget = 1.5", "seed = -1",
    "population = 1000000", "lag = 0", 'algorithm = "import os"', "workers = 1000",
    "budget = 99999999999999999999999999", "evaluation_time_limit_s = inf", "batch = -3",
)  # fmt: skip


def hostile_bodies() -> list[Body]:
    """Return them all."""
    return list(_texts()) + list(_raw())


def _texts() -> Iterator[Body]:
    for k, path in enumerate(_PATHS):
        quoted = json.dumps(path)
        yield f"path {k} as cycle", TOML, _changed(_CYCLE, f"cycle = {{ file = {quoted} }}")
        if k % 3 == 0:
            prices = f"\n[prices]\nlist = {quoted}\n"
            yield f"path {k} as price list", TOML, study_text().encode() + prices.encode()
    for k, name in enumerate(_NAMES):
        yield f"name {k}", TEXT, _changed(_NAME, f'name = "{name}"')
    for k, length in enumerate(_LENGTHS):
        yield f"variable {k}", TOML, _changed(_LENGTH, f"stack_length_mm = {length}")
    text = study_text()
    head, _, _ = text.partition("[search]")
    for k, line in enumerate(_SEARCHES):
        yield f"search {k}", TOML, f"{head}\n[search]\n{line}\n".encode()
    yield "voltage of nothing", TOML, _changed(_VOLTAGE, "dc_voltage_v = nan ")
    yield "voltage without end", TOML, _changed(_VOLTAGE, "dc_voltage_v = 1e300 ")
    yield "fixed and varied at once", TOML, _changed(
        "air_gap_mm = 0.8", "air_gap_mm = 0.8\nstack_length_mm = 150"
    )  # fmt: skip
    yield "table twice", TOML, f"{text}\n[machine]\nslots = 12\n".encode()
    yield "unknown tables", TOML, text.encode() + b"".join(
        b"\n[t%d]\nx = 1\n" % k for k in range(2000)
    )  # fmt: skip
    yield "format of the future", TOML, _changed("format = 1 ", "format = 2147483648 ")


def _raw() -> Iterator[Body]:
    text = study_text()
    yield "nothing", TOML, b""
    yield "blanks", TOML, b" \n" * 400_000
    yield "comments alone", TOML, b"# \xc3\xa9\n" * 200_000
    yield "too large", TOML, text.encode() + b"#" * 1_000_000
    yield "one long key", TOML, b"a" * 900_000 + b" = 1"
    yield "one long string", TOML, b'a = "' + b"b" * 900_000 + b'"'
    yield "deep arrays", TOML, b"a = " + b"[" * 200_000 + b"]" * 200_000
    yield "deep tables", TOML, b"a = " + b"{ a = " * 50_000
    yield "deep dotted key", TOML, b".".join([b"a"] * 400_000) + b" = 1"
    yield "deep headers", TOML, b"[" + b".".join([b"a"] * 100_000) + b"]"
    yield "many keys", TOML, b"\n".join(b"k%d = %d" % (k, k) for k in range(60_000))
    yield "long number", TOML, b"a = " + b"9" * 500_000
    yield "no text", TOML, bytes(range(256)) * 10
    yield "utf-16", TOML, text.encode("utf-16")
    yield "half a character", TOML, text.encode()[:-1] + b"\xf0\x9f"
    yield "overlong slash", TOML, b"a = '\xc0\xaf'"
    yield "nul bytes", TOML, text.encode().replace(b"[study]", b"[study]\x00")
    yield "compressed", TOML, gzip.compress(text.encode())
    yield "pickle", TOML, pickle.dumps({"study": text})
    yield "program", TOML, b"\x7fELF" + bytes(1000)
    yield "entities", TEXT, b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><x>&b;</x>'
    yield "anchors", TEXT, b"a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n"
    yield "json as toml", TOML, json.dumps({"study": text}).encode()
    yield "other kind", "application/x-yaml", text.encode()
    yield "form", "application/x-www-form-urlencoded", b"study=" + text.encode()
    yield "deep json", JSON, b'{"study": ' + b"[" * 300_000
    yield "json of a list", JSON, json.dumps([text]).encode()
    yield "json without study", JSON, b"{}"
    yield "json with more", JSON, json.dumps({"study": text, "owner": "boss"}).encode()
    yield "json budget as text", JSON, json.dumps({"study": text, "budget": "9"}).encode()
    yield "json budget of a fraction", JSON, json.dumps({"study": text, "budget": 9.5}).encode()
    yield "json budget too large", JSON, json.dumps({"study": text, "budget": 10**9}).encode()
    yield "json budget too small", JSON, json.dumps({"study": text, "budget": 0}).encode()
    yield "json priority", JSON, json.dumps({"study": text, "priority": 10**6}).encode()
    yield "json seed", JSON, b'{"study": "", "seed": ' + b"9" * 5000 + b"}"
    yield "json nan", JSON, json.dumps({"study": text}).encode()[:-1] + b', "budget": NaN}'
    yield "json half pair", JSON, b'{"study": "\\ud800"}'
    yield "json half pair in a study", JSON, json.dumps(
        {"study": text.replace("Island post van, 350", "\ud83d, 350")}
    ).encode()  # fmt: skip
    yield "json study as object", JSON, b'{"study": {"study": {"name": "x"}}}'
    yield "json key twice", JSON, b'{"study": "", "study": ""}'


def _changed(old: str, new: str) -> bytes:
    return study_text((old, new)).encode("utf-8", "surrogatepass")
