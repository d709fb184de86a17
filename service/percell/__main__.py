"""The command line, which puts the service and the generator together."""

import math
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from percell import VERSION
from percell.waits import LONGEST_S, VARIABLES, Waits
from percell.web.address import fault_of_address

_COLUMN = "NAME[;UNIT]"
_HELP = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


@click.group(context_settings=_HELP)
@click.version_option(VERSION, prog_name="percell")
def main() -> None:
    """What does each cell carry, and is that within its rating?

    \b
    Examples:
      percell serve                       API and site on http://127.0.0.1:8000/
      percell site build --out public     the site as files
      percell profile 20a.csv ...         profile of a cell from its discharge logs
      percell openapi                     write openapi/openapi.json
    """


def _number(_context: click.Context, _option: click.Parameter, value: float | None) -> float | None:
    """Refuse what is no number: a range lets it pass, because it is neither below nor above."""
    if value is not None and not math.isfinite(value):
        raise click.BadParameter(f"{value} is not a number.")
    return value


def _timeout(field: str, meaning: str) -> Callable[[Any], Any]:
    """Return the option for one of the times that a client has."""
    return click.option(
        f"--{field.removesuffix('_s')}-timeout",
        field,
        default=Waits._field_defaults[field],
        show_default=True,
        envvar=VARIABLES[field],
        show_envvar=True,
        type=click.FloatRange(0, LONGEST_S, min_open=True),
        callback=_number,
        help=meaning,
    )


@main.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port",
    default=8000,
    show_default=True,
    type=click.IntRange(1, 65535),
    help="Port to listen on.",
)
@click.option(
    "--workers",
    default=1,
    show_default=True,
    type=click.IntRange(1, 64),
    help="Number of server processes. Use one per processor core or fewer.",
)
@click.option(
    "--site",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the site: new, empty, or with a site that percell built. percell replaces an older "
    "site and refuses any other folder. [default: in your cache folder]",
)
@_timeout("head_s", "Seconds for the head of a request to arrive.")
@_timeout(
    "body_s",
    "Seconds for the body of a request to arrive, and for a client to read more of an answer.",
)
@_timeout(
    "idle_s", "Seconds that a connection can be idle. Use more than the proxy in front of it."
)
def serve(
    host: str,
    port: int,
    workers: int,
    site: Path | None,
    head_s: float,
    body_s: float,
    idle_s: float,
) -> None:
    """Serve the API and the site.

    The API answers at once. If the site is missing or out of date, percell builds it in the background.

    Set PERCELL_SITE_URL to the address at which readers reach the server, without a path. Pages and
    links use it. Set PERCELL_ALLOWED_HOSTS to the hosts that the server answers for, separated by
    commas, and PERCELL_TRUSTED_PROXIES to the addresses of proxies whose X-Forwarded headers count.
    By default every host is answered, and no such header counts.

    Set PERCELL_CONTACT to a URL or a mailto: address at which people can report a fault.
    /.well-known/security.txt then names it.

    \b
    Examples:
      percell serve
      percell serve --port 9000 --workers 2
      PERCELL_SITE_URL=https://example.org/ percell serve
    """
    from percell.serve import serve as run

    waits = Waits(head_s=head_s, body_s=body_s, idle_s=idle_s)
    run(host=host, port=port, workers=workers, site=site, waits=waits)


@main.group("site", context_settings=_HELP)
def site_group() -> None:
    """The reference site.

    \b
    Example:
      percell site build --out public
    """


def _address(_context: click.Context, _option: click.Parameter, value: str) -> str:
    """Refuse an address to which no form could be sent."""
    if value and (fault := fault_of_address(value)):
        raise click.BadParameter(f"{value!r}: {fault}")
    return value.rstrip("/")


