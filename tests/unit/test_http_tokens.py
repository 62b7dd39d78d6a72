"""Tokens: one owner each, hashed at rest, changes of the file at once."""

import hashlib
import json
import stat
from pathlib import Path

import pytest

from optim.service.errors import RequestError, SelectionError
from optim.service.http.tokens import TokenFile, TokenFileError


@pytest.fixture
def file(tmp_path: Path) -> TokenFile:
    return TokenFile(tmp_path / "deep" / "tokens.json")


def test_token_opens_for_its_owner_alone(file: TokenFile) -> None:
    anna, boss = file.add("anna"), file.add("boss", is_admin=True)
    found, other = file.owner_of(anna), file.owner_of(boss)
    assert found is not None
    assert other is not None
    assert (found.owner, found.is_admin) == ("anna", False)
    assert (other.owner, other.is_admin) == ("boss", True)
    assert file.owner_of(anna[:-1]) is None
    assert file.owner_of("") is None
    assert anna != boss


def test_only_hashes_are_kept_and_only_for_the_owner_of_the_file(file: TokenFile) -> None:
    token = file.add("anna")
    text = file.path.read_text(encoding="utf-8")
    assert token not in text
    assert token.removeprefix("ptq_") not in text
    # The standard library's SHA-256 of the token is what stands there.
    assert hashlib.sha256(token.encode()).hexdigest() in text
    assert stat.S_IMODE(file.path.stat().st_mode) == 0o600


def test_a_token_holds_at_least_256_random_bits(file: TokenFile) -> None:
    # 43 characters of base 64 hold 258 bits.
    assert len(file.add("anna").removeprefix("ptq_")) >= 43


def test_what_another_process_changes_holds_at_once(file: TokenFile) -> None:
    token = TokenFile(file.path).add("anna")
    assert file.owner_of(token) is not None
    TokenFile(file.path).remove("anna")
    assert file.owner_of(token) is None


def test_removing_takes_all_tokens_of_an_owner(file: TokenFile) -> None:
    tokens = [file.add("anna"), file.add("anna"), file.add("kim")]
    assert file.remove("anna") == 2
    assert [file.owner_of(token) is None for token in tokens] == [True, True, False]
    with pytest.raises(SelectionError, match="kim"):
        file.remove("anna")


@pytest.mark.parametrize("name", ["", "a b", "../x", "local", "x" * 65, "-x", "a\n", "é"])
def test_names_that_could_mislead_are_refused(file: TokenFile, name: str) -> None:
    with pytest.raises(RequestError, match="allowed"):
        file.add(name)


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"tokens": [{}]}', json.dumps({"format": 99, "tokens": []})]
)
def test_a_damaged_file_lets_nobody_in(file: TokenFile, text: str) -> None:
    token = file.add("anna")
    file.path.write_text(text, encoding="utf-8")
    with pytest.raises(TokenFileError, match=r"tokens\.json"):
        file.owner_of(token)
