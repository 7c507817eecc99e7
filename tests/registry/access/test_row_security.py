"""What the database itself refuses, whatever a view forgets."""

from __future__ import annotations

import pytest

from registry.access.scope import clinic_scope
from registry.models import Tester
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db


def test_without_a_scope_there_are_no_rows(make_clinic):
    make_clinic()

    assert Tester.objects.count() == 0


def test_a_scope_shows_its_own_clinic_and_no_other(make_clinic):
    clinic, other = make_clinic("CL-A"), make_clinic("CL-B")

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        seen = set(Tester.objects.values_list("clinic_id", flat=True))

    assert seen == {clinic.pk}
    assert other.pk not in seen