@site_group.command("build")
@click.option(
    "--api",
    metavar="URL",
    help="Ask the API at this URL. [default: the API in this process]",
)
@click.option(
    "--out",
    default="public",
    show_default=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder to write to: new, empty, or with a site that percell built. percell replaces that site "
    "and refuses any other folder.",
)
@click.option(
    "--cells",
    type=click.Path(path_type=Path),
    help="Folder of profiles of your own cells. [default: the invented demo cells]",
)
@click.option(
    "--api-url",
    default="",
    metavar="URL",
    callback=_address,
    help="Where the pages' forms send their readers, for a copy of the site on a host without percell. "
    "[default: the host of the pages]",
)
def build(api: str | None, out: Path, cells: Path | None, api_url: str) -> None:
    """Build the site. The API calculates every number in it.

    Set PERCELL_SITE_URL to the address of the site. Pages and link previews use it.
    [default: http://127.0.0.1:8000/]

    \b
    Examples:
      percell site build
      percell site build --api http://127.0.0.1:8000 --out public
      percell site build --cells my-cells --out public
      PERCELL_SITE_URL=https://example.org/ percell site build
      percell site build --api-url https://percell.example.org/
    """
    from percell.site_build import build_site, site_url

    build_site(api=api, out=out, url=site_url(), cells=cells, api_url=api_url)


def _not_empty(_context: click.Context, _option: click.Parameter, value: str) -> str:
    if not value.strip():
        raise click.BadParameter("The name is empty.")
    return value


def _command(context: click.Context) -> str:
    """Return the command that was given, with the names of files alone and without where it was asked."""
    said = ["percell", "profile"]
    for option in context.command.params:
        value = context.params[option.name or ""]
        if isinstance(option, click.Argument):
            said += [path.name for path in value]
        elif option.name == "out":
            said += [option.opts[0], value.name]
        elif option.name != "api" and value not in (None, "", False):
            text = f"{value:g}" if isinstance(value, float) else f"{value}"
            said += [option.opts[0], *([] if value is True else [text])]
    return shlex.join(said)


@main.command()
@click.argument(
    "logs",
    nargs=-1,
    required=True,
    type=click.Path(path_type=Path),
)
@click.option("--name", required=True, callback=_not_empty, help="Name of the cell.")
@click.option(
    "--chemistry", default="nmc", show_default=True, help="Chemistry of the cell, such as nmc."
)
@click.option("--size", default="", help="Size of the cell, such as 18650.")
@click.option(
    "--stop-temperature",
    "stop_c",
    type=float,
    callback=_number,
    help="Highest temperature allowed in the test, in °C. [default: 60]",
)
@click.option(
    "--stop-voltage",
    "stop_v",
    type=float,
    callback=_number,
    help="Lowest voltage allowed in the test, in V. [default: depends on the chemistry]",
)
@click.option(
    "--repeats", type=int, help="Number of different logs that a rating needs. [default: 2]"
)
@click.option(
    "--capacity",
    "capacity_ah",
    type=float,
    callback=_number,
    help="Stated capacity of the cell, in Ah.",
)
@click.option(
    "--started-full",
    is_flag=True,
    help="Use this only if the cells were fully charged and the logs have no rest that shows it.",
)
@click.option(
    "--ambient",
    "ambient_c",
    type=click.FloatRange(-20, 60),
    callback=_number,
    help="Temperature of the room, in °C.",
)
@click.option(
    "--cooling", default="", help="What cooled the cell, such as 'still air, bare, on wood'."
)
@click.option(
    "--longest-gap",
    "gap_s",
    type=click.FloatRange(0.001, 86400),
    callback=_number,
    help="Longest time between two rows, in s. [default: 60]",
)
@click.option(
    "--time", help="Column with the time, such as 'Elapsed' or 'Elapsed;min'.", metavar=_COLUMN
)
@click.option("--voltage", help="Column with the voltage, in V or mV.", metavar=_COLUMN)
@click.option("--current", help="Column with the current, in A or mA.", metavar=_COLUMN)
@click.option("--temperature", help="Column with the temperature, in °C, K or °F.", metavar=_COLUMN)
@click.option(
    "--decimal-mark",
    type=click.Choice(["point", "comma"]),
    help="Decimal mark of the numbers. [default: guessed from the numbers]",
)
@click.option(
    "--api", metavar="URL", help="Ask the API at this URL. [default: the API in this process]"
)
@click.option(
    "--out",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="Profile to write, such as my-cells/my-cell.toml.",
)
def profile(
    logs: tuple[Path, ...],
    name: str,
    chemistry: str,
    size: str,
    stop_c: float | None,
    stop_v: float | None,
    repeats: int | None,
    capacity_ah: float | None,
    started_full: bool,
    ambient_c: float | None,
    cooling: str,
    gap_s: float | None,
    time: str | None,
    voltage: str | None,
    current: str | None,
    temperature: str | None,
    decimal_mark: str | None,
    api: str | None,
    out: Path,
) -> None:
    """Check the discharge logs of a cell and write its profile.

    Each log is a CSV file of one whole discharge. percell finds the columns by their names and prints
    what it found. Check that. If percell cannot find a column, give its name, and its unit after a
    semicolon. A rating needs two logs from full to empty at one current, with temperature, and without
    guessed columns. The profile leaves out what the logs do not prove, and the last lines say why. Never
    use a profile for another cell, and never exceed the manufacturer's rating.

    \b
    Examples:
      percell profile 10a.csv 20a.csv 20a-again.csv --name "My cell" --out my-cells/my-cell.toml
      percell profile *.csv --time "Elapsed;min" --name "My cell" --out my-cells/my-cell.toml
    """
    from percell.profile import given_columns, write_profile

    limits = {
        "chemistry": chemistry,
        "stop_temperature_c": stop_c,
        "stop_voltage_v": stop_v,
        "needed_repeats": repeats,
        "cell_capacity_ah": capacity_ah,
        "log_start": "full" if started_full else None,
        "longest_gap_s": gap_s,
    }
    write_profile(
        logs=logs,
        columns=given_columns(
            time_column=time,
            voltage_column=voltage,
            current_column=current,
            temperature_column=temperature,
            decimal_mark=decimal_mark,
        ),
        about={"name": name, "chemistry": chemistry, "cell_size": size},
        limits={field: value for field, value in limits.items() if value is not None},
        bench={"ambient_c": ambient_c, "cooling": cooling},
        command=_command(click.get_current_context()),
        api=api,
        out=out,
    )


