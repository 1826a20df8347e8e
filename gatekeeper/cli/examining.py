"""`doctor`: what is wrong with this installation."""

from __future__ import annotations

import click

from gatekeeper.cli.base import Exit, json_option, leave, print_json, site_option, the_site

_INDENT = 23


@click.command()
@click.option("--deep", is_flag=True, help="Read all of the history, not only the end of it.")
@site_option
@json_option
def doctor(deep: bool, as_json: bool) -> None:
    """Say what is wrong with this installation and how to mend it. Nothing is changed.

    Each line is ok, look (the gate works, somebody should look) or broken.

    Exit status: 0 all is well, 1 something needs a look, 2 could not run.
    """
    from gatekeeper.doctor import Circumstances, State, examine

    answers = examine(the_site(), Circumstances(is_deep=deep))
    if as_json:
        print_json([answer.as_data() for answer in answers])
    else:
        for answer in answers:
            click.echo(f"{answer.state.value:<7} {answer.subject:<14} {answer.says}")
            if answer.do:
                click.echo(f"{'':<{_INDENT}}do: {answer.do}")
    leave(Exit.OK if all(answer.state is State.OK for answer in answers) else Exit.LOOK)
