"""Files of readings: long and wide, units, and every mistake with its line and column."""

import numpy as np
import pytest

from chain import LayoutError
from chain.layout.layout import Band
from chain.measurement.on_off import read_gain_change
from chain.measurement.readings import read_readings
from components.constants import H

BAND = Band(4e9, 8e9, 5, None)


@pytest.fixture
def file(tmp_path):
    """Return a function that writes lines to a file of readings."""

    def write(*lines, name="r.csv"):
        path = tmp_path / name
        path.write_text("\n".join(lines) + "\n")
        return path

    return write


def read(*paths, **options):
    return read_readings(paths, band=BAND, **options)


LONG = ("frequency_hz,load_k,power_dbm_hz", "5e9,0.1,-160", "6e9,0.1,-161", "5e9,3,-150", "6e9,3,-151")


def test_long_and_wide_are_the_same(file):
    long = read(file(*LONG))
    np.testing.assert_array_equal(long.step_k, [0.1, 3.0])
    np.testing.assert_allclose(long.quanta[0, 0], 1e-19 / (H * 5e9), rtol=1e-12)
    for number, head in enumerate((
        "power_dbm_hz 0.1 K,power_dbm_hz 3 K", "power_dbm_hz@100 mK,power_dbm_hz@3K",
        "power_dbm_hz_0.1,power_dbm_hz_3", "power_dbm_hz (0.1 K),power_dbm_hz (3 K)",
        "power_dbm_hz at 0.1 K,power_dbm_hz load 3 K", "power_dbm_hz_0.1_K,power_dbm_hz_3_k",
    )):
        wide = read(file(f"frequency_hz,{head}", "5e9,-160,-150", "6e9,-161,-151",
                         name=f"wide{number}.csv"))
        np.testing.assert_allclose(wide.quanta, long.quanta)
        np.testing.assert_allclose(wide.load_k, long.load_k)


def test_order_of_rows_does_not_matter(file):
    head, *rows = LONG
    mixed = read(file(head, rows[0], rows[2], rows[1], rows[3]))
    np.testing.assert_allclose(mixed.quanta, read(file(*LONG, name="b.csv")).quanta)


def test_a_temperature_read_twice_is_two_steps(file):
    again = read(file(*LONG, "5e9,0.1,-160.1", "6e9,0.1,-161.1"))
    np.testing.assert_array_equal(again.step_k, [0.1, 3.0, 0.1])


def test_a_temperature_that_was_logged_with_every_power(file):
    found = read(file(LONG[0], "5e9,0.101,-160", "6e9,0.102,-161", "5e9,3.01,-150", "6e9,3.02,-151"))
    np.testing.assert_array_equal(found.load_k, [[0.101, 0.102], [3.01, 3.02]])


def test_several_files(file):
    one = file(LONG[0], "5e9,0.1,-160", "6e9,0.1,-161", name="cold.csv")
    other = file("frequency_hz,load_k,power_w,bandwidth_hz,power_sigma,load_k_sigma",
                 "5e9,3,1e-12,1e6,1e-14,0.03", "6e9,3,1e-12,1e6,1e-14,0.03", name="hot.csv")
    found = read(one, other)
    assert found.files == (str(one), str(other))
    np.testing.assert_allclose(found.quanta[1], 1e-18 / (H * np.array([5e9, 6e9])))
    np.testing.assert_allclose(found.relative_sigma[1], 0.01)
    assert np.all(np.isnan(found.relative_sigma[0]))
    np.testing.assert_allclose(found.load_k_sigma, [[0, 0], [0.03, 0.03]])


def test_a_sigma_in_decibels(file):
    found = read(file(LONG[0] + ",power_sigma", *(f"{row},0.1" for row in LONG[1:])))
    np.testing.assert_allclose(found.relative_sigma, 0.1 * np.log(10) / 10)


def test_sigmas_of_a_wide_file(file):
    found = read(file("frequency_hz,power_dbm 0.1 K,power_sigma 0.1 K,power_dbm 3 K,power_sigma 3 K,"
                      "load_k_sigma 3 K", "5e9,-60,0.1,-50,0.2,0.02"), bandwidth_hz=1e6)
    np.testing.assert_allclose(found.relative_sigma[:, 0], np.array([0.1, 0.2]) * np.log(10) / 10)
    np.testing.assert_allclose(found.load_k_sigma[:, 0], [0, 0.02])


def test_comments_blank_lines_and_a_mark_of_order_are_left_out(file, tmp_path):
    path = tmp_path / "bom.csv"
    path.write_bytes(b"\xef\xbb\xbf" + "\r\n".join(["# made up", "", *LONG]).encode())
    assert read(path).quanta.shape == (2, 2)