@main.command()
@click.option(
    "--out",
    default=None,
    type=click.Path(dir_okay=False, path_type=Path),
    help="File to write. [default: openapi/openapi.json, or openapi/baseline.json]",
)
@click.option(
    "--baseline",
    is_flag=True,
    help="Write the baseline that later documents are compared with. Use it at a release.",
)
def openapi(out: Path | None, baseline: bool) -> None:
    """Write the API's OpenAPI document, and the conformance kit beside it.

    \b
    Examples:
      percell openapi --out openapi.json
      percell openapi --baseline
    """
    from percell import conformance_kit
    from percell.web import baseline as tagged
    from percell.web import openapi as document

    if baseline:
        files = {out or Path("openapi/baseline.json"): tagged.baseline()}
    else:
        out = out or Path("openapi/openapi.json")
        files = {
            out: document.as_text().encode(),
            out.with_name("conformance.jsonl"): conformance_kit.as_text().encode(),
        }
    try:
        for path, content in files.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
            click.echo(f"wrote {path}")
    except OSError as error:
        raise click.ClickException(f"{error.filename}: {error.strerror}") from error


@main.command()
@click.argument("url")
@click.option(
    "--kit",
    type=click.Path(dir_okay=False, exists=True, path_type=Path),
    help="Kit to use. [default: that of this version]",
)
def conformance(url: str, kit: Path | None) -> None:
    """Ask the API at URL the questions of the conformance kit, and show each difference.

    The exit status is 1 if an answer differs from the kit. Numbers can differ by a billionth.

    \b
    Examples:
      percell conformance http://127.0.0.1:8000
      percell conformance https://example.org --kit conformance.jsonl
    """
    from percell.conformance import NoDeployment, report
    from percell.web.kit import kit_file

    try:
        if report(url, kit or kit_file()):
            raise SystemExit(1)
    except NoDeployment as nothing:
        raise click.ClickException(str(nothing)) from nothing


@main.command()
@click.option(
    "--because", metavar="TEXT", help="Why figures move, in words for readers of the site."
)
@click.option(
    "--folder",
    default="site/figures",
    show_default=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder of the kept figures.",
)
def figures(because: str | None, folder: Path) -> None:
    """Show which published figures have moved, and keep the new ones.

    The site's changelog lists the figures that moved, with the reason.

    \b
    Examples:
      percell figures
      percell figures --because "The sag of cold cells follows new measurements."
    """
    from percell.figures import keep_figures

    keep_figures(folder=folder, because=because)


if __name__ == "__main__":
    main()
