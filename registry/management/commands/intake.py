"""``manage.py intake FILE --clinic CODE``: a file of visits from the command line."""

from __future__ import annotations

import csv
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from registry.access.scope import Actor, clinic_scope
from registry.intake.context import NoAgreement
from registry.intake.outcomes import PROBLEM_DETAIL
from registry.intake.readers import FileRefused
from registry.intake.uploads import upload_receive
from registry.models import Clinic, Upload, UploadProblem
from registry.models.upload import POLICIES

COUNTS = ("visits_created", "visits_unchanged", "visits_conflicting", "visits_refused")


class Command(BaseCommand):
    help = "Check a file of visits, load its good rows, and report every problem."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="NDJSON, CSV (long or wide) or XLSX")
        parser.add_argument("--clinic", required=True, help="code of the clinic it is from")
        parser.add_argument("--policy", choices=POLICIES, default="keep_valid")
        parser.add_argument(
            "--create-missing", action="store_true", help="add codes that are not known yet"
        )
        parser.add_argument("--problems", type=Path, help="write the problems to this CSV file")

    def handle(self, *args: Any, **options: Any) -> None:
        clinic = self._clinic(options["clinic"])
        by = Actor(name="command line", role="operator", request_id="intake")
        with clinic_scope([clinic.pk], by=by):
            upload = self._receive(clinic, by, options)
            problems = UploadProblem.objects.filter(
                clinic_id=clinic.pk, upload_id=upload.id
            ).order_by("number")
            rows = list(problems.values_list("row", "column", "code"))
        self._report(upload, rows, options["problems"])

    def _clinic(self, code: str) -> Clinic:
        clinic = Clinic.objects.select_related("network").filter(code=code).first()
        if clinic is None:
            raise CommandError(f"There is no clinic with the code {code}.")
        return clinic

    def _receive(self, clinic: Clinic, by: Actor, options: dict[str, Any]) -> Upload:
        try:
            with options["file"].open("rb") as stream:
                upload, new = upload_receive(
                    clinic=clinic,
                    stream=stream,
                    by=by,
                    at=timezone.now(),
                    policy=options["policy"],
                    create_missing=options["create_missing"],
                )
        except FileRefused as refused:
            place = "".join(
                f" {name} {value}"
                for name, value in (("row", refused.row), ("column", refused.column))
                if value is not None
            )
            raise CommandError(f"{refused.code}{place}: {PROBLEM_DETAIL[refused.code]}") from None
        except NoAgreement:
            raise CommandError(
                "The clinic's network has no agreement in force; nothing is accepted."
            ) from None
        except OSError as error:
            raise CommandError(f"The file cannot be read: {error.strerror}.") from None
        if not new:
            self.stdout.write("This file came before; its record:")
        return upload

    def _report(
        self, upload: Upload, rows: list[tuple[int | None, str | None, str]], file: Path | None
    ) -> None:
        self.stdout.write(f"state {upload.state}, visits read {upload.rows_total}")
        for name in COUNTS:
            self.stdout.write(f"{name.replace('_', ' ')} {getattr(upload, name)}")
        if file is not None:
            with file.open("w", newline="", encoding="utf-8") as stream:
                writer = csv.writer(stream)
                writer.writerow(["row", "column", "code", "detail"])
                writer.writerows(
                    [row, column, code, PROBLEM_DETAIL[code]] for row, column, code in rows
                )
            return
        for row, column, code in rows:
            self.stdout.write(
                f"row {row}, {column or 'the whole row'}: {code}. {PROBLEM_DETAIL[code]}"
            )
