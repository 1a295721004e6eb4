"""The page that takes sheets: checks them, shows what is wrong in their own grid, imports them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Final

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import path

from batches.exchange.api import imports
from batches.exchange.rules import SHEETS
from batches.exchange.rules.grids import loose
from batches.exchange.rules.writing import DATES, DECIMALS, ENCODINGS, Writing, headings_said
from batches.exchange.selectors.grids import wrong_grids
from shopfloor.doors import PageDoor
from shopfloor.doors.once import KEY_FIELD
from shopfloor.errors import ShopError
from shopfloor.problems import problem_of
from shopfloor.screens import tell_files

_OPTIONS: Final = {
    "encoding": ("Encoding", list(ENCODINGS)),
    "decimals": ("Decimal mark", DECIMALS),
    "dates": ("1/2/2026 is", DATES),
}


class ImportPage(PageDoor):
    """Sheets of the shop's own: a look first, then all of them or nothing.

    With a script only what came of it is replaced, and the files stay chosen.
    """

    roles: ClassVar = {
        "GET": imports.ImportsDoor.roles["POST"],
        "POST": imports.ImportsDoor.roles["POST"],
    }
    body_size_max = imports.BYTES_MAX
    too_big_advice = imports.ImportsDoor.too_big_advice

    def get(self, request: HttpRequest) -> HttpResponse:
        """The form."""
        return self._shown({})

    def post(self, request: HttpRequest) -> HttpResponse:
        """Look at them, or import them."""
        is_import = request.POST.get("do") == "import"
        said = self._said()
        try:
            answer = tell_files(
                request,
                "imports/",
                {**said, "check": "false" if is_import else "true"},
                request.FILES,
                key=request.POST.get(KEY_FIELD, ""),
            )
        except ShopError as refused:
            return self._shown(self._refused(refused, said), status=refused.status)
        if is_import:
            return self._gone_on(f"/imports/{answer['number']}/")
        return self._shown({"looked_at": answer})

    def _said(self) -> dict[str, str | list[str]]:
        """What is said of how the files are written; what was left empty is not said."""
        form = self.request.POST
        said: dict[str, str | list[str]] = {name: form[name] for name in _OPTIONS if form.get(name)}
        if headings := form.get("heading", "").splitlines():
            said["heading"] = [line for line in headings if line.strip()]
        return said

    def _refused(self, refused: ShopError, said: Mapping[str, Any]) -> dict[str, Any]:
        """What is wrong, cell by cell where it is in a cell."""
        problems = refused.facts.get("problems")
        if not isinstance(problems, list):
            return {"problem": problem_of(refused)}
        named = {name: said[name] for name in _OPTIONS if name in said}
        writing = Writing(**named, headings=headings_said(said.get("heading", [])))
        grids = wrong_grids(_contents(self.request), problems, writing)
        count = refused.facts["count"]
        return {
            "refused": refused.detail,
            "grids": grids,
            "loose": loose(problems, grids),
            "more": max(0, int(str(count)) - len(problems)),
        }

    def _gone_on(self, address: str) -> HttpResponse:
        if self.request.headers.get("HX-Request") == "true":
            return HttpResponse(headers={"HX-Redirect": address})
        return HttpResponseRedirect(address)

    def _shown(self, outcome: Mapping[str, Any], *, status: int = 200) -> HttpResponse:
        if self.request.headers.get("HX-Request") == "true":
            return self.page("batches/_import_outcome.html", outcome, status=status)
        form = self.request.POST
        context = {
            "options": [
                (name, label, choices, form.get(name, ""))
                for name, (label, choices) in _OPTIONS.items()
            ],
            "heading": form.get("heading", ""),
            "key": form.get(KEY_FIELD, ""),
            "sheets": [sheet.name for sheet in SHEETS],
            **outcome,
        }
        return self.page("batches/import.html", context, status=status)


def _contents(request: HttpRequest) -> dict[str, bytes]:
    """The files once more, from their beginning."""
    found: dict[str, bytes] = {}
    for file in request.FILES.getlist("files"):
        assert isinstance(file, UploadedFile)
        file.seek(0)
        found[str(file.name)] = file.read()
    return found


urlpatterns = [path("imports/new/", ImportPage.as_view())]
