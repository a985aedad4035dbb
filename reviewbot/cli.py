"""The command line. Progress goes to standard error, results to standard output.

Start-up stays short: each command imports what it needs when it runs.
"""

from __future__ import annotations

import atexit
import os
import sys
import traceback
from collections.abc import Callable, Iterable
from tempfile import NamedTemporaryFile
from typing import NoReturn

import typer

from reviewbot.commands.accept import accept
from reviewbot.commands.cache import cache
from reviewbot.commands.check import check
from reviewbot.commands.compare import compare
from reviewbot.commands.demo import demo
from reviewbot.commands.formats import formats
from reviewbot.commands.init import init
from reviewbot.commands.post import post
from reviewbot.commands.review import review
from reviewbot.commands.schema import schema
from reviewbot.commands.snapshot import snapshot
from reviewbot.commands.watch import watch
from reviewbot.cores import look_for_cycles_seldom, start_no_idle_threads, use_one_heap
from reviewbot.errors import RendererUnavailableError, UsageError
from reviewbot.readers.process import start_ahead

_BROKEN_PIPE = 141  # as a shell says of a program that the signal ended

_READING = ("compare", "review")  # surely read a file, unless all was reviewed before

COMMANDS = (
    demo,
    check,
    compare,
    review,
    watch,
    snapshot,
    post,
    accept,
    init,
    cache,
    formats,
    schema,
)


def app_of(commands: Iterable[Callable[..., None]]) -> typer.Typer:
    """The program with some of its commands."""
    made = typer.Typer(
        name="reviewbot",
        help=(
            "Reviews 3D meshes kept in git: "
            "measures, pictures and compares every committed version."
        ),
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
    )
    for command in commands:
        made.command()(command)
    made.callback()(_nothing)  # or one command alone would be the program itself
    return made


def _nothing() -> None:
    """What is done before any command."""


app = app_of(COMMANDS)


def main() -> NoReturn:
    """Entry point; expected failures end with one line and exit status 2."""
    if sys.argv[1:2] and sys.argv[1] in _READING:
        start_ahead()
    start_no_idle_threads()
    use_one_heap()
    look_for_cycles_seldom()
    # Looking for plugins of pydantic's among all that is installed takes time, and none is wanted.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    status = 2

    def leave() -> None:
        _leave(status)

    atexit.register(leave)  # the first to be registered is the last to be called
    status = _status()
    raise SystemExit(status)


def _status() -> int:
    try:
        named = [command for command in COMMANDS if sys.argv[1:2] == [command.__name__]]
        (app_of(named) if named else app)()  # the options of the others take a while to be read
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else int(end.code is not None)
    except (UsageError, RendererUnavailableError) as error:
        sys.stderr.write(f"reviewbot: {error}\n")
        return 2
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        return _BROKEN_PIPE
    except Exception:
        # A fault of this tool: status 1 would read as a finding, and a traceback helps nobody here.
        with NamedTemporaryFile("w", prefix="reviewbot-", suffix=".log", delete=False) as log:
            traceback.print_exc(file=log)
        sys.stderr.write(f"reviewbot: a fault of reviewbot itself; please report {log.name}\n")
        return 2
    return 0


def _leave(status: int) -> NoReturn:
    """End at once. All is written and closed by now, and the system takes the memory back: the
    interpreter would take a quarter of a second to give it up piece by piece.
    """
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except BrokenPipeError:
        status = _BROKEN_PIPE
    os._exit(status)
