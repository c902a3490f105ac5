"""A bad joint is located: measurements made by hand from reflections, losses and delays."""

import json

import numpy as np
import pytest

from chain.measurement.measured_trace import against_trace
from chain.measurement.ripple import height_db
from components.constants import C

V = 0.7 * C
LENGTHS = {"W1": 0.6, "W2": 0.45, "W3": 0.9}
LAYOUT = """
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}}
lines:
  line:
    - {id: S1, kind: port, stage: room}
    - {id: W1, kind: cable, stage: room, length: 0.6 m, loss: 2 dB}
    - {id: A1, kind: attenuator, stage: room, loss: 3 dB}
    - {id: W2, kind: cable, stage: room, length: 0.45 m, loss: 1 dB}
    - {id: A2, kind: attenuator, stage: room, loss: 3 dB}
    - {id: W3, kind: cable, stage: room, length: 0.9 m, loss: 2 dB}
    - {id: R1, kind: port, stage: room}
"""
F = np.linspace(4e9, 8e9, 201)
JOINTS = {  # joint: (loss dB and cable m before it)
    "W1.out / A1.in": (2, 0.6), "A1.out / W2.in": (5, 0.6), "W2.out / A2.in": (6, 1.05),
    "A2.out / W3.in": (9, 1.05),
}
WHOLE_DB, WHOLE_M = 11, 1.95


@pytest.fixture
def measured(tmp_path):
    """Return a function that writes a file of S11, S21, S12, S22 (complex arrays)."""

    def write(s11, s21, s22):
        path = tmp_path / "trace.s2p"
        rows = ["# Hz S RI R 50"]
        columns = [s11, s21, s21, s22]
        for i, f in enumerate(F):
            cells = " ".join(f"{c[i].real:.7f} {c[i].imag:.7f}" for c in columns)
            rows.append(f"{f:.0f} {cells}")
        path.write_text("\n".join(rows) + "\n")
        return path

    return write


def echo(r, loss_db, metres):
    """Return what comes back of one reflection behind a loss and a length."""
    return r * 10 ** (-2 * loss_db / 20) * np.exp(-4j * np.pi * F * metres / V)


def one_bad(joint, r=0.4):
    loss_db, metres = JOINTS[joint]
    through = np.sqrt(1 - r**2) * 10 ** (-WHOLE_DB / 20) * np.exp(-2j * np.pi * F * WHOLE_M / V)
    return (echo(r, loss_db, metres), through,
            echo(r, WHOLE_DB - loss_db, WHOLE_M - metres))


@pytest.mark.parametrize("joint", JOINTS)
def test_the_bad_joint_is_the_first_suspect(write_layout, measured, joint):
    found = against_trace(write_layout(LAYOUT), "S1:R1", measured(*one_bad(joint)), warm=True)
    location = found.location
    assert location.located
    assert location.suspects[0].where == joint
    assert location.suspects[0].weight > 0.7
    assert location.open_next.where == joint
    assert sum(one.weight for one in location.suspects) == pytest.approx(1.0)
    # -20 log 0.4 = 8.0 dB, from either end.
    assert "return loss of 8 dB" in str(found)


def test_a_kink_lies_inside_its_cable(write_layout, measured):
    r, loss_db, metres = 0.4, 7.0, 1.5  # half way along W3
    s = (echo(r, 9 + 0.5 * 2, metres), np.full(F.size, 0.25 + 0j), echo(r, 1.0, WHOLE_M - metres))
    found = against_trace(write_layout(LAYOUT), "S1:R1", measured(*s), warm=True)
    assert found.location.suspects[0].where == "inside W3"
    assert loss_db < WHOLE_DB


def test_a_ripple_without_phases_tells_two_joints(write_layout, measured):
    # Reflections at both ends of W2: df = v/(2 x 0.45 m) = 233.2 MHz.
    apart_db = 2 * 1.0
    height = height_db(0.5, 0.4 * 10 ** (-apart_db / 20))
    level = -WHOLE_DB - 1.5 + height / 2 * np.cos(4 * np.pi * F * 0.45 / V)
    s21 = 10 ** (level / 20) + 0j
    found = against_trace(write_layout(LAYOUT), "S1:R1",
                          measured(np.full(F.size, 0.3 + 0j), s21, np.full(F.size, 0.2 + 0j)),
                          warm=True)
    assert "every 233" in found.location.evidence[0]
    assert "A1.out / W2.in and W2.out / A2.in" in found.location.evidence[0]
    # Blocks have no length, so their two joints lie at one place: four joints share the weight.
    first = {one.where for one in found.location.suspects[:4]}
    assert first == set(JOINTS)


def test_an_echo_as_good_as_a_joint_may_be_accuses_nobody(write_layout, measured):
    found = against_trace(write_layout(LAYOUT), "S1:R1",
                          measured(*one_bad("W1.out / A1.in", r=0.05)), warm=True)
    assert found.inside
    assert found.location is None


def test_where_nothing_tells_places_apart_the_middle_is_opened(write_layout, measured):
    flat = np.full(F.size, 10 ** (-(WHOLE_DB + 4) / 20) + 0j)
    found = against_trace(write_layout(LAYOUT), "S1:R1",
                          measured(np.zeros(F.size, complex), flat, np.zeros(F.size, complex)),
                          warm=True)
    assert not found.location.located
    assert found.location.evidence == ()
    # Six joints and three cables that may be kinked: the middle lies at W2.
    assert found.location.open_next.where in ("A1.out / W2.in", "W2.out / A2.in")
    assert "Nothing in the file tells one joint from another" in str(found)


def test_what_lies_beyond_an_unknown_length_is_located_from_the_other_end(write_layout, measured):
    layout = write_layout(LAYOUT.replace("length: 0.6 m, ", ""))
    found = against_trace(layout, "S1:R1", measured(*one_bad("W2.out / A2.in")), warm=True)
    assert found.location.unknown == ("W1",)
    assert "how long W1 is" in str(found)
    assert found.location.suspects[0].where in ("W2.out / A2.in", "A2.out / W3.in")


def test_one_port_looks_along_the_line(write_layout, tmp_path):
    layout = write_layout(LAYOUT)
    path = tmp_path / "one.s1p"
    s11 = one_bad("W2.out / A2.in")[0]
    path.write_text("# Hz S RI R 50\n" + "\n".join(
        f"{f:.0f} {z.real:.7f} {z.imag:.7f}" for f, z in zip(F, s11, strict=True)))
    found = against_trace(layout, "S1", path, warm=True)
    assert {one.where for one in found.location.suspects[:2]} == {
        "W2.out / A2.in", "A2.out / W3.in"}


def test_json_and_text_from_the_command_line(run, tmp_path, measured):
    path = tmp_path / "l.yaml"
    path.write_text(LAYOUT)
    trace = measured(*one_bad("A1.out / W2.in"))
    words = ("compare", path, "--warm", "--measured", trace, "--ports", "S1:R1")
    status, out, _ = run(*words)
    assert status == 0
    assert "open next: A1.out / W2.in" in out
    assert "chain warm LAYOUT --open A1.out" in " ".join(out.split())
    location = json.loads(run(*words, "--json")[1])["location"]
    assert location["suspects"][0]["where"] == "A1.out / W2.in"
    assert location["open_next"] == "A1.out / W2.in"
