"""Bodies that lie about their length, and files that unpack to more than they say."""

from __future__ import annotations

import gzip
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.api.parsing import StrictJSONParser
from registry.api.problems import Problem
from tests.registry.api.conftest import CSV_HEADER, CSV_ROW


def test_a_body_longer_than_it_declared_is_not_read_past_the_limit(settings):
    settings.JSON_MAX_BYTES = 10
    stream = io.BytesIO(b'"' + b"a" * 5_000 + b'"')

    with pytest.raises(Problem) as refused:
        StrictJSONParser().parse(stream)

    assert refused.value.code == "body_too_large"
    assert stream.tell() == settings.JSON_MAX_BYTES + 1


def test_a_body_of_exactly_the_limit_is_read(settings):
    settings.JSON_MAX_BYTES = 10

    assert StrictJSONParser().parse(io.BytesIO(b'"aaaaaaaa"')) == "aaaaaaaa"


@pytest.mark.django_db
def test_a_file_that_unpacks_to_more_than_allowed_is_413(scene, settings):
    settings.UPLOAD_MAX_UNPACKED_BYTES = 10_000
    content = gzip.compress((CSV_HEADER + CSV_ROW.format("AAA") * 1_000).encode())
    before = scene.snapshot()

    response = scene.clients["uploader"].post(
        "/api/v1/uploads/", {"file": SimpleUploadedFile("v.csv.gz", content)}
    )

    assert len(content) < settings.UPLOAD_MAX_UNPACKED_BYTES
    assert (response.status_code, response.json()["code"]) == (413, "body_too_large")
    assert response.json()["errors"][0]["code"] == "unpacked_too_large"
    assert scene.snapshot() == before
