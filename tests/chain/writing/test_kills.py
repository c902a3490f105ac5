"""Runs killed at random moments: what they were to write is the old or the new, always whole."""

import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import time

import pytest

KILLS = int(os.environ.get("CHAIN_KILLS", "25"))
"""Runs that are killed, each way of writing."""

DEMO = "demo_chains/haloscope.yaml"


def digest(path):
    """Return the contents of a file or of a folder, as one hash; None where there is nothing."""
    if not path.exists():
        return None
    files = sorted(p for p in path.rglob("*") if p.is_file()) if path.is_dir() else [path]
    whole = hashlib.sha256()
    for file in files:
        whole.update(str(file.relative_to(path.parent)).encode() + file.read_bytes())
    return whole.hexdigest()


def words_for(way, out):
    if way == "document":
        return ["document", DEMO, "--out", str(out)]
    return ["budget", DEMO, "--signal", "receive", f"--{way}", str(out)]


NAMES = {"document": "pages", "csv": "o.csv", "figure": "o.svg"}


@pytest.mark.long
@pytest.mark.parametrize("way", NAMES)
def test_old_or_new_is_whole_whenever_it_is_killed(way, tmp_path):
    out = tmp_path / NAMES[way]
    command = [sys.executable, "-m", "chain.command"]
    changed = ["--set", "H1.gain=30 dB"]
    versions, seconds = [], 0.0
    for words in (words_for(way, out), words_for(way, out) + changed):
        begun = time.monotonic()
        subprocess.run(command + words, check=True, capture_output=True)
        seconds = time.monotonic() - begun
        versions.append(digest(out))
        shutil.rmtree(out) if out.is_dir() else out.unlink()
    assert versions[0] != versions[1]
    subprocess.run(command + words_for(way, out), check=True, capture_output=True)
    draw = random.Random(20_061)
    for _ in range(KILLS):
        child = subprocess.Popen(
            command + words_for(way, out) + draw.choice([[], changed]),
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        time.sleep(draw.uniform(0.3, 1.05) * seconds)  # most of it is work before the writing
        child.send_signal(signal.SIGKILL)
        child.wait()
        assert digest(out) in versions
    subprocess.run(command + words_for(way, out), check=True, capture_output=True)
    assert digest(out) == versions[0]
    assert [path.name for path in tmp_path.iterdir()] == [out.name]
