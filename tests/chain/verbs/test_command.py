"""The command line: what it prints, its exit status, and that it starts without heavy imports."""

import json
import os
import subprocess
import sys

import pytest

from chain.command import main

TEXT = """\
title: a line
band: {start: 4 GHz, stop: 8 GHz, points: 5}
stages: {room: {temperature: 295 K}, base: {temperature: 20 mK}}
lines:
  main:
    - {id: S, kind: port, stage: room}
    - {id: A, kind: attenuator, stage: base, loss: 20 dB}
    - {id: R, kind: port, stage: room}
signals: {main: {from: S, to: R}}
"""


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "l.yaml"
    path.write_text(TEXT)
    return path


def test_budget_as_json_has_the_designs_fields(run, layout):
    status, out, err = run("budget", layout, "--signal", "main", "--json")
    assert (status, err) == (0, "")
    found = json.loads(out)
    assert list(found)[:5] == ["format", "signal", "from", "to", "frequency_hz"]
    for name in ("gain_db", "noise_at_to_quanta", "system_noise_quanta", "system_noise_k",
                 "incoming_quanta", "added_quanta"):
        assert len(found[name]) == 5
    assert set(found["shares_quanta"]) == {"S", "A", "R"}
    assert set(found["laws"]) == {"equilibrium", "energy", "commutation"}
    assert found["warnings"] == []


def test_one_frequency_for_programs(run, layout):
    _, out, _ = run("budget", layout, "--json", "--at", "5.5 GHz")
    assert json.loads(out)["frequency_hz"] == [5.5e9]


def test_csv_has_a_row_a_frequency(run, layout, tmp_path):
    target = tmp_path / "out.csv"
    status, _, _ = run("budget", layout, "--csv", target)
    assert status == 0
    rows = target.read_text().splitlines()
    assert rows[0].startswith("signal,frequency_hz,gain_db")
    assert len(rows) == 6
    assert float(rows[1].split(",")[2]) == pytest.approx(-20.0)


def test_a_folder_that_is_not_there_is_status_three_and_leaves_nothing(run, layout, tmp_path):
    status, out, err = run("budget", layout, "--csv", tmp_path / "no" / "out.csv")
    assert status == 3
    assert "out.csv" in err
    assert "Traceback" not in err + out
    assert sorted(os.listdir(tmp_path)) == ["l.yaml"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["budget", "LAYOUT", "--signal", "mian"], "there is no signal 'mian'; did you mean 'main'?"),
        (["budget", "LAYOUT", "--at", "5"], "'5' has no unit"),
        (["budget", "LAYOUT", "--at", "-5 GHz"], "'-5 GHz' is below 1 Hz; give 1 Hz"),
        (["budget", "LAYOUT", "--at", "1e-300 Hz"], "'1e-300 Hz' is below 1 Hz; give 1 Hz or"),
        (["warm", "LAYOUT", "--within", "-1 dB"], "'-1 dB' is below 0 dB; give 0 dB or more"),
        (["budget", "LAYOUT", "--set", "A.los=3 dB"], "los"),
        (["budget", "LAYOUT", "--set", "A.loss=-3 dB"], "loss"),
        (["budget", "nothing.yaml"], "nothing.yaml"),
        (["bugdet", "LAYOUT"], "bugdet"),
        (["budget"], "LAYOUT"),
    ],
)
def test_bad_input_is_status_two_in_words(run, layout, words, said):
    status, out, err = run(*[str(layout) if word == "LAYOUT" else word for word in words])
    assert status == 2
    assert out == ""
    assert said in err
    assert "Traceback" not in err


def test_check_says_where(run, layout):
    layout.write_text(TEXT.replace("loss: 20 dB", "loss: 20"))
    status, out, err = run("check", layout)
    assert status == 2
    assert err.startswith(f"{layout}:7:52: A.loss:")
    status, out, _ = run("check", layout, "--json")
    assert status == 2
    assert json.loads(out)["findings"][0]["level"] == "error"


