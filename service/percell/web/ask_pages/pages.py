"""The routes of the pages: rendered by Litestar's template engine, in another thread, and kept by nobody."""

from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache, partial
from http import HTTPStatus
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from litestar import Request, Response, Router, post, route
from litestar.datastructures import UploadFile
from litestar.enums import HttpMethod, RequestEncodingType
from litestar.exceptions import ClientException, HTTPException, NotFoundException
from litestar.exceptions.http_exceptions import RequestEntityTooLarge
from litestar.plugins.jinja import JinjaTemplateEngine
from litestar.response import Redirect
from msgspec import structs

from percell import VERSION
from percell.physics.errors import NoSolution
from percell.questions.answering.echo import given
from percell.questions.answering.question import Question
from percell.questions.answering.reply import Markup
from percell.questions.bench.discharge_test import QUESTION as LOGS
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.questions.vocabulary.refusal import Refused
from percell.web.address import site_address
from percell.web.ask_pages.bench_card import CARD, bench_card
from percell.web.ask_pages.fields import Asked, form_of
from percell.web.ask_pages.logs import PLACE, LogFaults, LogFile, answer_files, typed_before_files
from percell.web.ask_pages.pasted import Unreadable, with_pasted
from percell.web.ask_pages.shown import entered, shown
from percell.web.ask_pages.style import mark, style
from percell.web.ask_pages.typed import Fault, Pairs, as_query, faults_of, read, tidied, together
from percell.web.ask_pages.words import ASKING, CARDS, FORMS, SUBJECTS
from percell.web.call import BODY_LIMIT, TARGET_LIMIT, request_id
from percell.web.codings import chosen, compressed
from percell.web.exceptions import on_http_exception
from percell.web.faults import nearest
from percell.web.negotiate import accepts
from percell.web.problems import Failed
from percell.web.query import pairs_of
from percell.web.reply import text_of
from percell.web.resource import Headers
from percell.web.translate import NO_ANSWER, unanswered
from percell.web.worker import beside_loop

PATH = "/ask/"
# bytes that the longest link to the API has besides the query
_AROUND = 100
_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    # no script at all, and nothing of another host
    "content-security-policy": (
        "default-src 'none'; style-src 'self'; img-src 'self' data:; form-action 'self'; "
        "base-uri 'none'; frame-ancestors 'none'"
    ),
    # an answer of yesterday's version must not come back as one of today's
    "cache-control": "no-store",
    "vary": "Accept-Encoding",
    "x-robots-tag": "noindex",
}


class Page(NamedTuple):
    """A page, or where it is."""

    status: int
    html: str = ""
    there: str = ""


@cache
def _engine() -> JinjaTemplateEngine:
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return JinjaTemplateEngine.from_environment(environment)


def ask_router(*, has_site: bool) -> Router:
    """Return the router of the pages.

    Args:
        has_site: Whether the site is served beside them, so that links into it lead somewhere.
    """

    @route(["/", "/{name:path}", f"/{LOGS.id}"], http_method=["GET", "HEAD"])
    async def page(request: Request[Any, Any, Any]) -> Response[Any]:
        return await beside_loop(partial(_response, request, has_site=has_site))

    # a body of two sizes: the files, and what a form puts around them
    @post(
        f"/{LOGS.id}",
        status_code=200,
        request_max_body_size=(LOGS.body_limit or 0) + BODY_LIMIT,
        exception_handlers={HTTPException: partial(_unreadable, has_site=has_site)},
    )
    async def logs(request: Request[Any, Any, Any]) -> Response[Any]:
        # other bodies are read without a limit of their parts
        if request.content_type[0] != RequestEncodingType.MULTI_PART:
            raise ClientException("Logs are sent as the form sends them.")
        try:
            form = await request.form()
        except RequestEntityTooLarge:
            return await beside_loop(
                partial(_too_large, request, await typed_before_files(request), has_site=has_site)
            )
        except (UnicodeError, LookupError) as error:
            raise ClientException("A field is not in the coding that it names.") from error
        files = [
            LogFile(sent.filename, await sent.read())
            for sent in form.getall("log", [])
            if isinstance(sent, UploadFile) and sent.filename
        ]
        # a browser sends a file that nobody chose as an empty text
        pairs = [
            (name, typed)
            for name, typed in form.multi_items()
            if isinstance(typed, str) and name != "log"
        ]
        if len(as_query(pairs)) > TARGET_LIMIT:
            raise ClientException("The fields beside the files are longer than any query.")
        page = await beside_loop(partial(_logs_page, files, pairs, has_site=has_site))
        return await beside_loop(
            partial(_coded, request, page.status, page.html.encode(), "text/html")
        )

    @route("/style.css", http_method=["GET", "HEAD"])
    async def sheet(request: Request[Any, Any, Any]) -> Response[Any]:
        return _coded(request, 200, style(), "text/css", **{"cache-control": "public, max-age=300"})

    return Router("/ask", route_handlers=[page, logs, sheet])


