"""Measured columns from files, and what is wrong with a file, with line and column."""

import numpy as np
import pytest

from chain.errors import LayoutError
from chain.measurement.bench_file import read_data_sets
from chain.measurement.data_sets import ADDED, GAIN, SYSTEM, read_columns


@pytest.fixture
def written(tmp_path):
    def write(text, name="data.csv"):
        path = tmp_path / name
        path.write_text(text)
        return str(path)
    return write


def test_gain_and_noise_become_decibels_of_quanta(written):
    gain, noise = read_columns(written(
        "frequency_hz,gain_db,system_noise_k\n6e9,60,2.8795\n5e9,61,2.4\n"))
    assert (gain.quantity, noise.quantity) == (GAIN, SYSTEM)
    assert gain.frequency_hz.tolist() == [5e9, 6e9]
    # hf/k at 6 GHz is 0.28795 K (CODATA 2018): 10 quanta.
    assert noise.value_db[1] == pytest.approx(10.0, abs=1e-3)
    assert gain.assumed


def test_errors_are_parted_into_own_and_common(written):
    (added,) = read_columns(written(
        "frequency_hz,added_quanta,added_quanta_sigma,added_quanta_common\n6e9,9.5,0.5,0.3\n"))
    assert added.quantity == ADDED
    per = 10 / np.log(10) / 10
    assert added.value_db[0] == pytest.approx(10.0)
    assert added.own_db[0] == pytest.approx(0.4 * per)
    assert added.common_db == pytest.approx(0.3 * per)
    assert not added.assumed


def test_what_reduce_writes_is_read(written):
    columns = read_columns(written(
        "frequency_hz,gain_db,gain_db_sigma,gain_db_common,added_quanta,added_quanta_sigma,"
        "added_quanta_common,predicted_gain_db,added_quanta_68_low,gain_missed_sigma\n"
        "6e9,60,0.2,0.1,2,0.2,0.1,61,1.8,1\n6.1e9,,,,,,,61,,\n"))
    assert [column.frequency_hz.size for column in columns] == [1, 1]


@pytest.mark.parametrize(("text", "said"), [
    ("frequency_hz,gian_db\n6e9,60\n", "1:14: there is no column 'gian_db'"),
    ("frequency_hz\n6e9\n", "there is no gain and no noise"),
    ("gain_db\n60\n", "there is no column 'frequency_hz'"),
    ("frequency_hz,gain_db\n6e9,sixty\n", "2:5: 'sixty' is not a number"),
    ("frequency_hz,gain_db\n6e9,60\n-1,60\n", "3:1: frequency_hz is -1"),
    ("frequency_hz,system_noise_k\n6e9,0\n", "2:5: system_noise_k is 0"),
    ("frequency_hz,added_quanta\n6e9,-0.6\n", "2:5: added_quanta is -0.6"),
    ("frequency_hz,gain_db,gain_db_sigma\n6e9,60,-1\n", "2:8: gain_db_sigma is -1"),
    ("frequency_hz,system_noise_k,added_quanta\n6e9,1,1\n", "1:29: system_noise_k and added"),
    ("frequency_hz,gain_db,added_quanta_sigma\n6e9,1,1\n", "1:22: added_quanta_sigma stands"),
    ("frequency_hz,gain_db\n6e9\n", "2:1: the row has 1 cells"),
])
def test_a_bad_file_is_refused_with_its_place(written, text, said):
    path = written(text)
    with pytest.raises(LayoutError) as found:
        read_columns(path)
    assert said in str(found.value)
    assert path in str(found.value)


@pytest.mark.parametrize(("text", "said"), [
    ("measured: [{fiel: on.csv}]\n", "1:13: a data set has no key 'fiel'"),
    ("measured: [{file: no.csv}]\n", "1:19: no.csv: there is no such file"),
    ("measured: []\n", "measured is no list of data sets"),
    ("meassured: [{file: on.csv}]\n", "1:1: there is no key 'meassured'"),
    ("measured: [{with: {X.state: 'off'}}]\n", "1:12: the data set names no file"),
    ("measured: [{file: on.csv, with: X}]\n", "with is no mapping of changes"),
    ("measured: [{file: on.csv, warm: yes}]\n", "1:33: warm is 'yes'"),
    ("measured: [{file: on.csv, warm: true}]\n", "on.csv has noise"),
    ("measured: [{file: on.csv, ports: 'S:R', signal: m}]\n", "say the same thing twice"),
    ("measured: [{file: on.csv\n", "expected ','"),
])
def test_a_bad_bench_file_is_refused_with_its_place(written, text, said):
    written("frequency_hz,gain_db,system_noise_quanta\n6e9,60,2\n", "on.csv")
    with pytest.raises(LayoutError) as found:
        read_data_sets([written(text, "bench.yaml")])
    assert said in str(found.value)
    assert "bench.yaml:" in str(found.value)


def test_a_bench_file_says_what_was_changed_and_where(written):
    written("frequency_hz,gain_db\n6e9,60\n", "warm.csv")
    (one,) = read_data_sets([written(
        "measured:\n  - {file: warm.csv, warm: true, ports: 'S1:R1', with: {A.loss: 3 dB}}\n",
        "bench.yaml")])
    assert (one.warm, one.ports, one.changes) == (True, "S1:R1", ("A.loss=3 dB",))
