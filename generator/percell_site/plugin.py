"""The only module that knows MkDocs: it adds what the API answers to the build."""

import gc
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from mkdocs.commands.build import build as run_mkdocs
from mkdocs.config import base, config_options, load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files
from mkdocs.structure.nav import Navigation
from mkdocs.structure.pages import Page
from mkdocs.utils import get_build_timestamp

from percell_site import changelog, policy, short_form
from percell_site.api import Api, ApiError, connect
from percell_site.book import Book
from percell_site.first_lines import first_lines
from percell_site.profiles import load
from percell_site.search import Page as SearchPage
from percell_site.search import index as search_index

Progress = Callable[[int, int], None]
# of the theme: its search and its colours, which ours replace, and maps for those who work on the theme
_NOT_LOADED = re.compile(r"assets/(javascripts/(lunr|workers)/|stylesheets/palette\.|.*\.map$)")


class Options(base.Config):
    """Options of the plugin in mkdocs.yml."""

    api = config_options.Type(str, default="percell.web.in_process:app")
    cells = config_options.Type(str, default="cells")
    api_url = config_options.Type(str, default="")


class PercellPlugin(BasePlugin[Options]):
    """Adds the generated pages and files, and fills the markers in the prose."""

    def __init__(self) -> None:
        self.progress: Progress | None = None
        self._api: Api | None = None
        self._pages = self._done = 0
        self._scripts: set[str] = set()

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Connect to the API, and give its version to the theme."""
        date = datetime.fromtimestamp(get_build_timestamp(), tz=UTC).date().isoformat()
        self._api = connect(self.config.api)
        address = (config.site_url or "").rstrip("/")
        # a relative path of the configuration starts at the folder of mkdocs.yml
        source = Path(config.config_file_path).parent
        self._book = Book(
            self._api,
            address,
            date,
            load(source / self.config.cells),
            changelog.read(source),
            (source / "theme/.icons/percell/mark.svg").read_text("utf-8"),
            self.config.api_url,
            first_lines((source / "docs/something-happened.md").read_text("utf-8")),
        )
        config.extra["percell_version"] = self._book.reference["version"]
        # where the theme keeps a reader's choices; by default its script differs from page to page
        config.extra["scope"] = urlsplit(config.site_url or "").path or "/"
        return config

    def on_files(self, files: Files, /, *, config: MkDocsConfig) -> Files:
        """Add the generated pages and files, and leave out what the theme has and no page loads."""
        for file in [*files]:
            if _NOT_LOADED.match(file.src_uri):
                files.remove(file)
        for path, content in self._book.files().items():
            if isinstance(content, str) and path.endswith(".html"):
                content = self._guarded(content)
            files.append(File.generated(config, path, content=content))
        self._pages = len(files.documentation_pages())
        self._found: list[SearchPage] = []
        return files

    def on_nav(self, nav: Navigation, /, *, config: MkDocsConfig, files: Files) -> Navigation:
        """Let a reader turn from table to table: tables are not in the contents, only their list is."""
        found = (files.src_uris[f"tables/{table['id']}.md"].page for table in self._book.tables)
        for before, after in pairwise(page for page in found if page):
            before.next_page, after.previous_page = after, before
        return nav

    def on_page_markdown(
        self, markdown: str, /, *, page: Page, config: MkDocsConfig, files: Files
    ) -> str:
        """Fill the markers, and give table pages the cautions that the theme prints."""
        if "table" in page.meta:
            page.meta["cautions"] = self._book.reference["cautions"]
        try:
            return self._book.filled(markdown, page.url)
        except ApiError as error:
            raise ApiError(f"{page.file.src_uri}: {error}") from error

    def on_page_content(
        self, html: str, /, *, page: Page, config: MkDocsConfig, files: Files
    ) -> str:
        """Put the short forms into a page."""
        return self._book.with_forms(html)

    def on_shutdown(self) -> None:
        """Close the connection to the API. MkDocs uses one plugin for all builds of a process."""
        if self._api:
            self._api.close()
            self._api = None

    def on_post_page(self, output: str, /, *, page: Page, config: MkDocsConfig) -> str:
        """Give a page its policy, keep it for the search, and report how many pages are written."""
        search = page.meta.get("search", {})
        if not search.get("exclude"):
            title = str(page.meta.get("title") or page.title)
            description = str(page.meta.get("description", ""))
            content, boost = page.content or "", search.get("boost", 1)
            self._found.append(SearchPage(page.url, title, description, content, boost))
        self._done += 1
        if self.progress:
            self.progress(self._done, self._pages)
        return self._guarded(output)

    def on_post_template(self, output: str, /, *, template_name: str, config: MkDocsConfig) -> str:
        """Give a page of the theme, such as that for unknown addresses, its policy, and the map the pages of rows."""
        if template_name == "sitemap.xml":  # MkDocs lists the pages that it makes itself
            return output.replace("</urlset>", f"{self._book.row_addresses()}</urlset>")
        return self._guarded(output) if template_name.endswith(".html") else output

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Write the index of the search, and the policy of all pages, which the service sends with each."""
        index = search_index(
            self._found,
            self._book.tables,
            self._book.questions,
            "glossary/",
            self.config.api_url,
        )
        Path(config.site_dir, "search.json").write_text(index, "utf-8")
        Path(config.site_dir, policy.FILE).write_text(policy.header(self._scripts), "utf-8")

    def _guarded(self, page: str) -> str:
        page = short_form.sent_to(self.config.api_url, page)
        self._scripts |= policy.scripts(page)
        return policy.guarded(page)


@contextmanager
def _without_garbage_collection() -> Iterator[None]:
    """Turn the garbage collector off during a build: it takes a twentieth of the time to free a few MB."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        # the process ends soon after a build: do not look through the garbage then either
        gc.freeze()
        if collecting:
            gc.enable()


@_without_garbage_collection()
def build(
    *,
    source: Path,
    out: Path,
    api: str | None = None,
    cells: Path | None = None,
    site_url: str | None = None,
    api_url: str = "",
    progress: Progress | None = None,
) -> None:
    """Build the site of a source folder, which holds mkdocs.yml, into another folder.

    ``api``, ``cells``, ``site_url`` and ``api_url`` take the place of what mkdocs.yml says.

    Raises:
        ApiError: The API does not answer, or refuses something that the site asks.
        ProfileError: A file of ``cells`` is not a profile.
    """
    # MkDocs starts a relative path at the folder of mkdocs.yml, the caller at the current folder
    settings: dict[str, Any] = {"site_dir": str(out.absolute())}
    if site_url:
        settings["site_url"] = site_url
    config = load_config(str(source / "mkdocs.yml"), **settings)
    plugin: Any = config.plugins["percell"]
    if api:
        plugin.config.api = api
    if cells:
        plugin.config.cells = str(cells.absolute())
    plugin.config.api_url = api_url.rstrip("/") or plugin.config.api_url
    plugin.progress = progress
    config.plugins.on_startup(command="build", dirty=False)
    try:
        run_mkdocs(config)
    finally:
        config.plugins.on_shutdown()
