"""`manage.py labels KIND CODE ...`: papers as one PDF, kept in the record of printing."""

from __future__ import annotations

from argparse import ArgumentParser
from io import BytesIO
from pathlib import Path
from typing import IO, Any

from django.core.management.base import CommandError
from django.utils import timezone

from batches.labels import pdf, selectors
from batches.labels.operations import note_printing
from batches.labels.rules.stock import DPIS, TEST_STOCK, number_fault
from shopfloor.errors import ShopError
from shopfloor.management.shop_command import ShopCommand, person_of
from shopfloor.models import User
from shopfloor.roles import WRITERS
from shopfloor.stamp import Stamp

TEST = "test"


class Command(ShopCommand):
    """What `printings/` does over the API, for scripts and shops without a page at hand."""

    help = "Print papers into a PDF file and keep who did. See docs/printing.md."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument(
            "kind",
            choices=[*sorted(selectors.PAPERS), TEST],
            help=f"the kind of paper; {TEST} measures the printer, and takes no codes",
        )
        parser.add_argument("codes", nargs="*", help="of the lots, boxes ..., in order")
        parser.add_argument("--file", type=Path, required=True, help="a new file to write")
        parser.add_argument("--copies", type=int, default=1, help="of each; 1 if left out")
        parser.add_argument("--stock", default="", help="else what suits the paper")
        parser.add_argument("--dpi", type=int, choices=DPIS, default=DPIS[0])
        parser.add_argument("--start", type=int, default=1, help="first label of a part-used sheet")
        parser.add_argument("--cut-marks", action="store_true")
        parser.add_argument(
            "--by", metavar="USERNAME", default="", help="who prints; else the first owner"
        )

    def handle(self, *, file: Path, by: str, codes: list[str], **options: Any) -> None:
        """Draw all, keep it, write the file; a refusal leaves none."""
        codes = list(dict.fromkeys(code.upper() for code in codes))
        is_test = options["kind"] == TEST
        if is_test and codes:
            raise CommandError("A test is of a stock, not of codes. Leave them out.")
        if not is_test and (fault := number_fault(len(codes), options["copies"])):
            raise CommandError(fault)
        person = person_of(by, roles=WRITERS, verb="prints")
        try:
            with file.open("xb") as out:
                if is_test:
                    told = self._test(out, **options)
                else:
                    told = self._print(out, codes=codes, person=person, **options)
        except FileExistsError as error:
            raise CommandError(f"{file} is there already. Name a new file.") from error
        except OSError as error:
            raise CommandError(f"{file} cannot be written: {error}") from error
        except ShopError as refused:
            file.unlink()
            raise CommandError(refused.detail) from refused
        self.stdout.write(f"{told} in {file}.")

    def _test(self, out: IO[bytes], **options: Any) -> str:
        """Draw it; a look, which no record is kept of."""
        job = _job(TEST_STOCK, options)
        tests = selectors.printer_tests(job)
        pdf.write_papers(tests, job=job, file=out)
        return f"{_counted(len(tests), 'test')} on {job.stock.name}"

    def _print(
        self, out: IO[bytes], *, kind: str, codes: list[str], person: User, **options: Any
    ) -> str:
        now = timezone.now()
        paper_kind = selectors.PAPERS[kind]
        papers = paper_kind.papers(codes, at=now)
        job = _job(paper_kind.stock(papers), options)
        pdf.write_papers(papers, job=job, file=BytesIO())  # refuses what cannot be printed
        printing = note_printing(
            kind=kind,
            codes=codes,
            copies=options["copies"],
            job=job,
            stamp=Stamp(by=person, at=now, now=now),
        )
        noted = selectors.noted_papers(printing, at=now)
        pages = pdf.write_papers(noted, job=job, file=out)
        return f"{printing.code}: {_counted(len(noted), 'paper')} on {_counted(pages, 'page')}"


def _job(stock: str, options: dict[str, Any]) -> selectors.PrintJob:
    """On the stock named, else on this one."""
    return selectors.print_job(
        options["stock"] or stock,
        dpi=options["dpi"],
        start=options["start"],
        has_cut_marks=options["cut_marks"],
    )


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
