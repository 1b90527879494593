"""Who may write and who may look: read-only handles, the commands of keeping, JupyterLab for this machine only."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner

from fibrebook import errors
from fibrebook.cli import cli
from fibrebook.register import create, open


@pytest.fixture
def reg(tmp_path):
    """A register of one site and two commits."""
    made = create(tmp_path / "reg")
    for name in ("Mill", "Old mill"):
        with made.edit("ab", "name") as edit:
            edit.put("sites", [{"site": "S1", "name": name, "contact": "gatekeeper"}])
    return made


def test_a_read_only_handle_changes_nothing(reg, tmp_path):
    """Every way of changing a register is refused by a handle that was opened read-only or as it was."""
    before = {p: p.read_bytes() for p in Path(reg.where).rglob("*") if p.is_file()}
    for handle in (open(reg.where, read_only=True), open(reg.where, at=1)):
        for change in (
            lambda h: h.edit("ab", "x"), lambda h: h.undo(1, "ab", "x"), lambda h: h.tidy(0, "ab", "x"),
            lambda h: h.redact("ab", "x", site="S1"), lambda h: h.mend("ab", "x"),
            lambda h: h.bring_back(tmp_path, "ab", "x"), lambda h: h.pending_resolve("x"),
        ):  # fmt: skip
            with pytest.raises(errors.ReadOnlyError):
                change(handle)
    assert before == {p: p.read_bytes() for p in Path(reg.where).rglob("*") if p.is_file()}


def run(*words, code=0):
    """Run a command; return what it prints."""
    out = CliRunner().invoke(cli, [str(w) for w in words], standalone_mode=False)
    if isinstance(out.exception, errors.FibrebookError):
        assert code == 1, out.exception
        return str(out.exception)
    got = out.return_value if out.exception is None else getattr(out.exception, "exit_code", out.exception)
    assert (got if isinstance(got, int) else 0) == code, (out.output, out.exception)
    return out.output


WHO = ("--by", "ab", "--why", "test")


def test_the_commands_of_a_copy(reg, tmp_path):
    """Taken away, worked on, a conflict written out and decided in the file, brought back."""
    where = ("-r", reg.where)
    run(*where, "take-away", tmp_path / "van", "--sites", "S1", "--no-personal")
    copy = open(tmp_path / "van")
    assert copy.table("sites").contact.isna().all()
    for handle, name in ((copy, "mine"), (reg, "theirs")):
        with handle.edit("cd", "rename") as edit:
            edit.put("sites", [{"site": "S1", "name": name}])
    path = tmp_path / "c.csv"
    told = run(*where, "bring-back", tmp_path / "van", *WHO, "--conflicts", path, code=3)
    assert "mine" in told and path.exists()
    lines = path.read_text(encoding="utf-8-sig").splitlines()
    path.write_text(f"{lines[0]}\n{lines[1]}mine\n", encoding="utf-8")
    assert "commits 4 to 4" in run(*where, "bring-back", tmp_path / "van", *WHO, "--decisions", path)
    assert reg.table("sites").name[0] == "mine" and reg.table("sites").contact[0] == "gatekeeper"
    assert "nothing was changed" in run(*where, "bring-back", tmp_path / "van", *WHO)
    found = json.loads(run(*where, "differences", 1, 2, "--json"))
    assert [(r["column"], r["before"], r["after"]) for r in found] == [("name", "Mill", "Old mill")]


def test_the_commands_of_order(reg, tmp_path):
    """A kept edit shown and decided; damage mended; old states tidied; personal data redacted after a question."""
    where = ("-r", reg.where)
    late = reg.edit("cd", "late", base=1)
    late.put("sites", [{"site": "S1", "name": "other"}])
    with pytest.raises(errors.ConflictError) as caught:
        late.finish()
    assert "other" in run(*where, "conflicts", caught.value.pending, code=3)
    assert "commit 3" in run(*where, "conflicts", caught.value.pending, "--all", "mine")
    assert reg.table("sites").name[0] == "other"
    commit = Path(reg.where) / "commits" / "00000002.json"
    data = bytearray(commit.read_bytes())
    data[len(data) // 2] ^= 4
    commit.write_bytes(bytes(data))
    assert "turned back" in run(*where, "mend", *WHO) and "nothing to mend" in run(*where, "mend", *WHO)
    assert "can no longer be opened" in run(*where, "tidy", "--keep-days", 0, *WHO)
    asked = CliRunner().invoke(cli, [*where, "redact", "--site", "S1", *WHO], input="n\n")
    assert asked.exit_code != 0 and open(reg.where).table("sites").contact[0] == "gatekeeper"
    assert "written anew" in run(*where, "redact", "--site", "S1", *WHO, "--yes")
    assert open(reg.where).table("sites").contact.isna().all() and len(open(reg.where).verify()) == 0
    run("new-key", tmp_path / "key")
    assert "no key file" in run("new-key", tmp_path / "key", code=1)


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


def addresses(port: int) -> set[str]:
    """Return the addresses of this machine on which something listens at a port (Linux)."""
    found = set()
    for table in ("/proc/net/tcp", "/proc/net/tcp6"):
        for line in Path(table).read_text().splitlines()[1:]:
            local, state = line.split()[1], line.split()[3]
            host, number = local.split(":")
            if state == "0A" and int(number, 16) == port:
                found.add(host)
    return found


@pytest.mark.skipif(not Path("/proc/net/tcp").exists(), reason="the list of listeners is read from Linux's /proc")
def test_jupyterlab_listens_on_this_machine_only_and_wants_its_token(reg, tmp_path):
    """Nothing listens on another address, and without the token the server answers nobody."""
    port = free_port()
    command = [
        sys.executable,
        "-m",
        "fibrebook",
        "-r",
        reg.where,
        "open",
        "--notebooks",
        "--no-browser",
        "--port",
        str(port),
    ]
    process = subprocess.Popen(
        [*command, "--folder", str(tmp_path / "notebooks")],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        env={**os.environ, "JUPYTER_CONFIG_DIR": str(tmp_path / "config"), "JUPYTER_TOKEN": ""},
    )  # fmt: skip
    try:
        deadline = time.monotonic() + 90
        while not addresses(port):
            assert process.poll() is None and time.monotonic() < deadline
            time.sleep(0.3)
        assert addresses(port) == {"0100007F"}  # 127.0.0.1 as /proc writes it
        with pytest.raises(urllib.error.HTTPError) as caught:
            urllib.request.urlopen(f"http://127.0.0.1:{port}/api/contents", timeout=20)
        assert caught.value.code == 403
    finally:
        import signal

        os.killpg(process.pid, signal.SIGTERM)
        process.wait(timeout=30)
