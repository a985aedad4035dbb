"""Git over a network, from addresses that the person who runs this tool gave and no others.

Only https, ssh and local files are spoken, so no address makes git run a program; nothing asks a
question, for there is nobody to answer it; no hook, submodule, filter or clean-up of git's own
runs; and every command has a time limit. A name and a password reach git in its environment, where
no other user of the machine sees them.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

from reviewbot.errors import RemoteError
from reviewbot.history.address import PROTOCOLS, Address
from reviewbot.history.git import GitOutput, one_line, outer_variables
from reviewbot.history.paths import visible_text
from reviewbot.history.refs import Refs, is_watchable

Cancelled = Callable[[], bool]

LISTING_SECONDS = 60.0
FETCH_SECONDS = 3600.0  # the first one brings everything
_STEP = 0.25  # seconds between looks whether a command is to be given up
_STALE_SECONDS = 3.0  # git holds its locks on references for a few thousandths of one
_ENVIRONMENT = {
    "GIT_ALLOW_PROTOCOL": ":".join(PROTOCOLS),
    "GIT_TERMINAL_PROMPT": "0",
    "GIT_ASKPASS": "",  # set but empty: no other program is asked either
    "SSH_ASKPASS_REQUIRE": "never",
    "GIT_NO_REPLACE_OBJECTS": "1",
    "LC_ALL": "C",
}
_OPTIONS = (
    "--no-pager",
    *("-c", f"core.hooksPath={os.devnull}"),
    *("-c", "core.fsmonitor=false"),
    *("-c", "gc.auto=0"),  # what a branch no longer holds may still wait for its review
    *("-c", "http.lowSpeedLimit=1000"),
    *("-c", "http.lowSpeedTime=60"),
)
# How the person who runs this tool reaches the network.
_THEIRS = re.compile(r"GIT_(?:SSH|SSH_COMMAND|SSH_VARIANT|SSL_\w+|HTTP_\w+|PROXY_\w+)")
# Git runs this line in a shell; what is secret comes from the environment.
_CREDENTIALS = (
    "!f() { printf 'username=%s\\npassword=%s\\n' "
    '"$REVIEWBOT_GIT_USERNAME" "$REVIEWBOT_GIT_PASSWORD"; }; f'
)
_SECRETS = ("REVIEWBOT_TOKEN",)


def never() -> bool:
    """For commands that nobody gives up."""
    return False


def list_refs(
    address: Address, *, folder: Path, with_requests: bool, is_cancelled: Cancelled = never
) -> Refs:
    """Where branches, and requests where they are wanted, stand there; brings no objects.

    folder  where git runs

    Raises RemoteError where the address cannot be reached or refuses.
    """
    told = run_remote_git(
        folder,
        *("ls-remote", "--symref", "--end-of-options", address.url, "HEAD"),
        *_wanted(with_requests),
        address=address,
        seconds=LISTING_SECONDS,
        is_cancelled=is_cancelled,
    )
    return parse_listing(_required(told))


def _wanted(with_requests: bool) -> tuple[str, ...]:
    requests = ("refs/pull/*/head", "refs/merge-requests/*/head")
    return ("refs/heads/*", *(requests if with_requests else ()))


def parse_listing(out: bytes) -> Refs:
    """What ``git ls-remote --symref`` says.

    >>> refs = parse_listing(b"ref: refs/heads/main\\tHEAD\\n1234\\trefs/heads/main\\n")
    >>> refs.default, refs.tips
    ('refs/heads/main', {'refs/heads/main': '1234'})
    """
    tips: dict[str, str] = {}
    default = None
    for line in out.split(b"\n"):
        value, _, raw = line.partition(b"\t")
        name = visible_text(raw)
        if value.startswith(b"ref: ") and raw == b"HEAD":
            default = visible_text(value.removeprefix(b"ref: "))
        elif is_watchable(name):
            tips[name] = value.decode("ascii", "replace")
    return Refs(tips=tips, default=default)


def make_mirror(folder: Path, refs: Refs) -> None:
    """An empty bare repository, for what has these references; one that is there is kept.

    What a git left behind that was killed is taken away. Raises RemoteError where it cannot be
    made.
    """
    if folder.is_dir():
        for pack in folder.glob("objects/pack/tmp_*"):
            pack.unlink(missing_ok=True)
        _drop_stale_locks(folder)
        return
    is_long = any(len(commit) == 64 for commit in refs.tips.values())
    kind = "sha256" if is_long else "sha1"
    made = ("init", "--quiet", "--bare", "--template=", f"--object-format={kind}")
    folder.parent.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(prefix=".", dir=folder.parent, ignore_cleanup_errors=True) as scratch:
        bare = Path(scratch) / folder.name
        bare.mkdir()
        _required(run_remote_git(bare, *made, address=None, seconds=LISTING_SECONDS))
        bare.rename(folder)


def fetch(
    folder: Path, address: Address, *, with_requests: bool, is_cancelled: Cancelled = never
) -> None:
    """Brings the mirror's branches, and requests where they are wanted, to where they are there.

    Raises RemoteError where the address cannot be reached or refuses.
    """
    told = run_remote_git(
        folder,
        *("fetch", "--quiet", "--force", "--prune", "--no-tags", "--no-write-fetch-head"),
        *("--no-auto-maintenance", "--no-recurse-submodules", "--end-of-options", address.url),
        *(f"+{ref}:{ref}" for ref in _wanted(with_requests)),
        address=address,
        seconds=FETCH_SECONDS,
        is_cancelled=is_cancelled,
    )
    _required(told)


def _drop_stale_locks(folder: Path) -> None:
    """Takes away locks on references that no running git holds: those that stay."""
    found = _locks(folder)
    if not found:
        return
    time.sleep(_STALE_SECONDS)
    for path, inode in _locks(folder).items():
        if found.get(path) == inode:
            path.unlink(missing_ok=True)


def _locks(folder: Path) -> dict[Path, int]:
    found = {}
    for path in [*folder.glob("*.lock"), *(folder / "refs").rglob("*.lock")]:
        try:
            found[path] = path.stat().st_ino
        except OSError:
            continue  # given back meanwhile
    return found


def run_remote_git(
    folder: Path,
    *arguments: str,
    address: Address | None,
    seconds: float,
    stdin: bytes = b"",
    configured: Iterable[tuple[str, str]] = (),
    is_cancelled: Cancelled = never,
) -> GitOutput:
    """Runs one git command that may use the network.

    address     whose name and password git is given; None for none
    configured  settings for this command, in the environment

    Raises RemoteError where there is no git, at the time limit, and where it is given up.
    """
    git = os.environ.get("GIT_PYTHON_GIT_EXECUTABLE", "git")
    try:
        process = subprocess.Popen(
            [git, *_OPTIONS, *arguments],
            cwd=folder,
            env=_environment(folder, address, configured),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,  # no terminal to ask on, and one group to end
        )
    except OSError as error:
        raise RemoteError(f"git cannot be run in {folder}: {error.strerror}") from error
    out, errors = _finished(process, stdin, seconds, is_cancelled)
    return GitOutput(status=process.returncode, out=out, errors=one_line(errors))


def _finished(
    process: subprocess.Popen[bytes], stdin: bytes, seconds: float, is_cancelled: Cancelled
) -> tuple[bytes, bytes]:
    deadline = time.monotonic() + seconds
    unsent: bytes | None = stdin
    while True:
        try:
            return process.communicate(unsent, timeout=_STEP)
        except subprocess.TimeoutExpired:
            unsent = None
            if not is_cancelled() and time.monotonic() < deadline:
                continue
        except BaseException:
            _end(process)
            raise
        _end(process)
        late = f"no end within {seconds:g} seconds"
        raise RemoteError("given up" if is_cancelled() else late)


def _end(process: subprocess.Popen[bytes]) -> None:
    """Ends git and the programs that it runs for the network."""
    if hasattr(os, "killpg"):
        os.killpg(process.pid, signal.SIGKILL)
    else:
        process.kill()
    process.communicate()


def _environment(
    folder: Path, address: Address | None, configured: Iterable[tuple[str, str]]
) -> dict[str, str]:
    dropped = {name for name in outer_variables() if not _THEIRS.fullmatch(name)}
    kept = {k: v for k, v in os.environ.items() if k not in dropped and k not in _SECRETS}
    # A mirror may lie in a folder of somebody's work tree, whose settings are not ours.
    kept |= {**_ENVIRONMENT, "GIT_CEILING_DIRECTORIES": str(folder.resolve().parent)}
    settings = list(configured)
    if address is not None and address.password:
        kept["REVIEWBOT_GIT_USERNAME"] = address.username
        kept["REVIEWBOT_GIT_PASSWORD"] = address.password
        settings += [("credential.helper", ""), ("credential.helper", _CREDENTIALS)]
    return kept | configuration(settings, kept)


def configuration(
    settings: Iterable[tuple[str, str]], environment: Mapping[str, str]
) -> dict[str, str]:
    """Git's settings as variables, after those that the environment has already.

    >>> configuration([("gc.auto", "0")], {"GIT_CONFIG_COUNT": "1"})
    {'GIT_CONFIG_KEY_1': 'gc.auto', 'GIT_CONFIG_VALUE_1': '0', 'GIT_CONFIG_COUNT': '2'}
    """
    first = environment.get("GIT_CONFIG_COUNT", "0")
    count = int(first) if first.isdecimal() else 0
    found = {}
    for key, value in settings:
        found[f"GIT_CONFIG_KEY_{count}"] = key
        found[f"GIT_CONFIG_VALUE_{count}"] = value
        count += 1
    return {**found, "GIT_CONFIG_COUNT": str(count)}


def _required(told: GitOutput) -> bytes:
    """What git gave. Raises RemoteError with its own words, cut short, where it failed."""
    if told.status:
        raise RemoteError(told.errors[:300] or f"git ends with status {told.status}")
    return told.out
