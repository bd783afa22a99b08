"""The command `upline`: options, one call into the library, and exit codes.

0 done; 1 a rule failed; 2 the user's input is wrong; 3 the flight could not be flown; 130 stopped by the
user.  `--json` puts one document on stdout and everything else on stderr.
"""

from __future__ import annotations

import errno
import os
import re
import sys

from models.errors import OptionError, Refused, UserError, nearest, quoted
from viewer.commands import COMMANDS
from viewer.commands.shared import refuse
from viewer.parser import parser
from viewer.version import version

FIRST_STEPS = """\
upline: fly a setup in simulation before you move a battery.

  upline list                          what is built in: planes, setups, manoeuvres
  upline balance precision             CG, neutral point, static margin, battery place
  upline fly knife-edge-right --setup slow-3d --why
                                       one manoeuvre, its measures and what caused them
  upline compare precision slow-3d     the whole set for two setups, side by side
  upline map precision stall stall_speed --vary "cg: 28 % to 40 % by 2 %"
                                       a measure over one or two things varied

SETUP is a name from the list or the path of your own file (copy a built-in one).
A simulation clears nothing to fly: see the cautions under every result."""


def main(argv: list[str] | None = None) -> int:
    """Run the command in `argv` (default: the process's) and return its exit code."""
    try:
        code = _run(sys.argv[1:] if argv is None else list(argv))
        sys.stdout.flush()  # here, where a reader that has gone can still be dealt with
        return code
    except UserError as error:
        return refuse(str(error), 2)
    except KeyboardInterrupt:
        return refuse("stopped", 130)
    except OSError as error:
        return _no_room(error)
    except Exception as error:
        from scenarios.manoeuvres import CannotFly

        if isinstance(error, CannotFly):
            return refuse(f"cannot be flown: {error}", 3)
        raise


def _run(arguments: list[str]) -> int:
    if arguments and not arguments[0].startswith("-") and arguments[0] not in COMMANDS:
        near = " or ".join(f"upline {name}" for name in nearest(arguments[0], COMMANDS)) or "upline --help"
        raise OptionError("command", Refused(quoted(arguments[0]), ", ".join(COMMANDS), near))
    parts = getattr(COMMANDS.get(arguments[0]), "PARTS", None) if arguments else None
    if parts and len(arguments) > 1 and not arguments[1].startswith("-") and arguments[1] not in parts:
        near = " or ".join(f"upline {arguments[0]} {name}" for name in nearest(arguments[1], parts))
        raise OptionError(arguments[0], Refused(quoted(arguments[1]), ", ".join(parts), near))
    try:
        options = parser().parse_args(_cg_joined(arguments))
    except SystemExit:  # argparse has printed the help that was asked for
        return 0
    if options.version or not options.command:
        print(f"upline {version()}" if options.version else FIRST_STEPS)
        return 0
    return options.run(options)


def _cg_joined(arguments: list[str]) -> list[str]:
    """The arguments with a CG ahead of the leading edge, "--cg -20mm", as one, or it would pass for an option."""
    out: list[str] = []
    for argument in arguments:
        if out and out[-1] == "--cg" and re.match(r"-\.?[0-9]", argument):
            out[-1] = f"--cg={argument}"
        else:
            out.append(argument)
    return out


def _no_room(error: OSError) -> int:
    """The exit code after output that could not be written, or a file that went away while it was read."""
    if error.filename is not None:
        return refuse(f"{error.filename}: {error.strerror or error}", 2)
    try:  # what is still waiting must not be tried again when the program ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        pass
    if isinstance(error, BrokenPipeError) or (os.name == "nt" and error.errno == errno.EINVAL):
        return 0  # the reader of our output has seen enough
    return refuse(f"the output could not be written: {error.strerror or error}", 2)


if __name__ == "__main__":
    sys.exit(main())