def _unreadable(
    request: Request[Any, Any, Any], error: HTTPException, *, has_site: bool
) -> Response[Any]:
    """Return the form for a body that no form has sent."""
    faults = [Fault(PLACE, "Logs", "The files could not be read.")]
    page = _render_question(LOGS, [], has_site, faults=faults)
    return _coded(request, error.status_code, page.encode(), "text/html")


def _too_large(request: Request[Any, Any, Any], typed: Pairs, *, has_site: bool) -> Response[Any]:
    """Return the form again for files that are too large, with what was typed beside them."""
    detail = f"Choose files of {(LOGS.body_limit or 0) // 1024 // 1024} MiB or less together."
    page = _render_question(
        LOGS,
        tidied(LOGS, as_query(typed).encode()),
        has_site,
        faults=[Fault(PLACE, "Logs", detail)],
    )
    return _coded(request, RequestEntityTooLarge.status_code, page.encode(), "text/html")


def _logs_page(files: list[LogFile], typed: Pairs, *, has_site: bool) -> Page:
    pairs: Pairs = []
    try:
        pairs = tidied(LOGS, as_query(typed).encode())
        asked, got, answer = answer_files(files, pairs)
    except LogFaults as error:
        return Page(422, _render_question(LOGS, pairs, has_site, faults=error.faults))
    except (Failed, *NO_ANSWER) as error:
        return _refused(LOGS, pairs, error, has_site)
    return Page(
        200,
        _render_question(
            LOGS,
            pairs,
            has_site,
            answer=answer,
            shown=shown(LOGS, asked, got, answer),
            entered=[],
            reply=_to_paste(LOGS, answer),
        ),
    )


def _response(request: Request[Any, Any, Any], *, has_site: bool) -> Response[Any]:
    path = request.scope["raw_path"].partition(b"?")[0].decode("latin-1")
    page = page_of(path, request.scope["query_string"], has_site=has_site)
    if page.status == HTTPStatus.NOT_FOUND and _wants_only_json(request):
        return on_http_exception(request, NotFoundException())
    if page.there:
        return Redirect(page.there, status_code=page.status, headers=_HEADERS | _id(request))  # type: ignore[arg-type]
    return _coded(request, page.status, page.html.encode(), "text/html")


def _wants_only_json(request: Request[Any, Any, Any]) -> bool:
    accept = request.headers.get("accept", "").encode("latin-1")
    return (
        bool(accept) and not accepts(accept, b"text/html") and accepts(accept, b"application/json")
    )


def _coded(
    request: Request[Any, Any, Any], status: int, body: bytes, media: str, **more: str
) -> Response[bytes]:
    coding = chosen(request.headers.get("accept-encoding", "").encode("latin-1"), len(body))
    if coding:
        body = compressed(body, coding)
        more["content-encoding"] = coding.decode()
    more["content-length"] = str(len(body))
    return Response(
        b"" if request.method == HttpMethod.HEAD else body,
        status_code=status,
        media_type=media,
        headers=_HEADERS | _id(request) | more,
    )


def _id(request: Request[Any, Any, Any]) -> dict[str, str]:
    return {"x-request-id": request_id(request.headers.get("x-request-id", "").encode("latin-1"))}


def page_of(path: str, query: bytes, *, has_site: bool) -> Page:
    """Return the page at a path."""
    at = f"?{query.decode('latin-1')}" if query else ""
    name = path.removeprefix(PATH).strip("/")
    if path == PATH:
        return Page(200, _render("index.html.jinja", has_site, groups=_groups(), cards=CARDS))
    if f"/{name}" == PATH.rstrip("/") or not name:
        return Page(308, there=PATH + at)
    if name not in FORMS:
        close = name.partition("/")[0]
        close = close if close in FORMS else nearest(close, FORMS) or ""
        html = _render(
            "missing.html.jinja",
            has_site,
            groups=_groups(),
            close=close,
            title=FORMS[close].title if close else "",
        )
        return Page(404, html)
    if path != PATH + name:
        return Page(308, there=PATH + name + at)
    if name == CARD.id:
        return _asked_page(CARD, query, _card_page, has_site=has_site)
    question = QUESTIONS[name]
    return _asked_page(question, query, partial(_answer_page, question), has_site=has_site)


def too_long_page(given_id: bytes | None) -> tuple[Headers, bytes]:
    """Return the headers and the body of the page for an address that is too long to be read to its end."""
    body = _render("too_long.html.jinja", has_site=False, limit=TARGET_LIMIT).encode()
    headers = _HEADERS | {
        "x-request-id": request_id(given_id),
        "content-type": "text/html; charset=utf-8",
        "content-length": str(len(body)),
    }
    return tuple((name.encode(), value.encode()) for name, value in headers.items()), body


