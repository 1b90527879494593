"""Signatures and the witness: a past that somebody wrote anew, cut off or stripped is told, on reading and by verify."""

from __future__ import annotations

import json
import shutil
import warnings
from pathlib import Path

import openpyxl
import pytest

import fibrebook
from fibrebook import errors
from fibrebook.register import create, open
from fibrebook.register.care.verify import CUT_OFF
from fibrebook.register.care_of_register import mend_place
from fibrebook.register.proof.signatures import NOTHING_SIGNED
from fibrebook.register.store import keys, signature, witness
from fibrebook.register.store.log import RegisterWarning
from fibrebook.register.store.state import commit_path, digest, digest_checked, with_digest

SITES = 6


def put(reg, site):
    """Commit one more site."""
    with reg.edit(by="ab", why="test") as edit:
        edit.put("sites", {"site": site})


@pytest.fixture
def key(tmp_path, monkeypatch):
    """The firm's key file, in use from the third commit on."""
    made = keys.make_key(tmp_path / "key")
    monkeypatch.setenv(keys.VARIABLE, str(made))
    return made


@pytest.fixture
def reg(tmp_path, key, monkeypatch):
    """A register of six commits, the last four signed."""
    reg = create(tmp_path / "r", name="Firm")
    monkeypatch.delenv(keys.VARIABLE)
    put(reg, "S1")
    put(reg, "S2")
    monkeypatch.setenv(keys.VARIABLE, str(key))
    for n in range(3, SITES + 1):
        put(reg, f"S{n}")
    return reg


def told(where):
    """Open a register as a machine that never saw it would; return what reading it tells, and what verify finds."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", RegisterWarning)
        reg = open(where)
        reg.sites()
    assert {str(w.message) for w in caught if w.category is RegisterWarning} == set(reg.doubts)
    return reg.doubts, reg.verify().what.tolist()


def nobody_saw_it(monkeypatch, tmp_path):
    """From now on be a machine that never read a register."""
    monkeypatch.setenv(witness.VARIABLE, str(tmp_path / "another machine"))


def rewritten(where, change):
    """Write the whole past anew so that every digest in it fits, after `change` of each commit's content."""
    previous = digest((Path(where) / "register.json").read_bytes())
    for number in range(1, SITES + 1):
        path = Path(where) / commit_path(number)
        content = change({**digest_checked(path.read_bytes()), "previous_digest": previous})
        data = with_digest({k: v for k, v in content.items() if k != "digest"})
        path.write_bytes(data)
        previous = digest(data)


def test_a_register_as_it_was_left_raises_no_doubt(reg):
    """Signed from commit 3 on, by the one key: nothing is told."""
    assert told(reg.where) == ((), [])
    assert open(reg.where).verify().attrs["signatures_not_checked"] == 0


def test_without_the_key_it_is_said_that_nothing_was_checked(reg, monkeypatch):
    """Nobody can tell a good signature without the key: verify says how many it did not check."""
    monkeypatch.delenv(keys.VARIABLE)
    assert told(reg.where) == ((), [])
    assert open(reg.where).verify().attrs["signatures_not_checked"] == SITES - 2


def test_commits_signed_by_a_foreign_key(reg, tmp_path, monkeypatch):
    """Whoever writes on with a key of their own is told of, by reading and by verify."""
    monkeypatch.setenv(keys.VARIABLE, str(keys.make_key(tmp_path / "foreign")))
    put(open(reg.where), "S7")
    monkeypatch.setenv(keys.VARIABLE, str(tmp_path / "key"))
    doubts, found = told(reg.where)
    assert found == [signature.NO_KEY_OF_OURS] and signature.NO_KEY_OF_OURS in doubts[0] and "commit 7" in doubts[0]


