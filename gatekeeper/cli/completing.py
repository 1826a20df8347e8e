"""`completion` and `manual`: what a shell and `man` want to know of the commands."""

from __future__ import annotations

import click

from gatekeeper import __version__

SHELLS = ("bash", "zsh", "fish")


@click.command()
@click.argument("shell", type=click.Choice(SHELLS))
def completion(shell: str) -> None:
    """Print what lets a shell complete gatekeeper's commands.

    For one user: `eval "$(gatekeeper completion bash)"` in ~/.bashrc, likewise zsh in ~/.zshrc;
    fish: `gatekeeper completion fish > ~/.config/fish/completions/gatekeeper.fish`.
    """
    from click.shell_completion import get_completion_class

    root = click.get_current_context().find_root()
    kind = get_completion_class(shell)
    if kind is None:
        raise click.ClickException(f"completion for {shell} is not part of this click")
    name = root.info_name or "gatekeeper"
    click.echo(kind(root.command, {}, name, "_GATEKEEPER_COMPLETE").source())


@click.command()
def manual() -> None:
    """Print the manual page, for `man -l -` or a folder of such pages."""
    from gatekeeper.cli.manual_page import manual_page

    root = click.get_current_context().find_root()
    click.echo(manual_page(root.command, root.info_name or "gatekeeper", __version__), nl=False)
