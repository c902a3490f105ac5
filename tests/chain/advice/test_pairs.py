"""Mistakes in pairs: the rule fires on one, is silent on the other, and its remedy helps."""

import importlib.util
from pathlib import Path

import pytest

from chain.advice.check import check
from chain.advice.rules import NOTE


def _beside(name):
    path = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


PAIRS = _beside("pairs").PAIRS


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.name)
def test_a_mistake_is_found_and_its_twin_is_not(pair, receiver):
    wrong = check(receiver(*pair.wrong, edits=pair.wrong_edits))
    hits = [f for f in wrong.every if f.code == pair.code]
    assert hits, [f.code for f in wrong.every]
    if pair.helped:
        taken = any(hits[0] in cause.consequences for cause in wrong.findings)
        assert taken or any(one.helps for one in hits[0].tried), hits[0].remedy
    sound = check(receiver(*pair.sound, edits=pair.sound_edits))
    # A note that is always there may become a warning by the mistake.
    worse = {f.code for f in sound.every if f.level != NOTE or hits[0].level == NOTE}
    assert pair.code not in worse, [f.says for f in sound.every]