@pytest.mark.parametrize("made_up", ["x", {}, {"key": "0" * 12}, {"key": "0" * 12, "hmac_sha256": "0" * 64}, None, 7])
def test_a_past_rewritten_with_a_made_up_signature(reg, tmp_path, monkeypatch, made_up):
    """Every digest fits, the authors are others, and each commit bears something for a signature."""
    nobody_saw_it(monkeypatch, tmp_path)
    rewritten(reg.where, lambda c: {**c, "by": "zz", "signature": made_up})
    doubts, found = told(reg.where)
    wrong = (
        signature.NO_KEY_OF_OURS if made_up == {"key": "0" * 12, "hmac_sha256": "0" * 64} else signature.NO_SIGNATURE
    )
    wrong = signature.UNSIGNED if made_up is None else wrong
    assert doubts and wrong in doubts[0] and found and set(found) <= {wrong, NOTHING_SIGNED}
    if wrong == signature.NO_SIGNATURE:  # that it is none is seen without the key too
        monkeypatch.delenv(keys.VARIABLE)
        assert wrong in told(reg.where)[0][0]


def test_the_firms_own_name_on_a_signature_that_is_not_its_own(reg, tmp_path, monkeypatch, key):
    """The key's name stands in every commit, so it can be copied; the sum cannot be made."""
    nobody_saw_it(monkeypatch, tmp_path)
    name = keys.keys_in_use()[0].name
    rewritten(reg.where, lambda c: {**c, "by": "zz", "signature": {"key": name, "hmac_sha256": "0" * 64}})
    doubts, found = told(reg.where)
    assert set(found) == {signature.NOT_GOOD} and signature.NOT_GOOD in doubts[0]


def stripped(reg):
    """Write the whole past anew without signatures, under another author."""
    rewritten(reg.where, lambda c: {k: v for k, v in {**c, "by": "zz"}.items() if k != "signature"})


def test_all_signatures_stripped_is_seen_by_the_machine_that_saw_them(reg, monkeypatch):
    """Without the key too: this machine knows that commits were signed, and what the newest one was."""
    stripped(reg)
    doubts, found = told(reg.where)
    assert "written anew" in doubts[0] and signature.UNSIGNED in doubts[1] and NOTHING_SIGNED in found
    monkeypatch.delenv(keys.VARIABLE)
    assert "written anew" in told(reg.where)[0][0]


def test_all_signatures_stripped_is_seen_by_a_machine_whose_key_file_says_since_when(reg, tmp_path, monkeypatch, key):
    """The key file says from which commit on there are signatures; a machine that never read the register knows it so."""
    nobody_saw_it(monkeypatch, tmp_path)
    stripped(reg)
    assert told(reg.where) == ((), [NOTHING_SIGNED])  # a key file without numbers knows no better
    key.write_text(key.read_text().strip() + " from 3\n")
    doubts, found = told(reg.where)
    assert signature.UNSIGNED_FOR_KEY in doubts[0]
    assert found == [signature.UNSIGNED_FOR_KEY] * (SITES - 2) + [NOTHING_SIGNED]


@pytest.mark.parametrize("gone", [1, 3])
def test_newest_commits_cut_off(reg, gone):
    """Open shows an older state and says so; verify sees changes that no commit names any more."""
    for number in range(SITES - gone + 1, SITES + 1):
        (Path(reg.where) / commit_path(number)).unlink()
    doubts, found = told(reg.where)
    newest = SITES - gone
    assert f"now it ends with commit {newest}" in doubts[0]
    assert doubts[0] in found
    assert [f for f in found if f != doubts[0]] == [CUT_OFF.format(n, newest) for n in range(newest + 2, SITES + 1)]
    put(open(reg.where), "S9")  # writing on does not make it whole
    assert told(reg.where)[0]


def test_cut_off_is_seen_by_verify_of_a_machine_that_never_read_it(reg, tmp_path, monkeypatch):
    """Changes of more than one commit ahead cannot come from a try that was lost."""
    nobody_saw_it(monkeypatch, tmp_path)
    for number in (5, 6):
        (Path(reg.where) / commit_path(number)).unlink()
    assert told(reg.where) == ((), [CUT_OFF.format(6, 4)])


def test_an_older_copy_in_its_place_and_taking_it_as_it_is(reg, tmp_path):
    """A backup laid back is told until somebody says that it is meant; then it is the register."""
    shutil.copytree(reg.where, tmp_path / "backup")
    put(reg, "S7")
    shutil.rmtree(reg.where)
    shutil.copytree(tmp_path / "backup", reg.where)
    assert "ends with commit 6" in told(reg.where)[0][0]
    assert told(reg.where)[0]  # looking does not settle it
    again = open(reg.where)
    with pytest.warns(RegisterWarning):
        again.sites()
    again.take_as_it_is()
    assert again.doubts == () and told(reg.where) == ((), [])


