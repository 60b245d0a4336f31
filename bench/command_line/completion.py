"""`stillpedal completion SHELL`: print what makes a shell complete verbs and options."""

import argparse
import sys

SHELLS = ("bash", "zsh", "fish", "powershell")
# Where each shell reads it at start (common practice, no source).
WHERE = {
    "bash": "stillpedal completion bash >> ~/.bashrc",
    "zsh": "stillpedal completion zsh >> ~/.zshrc",
    "fish": "stillpedal completion fish > ~/.config/fish/completions/stillpedal.fish",
    "powershell": "stillpedal completion powershell >> $PROFILE",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("shell", choices=SHELLS, help="which shell; it is told once: "
                        + "; ".join(WHERE.values()).replace("%", "%%"))


def run(arguments: argparse.Namespace) -> int:
    """Print the lines for that shell."""
    import argcomplete

    sys.stdout.write(argcomplete.shellcode(["stillpedal"], shell=arguments.shell).strip() + "\n")
    return 0


def complete() -> None:
    """Answer the shell and end the process, when it is the shell that asks; else do nothing."""
    import argcomplete

    from bench.command_line import build_parser

    argcomplete.autocomplete(build_parser("all"))