def test_a_budget_starts_without_heavy_imports(layout):
    program = (
        "import sys\nfrom chain.command import main\n"
        f"assert main(['budget', {str(layout)!r}]) == 0\n"
        "print([name for name in ('matplotlib', 'skrf', 'scipy', 'pandas') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "[]", done.stderr


def test_a_reader_that_goes_away_is_no_error(layout):
    done = subprocess.run(
        f"{sys.executable} -m chain.command budget {layout} | head -1",
        shell=True, capture_output=True, text=True,
    )
    assert done.stderr == ""
    assert done.stdout == "a line\n"


def test_bare_words_print_help_and_the_version(capsys):
    for words, said in (((), "budget"), (("--help",), "exit status"), (("--version",), "chain ")):
        with pytest.raises(SystemExit) as ended:
            main(list(words))
        assert ended.value.code == 0
        assert said in capsys.readouterr().out


def test_a_verb_or_option_mistyped_is_guessed(run, layout):
    assert "did you mean 'budget'?" in run("budgte", layout)[2]
    assert "did you mean '--json'?" in run("budget", layout, "--jsn")[2]


def test_options_stand_anywhere(run, layout):
    two = [layout, "--set", "A.loss=10 dB"]
    orders = (["compare", *two, "--json"], ["compare", "--json", *two],
              ["compare", layout, "--json", "--set", "A.loss=10 dB"])
    found = [run(*words) for words in orders]
    assert all(one == found[0] for one in found)
    assert found[0][0] == 0
    other = layout.with_name("other.yaml")
    other.write_text(TEXT.replace("20 dB", "10 dB"))
    orders = ([layout, "--json", other], ["--json", layout, other], [layout, other, "--json"])
    found = [run("compare", *words) for words in orders]
    assert all(one == found[0] for one in found)
    assert json.loads(found[0][1])["gain_change_db"] == pytest.approx([10.0] * 5)


# -- standard input and output ------------------------------------------------------------------


def program(*words, text=None, shell="", **environment):
    """Run the command line in a process of its own: (status, standard output, standard error)."""
    command = " ".join(f"'{word}'" for word in (sys.executable, "-m", "chain", *words))
    done = subprocess.run(
        f"{command} {shell}", shell=True, capture_output=True, input=text,
        env={**os.environ, **environment}, check=False,
    )
    return done.returncode, done.stdout, done.stderr.decode("utf-8", "replace")


@pytest.mark.parametrize("name", ["-", "/dev/stdin"])
def test_a_layout_is_read_from_standard_input(name, layout):
    wanted = program("budget", layout, "--json")
    assert program("budget", name, "--json", text=TEXT.encode()) == wanted
    status, _, err = program("budget", name, text=b"band: {start: 4}\n")
    assert status == 2
    assert err.startswith(f"{name}:1:")


@pytest.mark.parametrize("shell", [">&-", ">/dev/full"])
def test_output_that_cannot_be_written_is_status_three_in_one_line(layout, shell):
    status, _, err = program("budget", layout, shell=shell)
    assert status == 3
    assert len(err.splitlines()) == 1
    assert "standard output" in err


def test_neither_output_nor_errors_can_be_written(layout):
    assert program("budget", layout, shell=">/dev/full 2>/dev/full") == (3, b"", "")
    assert program("budget", "nothing.yaml", shell=">&- 2>&-")[::2] == (3, "")


def test_what_a_terminal_cannot_show_is_written_out(layout):
    layout.write_text(TEXT.replace("a line", "a line of 1 µW"), encoding="utf-8")
    plain = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": ""}
    status, out, err = program("budget", layout, **plain)
    assert (status, err) == (0, "")
    assert b"1 \\xb5W" in out


SIGNALLED = """
import os, signal, sys, builtins
real, left = builtins.__import__, int(sys.argv[1])
def counting(*words, **options):
    global left
    left -= 1
    if left == 0:
        os.kill(os.getpid(), signal.SIGINT)
    return real(*words, **options)
builtins.__import__ = counting
from chain.command import main
sys.argv[1:] = sys.argv[2:]
raise SystemExit(main())
"""


@pytest.mark.parametrize("after", [20, 60, 400, 900])
def test_an_interruption_while_it_starts_or_works_ends_quietly(layout, after):
    done = subprocess.run(
        [sys.executable, "-c", SIGNALLED, str(after), "budget", str(layout)],
        capture_output=True, text=True, check=False,
    )
    assert "Traceback" not in done.stderr
    assert (done.returncode, len(done.stderr.splitlines())) in ((130, 0), (130, 1))


# -- strangers' layouts -------------------------------------------------------------------------


@pytest.fixture
def apart(tmp_path):
    """A layout in a folder of its own, and a secret outside of it that would load."""
    (tmp_path / "own").mkdir()
    (tmp_path / "secret.yaml").write_text("parts: {p: {kind: attenuator, loss: 3 dB}}\n")
    (tmp_path / "secret.s2p").write_text("# GHz S RI R 50\n1 0 0 1 0 1 0 0 0\n9 0 0 1 0 1 0 0 0\n")
    return tmp_path / "own" / "l.yaml"


@pytest.mark.parametrize("how", ["{}", "linked/{}"])
def test_files_outside_are_refused_before_they_are_opened(how, apart, run):
    (apart.parent / "linked").symlink_to(apart.parent.parent)
    where = how.format("secret") if "linked" in how else "../secret"
    include = f"include: [{where}.yaml]\n{TEXT}"
    data = TEXT.replace("loss: 20 dB", f"data: {where}.s2p")
    for text in (include, data):
        apart.write_text(text)
        status, _, err = run("budget", apart)
        assert status == 2
        assert "lies outside" in err
        assert run("budget", apart, "--allow", apart.parent.parent)[0] == 0
        apart.write_text(text.replace("secret", "nothing"))
        assert "lies outside" in run("budget", apart)[2]  # whether it exists is not told either


def test_a_repository_is_one_place(apart, run):
    apart.write_text(f"include: [../secret.yaml]\n{TEXT}")
    (apart.parent.parent / ".git").mkdir()
    assert run("budget", apart)[0] == 0


def test_whoever_runs_it_may_name_any_file(apart, run):
    apart.write_text(TEXT)
    data = apart.parent.parent / "secret.s2p"
    assert run("budget", apart, "--set", "A.loss=", "--set", f"A.data={data}")[0] == 0


def test_standard_input_reaches_the_current_folder(apart):
    text = f"include: [{apart.parent.parent}/secret.yaml]\n{TEXT}".encode()
    assert program("budget", "-", text=text)[0] == 2
    assert program("budget", "-", "--allow", apart.parent.parent, text=text)[0] == 0