def test_a_copy_elsewhere_goes_its_own_way(reg, tmp_path):
    """A copy of the folder that others write on in is no doubt of either."""
    shutil.copytree(reg.where, tmp_path / "copy")
    assert told(tmp_path / "copy") == ((), [])
    put(reg, "S7")
    put(open(tmp_path / "copy"), "S8")
    assert told(tmp_path / "copy") == told(reg.where) == ((), [])


def test_a_witness_that_cannot_be_kept_or_read_hinders_nothing(reg, tmp_path, monkeypatch):
    """A folder that is a file, spoilt content, a number that is none: the register is read all the same."""
    (tmp_path / "no folder").write_text("x")
    monkeypatch.setenv(witness.VARIABLE, str(tmp_path / "no folder"))
    assert told(reg.where) == ((), [])
    place = tmp_path / "spoilt"
    monkeypatch.setenv(witness.VARIABLE, str(place))
    assert told(reg.where) == ((), [])
    (file,) = place.iterdir()
    whole = json.loads(file.read_text())
    for spoilt in (
        "",
        "{",
        "[]",
        "7",
        *(json.dumps({**whole, n: v}) for n in whole for v in (None, [], -1, True, "x")),
    ):
        file.write_text(spoilt)
        open(reg.where).sites()


def test_mending_two_peoples_saves_side_by_side_is_no_doubt_of_what_was_mended(tmp_path):
    """A drive kept their commit 2 beside ours, and theirs came first: what mend numbers anew counts as seen."""
    ours = create(tmp_path / "r")
    put(ours, "S1")
    shutil.copytree(ours.where, tmp_path / "theirs")
    put(ours, "OURS")
    assert told(ours.where) == ((), [])
    put(open(tmp_path / "theirs"), "THEIRS")
    here, there = Path(ours.where) / commit_path(2), tmp_path / "theirs" / commit_path(2)
    here.rename(here.with_name("00000002 (a copy).json"))
    for path in (tmp_path / "theirs").rglob("*"):
        target = Path(ours.where) / path.relative_to(tmp_path / "theirs")
        if path.is_file() and (path == there or not target.exists()):
            shutil.copy(path, target)
    with pytest.warns(RegisterWarning, match="side by side"):
        again = open(ours.where)
        again.sites()
    assert "written anew" in again.doubts[0]
    mend_place(ours.where, "ab", "two people")
    assert told(ours.where) == ((), [])
    assert open(ours.where).sites() == ["OURS", "S1", "THEIRS"]


# --- the key file ----------------------------------------------------------------------------------------------------


def test_a_second_key_takes_over(reg, key, monkeypatch):
    """Keys with from and to: each signs and proves its own commits only, and a lost one proves nothing later."""
    first = key.read_text().split()[0]
    keys.add_key(key, reg.commit + 1)
    assert [(k.first, k.last) for k in keys.keys_in_use()] == [(None, SITES), (SITES + 1, None)]
    put(reg, "S7")
    assert told(reg.where) == ((), [])
    key.write_text("\n".join([f"{first} to 4", *key.read_text().splitlines()[1:]]))
    found = told(reg.where)[1]
    assert found == ["bears a signature by a key that is good from the first commit to commit 4 only"] * 2
    key.write_text(f"# lost in March\n{first} to {SITES}  # the old one\n")
    with pytest.raises(errors.InputError, match="has no key for commit 8"):
        put(open(reg.where), "S8")
    assert open(reg.where).commit == 7


@pytest.mark.parametrize("text, why", [
    ("", "holds no key"),
    ("# nothing\n", "holds no key"),
    ("short\n", "fewer than 16"),
    ("0123456789abcdef form 3\n", "line 1"),
    ("0123456789abcdef\n0123456789abcdeg from 3 to\n", "line 2"),
    ("0123456789abcdef from 5 to 4\n", "ends before it begins"),
])  # fmt: skip
def test_a_key_file_that_is_none(reg, key, text, why):
    """Saving is refused in words; reading goes on, and says that nothing was checked."""
    key.write_text(text)
    with pytest.raises(errors.InputError, match=why):
        put(reg, "S7")
    doubts, found = told(reg.where)
    assert "signatures are not checked" in doubts[0] and "no signature was checked" in found[0]
    assert len(open(reg.where).history()) > 0


