"""`upline completion`."""

from __future__ import annotations

import argparse

from viewer.commands.shared import show

ABOUT = "shell completion: prints a script for bash, zsh or fish that completes commands, options and names"
EXAMPLES = [
    "source <(upline completion bash)",
    "upline completion bash > ~/.local/share/bash-completion/completions/upline",
    "upline completion zsh > ~/.zfunc/_upline",
    "upline completion fish > ~/.config/fish/completions/upline.fish",
]
NOTES = """\
The scripts call "upline completion words -- WORDS" for what may come next, so that they never go out of date.
For zsh the folder has to be in fpath before compinit is called."""


def add_to(sub: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    sub.add_argument("shell", metavar="SHELL", help="bash, zsh or fish")
    sub.add_argument("words", nargs=argparse.REMAINDER, help=argparse.SUPPRESS)


def run(options: argparse.Namespace) -> int:
    """Print the script, or what may come next for one."""
    from models.options import one_of
    from viewer.completion.scripts import SCRIPTS

    if options.shell == "words":
        from viewer.completion.words import next_words
        from viewer.parser import parser
        from viewer.text import say

        for word, about in next_words(parser(), options.words[options.words[:1] == ["--"] :]):
            say(f"{word}\t{about}")
        return 0
    shell = one_of("shell", options.shell, list(SCRIPTS))
    document = {"shell": shell, "script": SCRIPTS[shell]}
    show(SCRIPTS[shell].rstrip("\n"), document, options.json, advice=False)
    return 0
