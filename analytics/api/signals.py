"""``/signals/``: read by the tester concerned first, replied to and reviewed."""

from __future__ import annotations

from datetime import tzinfo
from typing import Any
from uuid import UUID

from rest_framework.request import Request
from rest_framework.response import Response

from analytics.api.signal_filters import FILTERS
from analytics.models import Signal
from analytics.signals.bodies import signal_json, signals_json
from analytics.signals.reading import SignalFilters, signal_get, signals_visible
from analytics.signals.review import signal_reply, signal_review, signal_seen
from registry.access.requests import Access
from registry.api.base import ApiView, access_in, body_of, now
from registry.api.catalogue import BODY_PROBLEMS
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import (
    described,
    header_answered,
    header_needed,
    paged,
    read_parameters,
)
from registry.api.preconditions import etag_of, expected_version
from registry.models import Clinic

_ETAG = header_answered("ETag", "The version, for If-Match.", 200)


class SignalListView(ApiView):
    actions = {"GET": "signal_read"}

    @operation(
        "signal_list",
        "List signals",
        tag="signals",
        answers={200: Answer(about="A page, the latest first.", shape="SignalPage")},
        parameters=paged(*described(FILTERS)),
        problems=("cursor_not_valid", "parameter_not_valid"),
    )
    def get(self, request: Request) -> Response:
        """A tester sees those about themselves, and before anybody else does."""
        filters = SignalFilters(**read_parameters(request, FILTERS))
        signals = signals_visible(access_in(request), filters, at=now())
        return page_response(request, signals, signals_json)


class OneSignalView(ApiView):
    """Shared by the views of one signal: it is not found by who may not read it."""

    seen_with = "signal_read"

    def find(self, access: Access, **kwargs: Any) -> Signal:
        return signal_get(access, kwargs["signal_id"], at=now())


class SignalView(OneSignalView):
    actions = {"GET": "signal_read"}

    @operation(
        "signal_get",
        "Read a signal",
        tag="signals",
        answers={200: Answer(about="The signal.", shape="Signal")},
        parameters=[_ETAG],
        problems=("parameter_not_valid", "not_found"),
    )
    def get(self, request: Request, signal_id: UUID) -> Response:
        """With what was said to it. That the tester concerned has read it is noted once."""
        read_parameters(request)
        access = access_in(request)
        signal = self.find(access, signal_id=signal_id)
        if access.role == "tester" and signal.seen_by_tester_at is None:
            signal_seen(signal, at=now())
            signal = self.find(access, signal_id=signal_id)
        return _answer(signal)


class SignalReviewView(OneSignalView):
    actions = {"POST": "signal_review"}

    @operation(
        "signal_review",
        "Review a signal",
        tag="signals",
        body="SignalReview",
        answers={200: Answer(about="The signal as it is now.", shape="Signal")},
        parameters=[header_needed("If-Match", "The version that the review is of."), _ETAG],
        problems=(*BODY_PROBLEMS, "not_found", "version_mismatch", "refused", "version_needed"),
    )
    def post(self, request: Request, signal_id: UUID) -> Response:
        """What explains it, what was done, and from when on the effect is looked at."""
        access = access_in(request)
        signal = self.find(access, signal_id=signal_id)
        version = expected_version(request)
        reviewed = signal_review(
            signal,
            body_of(request),
            if_version=version,
            zone=_zone(signal),
            by=access.actor,
            at=now(),
        )
        return _answer(reviewed)


class SignalReplyView(OneSignalView):
    actions = {"POST": "signal_reply"}

    @operation(
        "signal_reply",
        "Reply to a signal about oneself",
        tag="signals",
        body="SignalReply",
        answers={200: Answer(about="The signal as it is now.", shape="Signal")},
        parameters=[_ETAG],
        problems=(*BODY_PROBLEMS, "not_found", "refused"),
    )
    def post(self, request: Request, signal_id: UUID) -> Response:
        """The tester's own words stand beside the signal; leads see it from then on."""
        access = access_in(request)
        signal = self.find(access, signal_id=signal_id)
        replied = signal_reply(
            signal, body_of(request), zone=_zone(signal), by=access.actor, at=now()
        )
        return _answer(replied)


def _answer(signal: Signal) -> Response:
    return Response(signal_json(signal), headers={"ETag": etag_of(signal.version)})


def _zone(signal: Signal) -> tzinfo:
    """A day in a review is the clinic's own, wherever the reviewer sits."""
    return Clinic.objects.get(pk=signal.clinic_id).zone()