def test_a_copy_of_some_sites_is_signed_though_its_numbers_are_its_own(reg, key, tmp_path):
    """The key file's numbers are those of the register that it is for."""
    key.write_text(key.read_text().strip() + " from 3\n")
    copy = reg.take_away(tmp_path / "copy", ["S1"])
    assert copy.commit == 1 and told(copy.where) == ((), [])
    with copy.edit(by="ab", why="on site") as edit:
        edit.put("sites", {"site": "S1", "customer": "Old Mill"})
    reg.bring_back(copy.where, "ab", "back")
    assert told(reg.where) == ((), [])


# --- the workbook ----------------------------------------------------------------------------------------------------


def test_a_workbook_is_a_witness_too(reg, tmp_path):
    """It bears the digest of the commit that it was taken from: a register written anew, or cut off, refuses it."""
    book = tmp_path / "out.xlsx"
    fibrebook.send_out(reg, book)
    fibrebook.bring_in(reg, book, by="ab", why="back")
    sheet = openpyxl.load_workbook(book)["about"]
    assert any(row[0].value == "digest of the commit" for row in sheet.iter_rows())
    rewritten(reg.where, lambda c: {**c, "by": "zz"})
    with pytest.raises(errors.BringInError, match="is another than the one that it was taken from"):
        fibrebook.bring_in(open(reg.where), book, by="ab", why="back")
    for number in (5, 6):
        (Path(reg.where) / commit_path(number)).unlink()
    with pytest.raises(errors.BringInError, match="older copy, or its newest commits were cut off"):
        fibrebook.bring_in(open(reg.where), book, by="ab", why="back")


# --- at the command line and on the screens --------------------------------------------------------------------------


def run(*words):
    """Run a command; return what it printed and its exit code."""
    from click.testing import CliRunner

    from fibrebook.cli import cli

    done = CliRunner().invoke(cli, [str(w) for w in words])
    return done.output, done.exit_code


def test_commands_make_keys_and_say_what_was_not_checked(reg, tmp_path, monkeypatch):
    """A key file made for a register begins at its next commit; another is added; verify without it says so."""
    new = tmp_path / "new"
    assert "from commit 7 on" in run("-r", reg.where, "new-key", new)[0]
    assert "from 7" in new.read_text() and run("-r", reg.where, "new-key", "--add", new)[1] == 1  # none can begin twice
    monkeypatch.setenv(keys.VARIABLE, str(new))
    put(reg, "S7")
    assert "from commit 8 on" in run("-r", reg.where, "new-key", "--add", new)[0]
    put(reg, "S8")
    assert [(k.first, k.last) for k in keys.keys_in_use()] == [(7, 7), (8, None)]
    found = open(reg.where).verify()
    assert found.file.tolist() == [commit_path(n) for n in range(3, 7)]  # by a key that this file does not name
    monkeypatch.delenv(keys.VARIABLE)
    text, code = run("-r", reg.where, "verify")
    assert code == 0 and "signatures of 6 commits were not checked" in text
    assert run("new-key", "--add", new)[1] == 1


def test_a_command_tells_a_doubt_as_a_sentence(reg, tmp_path):
    """No file of the program and no line number stands before it."""
    import subprocess
    import sys

    (Path(reg.where) / commit_path(SITES)).unlink()
    words = ["-c", "from fibrebook.cli import main; main()", "-r", reg.where, "sites"]
    done = subprocess.run([sys.executable, *words], capture_output=True, text=True, encoding="utf-8", timeout=60)
    (line,) = done.stderr.splitlines()
    assert done.returncode == 0 and line.startswith("fibrebook: on 2") and "now it ends with commit 5" in line
    assert run("-r", reg.where, "take-as-it-is")[1] == 0
    assert told(reg.where)[0] == ()


def test_a_screen_shows_a_doubt(reg):
    """Above everything else, as long as it stands."""
    from fibrebook.screens.frame.screen import Screen

    (Path(reg.where) / commit_path(SITES)).unlink()
    again = open(reg.where)
    with pytest.warns(RegisterWarning):
        again.sites()
    shown = Screen(again, "Try")
    assert "newest commits were cut off" in shown._trouble.value and shown._trouble.layout.display is None