REFUSED = [
    ((), "1:1: the file is empty"),
    (("frequency_hz,load_k,power_w",), "1:1: there is no row under the header"),
    (("5e9,0.1,-160", "5e9,3,-150"), "1:1: there is no header"),
    ((LONG[0], "5e9,0.1,-160", "5e9,nan,-150"), "3:5: load_k is nan"),
    ((LONG[0], "5e9,0.1,-160", "5e9,3,"), "3:7: power_dbm_hz is empty"),
    ((LONG[0], "5e9,0.1,-160", "5e9,3,loud"), "3:7: 'loud' is not a number"),
    ((LONG[0], "5e9,0.1,-160", "5e9,3"), "3:1: the row has 2 cells and the header 3"),
    ((LONG[0], "5e9,0.1,-160", "5e9,-3,-150"), "3:5: load_k is -3; it has to be at least 0.0001"),
    ((LONG[0], "5e9,0.1,-160", "5e9,3e5,-150"), "3:5: load_k is 3e5; it can be 3000 at most"),
    ((LONG[0], "5e9,0.1,-160", "5e9,0.1,-150"), "2:9: at 5 GHz there is one load temperature, 0.1 K"),
    ((LONG[0], "9e9,0.1,-160", "5e9,3,-150"), "2:1: 9 GHz lies outside the layout's band of 4 to 8 GHz"),
    (("frequency_hz,load_k,power_mw", "5e9,3,1"), "1:21: there is no column 'power_mw'; did you mean"),
    (("frequency_ghz,load_k,power_w", "5,3,1"), "1:1: there is no column 'frequency_ghz'; did you mean"),
    (("frequency_hz,load_k", "5e9,3"), "1:1: there is no power"),
    (("frequency_hz,power_dbm_hz", "5e9,3"), "1:1: there is no column load_k"),
    (("load_k,power_dbm_hz", "5,3"), "1:1: there is no column frequency_hz"),
    (("frequency_hz,load_k,load_k,power_w", "5e9,3,3,1"), "1:21: column 'load_k' stands twice"),
    (("frequency_hz,load_k,power_w,power_dbm", "5e9,3,1,1"), "1:29: there are powers of two kinds"),
    (("frequency_hz,load_k,power_dbm", "5e9,3,1"), "1:21: power_dbm says nothing of its bandwidth"),
    (("frequency_hz,load_k,power_w,bandwidth_hz", "5e9,3,-1,1"), "2:7: power_w is -1; it has to be at least 1e-30"),
    (("frequency_hz,power_w 1 K,power_w 1000 mK,bandwidth_hz", "5e9,1,1,1"), "1:26: 1 K stands twice"),
    (("frequency_hz,power_w 1 K,power_sigma 3 K,bandwidth_hz", "5e9,1,1,1"), "1:26: there is no power at 3 K"),
    (("frequency_hz,load_k,power_w 1 K,bandwidth_hz", "5e9,1,1,1"), "1:14: temperatures stand in a column"),
    ((LONG[0], '5e9,"0.1,-160'), "2:1: "),
]


@pytest.mark.parametrize(("lines", "said"), REFUSED, ids=[said for _, said in REFUSED])
def test_what_is_wrong_is_said_with_its_line_and_column(file, lines, said):
    path = file(*lines)
    with pytest.raises(LayoutError) as error:
        read(path)
    assert f"{path}:{said}" in str(error.value)


def test_every_mistake_at_once(file):
    with pytest.raises(LayoutError) as error:
        read(file(LONG[0], "5e9,x,-160", "5e9,3,y", "12e9,3,-150"))
    assert len(error.value.problems) == 3


def test_what_is_no_text(tmp_path):
    path = tmp_path / "picture.csv"
    path.write_bytes(b"frequency_hz,load_k\n\xff\xfe\x00")
    with pytest.raises(LayoutError, match=r"picture.csv:2:1: the file is not text"):
        read(path)


@pytest.mark.parametrize(("lines", "said"), [
    (("frequency_hz,gain_db", "5e9,20"), "1:14: there is no column 'gain_db'"),
    (("frequency_hz,gain_change_db", "5e9,20", "5e9,20"), "3:1: 5 GHz stands twice"),
    (("frequency_hz,gain_change_db", "5e9,"), "2:5: gain_change_db is empty"),
])
def test_a_gain_change_that_cannot_be_read(file, lines, said):
    path = file(*lines)
    with pytest.raises(LayoutError) as error:
        read_gain_change(path)
    assert f"{path}:{said}" in str(error.value)


def test_a_gain_change_is_linear_in_between_and_refused_outside(file):
    change = read_gain_change(file("frequency_hz,gain_change_db,gain_change_db_sigma", "6e9,22,0.2",
                                   "5e9,20,0.1"))
    ratio, sigma = change.at([5.5e9])
    assert ratio[0] == pytest.approx(10**2.1)
    assert sigma[0] == pytest.approx(0.15 * np.log(10) / 10)
    with pytest.raises(LayoutError, match="reaches from 5 to 6 GHz"):
        change.at([4.5e9])
