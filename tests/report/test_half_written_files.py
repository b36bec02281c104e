"""A file whose writing was cut short at any byte: said in words or put right, never a traceback, never good news."""

import pytest

from halocline.config import demo_text, problems_in
from halocline.report.secrets import SecretsError, pin_hash, set_pin

EVERY = 41


def test_a_configuration_cut_off_anywhere_is_complete_or_refused_in_words(tmp_path):
    whole = demo_text().encode()
    file = tmp_path / "boat.toml"
    refused = 0
    for length in range(0, len(whole), EVERY):
        file.write_bytes(whole[:length])
        problems = [str(problem) for problem in problems_in(file)]
        refused += bool(problems)
        assert all(str(file) in problem for problem in problems)
    assert refused > 0.5 * len(whole) / EVERY


def hash_or_refusal(file):
    try:
        return pin_hash(file)
    except SecretsError as error:
        return "refused" if str(file) in str(error) else str(error)


def test_secrets_cut_off_anywhere_let_nobody_in_and_can_be_set_anew(tmp_path):
    file = tmp_path / "report.secrets.toml"
    set_pin(file, "482915")
    whole = file.read_bytes()
    right = pin_hash(file)
    assert right is not None
    for length in range(len(whole) - 1):
        file.write_bytes(whole[:length])
        assert hash_or_refusal(file) in (None, right, "refused")
    file.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(SecretsError):
        pin_hash(file)
