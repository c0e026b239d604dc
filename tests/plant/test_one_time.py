"""One-time codes against the published vectors, each once, and never far from the clock."""

from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, urlsplit

import pytest
from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.totp import TOTP
from hypothesis import given
from hypothesis import strategies as st

from plant import one_time

SECRET = b"12345678901234567890"
# RFC 6238, appendix B: seconds since 1970, and the code of eight figures with HMAC-SHA-1.
VECTORS = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]
# RFC 4226, appendix D: the codes of six figures for the counters 0 to 9.
COUNTED = [
    "755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871",
    "520489",
]  # fmt: skip
NOW = datetime(2026, 11, 25, 7, 31, 7, tzinfo=UTC)


@pytest.mark.parametrize(("second", "code"), VECTORS)
def test_vectors_of_rfc_6238(second: int, code: str) -> None:
    at = datetime.fromtimestamp(second, UTC)

    assert one_time.code_at(SECRET, one_time.step_of(at), figures=8) == code
    assert one_time.code_at(SECRET, one_time.step_of(at)) == code[-6:]


def test_vectors_of_rfc_4226() -> None:
    assert [one_time.code_at(SECRET, step) for step in range(10)] == COUNTED


@given(st.binary(min_size=20, max_size=20), st.integers(0, 2**33))
def test_equal_to_another_writing_of_the_standard(secret: bytes, second: int) -> None:
    other = TOTP(secret, 6, SHA1(), 30).generate(second).decode()

    assert one_time.code_at(secret, second // 30) == other


@pytest.mark.parametrize(
    ("steps", "taken"), [(-2, False), (-1, True), (0, True), (1, True), (2, False)]
)
def test_a_clock_may_be_one_step_off(steps: int, taken: bool) -> None:
    step = one_time.step_of(NOW) + steps
    typed = one_time.code_at(SECRET, step)

    found = one_time.step_that_fits(SECRET, typed, at=NOW, after=0)

    assert found == (step if taken else None)
    assert one_time.step_that_fits(SECRET, typed, at=NOW, after=step) is None


@pytest.mark.parametrize("typed", ["", "12345", "١٢٣٤٥٦", "abcdef", "0" * 64])
def test_what_is_no_code_fits_nothing(typed: str) -> None:
    assert one_time.step_that_fits(SECRET, typed, at=NOW, after=0) is None


def test_the_secret_is_kept_locked_and_told_as_text_and_address() -> None:
    kept = one_time.locked(SECRET)

    assert SECRET.decode() not in kept
    assert one_time.opened(kept) == SECRET
    assert one_time.opened("gAAAA" + kept[5:][::-1]) is None
    assert one_time.as_text(SECRET) == "GEZD GNBV GY3T QOJQ GEZD GNBV GY3T QOJQ"
    address = urlsplit(one_time.address_of(SECRET, sign_in="ida.brandt", issuer="Site plant"))
    assert (address.scheme, address.netloc, address.path) == (
        "otpauth", "totp", "/Site%20plant%3Aida.brandt",
    )  # fmt: skip
    assert parse_qs(address.query)["secret"] == ["GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"]


def test_spare_codes_are_many_letters_and_no_two_alike() -> None:
    codes = one_time.new_spare_codes()

    assert len(set(codes)) == one_time.SPARE_CODES == 10
    assert {len(code) for code in codes} == {16}
    assert one_time.typed_spare(f" {codes[0][:4].lower()}-{codes[0][4:]} ") == codes[0]


def test_step_length() -> None:
    assert one_time.step_of(NOW + timedelta(seconds=30)) == one_time.step_of(NOW) + 1
