"""An OpenSSH server for one test: on 127.0.0.1, a free port, with keys and settings that are thrown away with it."""

import getpass
import os
import shlex
import shutil
import socket
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path

_PATIENCE = 20.0
_PRIVILEGE_FOLDER = Path("/run/sshd")
"""Where a server of root's keeps nothing, but insists on it."""


class NoServer(Exception):
    """No server can be had here; the message says why."""


class Server:
    """A running server; `command` is what a client runs to get a program on it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir()
        self._sshd = _program("sshd")
        self._ssh, keygen = _program("ssh"), _program("ssh-keygen")
        self._private_folder()
        for key in ("host", "client"):
            subprocess.run(
                [keygen, "-q", "-t", "ed25519", "-N", "", "-f", folder / key], check=True, capture_output=True
            )
        shutil.copy(folder / "client.pub", folder / "authorized")
        self.port = _free_port()
        (folder / "config").write_text(self._settings())
        self._log = folder / "log"
        self.process = subprocess.Popen([self._sshd, "-D", "-f", folder / "config", "-E", self._log])
        self._wait()

    def _private_folder(self) -> None:
        if os.geteuid() == 0 and not _PRIVILEGE_FOLDER.is_dir():
            try:
                _PRIVILEGE_FOLDER.mkdir(mode=0o755)
            except OSError as error:
                raise NoServer(f"{_PRIVILEGE_FOLDER} can't be made: {error.strerror}") from None

    def _settings(self) -> str:
        return "\n".join(
            [
                f"Port {self.port}",
                "ListenAddress 127.0.0.1",
                f"HostKey {self.folder / 'host'}",
                f"AuthorizedKeysFile {self.folder / 'authorized'}",
                "PidFile none",
                "StrictModes no",
                "UsePAM no",
                "PasswordAuthentication no",
                "KbdInteractiveAuthentication no",
                "PermitRootLogin prohibit-password",
                "PrintMotd no",
                "",
            ]
        )

    def _wait(self) -> None:
        """Until the server takes connections and lets this user in."""
        last = time.monotonic() + _PATIENCE
        while time.monotonic() < last and self.process.poll() is None:
            tried = subprocess.run(self.command(["true"], terminal=False), capture_output=True, text=True)
            if tried.returncode == 0:
                return
            time.sleep(0.1)
        self.stop()
        told = self._log.read_text().splitlines() if self._log.exists() else []
        raise NoServer(f"sshd lets nobody in here: {told[-1] if told else 'it tells nothing'}")

    def command(self, program: Sequence[str], *, terminal: bool = True) -> list[str]:
        """What to run for that program to run on the server."""
        options = {
            "UserKnownHostsFile": "/dev/null",
            "StrictHostKeyChecking": "no",
            "IdentitiesOnly": "yes",
            "BatchMode": "yes",
            "LogLevel": "ERROR",
        }
        given = [part for name, value in options.items() for part in ("-o", f"{name}={value}")]
        return [
            self._ssh, "-F", "/dev/null", *(["-tt"] if terminal else []), *given, "-i", str(self.folder / "client"),
            "-p", str(self.port), f"{getpass.getuser()}@127.0.0.1", shlex.join(program),
        ]  # fmt: skip

    def stop(self) -> None:
        """End the server; sessions that it has opened are processes of their own."""
        self.process.terminate()
        self.process.wait(_PATIENCE)


def _program(name: str) -> str:
    """The whole name of a program, which sshd wants. Raises NoServer."""
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/sbin:/usr/local/sbin")
    if found is None:
        raise NoServer(f"OpenSSH is not installed: there is no {name}")
    return found


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