def _groups() -> list[tuple[str, str, list[tuple[str, str]]]]:
    """Return the questions by subject: its name and meaning, and the id and the title of each of its pages."""
    return [
        (
            name,
            subject.meaning,
            [
                (question, asking.title)
                for question, asking in ASKING.items()
                if QUESTIONS[question].subject is subject
            ],
        )
        for subject, name in SUBJECTS.items()
    ]


def _asked_page(
    question: Asked, query: bytes, answered: Callable[..., str], *, has_site: bool
) -> Page:
    pairs: Pairs = []
    try:
        if query:
            pairs = tidied(question, query)
            if not question.has_query:
                return Page(200, _render_question(question, pairs, has_site))
            pairs = with_pasted(question, pairs)
            # the address to copy has nothing that says nothing; one without any field tells what is needed
            there = f"{PATH}{question.id}?{as_query(pairs)}"
            if pairs and pairs != pairs_of(query) and len(there) <= TARGET_LIMIT:
                return Page(303, there=there)
            return Page(200, answered(pairs, has_site=has_site))
    except Unreadable as error:
        return Page(422, _render_question(question, pairs, has_site, faults=error.faults))
    except (Failed, *NO_ANSWER) as error:
        return _refused(question, pairs, error, has_site)
    return Page(200, _render_question(question, pairs, has_site))


def _refused(
    question: Asked, pairs: Pairs, error: Failed | NoSolution | Refused, has_site: bool
) -> Page:
    """Return the form again, with what is wrong or why there is no answer."""
    failure = error if isinstance(error, Failed) else unanswered(error)
    faults = faults_of(question, failure, pairs)
    return Page(failure.status, _render_question(question, pairs, has_site, faults=faults))


def _answer_page(question: Question, pairs: Pairs, *, has_site: bool) -> str:
    address = as_query(pairs)
    asked, named = read(question, address.encode())
    asked = _numbered(asked)
    got = question.explained(asked)
    answer: Any = question.assemble(asked, got, given(asked, named))
    return _render_question(
        question,
        pairs,
        has_site,
        answer=answer,
        shown=shown(question, asked, got, answer),
        entered=entered(question, pairs),
        # a pasted column is short as it was typed, and not as the API takes it
        address=address if len(address) < TARGET_LIMIT - _AROUND else "",
        reply=_to_paste(question, answer),
    )


def _to_paste(question: Question, answer: Any) -> str:
    """Return the text to paste with its version and date, and with a link only if it leads somewhere."""
    site = site_address()
    text = text_of(question, answer, Markup.PLAIN, site).rstrip("\n")
    if not site:
        # its last line is the link, which would be a path without a host
        text = text.rpartition("\n")[0]
    return f"{text}\nCalculated on {_today()} by percell {VERSION} from what was entered.\n"


def _today() -> str:
    return f"{datetime.now(UTC):%Y-%m-%d}"


def _numbered(asked: Any) -> Any:
    """Return a question whose setups have numbers for names: the address comes from anyone.

    The table of what was entered has the names.
    """
    setups: list[Any] = getattr(asked, "setups", [])
    if len({setup.label for setup in setups}) < len(setups) or not setups:
        return asked  # the question refuses two of one name
    numbered = [structs.replace(one, label=f"Setup {n}") for n, one in enumerate(setups, 1)]
    return structs.replace(asked, setups=numbered)


def _card_page(pairs: Pairs, *, has_site: bool) -> str:
    address = as_query(pairs)
    asked, _ = read(CARD, address.encode())
    card = bench_card(asked)
    return _render_question(
        CARD, pairs, has_site, template="card.html.jinja", shown=card, address=address
    )


def _render_question(
    question: Asked,
    pairs: Pairs,
    has_site: bool,
    template: str = "question.html.jinja",
    **more: Any,
) -> str:
    values: dict[str, list[str]] = {}
    for name, value in pairs:
        values.setdefault(name, []).append(value)
    context = {"faults": [], "shown": None, "address": ""} | more
    faulty = {fault.place for fault in context["faults"]}
    form = form_of(question)
    form = form.in_sight({*values, *(one.name for one in form.further if one.id in faulty)})
    return _render(
        template,
        has_site,
        question=question,
        asking=FORMS[question.id],
        form=form,
        files=PLACE if question is LOGS else "",
        rules=form.rules,
        values=values,
        faulty=faulty,
        told=together(context["faults"]),
        **context,
    )


def _render(template: str, has_site: bool, **context: Any) -> str:
    return str(
        _engine()
        .get_template(template)
        .render(
            has_site=has_site,
            mark=mark(),
            version=VERSION,
            date=_today(),
            cautions=CAUTIONS,
            site=site_address(),
            **context,
        )
    )
